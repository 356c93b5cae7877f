//! An approach: a way out, a stay and a way home that fit the fuel and the window.

use std::collections::BTreeMap;

use dipward_geodesy::{KM_PER_NAUTICAL_MILE, Position, inverse};
use dipward_plugin::{
    Approach, Clock, Control, Error, FuelPlan, LogEntry, PaceTable, Phase, Pilotage, Profile, Risk,
    Route, RoutePoint, VoyageLog, Waypoint,
};
use dipward_search::PassageStep;

use crate::{
    homeward::Homeward,
    outward::{Outward, Way},
    proofs::{Claim, Part, Taken},
    questions::{Question, Sought, To},
    scenario::WhenClosed,
    station::Station,
    stay::Stay,
    turn_back::turn_back,
    voyage,
    world::World,
};

/// An approach with what belongs to it beside the ranking.
#[derive(Debug, Clone)]
pub(crate) struct Planned {
    pub(crate) approach: Approach,
    pub(crate) stay: Stay,
    /// The whole voyage, from port to port.
    pub(crate) log: VoyageLog,
    /// The way out, cell by cell.
    pub(crate) out: Vec<RoutePoint>,
    /// Where the craft lies between them.
    pub(crate) lying: Lying,
    /// The ways that are not bounded yet.
    pub(crate) claims: Vec<Claim>,
    /// Where the craft returns to: [`crate::world::Harbour::return_to`].
    pub(crate) return_to: Option<usize>,
}

/// Where a craft lies between its way out and its way home.
#[derive(Debug, Clone)]
pub(crate) enum Lying {
    /// At the mean pole, and moves about there.
    AtPole,
    /// At a landing, with the ways home from there.
    AtLanding(Position, Vec<Homeward>),
}

impl Lying {
    /// Where it lies at an hour.
    pub(crate) fn position(&self, world: &World<'_>, hour: f64) -> Position {
        match self {
            Self::AtPole => world.mean_pole(hour),
            Self::AtLanding(berth, _) => *berth,
        }
    }

    /// What it burns from one hour to another.
    pub(crate) fn lying_t(&self, world: &World<'_>, from_hour: f64, until_hour: f64) -> f64 {
        world.lying_t(matches!(self, Self::AtPole), from_hour, until_hour)
    }

    /// The ways home from there: those from the pole where it lies at the pole.
    pub(crate) fn homes<'h>(&'h self, from_pole: &'h [Homeward]) -> &'h [Homeward] {
        match self {
            Self::AtPole => from_pole,
            Self::AtLanding(_, homes) => homes,
        }
    }
}

/// The end of a voyage that fits: when to leave the pole, and the way home from there.
pub(crate) struct Return<'a> {
    pub(crate) leave_hour: f64,
    /// What the way home was sought for.
    pub(crate) sought: Sought,
    pub(crate) route: &'a Route,
    pub(crate) station_t: f64,
}

/// Makes an approach of a way out.
///
/// # Errors
///
/// The reason why the way is no approach: it does not come home.
pub(crate) fn plan_way(
    world: &World<'_>,
    outward: &Outward<'_>,
    way: &Way,
    homes: &[Homeward],
    lines: &Lines<'_>,
    station: &Station<'_>,
) -> Result<Planned, String> {
    let back = way_home(world, way, homes, station)?;
    let stay = station.stay(way.route.arrive_hour(), back.leave_hour);
    let places = lies_at_pole(world, station, way.route.arrive_hour(), back.leave_hour);
    whole(world, outward, way, &back, lines, (stay, Lying::AtPole, places), homes)
}

/// Where a ship lies at the pole from each hour on: at the mean pole, and off it while the chart is closed
/// there.
fn lies_at_pole(
    world: &World<'_>,
    station: &Station<'_>,
    arrive_hour: f64,
    leave_hour: f64,
) -> Vec<(f64, Position)> {
    let (first, end) = station.whole_hours(arrive_hour, leave_hour);
    let offsets = station.held(first..=end).unwrap_or_default();
    let hourly = (first..=end).zip(offsets).filter_map(|(hour, offset_km)| {
        let within = (hour as f64) > arrive_hour && (hour as f64) < leave_hour;
        Some((hour as f64, world.tracks.place(hour, offset_km)?)).filter(|_| within)
    });
    std::iter::once((arrive_hour, world.mean_pole(arrive_hour))).chain(hourly).collect()
}

