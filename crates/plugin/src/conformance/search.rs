use dipward_geodesy::{
    Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, distance_km, interpolate, position,
};
use geo::coord;

use super::promise;
use crate::{
    Berth, Control, Goal, NoRoute, PaceTable, Route, RouteFailure, RouteProblem, RouteSet, Search,
};

const CELL_KM: f64 = 10.0;
const SIDE: u32 = 21;
/// Greater than the grid's scale is ever off over its few cells about the pole.
const SCALE: f64 = 1.001;
const PACE_H_PER_KM: f32 = 0.05;
const BURN_T_PER_H: f32 = 0.5;

/// Holds a search to its contract on a small table of open water: routes from the start to the goal
/// whose hours, fuel and length are what the table gives, bounds that no route beats, a reason where
/// there is no route, and the same answer when asked again.
///
/// # Errors
///
/// A sentence that says which promise the search breaks.
pub fn check_search(search: &dyn Search) -> Result<(), String> {
    let table = table()?;
    let start = position(89.3, -150.0);
    let places = [position(89.4, 20.0), position(89.2, 60.0)];
    let track = [(0.0, places[0]), (40.0, places[1])];
    let problem = |goal| RouteProblem {
        table: &table,
        start,
        depart_hour: 1.0,
        goal,
        fuel_weight_h_per_t: 0.0,
        fuel_limit_t: None,
        latest_hour: 40.0,
        routes: 2,
        bounds: true,
    };
    let berth = |position, from_hour, onward_h| Berth {
        position,
        from_hour,
        until_hour: 39.0,
        onward_h,
        onward_t: 0.0,
    };
    // The nearer one opens late.
    let berths = [berth(places[0], 0.0, 5.0), berth(places[1], 30.0, 1.0)];
    let problems = [
        problem(Goal::Places(&places)),
        problem(Goal::Track(&track)),
        problem(Goal::Berths(&berths)),
    ];
    let together = search.routes_of_all(&problems, &Control::default());
    promise(together.len() == problems.len(), || "an answer is due to each problem".to_owned())?;
    for (problem, in_all) in problems.iter().zip(together) {
        let set = search
            .routes(problem, &Control::default())
            .map_err(|failure| format!("a way over open water is not found: {failure}"))?;
        check_set(problem, &set)?;
        let again = search.routes(problem, &Control::default());
        promise(again.as_ref() == Ok(&set), || "the answer changes when asked again".to_owned())?;
        promise(in_all.as_ref() == Ok(&set), || {
            "`routes_of_all` answers otherwise than `routes`".to_owned()
        })?;
    }

    let [open, ..] = problems;
    let mut walled = table.clone();
    let columns = SIDE as usize;
    // Two rows thick, so that no diagonal slips through.
    if let Some(wall) = walled.pace_h_per_km.get_mut(columns * 10..columns * 12) {
        wall.fill(f32::INFINITY);
    }
    let off = RouteProblem { start: position(70.0, 0.0), ..open };
    let late = RouteProblem { latest_hour: 2.0, ..open };
    let thirsty = RouteProblem { fuel_limit_t: Some(0.01), ..open };
    for (problem, reason) in [
        (RouteProblem { table: &walled, ..open }, NoRoute::Enclosed),
        (off, NoRoute::StartOutside),
        (late, NoRoute::TooLate),
        (thirsty, NoRoute::TooMuchFuel),
    ] {
        let answer = search.routes(&problem, &Control::default());
        promise(answer == Err(RouteFailure::NoRoute(reason)), || {
            format!("there is no route because {reason}; the answer is {answer:?}")
        })?;
    }
    Ok(())
}

