//! An approach in two stages: the ship's voyage to a landing, the party's leg from there.

use dipward_geodesy::{Cell, Position, inverse};
use dipward_plugin::{
    Aircraft, Approach, Clock, LastLegPlan, LegFuel, LegTravel, March, MarchFuel, Means,
    OverIceParty, Route, RoutePoint, Sorties, TurnBack, TurnBackLimit, Waypoint,
};

use super::{
    Going, Landed, Leg,
    air::{Flight, course_on_map_deg, ground_hours, line_of_cells},
    flights::{Flights, Sky},
    grounds::Grounds,
    march::march_along,
    sky::Skies,
};
use crate::{
    approach::{Lines, Lying, Planned, Return, choose, closing_told, waypoints, whole},
    homeward::Homeward,
    outward::{Outward, Way},
    proofs::{Claim, Part, Taken},
    questions::{Question, To},
    scenario::WhenClosed,
    station::Station,
    stay::{Stay, distributions},
    world::{Moves, World},
};

const T_PER_KG: f64 = 1e-3;

/// Makes an approach of a way out to a landing.
///
/// # Errors
///
/// The reason why it is none: no flight, too little fuel of the party or the ship, no way home.
pub(crate) fn plan_landed(
    world: &World<'_>,
    outward: &Outward<'_>,
    way: &Way,
    landed: &Landed,
    lines: &Lines<'_>,
    station: &Station<'_>,
) -> Result<Planned, String> {
    let leg = world.legs.get(landed.leg).ok_or("the last leg is not there")?;
    if let Some(hindrance) = &landed.hindrance {
        return Err(hindrance.clone());
    }
    let voyage = Voyage { world, outward, way, landed, lines, station };
    match (leg.leg.means(), &leg.going) {
        (Means::Air(aircraft), Going::Air(about)) => {
            voyage.by_air(leg, aircraft, (&about.0, &about.1))
        }
        (Means::OverIce(party), Going::OverIce(ground)) => voyage.over_ice(leg, party, &ground.1),
        _ => Err(format!("{} has changed how it goes", leg.leg.name())),
    }
}

/// The ship's part of an approach.
struct Voyage<'w> {
    world: &'w World<'w>,
    outward: &'w Outward<'w>,
    way: &'w Way,
    landed: &'w Landed,
    lines: &'w Lines<'w>,
    station: &'w Station<'w>,
}

