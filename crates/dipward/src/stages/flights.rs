//! Sorties to the instantaneous pole, member by member of the ensemble.
//!
//! ```text
//!   ship o----- out, one flight -----> aim o . stands, moves on . o pole
//!        <---------- home, before the fuel, the light or the weather fails ---
//! ```
//!
//! Nothing is flown that has not its way home: at every hour on the ice the fuel for the way back to the
//! ship, by the wind of the next hour, and the reserve must be in the tank, and all hours until the
//! landing must let it fly. Where that ends, or the ice it stands on, the party turns back. The line from the
//! ship to the mean pole stands for the lines to all places about it.

use dipward_plugin::{Action, AirStores, AirWeather, Aircraft, Knowledge, OffsetKm, Policy};

use super::air::{Flight, ground_hours, slowest};
use crate::{
    policies::Hold,
    station::{Station, length, less},
    stay::{Outcome, Stay},
};

/// What an hour of the ship's stay is like to one who flies.
#[derive(Debug, Clone)]
pub(super) struct Sky {
    /// Whether it may fly all along the line from the ship to the mean pole.
    pub(super) open: bool,
    /// The weather along that line, for the wind.
    pub(super) weather: Vec<AirWeather>,
    /// The ship's offset from the mean pole.
    pub(super) ship_km: OffsetKm,
    /// What to add to a true course at the mean pole for one on the map.
    pub(super) turn_deg: f64,
}

/// A stay at a landing from which an aircraft flies.
pub(super) struct Flights<'w> {
    pub(super) station: &'w Station<'w>,
    pub(super) aircraft: &'w dyn Aircraft,
    /// The whole hours of the stay, the last included.
    pub(super) first: usize,
    /// One for each whole hour.
    pub(super) skies: Vec<Sky>,
    /// Whether it may stand at an offset from the mean pole at a whole hour.
    pub(super) may_stand: &'w (dyn Fn(usize, OffsetKm) -> bool + Sync),
    /// The radius of action in still air, which no wind lengthens.
    farthest_km: f64,
    /// How far it flies in an hour of still air, at most so far.
    hourly_km: f64,
}

/// What is flown by one member.
#[derive(Debug, Clone, Copy, Default)]
struct Flown {
    sorties: u32,
    fuel_kg: f64,
}

/// What is flown over the ensemble.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct AllFlown {
    pub(super) mean_sorties: f64,
    pub(super) mean_kg: f64,
    pub(super) most_kg: f64,
}

/// The way out of a sortie that fits.
struct Outbound {
    /// The first whole hour on the ice.
    arrive: usize,
    /// In the tank on arrival, less what is burnt on scene.
    left_kg: f64,
}

/// A sortie that has come back.
struct Sortie {
    back_hour: f64,
    fuel_kg: f64,
}

impl<'w> Flights<'w> {
    pub(super) fn new(
        station: &'w Station<'w>,
        aircraft: &'w dyn Aircraft,
        (first, skies): (usize, Vec<Sky>),
        may_stand: &'w (dyn Fn(usize, OffsetKm) -> bool + Sync),
    ) -> Self {
        let still = Flight::in_still_air(aircraft);
        let farthest_km = still.map_or(0.0, |flight| flight.radius_km);
        let hourly_km = still.map_or(0.0, |flight| flight.out_km_h.min(farthest_km));
        Self { station, aircraft, first, skies, may_stand, farthest_km, hourly_km }
    }

    /// Follows every member through the stay, with the same tracks as any other approach.
    pub(super) fn stay(&self) -> (Stay, AllFlown) {
        let members = self.station.tracks.members();
        let end = self.end();
        let followed: Vec<(Outcome, Flown)> =
            (0..members).map(|member| self.follow(member, self.station.policy)).collect();
        let held = (0..members)
            .filter(|&member| self.follow(member, &Hold).0.attained_at.is_some())
            .count();
        let foreseen = (0..members).filter(|&member| self.could_attain(member)).count();
        let count = members.max(1) as f64;
        let flown = AllFlown {
            mean_sorties: followed.iter().map(|(_, flown)| f64::from(flown.sorties)).sum::<f64>()
                / count,
            mean_kg: followed.iter().map(|(_, flown)| flown.fuel_kg).sum::<f64>() / count,
            most_kg: followed.iter().map(|(_, flown)| flown.fuel_kg).fold(0.0, f64::max),
        };
        let outcomes: Vec<Outcome> = followed.into_iter().map(|(outcome, _)| outcome).collect();
        let within_km = self.station.measure.within_km;
        (Stay::of(&outcomes, (held, foreseen), self.first..=end, within_km), flown)
    }

    /// Whole hours of the stay at which it may fly.
    pub(super) fn hours_to_fly(&self) -> u32 {
        self.skies.iter().filter(|sky| sky.open).count() as u32
    }

    fn end(&self) -> usize {
        self.first + self.skies.len().saturating_sub(1)
    }