/// Open water about the north geographic pole.
fn table() -> Result<PaceTable, String> {
    let polar = PolarStereographic::variant_b(Hemisphere::North, 90.0, 0.0, Ellipsoid::WGS84);
    let polar = polar.map_err(|error| error.to_string())?;
    let corner_m = -CELL_KM * 1000.0 * f64::from(SIDE - 1) / 2.0;
    let origin = coord! { x: corner_m, y: corner_m };
    let grid = Grid::new(polar, origin, CELL_KM * 1000.0, SIDE, SIDE);
    let grid = grid.map_err(|error| error.to_string())?;
    let cells = grid.len();
    Ok(PaceTable {
        grid,
        hours: vec![0.0],
        settings: 1,
        sectors: 1,
        pace_h_per_km: vec![PACE_H_PER_KM; cells],
        burn_t_per_h: vec![BURN_T_PER_H; cells],
        hold_t_per_h: 0.1,
    })
}

fn check_set(problem: &RouteProblem<'_>, set: &RouteSet) -> Result<(), String> {
    promise((1..=problem.routes).contains(&set.routes.len()), || {
        format!("{} routes are wanted, {} are given", problem.routes, set.routes.len())
    })?;
    for route in &set.routes {
        check_route(problem, route).map_err(|broken| format!("{broken}: {route:?}"))?;
        let hours = route.arrive_hour() - problem.depart_hour;
        for (what, bound, found) in
            [("hours", set.lower_bound_h, hours), ("tonnes", set.lower_bound_t, route.fuel_t())]
        {
            promise(bound >= 0.0 && bound <= found * (1.0 + 1e-9), || {
                format!("a route takes {found} {what}, less than the bound {bound}")
            })?;
        }
    }
    Ok(())
}

fn check_route(problem: &RouteProblem<'_>, route: &Route) -> Result<(), String> {
    let (Some(first), Some(last)) = (route.points.first(), route.points.last()) else {
        return Err("a route without points".to_owned());
    };
    promise(route.points.len() >= 2, || "a route has two points at least".to_owned())?;
    promise(distance_km(first.position, problem.start) < 1e-3, || {
        "the route does not begin at the start".to_owned()
    })?;
    promise(first.hour >= problem.depart_hour && last.hour <= problem.latest_hour, || {
        "the route begins too early or ends too late".to_owned()
    })?;
    let goal = goal_at(problem.goal, route.goal, last.hour)
        .ok_or_else(|| "the route names a goal that is not asked for".to_owned())?;
    promise(distance_km(last.position, goal) < 1e-2 * CELL_KM, || {
        "the route does not end at the goal".to_owned()
    })?;
    let mut length_km = 0.0;
    for (from, to) in route.points.iter().zip(route.points.iter().skip(1)) {
        let leg_km = distance_km(from.position, to.position);
        let hours = leg_km * f64::from(PACE_H_PER_KM);
        let tonnes = hours * f64::from(BURN_T_PER_H);
        length_km += leg_km;
        promise(from.setting < problem.table.settings, || "an unknown setting".to_owned())?;
        promise(to.hour - from.hour >= hours / SCALE - 1e-9, || {
            "a leg is faster than the pace".to_owned()
        })?;
        promise(to.fuel_used_t - from.fuel_used_t >= tonnes / SCALE - 1e-9, || {
            "a leg burns less than the burn".to_owned()
        })?;
    }
    promise((route.distance_km - length_km).abs() <= 1e-6 * length_km + 1e-9, || {
        format!("the legs add to {length_km} km, not to {}", route.distance_km)
    })
}

/// Where the goal is when the route ends.
fn goal_at(goal: Goal<'_>, index: usize, hour: f64) -> Option<Position> {
    match goal {
        Goal::Places(places) => places.get(index).copied(),
        Goal::Berths(berths) => berths
            .get(index)
            .filter(|berth| (berth.from_hour..=berth.until_hour).contains(&hour))
            .map(|berth| berth.position),
        Goal::Track(track) => {
            let pair = track.windows(2).find(|pair| (pair[0].0..=pair[1].0).contains(&hour))?;
            let share = (hour - pair[0].0) / (pair[1].0 - pair[0].0);
            Some(interpolate(pair[0].1, pair[1].1, share))
        }
    }
}