impl Voyage<'_> {
    fn clock(&self) -> Clock {
        self.world.scenario.clock
    }

    fn by_air(
        &self,
        leg: &Leg<'_>,
        aircraft: &dyn Aircraft,
        (skies, grounds): (&Skies, &Grounds),
    ) -> Result<Planned, String> {
        let arrive = self.way.route.arrive_hour();
        self.any_return()?;
        let homes = self.while_open(self.landed.homes(), |home| home.hour)?;
        let back = choose(self.world, self.way, homes.iter())?;
        let may_stand = |hour: usize, offset_km| {
            let place = self.world.tracks.place(hour, offset_km);
            let cell = place.and_then(|place| self.world.table.grid.cell_at(place));
            cell.is_some_and(|cell| grounds.may_land(hour, skies.index(cell)).is_ok())
        };
        let (first, around) = self.skies_of_stay(aircraft, skies, arrive, back.leave_hour)?;
        let flights = Flights::new(self.station, aircraft, (first, around), &may_stand);
        let Some(sortie) = flights.first_sortie() else {
            let beyond = flights
                .flight(first)
                .filter(|(flight, distance_km)| flight.radius_km < *distance_km);
            return Err(match beyond {
                Some((flight, distance_km)) => format!(
                    "the pole is {distance_km:.0} km away, beyond the radius of action of {:.0} km",
                    flight.radius_km
                ),
                None => format!(
                    "no sortie to the mean pole and back, with {} h on the ice, fits weather, light, ice and \
                     fuel while the ship lies at the landing: it may fly in {} of {} whole hours",
                    ground_hours(self.station.measure),
                    flights.hours_to_fly(),
                    flights.skies.len()
                ),
            });
        };
        // The chance is reckoned in whole hours; the first flight leaves when the ship has come.
        let at_once = sortie == first && self.flies_at(aircraft, skies, arrive.floor() as usize)?;
        let leave = if at_once { arrive } else { sortie as f64 };
        let (flight, distance_km) =
            flights.flight(sortie).ok_or("the wind does not let it fly to the pole")?;
        let (stay, flown) = flights.stay();
        let (out_h, home_h) = (distance_km / flight.out_km_h, distance_km / flight.home_km_h);
        let stores = aircraft.stores();
        let burn_t = T_PER_KG * stores.burn_kg_per_h;
        let fuel_t = LegFuel {
            capacity: T_PER_KG * stores.tank_kg,
            out: burn_t * out_h,
            stay: T_PER_KG * stores.on_scene_kg,
            home: burn_t * home_h,
            reserve: T_PER_KG * stores.held_kg,
            margin: T_PER_KG * (stores.tank_kg - stores.on_scene_kg - stores.held_kg)
                - burn_t * (out_h + home_h),
        };
        if fuel_t.margin < 0.0 || flight.radius_km < distance_km {
            return Err(format!(
                "the pole is {distance_km:.0} km away, beyond the radius of action of {:.0} km",
                flight.radius_km
            ));
        }
        let pole = self.world.mean_pole(leave + out_h);
        let turn = leave + out_h + ground_hours(self.station.measure) as f64;
        let plan = LastLegPlan {
            short_km: distance_km,
            out_h,
            home_h,
            out: self.straight(
                (self.landed.berth.position, leave),
                (pole, leave + out_h),
                fuel_t.out,
            ),
            home: self.straight(
                (pole, turn),
                (self.landed.berth.position, turn + home_h),
                fuel_t.home,
            ),
            fuel_t,
            radius_km: flight.radius_km,
            no_return_h: no_return_h(&flight),
            sorties: Some(Sorties {
                mean: flown.mean_sorties,
                mean_fuel_t: T_PER_KG * flown.mean_kg,
                most_fuel_t: T_PER_KG * flown.most_kg,
                aboard_t: T_PER_KG * stores.aboard_kg,
                hours_to_fly: flights.hours_to_fly(),
            }),
            depots: Vec::new(),
            ..self.plan_of(leg, LegTravel::Air, back.leave_hour)
        };
        self.planned(&back, stay, homes.clone(), (plan, leave - arrive))
    }

    fn over_ice(
        &self,
        leg: &Leg<'_>,
        party: &dyn OverIceParty,
        moves: &Moves<'_>,
    ) -> Result<Planned, String> {
        let out = self.landed.out.as_ref().ok_or("no way leads from the landing over the ice")?;
        self.any_return()?;
        let arrive = out.arrive_hour();
        let set_out = self.way.route.arrive_hour();
        let mut refusal = None;
        // The stays for which the party's own fuel does.
        let mut fit: Vec<(&Homeward, f64, &Route, March, MarchFuel)> = Vec::new();
        for one in &self.landed.returns {
            let Some((leave, route)) = &one.march else { continue };
            let march = march_along(&party.depots(), out, route);
            match party.march(&march) {
                Ok(fuel) => fit.push((&one.home, *leave, route, march, fuel)),
                Err(why) => refusal = refusal.or(Some(why)),
            }
        }
        if fit.is_empty() {
            return Err(refusal.unwrap_or_else(|| "the party does not come home".to_owned()));
        }
        let fit = self.while_open(fit, |one| one.0.hour)?;
        let back = choose(self.world, self.way, fit.iter().map(|one| one.0))?;
        let (_, leave, route, march, fuel) = fit
            .iter()
            .find(|one| one.0.hour == back.leave_hour)
            .ok_or("the party does not come home")?;
        let station = Station {
            reach_km: &moves.reach_km,
            chase_t_per_h: &moves.extra_t_per_h,
            chase_fuel_t: party.chase_t(),
            // The party's own moves about the pole are not held to its chart.
            chart: None,
            pack: None,
            ..*self.station
        };
        let mut stay = station.stay(arrive, *leave);
        count_from(&mut stay, station.whole_hours(arrive, *leave).0, set_out);
        let margin = {
            let depots: f64 = fuel.depots.iter().map(|depot| depot.drawn_t - depot.laid_t).sum();
            fuel.capacity_t + depots - fuel.out_t - fuel.stay_t - fuel.home_t - fuel.reserve_t
        };
        let reach = reach_of(party, march);
        let clock = self.clock();
        let plan = LastLegPlan {
            short_km: inverse(self.landed.berth.position, self.world.mean_pole(arrive)).distance_km,
            out_h: march.out.hours,
            home_h: march.home.hours,
            out: burnt(waypoints(clock, &out.points), fuel.out_t),
            home: burnt(waypoints(clock, &route.points), fuel.home_t),
            fuel_t: LegFuel {
                capacity: fuel.capacity_t,
                out: fuel.out_t,
                stay: fuel.stay_t,
                home: fuel.home_t,
                reserve: fuel.reserve_t,
                margin,
            },
            radius_km: reach * march.out.distance_km,
            no_return_h: reach * march.out.hours,
            sorties: None,
            depots: fuel.depots.clone(),
            ..self.plan_of(leg, LegTravel::OverIce, back.leave_hour)
        };
        let homes = fit.iter().map(|one| one.0.clone()).collect();
        let last_fit = fit.last().map_or(back.leave_hour, |one| one.0.hour);
        let mut planned = self.planned(&back, stay, homes, (plan, 0.0))?;
        // The ship could still go home from the last stay for which the party's own fuel does.
        let refused_later =
            self.landed.returns.iter().any(|one| one.march.is_some() && one.home.hour > last_fit);
        if planned.approach.turn_back.is_none() && refused_later {
            planned.approach.turn_back = Some(TurnBack {
                limit: Some(TurnBackLimit::Stores),
                time: clock.instant(last_fit),
                latitude_deg: self.landed.berth.position.y(),
                longitude_deg: self.landed.berth.position.x(),
            });
        }
        let claim = |of, from, to, way: &Route| Claim {
            of,
            question: Question::soonest(from, to),
            taken: Taken::by(way),
        };
        let (from, number) = (self.landed.set_out, self.landed.leg);
        let pole = self.world.mean_pole(*leave);
        let beside = from != self.landed.berth.position;
        let first_h = out.points.get(1).map_or(0.0, |point| point.hour - set_out);
        let before_last = route.points.iter().rev().nth(1);
        let last_h = before_last.map_or(0.0, |point| route.arrive_hour() - point.hour);
        let [first_h, last_h] = [first_h, last_h].map(|hours| if beside { hours } else { 0.0 });
        planned.claims.extend([
            claim(Part::MarchOut(first_h), (set_out + first_h, from), To::PoleOverIce(number), out),
            claim(Part::MarchHome(last_h), (*leave, pole), To::PlaceOverIce(number, from), route),
        ]);
        Ok(planned)
    }

    fn any_return(&self) -> Result<(), String> {
        if self.landed.returns.is_empty() {
            if let Some((hour, why)) = &self.landed.cut_off {
                return Err(format!(
                    "the ice does not bear the party home: of a party that leaves the pole at {}, after the \
                     shortest stay, {why}",
                    self.clock().instant(*hour)
                ));
            }
            return Err(format!(
                "lands too late: a stay of {:.0} h does not end within the window",
                self.world.scenario.keys.station.at_least_h
            ));
        }
        Ok(())
    }

    /// Of moments of leaving those before the chart closes over the ship at her landing.
    ///
    /// # Errors
    ///
    /// When that is, where there is none, or where the scenario wants no such approach.
    fn while_open<T>(&self, all: Vec<T>, hour: impl Fn(&T) -> f64) -> Result<Vec<T>, String> {
        let arrive = self.way.route.arrive_hour();
        let last = all.iter().map(&hour).fold(arrive, f64::max);
        let berth = self.landed.berth.position;
        let Some(closes) = self.world.closes_at(berth, arrive, last) else { return Ok(all) };
        let refuse = self.world.scenario.keys.station.when_closed == WhenClosed::Refuse;
        let open: Vec<T> = all.into_iter().filter(|one| !refuse && hour(one) <= closes).collect();
        if open.is_empty() {
            return Err(closing_told("the ship at the landing", self.world, closes));
        }
        Ok(open)
    }

    /// What all plans of a last leg have.
    fn plan_of(&self, leg: &Leg<'_>, travel: LegTravel, leave_hour: f64) -> LastLegPlan {
        let clock = self.clock();
        LastLegPlan {
            by: leg.leg.name(),
            travel,
            landing_latitude_deg: self.landed.berth.position.y(),
            landing_longitude_deg: self.landed.berth.position.x(),
            ship_arrives: clock.instant(self.way.route.arrive_hour()),
            ship_leaves: clock.instant(leave_hour),
            short_km: 0.0,
            out_h: 0.0,
            home_h: 0.0,
            out: Vec::new(),
            home: Vec::new(),
            fuel_t: LegFuel {
                capacity: 0.0,
                out: 0.0,
                stay: 0.0,
                home: 0.0,
                reserve: 0.0,
                margin: 0.0,
            },
            radius_km: 0.0,
            no_return_h: 0.0,
            out_bound: None,
            home_bound: None,
            sorties: None,
            depots: Vec::new(),
        }
    }

    /// The ship's voyage with the last leg: the pole is reached when the party reaches it, that sets out some
    /// hours after the ship comes to lie.
    fn planned(
        &self,
        back: &Return<'_>,
        stay: Stay,
        homes: Vec<Homeward>,
        (plan, waits_h): (LastLegPlan, f64),
    ) -> Result<Planned, String> {
        let places = vec![(self.way.route.arrive_hour(), self.landed.berth.position)];
        let lying = Lying::AtLanding(self.landed.berth.position, homes);
        let mut planned = whole(
            self.world,
            self.outward,
            self.way,
            back,
            self.lines,
            (stay, lying, places),
            &[],
        )?;
        let leg_km: f64 = match &self.landed.out {
            Some(out) => out.distance_km,
            None => plan.short_km,
        };
        let approach = &mut planned.approach;
        let arrive = self.way.route.arrive_hour();
        approach.duration_h += waits_h + plan.out_h;
        approach.distance_km += leg_km;
        approach.arrive = self.clock().instant(arrive + waits_h + plan.out_h);
        approach.on_station = on_station(approach, &plan);
        approach.last_leg = Some(plan);
        let from = (self.outward.hour, self.outward.harbour.position);
        let question = Question::new(from, self.way.sought, To::Berth(self.landed.berth));
        planned.claims.push(Claim { of: Part::Out, question, taken: Taken::by(&self.way.route) });
        Ok(planned)
    }

    /// Whether it flies all along the line to the mean pole at a whole hour.
    fn flies_at(
        &self,
        aircraft: &dyn Aircraft,
        skies: &Skies,
        hour: usize,
    ) -> Result<bool, String> {
        Ok(skies.may_fly(aircraft, hour, &self.line_at(hour)?).is_ok())
    }

    /// The cells from the landing to the mean pole.
    fn line_at(&self, hour: usize) -> Result<Vec<Cell>, String> {
        let pole = self.world.mean_pole(hour as f64);
        let grid = &self.world.table.grid;
        let berth = self.landed.berth.position;
        grid.cell_at(berth).ok_or("the landing lies off the chart")?;
        grid.cell_at(pole).ok_or("the pole lies off the chart")?;
        Ok(line_of_cells(grid, berth, pole))
    }

    /// The whole hours of a stay, the first of them and what each is like to one who flies.
    fn skies_of_stay(
        &self,
        aircraft: &dyn Aircraft,
        skies: &Skies,
        arrive: f64,
        leave: f64,
    ) -> Result<(usize, Vec<Sky>), String> {
        let (world, berth) = (self.world, self.landed.berth.position);
        let (first, end) = self.station.whole_hours(arrive, leave);
        let mut around = Vec::with_capacity(end + 1 - first);
        for hour in first..=end {
            let pole = world.mean_pole(hour as f64);
            let line_of_sight = inverse(pole, berth);
            let (sine, cosine) = line_of_sight.initial_course_deg.to_radians().sin_cos();
            let line = self.line_at(hour)?;
            let on_map_deg = course_on_map_deg(&world.table.grid, pole, berth);
            around.push(Sky {
                open: skies.may_fly(aircraft, hour, &line).is_ok(),
                weather: skies.along(hour, &line),
                ship_km: [line_of_sight.distance_km * cosine, line_of_sight.distance_km * sine],
                turn_deg: on_map_deg - line_of_sight.initial_course_deg,
            });
        }
        Ok((first, around))
    }

    fn straight(&self, from: (Position, f64), to: (Position, f64), fuel_t: f64) -> Vec<Waypoint> {
        let point = |(position, hour): (Position, f64), fuel_used_t| RoutePoint {
            position,
            hour,
            fuel_used_t,
            setting: 0,
        };
        waypoints(self.clock(), &[point(from, 0.0), point(to, fuel_t)])
    }
}