/// The whole voyage of a craft: its ways, its stay and its fuel.
///
/// # Arguments
///
/// What becomes of the stay, where the craft lies meanwhile, and that from each hour on; the ways home
/// from the pole.
///
/// # Errors
///
/// Why no log of the voyage can be written.
pub(crate) fn whole(
    world: &World<'_>,
    outward: &Outward<'_>,
    way: &Way,
    back: &Return<'_>,
    lines: &Lines<'_>,
    (stay, lying, places): (Stay, Lying, Vec<(f64, Position)>),
    homes: &[Homeward],
) -> Result<Planned, String> {
    let scenario = world.scenario;
    let clock = scenario.clock;
    let stores = world.stores;
    let arrive_hour = way.route.arrive_hour();
    let (out_t, home_t) = (way.route.fuel_t(), back.route.fuel_t());
    let lies = voyage::Lies {
        phase: match lying {
            Lying::AtPole => Phase::OnStation,
            Lying::AtLanding(..) => Phase::Berth,
        },
        places,
        until_hour: back.leave_hour,
        fuel_t: back.station_t,
    };
    let unlogged = |error| format!("no log of the voyage can be written: {error}");
    let steps = lines.steps(&way.route).map_err(unlogged)?;
    let out = voyage::points(&steps, way.route.points.last());
    let home_steps = lines.steps(back.route).map_err(unlogged)?;
    let log = voyage::log(world, steps, &lies, home_steps).map_err(unlogged)?;
    let duration_h = arrive_hour - outward.hour;
    let bounds = match lying {
        Lying::AtPole => (outward.lower_bound_h, outward.lower_bound_t),
        Lying::AtLanding(..) => (None, None),
    };
    let taken = Taken { hours: duration_h, tonnes: out_t };
    let home_to = world.homes().nth(back.route.goal);
    let margin_t = stores.capacity_t - stores.reserve_t - out_t - back.station_t - home_t;
    let turn_back = turn_back(world, arrive_hour, out_t, &lying, lying.homes(homes));
    let moved_km = [Some(outward.harbour), home_to].map(|at| at.map_or(0.0, |at| at.moved_km));
    let approach = Approach {
        pilotage: Some(pilotage(world, outward.hour, back.route.arrive_hour(), moved_km)),
        rank: 0,
        group: 0,
        id: String::new(),
        from: outward.harbour.name.clone(),
        home_to: home_to.map(|harbour| harbour.name.clone()).unwrap_or_default(),
        craft: scenario.craft.object.name(),
        sought: match (way.sought, way.alternative) {
            (Sought::Earliest, 0) => "earliest arrival",
            (Sought::LeastFuel, _) => "least fuel",
            (Sought::Earliest, _) => "alternative",
        }
        .to_owned(),
        trade: String::new(),
        depart: clock.instant(outward.hour),
        arrive: clock.instant(arrive_hour),
        leave: clock.instant(back.leave_hour),
        back: clock.instant(back.route.arrive_hour()),
        distance_km: way.route.distance_km,
        duration_h,
        on_station: scenario.policy.object.describe(),
        fuel_t: FuelPlan {
            out: out_t,
            station: back.station_t,
            home: home_t,
            reserve: stores.reserve_t,
            capacity: stores.capacity_t,
            margin: margin_t,
            margin_if_beset: margin_t - world.beset_t(),
        },
        attainment: stay.attainment,
        stay: stay.outcome.clone(),
        risk: Risk::of(&log),
        turn_back,
        turning: None,
        warnings: Vec::new(),
        lower_bound_h: bounds.0,
        lower_bound_t: bounds.1,
        gap_percent: taken.gap_percent(way.sought, bounds),
        home_bound: None,
        on_front: false,
        first_probability: None,
        tied_with_previous: false,
        criteria: BTreeMap::new(),
        waypoints: waypoints(clock, &way.route.points),
        home: waypoints(clock, &back.route.points),
        last_leg: None,
    };
    let from = (back.leave_hour, lying.position(world, back.leave_hour));
    let question = Question::new(from, back.sought, To::home(way.return_to));
    let claims = vec![Claim { of: Part::Home, question, taken: Taken::by(back.route) }];
    Ok(Planned { approach, stay, log, out, lying, claims, return_to: way.return_to })
}

/// The miles between the ports and the ends of a track, at the scenario's speed for them.
fn pilotage(
    world: &World<'_>,
    depart_hour: f64,
    back_hour: f64,
    [out_km, home_km]: [f64; 2],
) -> Pilotage {
    let clock = world.scenario.clock;
    let km_per_h = world.scenario.keys.voyage.pilotage_kn * KM_PER_NAUTICAL_MILE;
    let (out_h, home_h) = (out_km / km_per_h, home_km / km_per_h);
    Pilotage {
        out_km,
        out_h,
        home_km,
        home_h,
        port_depart: clock.instant(depart_hour - out_h),
        port_back: clock.instant(back_hour + home_h),
    }
}