    fn sky(&self, hour: usize) -> Option<&Sky> {
        self.skies.get(hour.checked_sub(self.first)?)
    }

    fn pole_km(&self, member: usize, hour: usize) -> Option<OffsetKm> {
        self.station.tracks.offset_km(member, hour)
    }

    fn follow(&self, member: usize, policy: &dyn Policy) -> (Outcome, Flown) {
        let stores = self.aircraft.stores();
        let mut outcome = Outcome::new();
        let mut flown = Flown::default();
        let mut ready_hour = self.first as f64;
        let mut hour = self.first;
        while let Some(sky) = self.sky(hour) {
            outcome.served_h = hour - self.first;
            self.see(member, hour, sky.ship_km, &mut outcome);
            let left_kg = stores.aboard_kg - flown.fuel_kg;
            if outcome.attained_at.is_none() && sky.open && hour as f64 >= ready_hour {
                let known = self.knowledge(member, hour, sky.ship_km);
                match policy.act(&known) {
                    Action::Leave => break,
                    Action::MakeFor(aim_km) => {
                        let tank = AirStores { tank_kg: stores.tank_kg.min(left_kg), ..stores };
                        if let Some(sortie) =
                            self.sortie(member, hour, aim_km, &tank, policy, &mut outcome)
                        {
                            flown.sorties += 1;
                            flown.fuel_kg += sortie.fuel_kg;
                            ready_hour = sortie.back_hour + stores.turnaround_h;
                            hour = sortie.back_hour.ceil() as usize;
                            continue;
                        }
                    }
                    Action::Hold | Action::Drift => {}
                }
            }
            hour += 1;
        }
        (outcome, flown)
    }

    /// A flight to an aim, if the whole of it, out, on the ice and back, fits fuel, ground, light and weather.
    fn fits(&self, hour: usize, aim_km: OffsetKm, tank: &AirStores) -> Option<Outbound> {
        let sky = self.sky(hour)?;
        let way_km = less(aim_km, sky.ship_km);
        let out_h = length(way_km)
            / slowest(self.aircraft, &sky.weather, course_deg(way_km) + sky.turn_deg)?;
        let arrive = (hour as f64 + out_h).ceil() as usize;
        let left_kg = tank.tank_kg - tank.burn_kg_per_h * out_h - tank.on_scene_kg;
        let needed = arrive + ground_hours(self.station.measure);
        let all_open = (hour..=arrive).all(|hour| self.sky(hour).is_some_and(|sky| sky.open));
        let stands = (arrive..=needed).all(|hour| (self.may_stand)(hour, aim_km));
        let long_enough = ground_hours(self.station.measure) as f64 <= tank.most_ground_h;
        let comes_home =
            (arrive..=needed).all(|hour| self.home(hour, aim_km, left_kg, tank.held_kg).is_some());
        (all_open && stands && long_enough && comes_home).then_some(Outbound { arrive, left_kg })
    }

    /// The first whole hour of the stay at which a sortie to the mean pole and back fits, by the rule by which
    /// the members' sorties are flown.
    pub(super) fn first_sortie(&self) -> Option<usize> {
        let stores = self.aircraft.stores();
        let tank = AirStores { tank_kg: stores.tank_kg.min(stores.aboard_kg), ..stores };
        (self.first..=self.end()).find(|&hour| self.fits(hour, [0.0; 2], &tank).is_some())
    }

    /// Flies to an aim and back, if the whole of it fits fuel, ground, light and weather.
    fn sortie(
        &self,
        member: usize,
        hour: usize,
        aim_km: OffsetKm,
        tank: &AirStores,
        policy: &dyn Policy,
        outcome: &mut Outcome,
    ) -> Option<Sortie> {
        let burn = tank.burn_kg_per_h;
        let Outbound { arrive, mut left_kg } = self.fits(hour, aim_km, tank)?;
        let mut place_km = aim_km;
        let mut before_km = aim_km;
        let mut run = 0;
        let mut at = arrive;
        loop {
            let distance_km = self.see(member, at, place_km, outcome);
            outcome.served_h = at - self.first;
            let within = distance_km <= self.station.measure.within_km;
            let kept = run > 0
                && self.station.tracks.keeps_within(
                    member,
                    at - 1,
                    [before_km, place_km],
                    self.station.measure.within_km,
                );
            run = self.station.measure.longer(run, within, kept);
            if run >= self.station.measure.whole_hours() {
                outcome.attained_at.get_or_insert(at);
                break;
            }
            let stays_h = (at + 1 - arrive) as f64;
            if stays_h > tank.most_ground_h
                || !(self.may_stand)(at + 1, place_km)
                || self.home(at + 1, place_km, left_kg, tank.held_kg).is_none()
            {
                break;
            }
            outcome.within_h += usize::from(within);
            before_km = place_km;
            if let Some((to_km, spent_kg)) = self.hop(member, at, place_km, (left_kg, tank), policy)
            {
                place_km = to_km;
                left_kg -= spent_kg;
            }
            at += 1;
        }
        let home_h = self.home(at, place_km, left_kg, tank.held_kg)?;
        left_kg -= burn * home_h;
        Some(Sortie { back_hour: at as f64 + home_h, fuel_kg: tank.tank_kg - left_kg })
    }

