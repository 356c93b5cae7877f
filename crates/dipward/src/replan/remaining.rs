//! The present plan, sailed from here: the waypoints ahead, the stay and the way home.

use dipward_geodesy::{Position, direct, distance_km, inverse, position};
use dipward_plugin::{Approach, Control, Error, Route, Waypoint};

use super::landing;
use crate::{
    approach::{Lines, Lying, Planned, plan_way},
    homeward::Homeward,
    outward::{Outward, Way},
    proofs::{Claim, Part, Taken},
    questions::{Question, Sought, To, shut_in},
    turn_back::turn_back,
    world::World,
};

/// What a plan is called in an approach that was sought for least fuel.
pub(super) const LEAST_FUEL: &str = "least fuel";
/// The pole is met when a further round moves the arrival by less, hours: a third of a second.
const MET_H: f64 = 1e-4;
/// Each round shrinks the error by the ratio of the pole's speed to the craft's, so that a pole at
/// three quarters of the craft's speed is met in time.
const ROUNDS: usize = 60;
/// Legs that a position lies near to within this distance are equally near.
const TIE_KM: f64 = 1e-3;

/// A plan sailed again.
#[derive(Debug)]
pub(super) struct Sailed {
    /// The way to the pole, where it can be sailed.
    pub(super) way: Option<Route>,
    /// The whole voyage, or why it cannot be.
    pub(super) planned: Result<Planned, String>,
}

/// Sails a plan from the one start of a world.
///
/// The waypoints ahead stay as they are but for the last, which is where the mean pole is on arrival.
/// The stay ends when the plan ends it, or later where the shortest stay wants it. A plan in two stages
/// ends at its landing, as [`landing::sail`] says.
///
/// # Errors
///
/// What the search says.
pub(super) fn sail(
    world: &World<'_>,
    lines: &Lines<'_>,
    plan: &Approach,
    homes: &[Homeward],
    control: &Control,
) -> Result<Sailed, Error> {
    let sparing = plan.sought == LEAST_FUEL;
    let mut sailed = Sailed { way: None, planned: Err(String::new()) };
    let here = world.harbours.iter().rfind(|harbour| harbour.depart);
    let (Some(harbour), Some(&hour)) = (here, world.departures.first()) else {
        sailed.planned = Err("there is no start".to_owned());
        return Ok(sailed);
    };
    let track: Vec<Position> = plan.waypoints.iter().map(place).collect();
    let ahead = waypoints_ahead(&track, harbour.position);
    if let Some(leg) = &plan.last_leg {
        return landing::sail(world, lines, plan, leg, (harbour, hour), ahead, control);
    }
    let planned_h = world.scenario.clock.hour(plan.arrive);
    let way = match meet(world, lines, sparing, (harbour.position, hour), ahead, planned_h) {
        Ok(way) => way,
        Err(reason) => {
            sailed.planned = Err(reason);
            return Ok(sailed);
        }
    };
    sailed.way = Some(way.clone());
    let outward = Outward::empty(harbour, hour);
    sailed.planned = whole_voyage(world, lines, plan, &outward, way, homes);
    Ok(sailed)
}

fn whole_voyage(
    world: &World<'_>,
    lines: &Lines<'_>,
    plan: &Approach,
    outward: &Outward<'_>,
    route: Route,
    homes: &[Homeward],
) -> Result<Planned, String> {
    let scenario = world.scenario;
    let arrive = route.arrive_hour();
    if arrive > world.window_hours {
        return Err("the pole is reached only after the window ends".to_owned());
    }
    let leave = scenario.clock.hour(plan.leave).max(arrive + scenario.keys.station.at_least_h);
    let home = way_home(world, lines, plan, leave)?;
    let sought = if plan.sought == LEAST_FUEL { Sought::LeastFuel } else { Sought::Earliest };
    let return_to = outward.harbour.return_to;
    let way = Way { sought, alternative: 0, route, landed: None, return_to };
    let moves = world.moves_on_station();
    let station = world.station(&moves);
    let mut planned = plan_way(world, outward, &way, &[home], lines, &station)?;
    let out_t = way.route.fuel_t();
    planned.approach.id.clone_from(&plan.id);
    planned.approach.sought.clone_from(&plan.sought);
    let from = (outward.hour, outward.harbour.position);
    let question = Question::new(from, sought, To::Pole);
    planned.claims.push(Claim { of: Part::Out, question, taken: Taken::by(&way.route) });
    planned.approach.turn_back = turn_back(world, arrive, out_t, &Lying::AtPole, homes);
    Ok(planned)
}

/// The plan's way home, from where the mean pole is when the craft leaves it.
fn way_home(
    world: &World<'_>,
    lines: &Lines<'_>,
    plan: &Approach,
    leave: f64,
) -> Result<Homeward, String> {
    let goal = world
        .homes()
        .position(|home| home.name == plan.home_to)
        .ok_or_else(|| format!("{} is no longer a port to return to", plan.home_to))?;
    let mut line = vec![world.mean_pole(leave)];
    line.extend(plan.home.iter().skip(1).map(place));
    let line = without_stops(line);
    let sail = |sparing| {
        let mut route = lines.sail(&line, leave, sparing, f64::INFINITY)?;
        route.goal = goal;
        (route.arrive_hour() <= world.window_hours).then_some(route)
    };
    let (Some(earliest), Some(least_fuel)) = (sail(false), sail(true)) else {
        return Err(match first_closed(lines, &line, leave) {
            Some(at) => blocked("home", at),
            None => "the plan's way home leads beyond the end of the window".to_owned(),
        });
    };
    // The two ways wait at the same places, if not for as long.
    for route in [&earliest, &least_fuel] {
        if let Some(at) = shut_in(world, &world.table, route) {
            return Err(shut_in_told("home", at));
        }
    }
    Ok(Homeward { hour: leave, earliest: Ok(earliest), least_fuel: Ok(least_fuel) })
}

