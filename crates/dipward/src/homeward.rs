//! Ways home from the pole, for leaving it at any of a lattice of instants.

use dipward_geodesy::Position;
use dipward_plugin::{
    Control, Error, Goal, NoRoute, Route, RouteFailure, RouteProblem, RouteSet, Search,
};

use crate::{outward::Sought, world::World};

/// The two ways home from one place at one hour.
#[derive(Debug, Clone)]
pub(crate) struct Homeward {
    /// When the craft turns for home.
    pub hour: f64,
    /// The earliest home; its goal counts among [`World::homes`].
    pub earliest: Result<Route, NoRoute>,
    /// The way that burns least.
    pub least_fuel: Result<Route, NoRoute>,
}

impl Homeward {
    /// The ways home in the order in which an approach wants them, each with what it was sought for.
    pub(crate) fn ways(&self, sparing: bool) -> impl Iterator<Item = (Sought, &Route)> {
        let mut order = [(Sought::Earliest, &self.earliest), (Sought::LeastFuel, &self.least_fuel)];
        if sparing {
            order.reverse();
        }
        order.into_iter().filter_map(|(sought, way)| Some((sought, way.as_ref().ok()?)))
    }
}

/// Solves the ways home from the mean pole for every leaving hour of the lattice.
///
/// # Errors
///
/// What the search says, other than that there is no route.
pub(crate) fn homeward(
    world: &World<'_>,
    hours: &[f64],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    let starts: Vec<(f64, Position)> =
        hours.iter().map(|&hour| (hour, world.mean_pole(hour))).collect();
    homeward_from(world, &starts, search, control)
}

/// Solves the ways home from any hours and positions.
///
/// # Errors
///
/// As [`homeward`].
pub(crate) fn homeward_from(
    world: &World<'_>,
    starts: &[(f64, Position)],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    control.begin("ways home", starts.len() as u64 * 2);
    let homes: Vec<Position> = world.homes().map(|harbour| harbour.position).collect();
    let problem = |(hour, start): (f64, Position), fuel_weight_h_per_t: f64| RouteProblem {
        table: &world.table,
        start,
        depart_hour: hour,
        goal: Goal::Places(&homes),
        fuel_weight_h_per_t,
        fuel_limit_t: None,
        latest_hour: world.window_hours,
        routes: 1,
        bounds: false,
    };
    let problems: Vec<RouteProblem<'_>> = starts
        .iter()
        .flat_map(|&start| [problem(start, 0.0), problem(start, f64::INFINITY)])
        .collect();
    let mut answers = search.routes_of_all(&problems, control).into_iter().map(first_route);
    let mut all = Vec::with_capacity(starts.len());
    for &(hour, _) in starts {
        let (Some(earliest), Some(least_fuel)) = (answers.next(), answers.next()) else {
            let message = "answers fewer problems than it was asked".to_owned();
            return Err(Error::Contract { kind: "search".to_owned(), message });
        };
        all.push(Homeward { hour, earliest: earliest?, least_fuel: least_fuel? });
    }
    Ok(all)
}

/// What a search found, or why there is no way.
///
/// # Errors
///
/// What the search says, other than that there is no way.
pub(crate) fn found(
    answer: Result<RouteSet, RouteFailure>,
) -> Result<Result<RouteSet, NoRoute>, Error> {
    match answer {
        Ok(set) => Ok(Ok(set)),
        Err(RouteFailure::NoRoute(reason)) => Ok(Err(reason)),
        Err(RouteFailure::Error(error)) => Err(error),
    }
}

fn first_route(answer: Result<RouteSet, RouteFailure>) -> Result<Result<Route, NoRoute>, Error> {
    let first = |set: RouteSet| set.routes.into_iter().next().ok_or(NoRoute::Enclosed);
    Ok(found(answer)?.and_then(first))
}