/// "the ship lies 41 km short of the pole and the helicopter flies: ...".
fn on_station(approach: &Approach, plan: &LastLegPlan) -> String {
    format!(
        "the ship lies {:.0} km short of the pole and {} {}: {}",
        plan.short_km,
        plan.by,
        plan.travel.verb(),
        approach.on_station
    )
}

/// Counts the hours to the first attainment from when the ship's way out ends, as of a ship that goes all the
/// way and of one that lands an aircraft: a march takes its time.
fn count_from(stay: &mut Stay, counted_from: usize, ship_arrives: f64) {
    let earlier_h = (counted_from as f64 - ship_arrives.ceil()).max(0.0);
    let mut members = std::mem::take(&mut stay.outcome.members);
    for hours in members.iter_mut().filter_map(|member| member.attained_after_h.as_mut()) {
        *hours += earlier_h;
    }
    (stay.outcome.closest_km, stay.outcome.first_attained_d) = distributions(&members);
    stay.outcome.members = members;
}

/// Hours out after which the aircraft could not come back.
fn no_return_h(flight: &Flight) -> f64 {
    flight.radius_km / flight.out_km_h
}

/// The way of a party with the fuel that the law of the march gives, spread as the search reckons it.
fn burnt(mut points: Vec<Waypoint>, fuel_t: f64) -> Vec<Waypoint> {
    let reckoned_t = points.last().map_or(0.0, |point| point.fuel_used_t);
    let share = if reckoned_t > 0.0 { fuel_t / reckoned_t } else { 0.0 };
    for point in &mut points {
        point.fuel_used_t *= share;
    }
    points
}

