//! Problems as a plan asks them: limits on fuel, many at once.

mod tables;

use dipward_plugin::{
    Control, Error, Goal, NoRoute, PaceTable, RouteFailure, RouteProblem, Search,
};
use dipward_search::GridSearch;
use tables::{at, grid, problem, table};

/// Two settings: 10 km/h at 1 t/h and 7 km/h at 0.4 t/h.
fn two_settings() -> PaceTable {
    let mut table = table(grid(60, 40, 1000.0), &[0.0], |_, _, _| 0.1);
    let cells = table.pace_h_per_km.len();
    table.pace_h_per_km.extend(std::iter::repeat_n(1.0 / 7.0, cells));
    table.burn_t_per_h.extend(std::iter::repeat_n(0.4, cells));
    table.settings = 2;
    table
}

#[test]
fn a_limit_on_fuel_is_kept_and_costs_time() {
    let table = two_settings();
    let goal = [at(&table.grid, 55.0, 20.0)];
    let asked = problem(&table, at(&table.grid, 5.0, 20.0), Goal::Places(&goal));
    let search = GridSearch::default();
    let free = &search.routes(&asked, &Control::default()).unwrap().routes[0];
    // Where the water is the same all along, the share of the way at each setting follows from the
    // limit: the fast one burns a tenth of a tonne a kilometre, the slow one 0.4 / 7.
    let km = free.distance_km;
    for share in [0.9, 0.8, 0.6] {
        let limit_t = free.fuel_t() * share;
        let fast_km = (limit_t - km * 0.4 / 7.0) / (0.1 - 0.4 / 7.0);
        let hours = fast_km / 10.0 + (km - fast_km) / 7.0;
        let limited = RouteProblem { fuel_limit_t: Some(limit_t), ..asked };
        let set = search.routes(&limited, &Control::default()).unwrap();
        let route = &set.routes[0];
        assert!(route.fuel_t() <= limit_t);
        let taken = route.arrive_hour() - asked.depart_hour;
        assert!((taken / hours - 1.0).abs() < 1e-3, "{taken} {hours}");
        assert!(
            set.lower_bound_h <= taken && set.lower_bound_h > 0.95 * taken,
            "{} {taken}",
            set.lower_bound_h
        );
    }
    let slow = RouteProblem { fuel_limit_t: Some(km * 0.4 / 7.0 * 1.0001), ..asked };
    let set = search.routes(&slow, &Control::default()).unwrap();
    assert!((set.routes[0].arrive_hour() - asked.depart_hour - km / 7.0).abs() < 0.01);
}

/// Thrift costs time: the route of the least fuel can be too late where one in between is not.
#[test]
fn a_limit_on_fuel_is_met_in_time_where_the_thriftiest_route_is_late() {
    let mut table = two_settings();
    // A third setting: 3 km/h at 0.15 t/h.
    let cells = table.grid.len();
    table.pace_h_per_km.extend(std::iter::repeat_n(1.0 / 3.0, cells));
    table.burn_t_per_h.extend(std::iter::repeat_n(0.15, cells));
    table.settings = 3;
    let goal = [at(&table.grid, 55.0, 20.0)];
    // 50 km: 5, 7.1 or 16.7 hours; 5, 2.9 or 2.5 tonnes.
    let asked = RouteProblem {
        latest_hour: 10.0,
        fuel_limit_t: Some(3.0),
        ..problem(&table, at(&table.grid, 5.0, 20.0), Goal::Places(&goal))
    };
    let search = GridSearch::default();
    let route = &search.routes(&asked, &Control::default()).unwrap().routes[0];
    // 3.3 km at the fast setting use up what the middle one leaves.
    assert!((route.arrive_hour() - (0.33 + 46.7 / 7.0)).abs() < 0.05, "{}", route.arrive_hour());
    let neither = RouteProblem { latest_hour: 6.0, ..asked };
    let answer = search.routes(&neither, &Control::default());
    assert_eq!(answer, Err(RouteFailure::NoRoute(NoRoute::TooMuchFuel)));
}

#[test]
fn many_problems_are_answered_alike_on_one_thread_and_on_two() {
    let table = two_settings();
    let goal = [at(&table.grid, 55.0, 20.0)];
    let track = [(0.0, at(&table.grid, 50.0, 5.0)), (30.0, at(&table.grid, 50.0, 35.0))];
    let problems: Vec<_> = (0..12)
        .map(|number| RouteProblem {
            depart_hour: f64::from(number),
            fuel_weight_h_per_t: f64::from(number % 3),
            goal: if number % 2 == 0 { Goal::Places(&goal) } else { Goal::Track(&track) },
            ..problem(&table, at(&table.grid, 5.0, 20.0), Goal::Places(&goal))
        })
        .collect();
    let search = GridSearch::default();
    let alone: Vec<_> =
        problems.iter().map(|problem| search.routes(problem, &Control::default())).collect();
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let all = pool.install(|| search.routes_of_all(&problems, &Control::default()));
        assert_eq!(all, alone);
    }
}

#[test]
fn a_cancelled_search_says_so() {
    let table = two_settings();
    let goal = [at(&table.grid, 55.0, 20.0)];
    let asked = problem(&table, at(&table.grid, 5.0, 20.0), Goal::Places(&goal));
    let control = Control::default();
    control.cancel();
    let answer = GridSearch::default().routes(&asked, &control);
    assert_eq!(answer, Err(RouteFailure::Error(Error::Cancelled)));
}

#[test]
fn malformed_problems_are_errors() {
    let table = two_settings();
    let goal = [at(&table.grid, 55.0, 20.0)];
    let asked = problem(&table, at(&table.grid, 5.0, 20.0), Goal::Places(&goal));
    let backwards = [(3.0, goal[0]), (1.0, goal[0])];
    for wrong in [
        RouteProblem { depart_hour: f64::NAN, ..asked },
        RouteProblem { latest_hour: f64::NAN, ..asked },
        RouteProblem { fuel_weight_h_per_t: -1.0, ..asked },
        RouteProblem { fuel_limit_t: Some(f64::NAN), ..asked },
        RouteProblem { routes: 0, ..asked },
        RouteProblem { goal: Goal::Track(&backwards), ..asked },
    ] {
        let answer = GridSearch::default().routes(&wrong, &Control::default());
        assert!(matches!(answer, Err(RouteFailure::Error(Error::Unsolved(_)))), "{answer:?}");
    }
}
