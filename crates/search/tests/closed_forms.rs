//! Routes against what geometry and optics give.

mod tables;

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, distance_km, position};
use dipward_plugin::{Control, Goal, NoRoute, RouteFailure, RouteProblem, RouteSet, Search};
use dipward_search::{GridSearch, Headings};
use tables::{at, grid, least, problem, table};

fn solve(problem: &RouteProblem<'_>) -> Result<RouteSet, RouteFailure> {
    GridSearch::default().routes(problem, &Control::default())
}

#[test]
fn open_water_is_the_geodesic() {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let hobart = position(-43.5, 147.5);
    let cases =
        [(hobart, position(-63.9, 135.8)), (position(-60.0, -170.0), position(-70.5, 60.0))];
    for (from, to) in cases {
        let grid = Grid::covering(polar, &[from, to], 10.0, 300.0).unwrap();
        let table = table(grid, &[0.0], |_, _, _| 0.05);
        let goal = [to];
        let routes = solve(&problem(&table, from, Goal::Places(&goal))).unwrap();
        let route = &routes.routes[0];
        let straight = distance_km(from, to);
        assert!(route.distance_km < straight * 1.001, "{} {straight}", route.distance_km);
        assert!((route.arrive_hour() - route.distance_km * 0.05).abs() < 1e-3);
        assert!((route.fuel_t() - route.arrive_hour()).abs() < 1e-6);
    }
}

/// Published with the time 10.094108 and the crossing at x = 7.6913: speeds 2 and 1, from (0, 5) to
/// (10, -5).
#[test]
fn published_two_half_planes_refract() {
    let grid = grid(140, 140, 100.0);
    // One unit is 10 cells, that is 1 km; the side between the half-planes is between two rows.
    let table = table(grid.clone(), &[0.0], |_, _, row| if row >= 70 { 0.5 } else { 1.0 });
    let from = at(&grid, 20.0, 69.5 + 50.0);
    let goal = [at(&grid, 120.0, 69.5 - 50.0)];
    let routes = solve(&problem(&table, from, Goal::Places(&goal))).unwrap();
    let scale = 1.0 / grid.projection().point_scale(from);
    let ratio = routes.routes[0].arrive_hour() / (10.094_108 * scale);
    assert!((ratio - 1.0).abs() < 3e-3, "{ratio}");
    let (x, snell) = least(0.0, 10.0, |x| x.hypot(5.0) / 2.0 + (10.0 - x).hypot(5.0));
    assert!((snell - 10.094_108).abs() < 1e-6 && (x - 7.6913).abs() < 1e-4);
}

#[test]
fn a_disc_is_rounded_by_tangent_arc_tangent() {
    for radius in [20.0_f64, 37.0] {
        let grid = grid(200, 160, 100.0);
        let (x0, y0) = (99.5, 79.5);
        let table = table(grid.clone(), &[0.0], |_, column, row| {
            let r = (f64::from(column) - x0).hypot(f64::from(row) - y0);
            if r < radius { f64::INFINITY } else { 1.0 }
        });
        let reach: f64 = 80.0;
        let from = at(&grid, x0 - reach, y0);
        let goal = [at(&grid, x0 + reach, y0)];
        let route = &solve(&problem(&table, from, Goal::Places(&goal))).unwrap().routes[0];
        let tangent = (reach * reach - radius * radius).sqrt();
        let arc = radius * 2.0 * (radius / reach).asin();
        let scale = 0.1 / grid.projection().point_scale(from);
        let ratio = route.distance_km / ((2.0 * tangent + arc) * scale);
        assert!((ratio - 1.0).abs() < 5e-3, "{radius} {ratio}");
    }
}

/// Intercept triangle, d = (100, 0), u = (0, 1), V = 5: 20.412415.
#[test]
fn published_a_steady_target_is_intercepted() {
    let grid = grid(150, 90, 100.0);
    let scale = 1.0 / grid.projection().point_scale(at(&grid, 60.0, 45.0));
    // Speeds in cells an hour on the map.
    let table = table(grid.clone(), &[0.0], |_, _, _| 1.0 / (5.0 * 0.1 * scale));
    let from = at(&grid, 20.0, 30.0);
    let track: Vec<_> =
        (0..=40).map(|h| (f64::from(h), at(&grid, 120.0, 30.0 + f64::from(h)))).collect();
    let routes = solve(&problem(&table, from, Goal::Track(&track))).unwrap();
    let hour = routes.routes[0].arrive_hour();
    assert!((hour - 20.412_415).abs() < 0.05, "{hour}");
}

#[test]
fn a_target_that_comes_near_is_met_half_way() {
    let grid = grid(150, 60, 100.0);
    let scale = 1.0 / grid.projection().point_scale(at(&grid, 60.0, 30.0));
    let table = table(grid.clone(), &[0.0], |_, _, _| 1.0 / (5.0 * 0.1 * scale));
    let from = at(&grid, 20.0, 30.0);
    let track = [(0.0, at(&grid, 120.0, 30.0)), (30.0, at(&grid, 30.0, 30.0))];
    let routes = solve(&problem(&table, from, Goal::Track(&track))).unwrap();
    let hour = routes.routes[0].arrive_hour();
    // 100 cells closed at 5 + 3 cells an hour.
    assert!((hour - 12.5).abs() < 0.03, "{hour}");
}

