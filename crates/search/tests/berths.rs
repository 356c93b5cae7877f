//! Berths: the cheapest whole, by enumeration of all berths of a small grid.

mod tables;

use dipward_plugin::{Berth, Control, Error, Goal, NoRoute, RouteFailure, RouteProblem, Search};
use dipward_search::GridSearch;
use tables::{at, grid, problem, table};

/// Slow ice in the east, a closed block in the middle.
fn pace(_: usize, column: u32, row: u32) -> f64 {
    match (column, row) {
        (12..=14, 4..=16) => f64::INFINITY,
        (20.., _) => 0.25,
        _ => 0.1,
    }
}

/// Berths in a disc about a place, each with the flight on from there; open in turns, so that some are
/// worth a wait and some are not.
fn berths(grid: &dipward_geodesy::Grid, onward_h_per_km: f64) -> Vec<Berth> {
    let pole = at(grid, 26.0, 10.0);
    let mut all = Vec::new();
    for (cell, position) in (0..).map_while(|cell| Some((cell, grid.centre(cell)?))) {
        let away_km = dipward_geodesy::distance_km(position, pole);
        if away_km <= 11.0 {
            let from_hour = f64::from(cell % 5);
            all.push(Berth {
                position,
                from_hour,
                until_hour: from_hour + 2.5,
                onward_h: onward_h_per_km * away_km,
                onward_t: 0.0,
            });
        }
    }
    all
}

/// Each berth by itself as a place, waited for where it is not yet open.
#[test]
fn the_best_berth_is_that_of_an_enumeration() {
    let table = table(grid(30, 21, 1000.0), &[0.0], pace);
    let start = at(&table.grid, 2.0, 10.0);
    let search = GridSearch::default();
    for onward_h_per_km in [0.0, 0.01, 0.1, 0.2, 0.4] {
        let berths = berths(&table.grid, onward_h_per_km);
        let asked = RouteProblem {
            latest_hour: 50.0,
            bounds: true,
            ..problem(&table, start, Goal::Berths(&berths))
        };
        let set = search.routes(&asked, &Control::default()).unwrap();
        let route = &set.routes[0];
        let met = &berths[route.goal];
        assert!((met.from_hour..=met.until_hour).contains(&route.arrive_hour()));
        assert!(set.lower_bound_h <= route.arrive_hour());
        let whole_h = |berth: &Berth| {
            let place = [berth.position];
            let alone = problem(&table, start, Goal::Places(&place));
            let alone = &search.routes(&alone, &Control::default()).unwrap().routes[0];
            let hour = alone.arrive_hour().max(berth.from_hour);
            (hour <= berth.until_hour).then_some(hour + berth.onward_h)
        };
        let least_h = berths.iter().filter_map(whole_h).fold(f64::INFINITY, f64::min);
        let found_h = route.arrive_hour() + met.onward_h;
        // The search compares ways on the grid, which are up to 2.8 % longer than off it.
        assert!(found_h >= least_h - 1e-6 && found_h <= 1.028 * least_h, "{found_h} {least_h}");
    }
}

#[test]
fn a_berth_that_is_shut_is_waited_for_or_told() {
    let table = table(grid(30, 21, 1000.0), &[0.0], |_, _, _| 0.1);
    let start = at(&table.grid, 2.0, 10.0);
    let berth = |from_hour, until_hour| {
        [Berth {
            position: at(&table.grid, 12.0, 10.0),
            from_hour,
            until_hour,
            onward_h: 1.0,
            onward_t: 0.0,
        }]
    };
    let search = GridSearch::default();
    let (late, gone) = (berth(7.0, 9.0), berth(-1.0, 0.5));
    let asked = problem(&table, start, Goal::Berths(&late));
    let route = &search.routes(&asked, &Control::default()).unwrap().routes[0];
    assert_eq!(route.arrive_hour(), 7.0);
    let asked = problem(&table, start, Goal::Berths(&gone));
    let answer = search.routes(&asked, &Control::default());
    assert_eq!(answer, Err(RouteFailure::NoRoute(NoRoute::TooLate)));
    let none = problem(&table, start, Goal::Berths(&[]));
    let answer = search.routes(&none, &Control::default());
    assert_eq!(answer, Err(RouteFailure::NoRoute(NoRoute::GoalClosed)));
    let mut backwards = berth(0.0, 9.0);
    backwards[0].onward_h = -1.0;
    let asked = problem(&table, start, Goal::Berths(&backwards));
    let answer = search.routes(&asked, &Control::default());
    assert!(matches!(answer, Err(RouteFailure::Error(Error::Unsolved(_)))));
}

/// A limit on fuel is kept on the way to a berth, wait included.
#[test]
fn a_limit_on_fuel_is_kept_on_the_way_to_a_berth() {
    let mut table = table(grid(30, 21, 1000.0), &[0.0], |_, _, _| 0.1);
    // A thriftier setting: 7 km/h at 0.4 t/h.
    let cells = table.pace_h_per_km.len();
    table.pace_h_per_km.extend(std::iter::repeat_n(1.0 / 7.0, cells));
    table.burn_t_per_h.extend(std::iter::repeat_n(0.4, cells));
    table.settings = 2;
    let start = at(&table.grid, 2.0, 10.0);
    let berths = [Berth {
        position: at(&table.grid, 27.0, 10.0),
        from_hour: 1.0,
        until_hour: 9.0,
        onward_h: 1.0,
        onward_t: 0.0,
    }];
    let search = GridSearch::default();
    let free = problem(&table, start, Goal::Berths(&berths));
    let route = &search.routes(&free, &Control::default()).unwrap().routes[0];
    assert!((route.fuel_t() - 2.5).abs() < 0.03, "{}", route.fuel_t());
    let tight = RouteProblem { fuel_limit_t: Some(1.6), latest_hour: 9.0, ..free };
    let route = &search.routes(&tight, &Control::default()).unwrap().routes[0];
    assert!(route.fuel_t() <= 1.6 && route.arrive_hour() <= 9.0);
    let starved = RouteProblem { fuel_limit_t: Some(0.5), ..tight };
    let answer = search.routes(&starved, &Control::default());
    assert_eq!(answer, Err(RouteFailure::NoRoute(NoRoute::TooMuchFuel)));
}

/// A thrifty way to a berth keeps the berth's hours, though waiting for ice to ease would burn less.
#[test]
fn thrift_keeps_the_hours_of_a_berth() {
    let mut table = table(grid(60, 21, 1000.0), &[0.0, 20.0, 20.0], |frame, column, _| {
        if column > 30 && frame < 2 { 0.3 } else { 0.1 }
    });
    table.hold_t_per_h = 0.1;
    let start = at(&table.grid, 2.0, 10.0);
    let search = GridSearch::default();
    for (from_hour, until_hour) in [(0.0, 15.0), (24.0, 30.0)] {
        let berths = [Berth {
            position: at(&table.grid, 55.0, 10.0),
            from_hour,
            until_hour,
            onward_h: 1.0,
            onward_t: 3.0,
        }];
        let asked = RouteProblem {
            fuel_weight_h_per_t: f64::INFINITY,
            ..problem(&table, start, Goal::Berths(&berths))
        };
        let route = &search.routes(&asked, &Control::default()).unwrap().routes[0];
        let hour = route.arrive_hour();
        assert!((from_hour..=until_hour).contains(&hour), "{from_hour} {hour} {until_hour}");
    }
}