/// The longest stay within the stated bounds from which the craft still comes home.
fn way_home<'a>(
    world: &World<'_>,
    way: &Way,
    homes: &'a [Homeward],
    station: &Station<'_>,
) -> Result<Return<'a>, String> {
    let keys = &world.scenario.keys.station;
    let arrive = way.route.arrive_hour();
    let earliest = arrive + keys.at_least_h;
    // The shortest stay is rounded up to the next instant of leaving, the longest with it.
    let first = homes.iter().find(|home| home.hour >= earliest).ok_or_else(|| {
        format!(
            "arrives too late: a stay of {:.0} h does not end within the window",
            keys.at_least_h
        )
    })?;
    let latest = (arrive + keys.at_most_h).max(first.hour);
    let latest = latest.min(closing_hour(world, station, arrive, latest)?);
    if first.hour > latest {
        return Err(closing_told("her", world, latest));
    }
    let leaving = homes.iter().filter(|home| (first.hour..=latest).contains(&home.hour));
    choose(world, way, leaving)
}

/// The hour by which a ship must have left the pole because the chart closes over her; infinite where it
/// does not, or where she moves off.
///
/// # Errors
///
/// That it does, where the scenario wants no such approach.
fn closing_hour(
    world: &World<'_>,
    station: &Station<'_>,
    arrive_hour: f64,
    latest_hour: f64,
) -> Result<f64, String> {
    let (first, end) = station.whole_hours(arrive_hour, latest_hour);
    let when_closed = world.scenario.keys.station.when_closed;
    let closes = match when_closed {
        WhenClosed::MoveOff => station.held(first..=end).err(),
        WhenClosed::Leave | WhenClosed::Refuse => station.closes_at(first..=end),
    };
    match closes.map(|hour| hour as f64) {
        Some(hour) if when_closed == WhenClosed::Refuse => Err(closing_told("her", world, hour)),
        hour => Ok(hour.unwrap_or(f64::INFINITY)),
    }
}

/// That the chart closes over a ship, or the drift of the ice outruns her, and when.
pub(crate) fn closing_told(whom: &str, world: &World<'_>, hour: f64) -> String {
    let outrun = world.pack.as_ref().is_some_and(|pack| pack.left_h(hour as usize) <= 0.0);
    let what = if outrun { "the drift of the ice outruns" } else { "the chart closes over" };
    format!(
        "{what} {whom} at {}, before the shortest stay ends or against the scenario's when_closed",
        world.scenario.clock.instant(hour)
    )
}

/// The last of some moments of leaving, in the order of time, from which the craft comes home with its
/// reserve and the fuel for the days that it may be beset.
///
/// # Errors
///
/// Why there is none.
pub(crate) fn choose<'a>(
    world: &World<'_>,
    way: &Way,
    leaving: impl DoubleEndedIterator<Item = &'a Homeward>,
) -> Result<Return<'a>, String> {
    let arrive = way.route.arrive_hour();
    let mut shortfall_t = f64::INFINITY;
    let mut reason = String::new();
    for home in leaving.rev() {
        let station_t = world.lying_t(way.landed.is_none(), arrive, home.hour);
        for (sought, route) in home.ways(way.sought == Sought::LeastFuel) {
            let margin_t = world.margin_home_t(way.route.fuel_t() + station_t, route.fuel_t());
            if margin_t >= 0.0 {
                return Ok(Return { leave_hour: home.hour, sought, route, station_t });
            }
            shortfall_t = shortfall_t.min(-margin_t);
        }
        reason = home.least_fuel.as_ref().err().map(ToString::to_string).unwrap_or_default();
    }
    Err(if shortfall_t.is_finite() {
        let beset_t = world.beset_t();
        let beset = if beset_t > 0.0 {
            format!(" and {beset_t:.1} t for the days beset")
        } else {
            String::new()
        };
        format!(
            "the fuel suffices for the way out ({:.1} t) but not for the shortest stay and the way \
             home with the reserve{beset}: {shortfall_t:.1} t are missing",
            way.route.fuel_t()
        )
    } else {
        let reaches = if way.landed.is_some() { "lands the party" } else { "reaches the pole" };
        format!("{reaches} but does not come home within the window: {reason}")
    })
}