/// A target that runs away at a fifth of the speed is met after 25 hours, not where it was after 20.
#[test]
fn what_runs_away_is_bounded_where_it_is_met() {
    let grid = grid(170, 60, 100.0);
    let scale = 1.0 / grid.projection().point_scale(at(&grid, 80.0, 30.0));
    let table = table(grid.clone(), &[0.0], |_, _, _| 1.0 / (5.0 * 0.1 * scale));
    let from = at(&grid, 20.0, 30.0);
    let track = [(0.0, at(&grid, 120.0, 30.0)), (40.0, at(&grid, 160.0, 30.0))];
    let routes = solve(&problem(&table, from, Goal::Track(&track))).unwrap();
    let hour = routes.routes[0].arrive_hour();
    assert!((hour - 25.0).abs() < 0.06, "{hour}");
    assert!(routes.lower_bound_h <= hour && routes.lower_bound_h > 24.8, "{routes:?}");
}

/// A wall with a gap near the straight line and open water at its far end.
fn wall(closes: f64, opens: f64, hours: &[f64]) -> dipward_plugin::PaceTable {
    let grid = grid(120, 120, 100.0);
    table(grid, hours, |frame, column, row| {
        let wall = (58..62).contains(&column) && row < 100;
        let gap = row == 30 || row == 31;
        // Two frames at one hour are a step: the later of them holds from then on.
        let hour =
            hours[frame] + if frame > 0 && hours[frame - 1] == hours[frame] { 1e-6 } else { 0.0 };
        let shut = hour > closes && hour <= opens;
        if wall && (!gap || shut) { f64::INFINITY } else { 1.0 }
    })
}

#[test]
fn a_closing_gap_is_waited_for_or_gone_round() {
    // Ten cells an hour; the wall is 40 cells away and the gap shut from hour 1.
    let grid = grid(120, 120, 100.0);
    let from = at(&grid, 20.0, 30.5);
    let goal = [at(&grid, 100.0, 30.5)];
    // Round the end of the wall, whose last row is 99.
    let corner = |x: f64| (x - 20.0).hypot(99.5 - 30.5);
    let round = (corner(57.5) + 4.0 + (100.0_f64 - 61.5).hypot(69.0)) / 10.0;
    // When it shuts, when it opens again, the arrival by hand.
    let cases: [(f64, f64, f64); 3] =
        [(1.0, 5.0, 5.0 + (100.0 - 57.5) / 10.0), (1.0, 40.0, round), (50.0, 55.0, 8.0)];
    for (shuts, opens, by_hand) in cases {
        let hours = [0.0, shuts, shuts, opens, opens, 60.0];
        let table = wall(shuts, opens, &hours);
        let routes = solve(&problem(&table, from, Goal::Places(&goal))).unwrap();
        let route = &routes.routes[0];
        assert!(
            (route.arrive_hour() / by_hand - 1.0).abs() < 5e-3,
            "opens {opens}: {} {by_hand}",
            route.arrive_hour()
        );
        // What was waited was burnt at the rate of lying still.
        let under_way = route.distance_km;
        let waited = route.arrive_hour() - under_way;
        assert!((route.fuel_t() - under_way - 0.1 * waited).abs() < 1e-3);
    }
}

#[test]
fn every_headings_elongation_is_within_the_published_bound() {
    for headings in [Headings::Eight, Headings::Sixteen, Headings::ThirtyTwo] {
        let search = GridSearch { headings, smoothing: false, ..GridSearch::default() };
        let grid = grid(121, 121, 100.0);
        let table = table(grid.clone(), &[0.0], |_, _, _| 1.0);
        let from = at(&grid, 60.0, 60.0);
        let mut worst = 0.0_f64;
        for degree in (0..360).step_by(5) {
            let (sine, cosine) = f64::from(degree).to_radians().sin_cos();
            let goal = [at(&grid, (60.0 + 58.0 * sine).round(), (60.0 + 58.0 * cosine).round())];
            let routes = search
                .routes(&problem(&table, from, Goal::Places(&goal)), &Control::default())
                .unwrap();
            worst = worst.max(routes.routes[0].distance_km / distance_km(from, goal[0]));
        }
        let bound = headings.elongation();
        assert!(worst <= bound + 2e-4, "{headings:?} {worst}");
        assert!(worst > 1.0 + 0.7 * (bound - 1.0), "{headings:?} {worst}");
    }
}

fn reason(problem: &RouteProblem<'_>) -> Option<NoRoute> {
    match solve(problem) {
        Err(RouteFailure::NoRoute(reason)) => Some(reason),
        _ => None,
    }
}