/// How many times its own length a march could have, out and home, on the fuel.
fn reach_of(party: &dyn OverIceParty, march: &March) -> f64 {
    let fits = |times: f64| party.march(&march.longer(times)).is_ok();
    const MOST: f64 = 64.0;
    let (mut low, mut high) = (1.0, 2.0);
    while fits(high) && high < MOST {
        low = high;
        high *= 2.0;
    }
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if fits(middle) { low = middle } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::KM_PER_NAUTICAL_MILE;

    use super::*;

    /// The point of no return in hours times the speed out is the radius of action where both burns are
    /// one: t = E H / (O + H), d = O t (as `PointOfNoReturn` has it).
    #[test]
    fn the_point_of_no_return_is_the_radius_of_action() {
        let (endurance_h, out_kn, home_kn) = (6.5, 240.0, 210.0);
        let point = dipward_craft::PointOfNoReturn::of(endurance_h, out_kn, home_kn).unwrap();
        let radius_nm = endurance_h / (1.0 / out_kn + 1.0 / home_kn);
        let flight = Flight {
            out_km_h: out_kn * KM_PER_NAUTICAL_MILE,
            home_km_h: home_kn * KM_PER_NAUTICAL_MILE,
            radius_km: radius_nm * KM_PER_NAUTICAL_MILE,
        };
        assert!((no_return_h(&flight) - point.hours).abs() < 1e-12);
    }
}