/// Tables made ready for sailing along given lines, one for each thing that ways are sought for.
#[derive(Debug)]
pub(crate) struct Lines<'a> {
    earliest: dipward_search::World<'a>,
    least_fuel: dipward_search::World<'a>,
}

impl<'a> Lines<'a> {
    /// # Errors
    ///
    /// What the search room says of the table.
    pub(crate) fn new(table: &'a PaceTable, control: &Control) -> Result<Self, Error> {
        Ok(Self {
            earliest: dipward_search::World::for_lines(table, 0.0, control)?,
            least_fuel: dipward_search::World::for_lines(table, f64::INFINITY, control)?,
        })
    }

    /// Sails along the geodesics between positions, waiting where the way ahead is closed; as early as a
    /// limit on fuel allows, where it can be kept. Nothing where they leave the chart or meet what never
    /// opens.
    pub(crate) fn sail(
        &self,
        positions: &[Position],
        hour: f64,
        sparing: bool,
        limit_t: f64,
    ) -> Option<Route> {
        let world = if sparing { &self.least_fuel } else { &self.earliest };
        let points = world
            .evaluate_within(positions, hour, limit_t)
            .or_else(|| world.evaluate(positions, hour))?;
        let distance_km = points
            .windows(2)
            .map(|leg| dipward_geodesy::distance_km(leg[0].position, leg[1].position))
            .sum();
        Some(Route { points, goal: 0, distance_km })
    }

    /// A route cell by cell and frame by frame.
    ///
    /// # Errors
    ///
    /// [`Error::Unsolved`] where it leads off the chart.
    pub(crate) fn steps(&self, route: &Route) -> Result<Vec<PassageStep>, Error> {
        let off = || Error::Unsolved("a way leads off the chart".to_owned());
        self.earliest.steps(&route.points).ok_or_else(off)
    }
}

/// The waypoints of a route, with the speed and course of the leg that leads on from each.
pub(crate) fn waypoints(clock: Clock, points: &[RoutePoint]) -> Vec<Waypoint> {
    let mut course_deg = 0.0;
    (0..points.len())
        .map(|index| {
            let point = points[index];
            let mut speed_kn = 0.0;
            if let Some(next) = points.get(index + 1) {
                let leg = inverse(point.position, next.position);
                let hours = next.hour - point.hour;
                if leg.distance_km > 0.0 {
                    course_deg = leg.initial_course_deg;
                    if hours > 0.0 {
                        speed_kn = leg.distance_km / hours / KM_PER_NAUTICAL_MILE;
                    }
                }
            } else if let Some(before) = index.checked_sub(1).map(|before| points[before]) {
                let leg = inverse(before.position, point.position);
                if leg.distance_km > 0.0 {
                    course_deg = leg.final_course_deg;
                }
            }
            Waypoint {
                latitude_deg: point.position.y(),
                longitude_deg: point.position.x(),
                time: clock.instant(point.hour),
                speed_kn,
                fuel_used_t: point.fuel_used_t,
                course_deg,
            }
        })
        .collect()
}

/// Entries alike are drawn as one, no longer than this.
const ALIKE_H: f64 = 6.0;

/// What an approach passes through, for plots: its log, entries that are alike drawn as one, each with
/// both of its ends, so that what steps on the chart steps in the plot.
pub(crate) fn profile(planned: &Planned) -> Profile {
    let mut profile = Profile::default();
    let (mut hour, mut distance_km) = (0.0, 0.0);
    let alike = |a: &LogEntry, b: &LogEntry| {
        (a.phase, a.risk_index, a.ice_concentration, a.closure, a.power_setting)
            == (b.phase, b.risk_index, b.ice_concentration, b.closure, b.power_setting)
    };
    let mut log = planned.log.iter().peekable();
    while let Some(&first) = log.next() {
        let mut point = |hour: f64, distance_km: f64, fuel_used_t: f64| {
            profile.hour.push(hour);
            profile.distance_km.push(distance_km);
            profile.fuel_used_t.push(fuel_used_t);
            profile.risk_index.push(first.risk_index);
            profile.ice_concentration.push(first.ice_concentration);
            profile.closure.push(first.closure);
        };
        point(hour, distance_km, first.fuel_used_t - first.fuel_t);
        let (mut last, began) = (first, hour);
        (hour, distance_km) = (hour + first.hours, distance_km + first.distance_km);
        while let Some(next) = log.next_if(|next| alike(&first, next) && hour - began < ALIKE_H) {
            last = *next;
            (hour, distance_km) = (hour + next.hours, distance_km + next.distance_km);
        }
        point(hour, distance_km, last.fuel_used_t);
    }
    profile
}