#[test]
fn each_hopeless_problem_has_its_reason() {
    let grid = grid(60, 60, 1000.0);
    let open = table(grid.clone(), &[0.0], |_, _, _| 0.1);
    let (from, to) = (at(&grid, 10.0, 30.0), at(&grid, 50.0, 30.0));
    let goal = [to];
    let base = problem(&open, from, Goal::Places(&goal));

    let outside = RouteProblem { start: at(&grid, -5.0, 0.0), ..base };
    assert_eq!(reason(&outside), Some(NoRoute::StartOutside));
    let off = [at(&grid, 500.0, 0.0)];
    assert_eq!(
        reason(&RouteProblem { goal: Goal::Places(&off), ..base }),
        Some(NoRoute::GoalClosed)
    );
    assert_eq!(reason(&RouteProblem { latest_hour: 3.0, ..base }), Some(NoRoute::TooLate));
    assert_eq!(
        reason(&RouteProblem { fuel_limit_t: Some(1.0), ..base }),
        Some(NoRoute::TooMuchFuel)
    );

    let closed_at = |column: u32, row: u32| {
        table(
            grid.clone(),
            &[0.0],
            move |_, c, r| {
                if (c, r) == (column, row) { f64::INFINITY } else { 0.1 }
            },
        )
    };
    let table_start = closed_at(10, 30);
    assert_eq!(reason(&RouteProblem { table: &table_start, ..base }), Some(NoRoute::StartClosed));
    let table_goal = closed_at(50, 30);
    assert_eq!(reason(&RouteProblem { table: &table_goal, ..base }), Some(NoRoute::GoalClosed));
    let ring = table(grid.clone(), &[0.0], |_, column, row| {
        let r = (f64::from(column) - 50.0).hypot(f64::from(row) - 30.0);
        if (4.0..6.0).contains(&r) { f64::INFINITY } else { 0.1 }
    });
    assert_eq!(reason(&RouteProblem { table: &ring, ..base }), Some(NoRoute::Enclosed));

    // Ten cells an hour against eleven.
    let away: Vec<_> =
        (0..3).map(|h| (f64::from(h), at(&grid, 20.0 + 11.0 * f64::from(h), 30.0))).collect();
    assert_eq!(reason(&RouteProblem { goal: Goal::Track(&away), ..base }), Some(NoRoute::Outrun));
    let slow: Vec<_> =
        (0..3).map(|h| (f64::from(h), at(&grid, 40.0 + 5.0 * f64::from(h), 30.0))).collect();
    assert_eq!(reason(&RouteProblem { goal: Goal::Track(&slow), ..base }), Some(NoRoute::TooLate));
}

/// A strait on either side of an island: the way round the other side is the alternative.
#[test]
fn alternatives_are_distinct_and_within_their_stretch() {
    let grid = grid(160, 160, 1000.0);
    let table = table(grid.clone(), &[0.0], |_, column, row| {
        let island = (60..100).contains(&column) && (50..100).contains(&row);
        if island { f64::INFINITY } else { 0.05 }
    });
    let from = at(&grid, 20.0, 78.0);
    let goal = [at(&grid, 140.0, 78.0)];
    let asked = RouteProblem { routes: 3, ..problem(&table, from, Goal::Places(&goal)) };
    let routes = solve(&asked).unwrap().routes;
    assert!(routes.len() >= 2, "{}", routes.len());
    let side = |route: &dipward_plugin::Route| {
        route.points.iter().any(|point| grid.coord(point.position).y > grid.origin().y + 90_000.0)
    };
    assert_ne!(side(&routes[0]), side(&routes[1]));
    for pair in routes.windows(2) {
        assert!(pair[0].arrive_hour() <= pair[1].arrive_hour() + 1e-9);
        assert!(pair[1].arrive_hour() <= routes[0].arrive_hour() * 1.25);
    }
}

/// The bound is below the route, and near it, on each closed form.
#[test]
fn bounds_stand_below_routes_and_near_them() {
    let grid = grid(200, 160, 1000.0);
    let disc = table(grid.clone(), &[0.0], |_, column, row| {
        let r = (f64::from(column) - 99.5).hypot(f64::from(row) - 79.5);
        if r < 30.0 { f64::INFINITY } else { 0.05 }
    });
    let open = table(grid.clone(), &[0.0], |_, _, _| 0.05);
    for (table, gap) in [(&open, 0.015), (&disc, 0.04)] {
        let goal = [at(&grid, 180.0, 79.5)];
        let asked = problem(table, at(&grid, 20.0, 79.5), Goal::Places(&goal));
        for (weight, of_hours, of_tonnes) in
            [(0.0, true, false), (1.0, true, true), (f64::INFINITY, false, true)]
        {
            let set = solve(&RouteProblem { fuel_weight_h_per_t: weight, ..asked }).unwrap();
            let route = &set.routes[0];
            for (counts, bound, spent) in [
                (of_hours, set.lower_bound_h, route.arrive_hour()),
                (of_tonnes, set.lower_bound_t, route.fuel_t()),
            ] {
                let least = if counts { spent * (1.0 - gap) } else { 0.0 };
                assert!((least..=spent).contains(&bound), "{weight}: {bound} {spent}");
            }
        }
    }
}