/// Sails to where the mean pole is on arrival, by way of the waypoints ahead.
fn meet(
    world: &World<'_>,
    lines: &Lines<'_>,
    sparing: bool,
    (start, hour): (Position, f64),
    ahead: &[Position],
    planned_h: f64,
) -> Result<Route, String> {
    let via = ahead.split_last().map_or(ahead, |(_, via)| via);
    let mut arrive = planned_h.max(hour);
    for _ in 0..ROUNDS {
        let mut line = vec![start];
        line.extend_from_slice(via);
        line.push(world.mean_pole(arrive));
        let line = without_stops(line);
        let limit_t = world.stores.capacity_t - world.stores.reserve_t;
        let Some(route) = lines.sail(&line, hour, sparing, limit_t) else {
            return Err(first_closed(lines, &line, hour).map_or_else(
                || "the plan's way out cannot be sailed".to_owned(),
                |at| blocked("out", at),
            ));
        };
        let again = route.arrive_hour();
        if (again - arrive).abs() < MET_H {
            let shut = shut_in(world, &world.table, &route);
            return shut.map_or(Ok(route), |at| Err(shut_in_told("out", at)));
        }
        arrive = again;
    }
    Err("the pole recedes faster than the craft can follow".to_owned())
}

pub(super) fn blocked(way: &str, at: Position) -> String {
    format!(
        "the plan's way {way} is closed for good, or off the chart, on the leg to {:.3}, {:.3}",
        at.y(),
        at.x()
    )
}

/// That a plan's way waits where the chart closes over the craft.
pub(super) fn shut_in_told(way: &str, at: Position) -> String {
    format!(
        "the plan's way {way} waits where the chart closes over the craft, at {:.3}, {:.3}",
        at.y(),
        at.x()
    )
}

/// The end of the first leg that cannot be sailed.
pub(super) fn first_closed(lines: &Lines<'_>, line: &[Position], hour: f64) -> Option<Position> {
    let count = (2..=line.len()).find(|&count| {
        line.get(..count).is_some_and(|part| lines.sail(part, hour, false, f64::INFINITY).is_none())
    });
    line.get(count?.checked_sub(1)?).copied()
}

fn place(point: &Waypoint) -> Position {
    position(point.latitude_deg, point.longitude_deg)
}

/// A line without repeated points: the craft waits by itself where the way is closed. At least two
/// points are left.
pub(super) fn without_stops(mut line: Vec<Position>) -> Vec<Position> {
    let first = line.first().copied();
    line.dedup();
    if let (Some(first), 1) = (first, line.len()) {
        line.push(first);
    }
    line
}

/// The waypoints after the leg that a position lies nearest to; where two legs are equally near, the
/// later one.
pub(super) fn waypoints_ahead(track: &[Position], from: Position) -> &[Position] {
    let mut nearest = (f64::INFINITY, 0);
    for (index, leg) in track.windows(2).enumerate() {
        let distance_km = distance_to_leg_km(leg[0], leg[1], from);
        if distance_km <= nearest.0 + TIE_KM {
            nearest = (distance_km.min(nearest.0), index);
        }
    }
    track.get(nearest.1 + 1..).unwrap_or_default()
}

/// Distance from a point to the nearest point of a leg, by golden section: along a leg shorter than a
/// quarter of a circumference the distance has one minimum.
fn distance_to_leg_km(a: Position, b: Position, point: Position) -> f64 {
    /// Shrinks 10,000 km to below a metre.
    const STEPS: usize = 50;
    let leg = inverse(a, b);
    let at = |run_km: f64| distance_km(direct(a, leg.initial_course_deg, run_km).position, point);
    let ends_km = distance_km(a, point).min(distance_km(b, point));
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, leg.distance_km);
    for _ in 0..STEPS {
        let span = golden * (high - low);
        if at(high - span) <= at(low + span) {
            high = low + span;
        } else {
            low = high - span;
        }
    }
    // The minimum at an end is the end's own distance.
    ends_km.min(at(0.5 * (low + high)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track() -> Vec<Position> {
        vec![position(80.0, 0.0), position(81.0, 0.0), position(82.0, 10.0), position(83.0, 10.0)]
    }

    #[test]
    fn waypoints_behind_are_left_behind() {
        let track = track();
        assert_eq!(waypoints_ahead(&track, track[0]), &track[1..]);
        assert_eq!(waypoints_ahead(&track, track[1]), &track[2..]);
        assert_eq!(waypoints_ahead(&track, position(80.5, 1.0)), &track[1..]);
        assert_eq!(waypoints_ahead(&track, position(82.4, 9.0)), &track[3..]);
        // Beyond the end there is still the end to go to.
        assert_eq!(waypoints_ahead(&track, position(84.0, 10.0)), &track[3..]);
        assert!(waypoints_ahead(&[], track[0]).is_empty());
    }

    #[test]
    fn the_nearest_point_of_a_meridian_is_on_it() {
        let (a, b) = (position(80.0, 0.0), position(81.0, 0.0));
        let beside = position(80.5, 0.5);
        let least = (0..=10_000)
            .map(|step| distance_km(position(80.0 + f64::from(step) * 1e-4, 0.0), beside))
            .fold(f64::INFINITY, f64::min);
        assert!((distance_to_leg_km(a, b, beside) - least).abs() < 1e-4);
        assert_eq!(distance_to_leg_km(a, b, a), 0.0);
        assert_eq!(distance_to_leg_km(a, a, a), 0.0);
    }
}