    /// Hours of the way home from a place, if fuel, light and weather let it fly there from an hour on.
    fn home(&self, hour: usize, from_km: OffsetKm, left_kg: f64, held_kg: f64) -> Option<f64> {
        let sky = self.sky(hour)?;
        let way_km = less(sky.ship_km, from_km);
        let km_h = slowest(self.aircraft, &sky.weather, course_deg(way_km) + sky.turn_deg)?;
        let home_h = length(way_km) / km_h;
        let burnt_kg = self.aircraft.stores().burn_kg_per_h * home_h;
        let back = (hour as f64 + home_h).ceil() as usize;
        let open = (hour..=back).all(|hour| self.sky(hour).is_some_and(|sky| sky.open));
        (open && left_kg - burnt_kg >= held_kg).then_some(home_h)
    }

    /// Moves on over the ice within the hour, where the pole has left and fuel is there for it and the
    /// way home.
    fn hop(
        &self,
        member: usize,
        hour: usize,
        place_km: OffsetKm,
        (left_kg, tank): (f64, &AirStores),
        policy: &dyn Policy,
    ) -> Option<(OffsetKm, f64)> {
        let sky = self.sky(hour)?;
        let known = self.knowledge(member, hour, place_km);
        let Action::MakeFor(aim_km) = policy.act(&known) else { return None };
        let way_km = less(aim_km, place_km);
        if length(way_km) <= self.station.measure.within_km {
            return None;
        }
        let km_h = slowest(self.aircraft, &sky.weather, course_deg(way_km) + sky.turn_deg)?;
        let hours = length(way_km) / km_h;
        let spent_kg = tank.burn_kg_per_h * hours;
        let fits = hours <= 1.0
            && (self.may_stand)(hour + 1, aim_km)
            && self.home(hour + 1, aim_km, left_kg - spent_kg, tank.held_kg).is_some();
        fits.then_some((aim_km, spent_kg))
    }

    /// The distance to the pole from a place, noted in the outcome.
    fn see(&self, member: usize, hour: usize, from_km: OffsetKm, outcome: &mut Outcome) -> f64 {
        let distance_km = self
            .pole_km(member, hour)
            .map_or(f64::INFINITY, |pole_km| length(less(pole_km, from_km)));
        outcome.closest_km = outcome.closest_km.min(distance_km);
        distance_km
    }

    fn knowledge(&self, member: usize, hour: usize, craft_km: OffsetKm) -> Knowledge {
        let pole_km = self.pole_km(member, hour);
        self.station.knowledge(
            member,
            hour,
            self.first..=self.end(),
            craft_km,
            pole_km,
            self.hourly_km,
        )
    }

    /// Whether a party that knew the pole's whole track could have attained: it must stand on the ice
    /// for the hours wanted, all of them fit to fly and one before them too, within the radius of action
    /// in still air of where the pole then is.
    fn could_attain(&self, member: usize) -> bool {
        let reach_km = self.farthest_km + self.station.measure.within_km;
        let mut run = 0;
        (self.first + 1..=self.end()).any(|hour| {
            let open = |hour| self.sky(hour).is_some_and(|sky| sky.open);
            let near = self
                .sky(hour)
                .zip(self.pole_km(member, hour))
                .is_some_and(|(sky, pole_km)| length(less(pole_km, sky.ship_km)) <= reach_km);
            run = if near && open(hour) && open(hour - 1) { run + 1 } else { 0 };
            run >= self.station.measure.whole_hours()
        })
    }

    /// The flight that leaves at a whole hour, straight to the mean pole and back after the shortest stay, and how
    /// far that is.
    pub(super) fn flight(&self, hour: usize) -> Option<(Flight, f64)> {
        let sky = self.sky(hour)?;
        let way_km = less([0.0; 2], sky.ship_km);
        let course = course_deg(way_km) + sky.turn_deg;
        let out_h = length(way_km) / slowest(self.aircraft, &sky.weather, course)?;
        let turn = hour + out_h.ceil() as usize + ground_hours(self.station.measure);
        let home = self.sky(turn).or(self.skies.last())?;
        let stores = self.aircraft.stores();
        let flight = Flight::of(self.aircraft, &stores, (&sky.weather, &home.weather), course)?;
        Some((flight, length(way_km)))
    }
}

/// True course of an offset toward north and east.
fn course_deg([north, east]: OffsetKm) -> f64 {
    east.atan2(north).to_degrees()
}

#[cfg(test)]
mod tests;
