//! Ways out: from every port and departure to the moving pole.

use dipward_geodesy::Position;
use dipward_plugin::{Control, Error, Goal, Route, RouteFailure, RouteProblem, Search};

use crate::world::{Harbour, World};

/// What a way out is sought for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sought {
    /// The earliest arrival.
    Earliest,
    /// The least fuel.
    LeastFuel,
}

/// The ways out of one port at one departure.
#[derive(Debug, Clone)]
pub(crate) struct Outward<'a> {
    /// The port.
    pub harbour: &'a Harbour,
    /// The departure.
    pub hour: f64,
    /// The ways, each with what it was sought for and its place among the answers to that.
    pub ways: Vec<Way>,
    /// Why there is none, if there is none.
    pub reason: Option<String>,
    /// No way takes fewer hours.
    pub lower_bound_h: f64,
    /// No way burns less.
    pub lower_bound_t: f64,
}

/// One way out.
#[derive(Debug, Clone)]
pub(crate) struct Way {
    /// What it was sought for.
    pub sought: Sought,
    /// 0 for the best, then distinct alternatives.
    pub alternative: usize,
    /// The way.
    pub route: Route,
}

/// Every port with every departure of a world, in that order.
pub(crate) fn departures<'a>(world: &'a World<'_>) -> Vec<(&'a Harbour, f64)> {
    world
        .harbours
        .iter()
        .filter(|harbour| harbour.depart)
        .flat_map(|harbour| world.departures.iter().map(move |&hour| (harbour, hour)))
        .collect()
}

/// Solves the ways out of ports at hours, in that order.
///
/// # Arguments
///
/// `bounds`: whether lower bounds are wanted, which cost as much as several searches.
///
/// # Errors
///
/// What the search says, other than that there is no route.
pub(crate) fn outward<'a>(
    world: &World<'_>,
    starts: Vec<(&'a Harbour, f64)>,
    bounds: bool,
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Outward<'a>>, Error> {
    let track: Vec<(f64, Position)> =
        (0..).map(f64::from).zip(world.tracks.mean_track().iter().copied()).collect();
    let stores = world.stores;
    let problem = |(harbour, hour): &(&Harbour, f64), sought: Sought| RouteProblem {
        table: &world.table,
        start: harbour.position,
        depart_hour: *hour,
        goal: Goal::Track(&track),
        fuel_weight_h_per_t: if sought == Sought::Earliest { 0.0 } else { f64::INFINITY },
        fuel_limit_t: Some(stores.capacity_t - stores.reserve_t),
        latest_hour: world.window_hours,
        bounds,
        routes: if sought == Sought::Earliest { world.scenario.keys.voyage.routes } else { 1 },
    };
    let problems: Vec<RouteProblem<'_>> = starts
        .iter()
        .flat_map(|start| [problem(start, Sought::Earliest), problem(start, Sought::LeastFuel)])
        .collect();
    control.begin("ways out", problems.len() as u64);
    let mut answers = search.routes_of_all(&problems, control).into_iter();
    let mut all = Vec::with_capacity(starts.len());
    for (harbour, hour) in starts {
        let mut one = Outward {
            harbour,
            hour,
            ways: Vec::new(),
            reason: None,
            lower_bound_h: 0.0,
            lower_bound_t: 0.0,
        };
        for sought in [Sought::Earliest, Sought::LeastFuel] {
            match answers.next() {
                Some(Ok(set)) => {
                    one.lower_bound_h = one.lower_bound_h.max(set.lower_bound_h);
                    one.lower_bound_t = one.lower_bound_t.max(set.lower_bound_t);
                    one.ways.extend(
                        set.routes.into_iter().enumerate().map(|(alternative, route)| Way {
                            sought,
                            alternative,
                            route,
                        }),
                    );
                }
                Some(Err(RouteFailure::NoRoute(reason))) => {
                    one.reason.get_or_insert_with(|| reason.to_string());
                }
                Some(Err(RouteFailure::Error(error))) => return Err(error),
                None => {
                    let message = "answers fewer problems than it was asked".to_owned();
                    return Err(Error::Contract { kind: "search".to_owned(), message });
                }
            }
        }
        drop_twins(&mut one.ways);
        all.push(one);
    }
    Ok(all)
}

/// The earliest way is often also the one of least fuel: it is then told once.
fn drop_twins(ways: &mut Vec<Way>) {
    let mut kept: Vec<Way> = Vec::with_capacity(ways.len());
    for way in ways.drain(..) {
        let twin = kept.iter().any(|other| {
            let hours = (other.route.arrive_hour() - way.route.arrive_hour()).abs();
            let tonnes = (other.route.fuel_t() - way.route.fuel_t()).abs();
            let same_way = (other.route.distance_km - way.route.distance_km).abs()
                < 0.002 * other.route.distance_km;
            hours < 0.1 && tonnes < 0.1 && same_way
        });
        if !twin {
            kept.push(way);
        }
    }
    *ways = kept;
}
