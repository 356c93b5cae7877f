//! Pace that changes with time and with heading, against closed forms.

mod tables;

use dipward_geodesy::distance_km;
use dipward_plugin::{Berth, Control, Goal, PaceTable, RouteProblem, Search};
use dipward_search::{GridSearch, World, evaluate, steepest_fall};
use proptest::prelude::*;
use tables::{at, grid, problem, table};

/// Published counterexample: a delay of d(t) = 10 - 2 t for departures t from 0 to 4. Sampled at the
/// start, leaving at 0 arrives at 10 and waiting until 4 arrives at 6, so that label setting without
/// waiting goes wrong (Orda and Rom 1990). Integrated along the way the order is kept: leaving at 0
/// arrives before 6.
#[test]
fn published_falling_delay_keeps_its_order_when_integrated() {
    let grid = grid(24, 3, 1000.0);
    let (from, to) = (at(&grid, 1.0, 1.0), at(&grid, 21.0, 1.0));
    let length_km = distance_km(from, to);
    let delay = |hour: f64| 10.0 - 2.0 * hour;
    let table = table(grid, &[0.0, 4.0], |frame, _, _| {
        delay(if frame == 0 { 0.0 } else { 4.0 }) / length_km
    });
    let sampled = |hour: f64| hour + delay(hour);
    assert!((sampled(0.0) - 10.0).abs() < 1e-12 && (sampled(4.0) - 6.0).abs() < 1e-12);

    // dx/dt = L / (10 - 2 t): the share sailed by hour 4 is ln(5) / 2, the rest at the last pace.
    let by_hand = 4.0 + (1.0 - 5.0_f64.ln() / 2.0) * 2.0;
    let arrive = |depart: f64| {
        let goal = [to];
        let asked =
            RouteProblem { depart_hour: depart, ..problem(&table, from, Goal::Places(&goal)) };
        GridSearch::default().routes(&asked, &Control::default()).unwrap().routes[0].arrive_hour()
    };
    assert!((arrive(0.0) - by_hand).abs() < 1e-3 * by_hand, "{} {by_hand}", arrive(0.0));
    let mut before = f64::NEG_INFINITY;
    for tenth in 0..50 {
        let hour = arrive(f64::from(tenth) * 0.1);
        assert!(hour >= before);
        before = hour;
    }
    // The moves are short, so that the fall of the delay on each is gentle.
    let fall = steepest_fall(&table);
    assert!(fall < 0.0 && fall > -1.0, "{fall}");
}

/// Speed 5 through the water in a current of 1 along x, in cells an hour.
fn current(sectors: usize) -> PaceTable {
    let grid = grid(150, 150, 1000.0);
    let mut table = table(grid.clone(), &[0.0], |_, _, _| 1.0);
    let scale = 1.0 / grid.projection().point_scale(at(&grid, 75.0, 75.0));
    let pace = (0..sectors).flat_map(|sector| {
        // Clockwise from +y: along x is the sine.
        let (along, across) = (std::f64::consts::TAU * sector as f64 / sectors as f64).sin_cos();
        let speed = along + (25.0 - across * across).sqrt();
        std::iter::repeat_n((1.0 / (speed * scale)) as f32, grid.len())
    });
    table.pace_h_per_km = pace.collect();
    table.burn_t_per_h = vec![1.0; table.pace_h_per_km.len()];
    table.sectors = sectors;
    table
}

/// Zermelo's problem, V = 5 and w = (1, 0), over 100: with the current 16.666667, against it 25.0,
/// across it 20.412415.
#[test]
fn published_zermelo_times_in_a_current() {
    for sectors in [16, 32] {
        let table = current(sectors);
        let grid = &table.grid;
        for (to, published) in
            [((100.0, 0.0), 16.666_667), ((-100.0, 0.0), 25.0), ((0.0, 100.0), 20.412_415)]
        {
            let from = at(grid, 75.0 - to.0 / 2.0, 75.0 - to.1 / 2.0);
            let goal = [at(grid, 75.0 + to.0 / 2.0, 75.0 + to.1 / 2.0)];
            let set = GridSearch::default()
                .routes(&problem(&table, from, Goal::Places(&goal)), &Control::default())
                .unwrap();
            let ratio = set.routes[0].arrive_hour() / published;
            assert!((ratio - 1.0).abs() < 5e-3, "{sectors} {to:?} {ratio}");
        }
    }
}

/// A chain that was evaluated is a route that evaluates to itself.
#[test]
fn a_route_evaluates_to_itself() {
    let grid = grid(80, 60, 1000.0);
    let table = table(grid.clone(), &[0.0, 3.0, 9.0], |frame, column, row| {
        let wall = column == 40 && frame < 2;
        let wave = (f64::from(column) / 9.0 + frame as f64).sin() + f64::from(row) / 60.0;
        if wall { f64::INFINITY } else { 0.05 + 0.01 * wave }
    });
    let goal = [at(&grid, 70.0, 40.0)];
    let asked = problem(&table, at(&grid, 5.0, 10.0), Goal::Places(&goal));
    let set = GridSearch::default().routes(&asked, &Control::default()).unwrap();
    let route = &set.routes[0];
    let mut positions: Vec<_> = route.points.iter().map(|point| point.position).collect();
    positions.dedup();
    let again = evaluate(&table, &positions, 0.0, 0.0).unwrap();
    let (end, last) = (route.points.last().unwrap(), again.last().unwrap());
    assert!((end.hour - last.hour).abs() < 1e-6);
    assert!((end.fuel_used_t - last.fuel_used_t).abs() < 1e-6);
}

/// A route under a limit on fuel changes its setting on the way: cell by cell, at its own settings, it comes to
/// each of its points at the hour and with the fuel that it tells.
#[test]
fn a_route_is_stepped_at_its_own_settings() {
    let grid = grid(80, 60, 1000.0);
    let mut table = table(grid.clone(), &[0.0, 3.0, 9.0], |frame, column, row| {
        let wall = column == 40 && frame < 2;
        let wave = (f64::from(column) / 9.0 + frame as f64).sin() + f64::from(row) / 60.0;
        if wall { f64::INFINITY } else { 0.05 + 0.01 * wave }
    });
    let slower: Vec<f32> = table.pace_h_per_km.iter().map(|pace| pace * 1.5).collect();
    table.pace_h_per_km.extend(slower);
    let thriftier: Vec<f32> = table.burn_t_per_h.iter().map(|burn| burn * 0.4).collect();
    table.burn_t_per_h.extend(thriftier);
    table.settings = 2;
    let goal = [at(&grid, 70.0, 40.0)];
    let free = problem(&table, at(&grid, 5.0, 10.0), Goal::Places(&goal));
    let most_t =
        GridSearch::default().routes(&free, &Control::default()).unwrap().routes[0].fuel_t();
    let limited = RouteProblem { fuel_limit_t: Some(0.8 * most_t), ..free };
    let set = GridSearch::default().routes(&limited, &Control::default()).unwrap();
    let points = &set.routes[0].points;
    assert!(points.iter().any(|point| point.setting == 0));
    assert!(points.iter().any(|point| point.setting == 1));
    let world = World::for_lines(&table, 0.0, &Control::default()).unwrap();
    let steps = world.steps(points).unwrap();
    assert!(steps.len() > 70 && steps.iter().all(|step| step.km < 1.42));
    assert!(steps.windows(2).all(|pair| (pair[0].end_hour - pair[1].begin_hour).abs() < 1e-9));
    for point in &points[1..] {
        let before = steps.iter().filter(|step| step.end_hour <= point.hour + 1e-9);
        let (fuel_t, hour) = before.fold((0.0, 0.0_f64), |(fuel_t, hour), step| {
            (fuel_t + step.fuel_t, hour.max(step.end_hour))
        });
        assert!((hour - point.hour).abs() < 1e-6, "{hour} {point:?}");
        assert!((fuel_t - point.fuel_used_t).abs() < 1e-6, "{fuel_t} {point:?}");
    }
    // Where the ice has changed they still take the hours that the route tells.
    let mut changed = table.clone();
    changed.pace_h_per_km.iter_mut().for_each(|pace| *pace *= 1.2);
    let world = World::for_lines(&changed, 0.0, &Control::default()).unwrap();
    let steps = world.steps(points).unwrap();
    assert!((steps.last().unwrap().end_hour - points.last().unwrap().hour).abs() < 1e-6);
}

/// Ice eases at hour 20 over the second half of 50 km. To be early is to sail on through it; to burn
/// little is to lie still until then: 2.5 h each at 1 t/h in the open and in the eased ice, and 17.5 h at
/// a tenth of it between them, where the heavy ice alone would take 7.5 t.
#[test]
fn thrift_waits_for_ice_to_ease() {
    let grid = grid(60, 40, 1000.0);
    let mut table =
        table(
            grid.clone(),
            &[0.0, 20.0, 20.0],
            |frame, column, _| {
                if column > 30 && frame < 2 { 0.3 } else { 0.1 }
            },
        );
    table.hold_t_per_h = 0.1;
    let goal = [at(&grid, 55.5, 20.0)];
    let early = problem(&table, at(&grid, 5.5, 20.0), Goal::Places(&goal));
    let thrifty = RouteProblem { fuel_weight_h_per_t: f64::INFINITY, ..early };
    let solve = |asked: &RouteProblem<'_>| {
        GridSearch::default().routes(asked, &Control::default()).unwrap()
    };
    let (early, thrifty) = (solve(&early), solve(&thrifty));
    let width = distance_km(at(&grid, 5.5, 20.0), goal[0]) / 50.0;
    assert!((early.routes[0].arrive_hour() - 10.0 * width).abs() < 0.02);
    let waited_h = 20.0 - 2.5 * width;
    let least_t = 5.0 * width + 0.1 * waited_h;
    let route = &thrifty.routes[0];
    assert!((route.fuel_t() - least_t).abs() < 0.02, "{} {least_t}", route.fuel_t());
    assert!((route.arrive_hour() - 20.0 - 2.5 * width).abs() < 0.2, "{}", route.arrive_hour());
    assert!(thrifty.lower_bound_t <= route.fuel_t());
    // The wait is in the bound.
    assert!(thrifty.lower_bound_t >= 0.97 * route.fuel_t(), "{}", thrifty.lower_bound_t);

    // A berth there that shuts later is waited for alike; one that shuts sooner is gone to at once.
    for (until_hour, least_t) in [(40.0, least_t), (19.0, 10.0 * width)] {
        let berth = |from_hour, until_hour| Berth {
            position: goal[0],
            from_hour,
            until_hour,
            onward_h: 0.0,
            onward_t: 1.0,
        };
        let berths = [berth(5.0, until_hour), berth(-9.0, 4.0)];
        let asked = RouteProblem {
            goal: Goal::Berths(&berths),
            fuel_weight_h_per_t: f64::INFINITY,
            ..problem(&table, at(&grid, 5.5, 20.0), Goal::Places(&goal))
        };
        let set = solve(&asked);
        let route = &set.routes[0];
        assert!((route.fuel_t() - least_t).abs() < 0.02, "{} {least_t}", route.fuel_t());
        assert!(route.goal == 0 && route.arrive_hour() <= until_hour);
        assert!(set.lower_bound_t <= route.fuel_t());
    }
}

/// A wall of heavy ice eases at hour 20; until then the way round it, 80 km, burns 8 t. 50 km straight on burn 5 t,
/// and the wait before the wall 1.75 t, though the berth shuts before one who leaves port at hour 20 is there.
#[test]
fn a_wait_on_the_way_is_found_where_one_in_port_would_be_too_long() {
    let grid = grid(60, 40, 1000.0);
    let mut table = table(grid.clone(), &[0.0, 20.0, 20.0], |frame, column, row| {
        if (28..32).contains(&column) && row < 36 && frame < 2 { 2.0 } else { 0.1 }
    });
    table.hold_t_per_h = 0.1;
    let (start, position) = (at(&grid, 5.5, 5.0), at(&grid, 55.5, 5.0));
    let width = distance_km(start, position) / 50.0;
    for (until_hour, least_t) in [(40.0, 6.75), (23.5, 6.75), (19.0, 8.0)] {
        let berth = Berth { position, from_hour: 0.0, until_hour, onward_h: 0.0, onward_t: 0.0 };
        let asked = RouteProblem {
            goal: Goal::Berths(&[berth]),
            fuel_weight_h_per_t: f64::INFINITY,
            ..problem(&table, start, Goal::Places(&[]))
        };
        let set = GridSearch::default().routes(&asked, &Control::default()).unwrap();
        let route = &set.routes[0];
        assert!(route.arrive_hour() <= until_hour);
        assert!((route.fuel_t() - least_t * width).abs() < 0.1, "{} {least_t}", route.fuel_t());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// All ice eases at hour 48, and to lie still until then costs 4.8 t: whatever land is in the way, who may
    /// leave at once burns no more than who leaves then and that. On a grid this wide the parts of a line pulled
    /// tight about land stray from the whole by metres, to land as well.
    #[test]
    fn the_wait_in_port_is_found_among_land(
        land in prop::collection::vec(prop::bool::weighted(0.25), 40 * 30),
        ends in [(0.0_f64..5.0, 0.0_f64..29.0), (34.0_f64..39.0, 0.0_f64..29.0)],
    ) {
        let grid = grid(40, 30, 25_000.0);
        let [start, goal] = ends.map(|(column, row)| at(&grid, column.round(), row.round()));
        let (from, to) = (grid.cell_at(start), grid.cell_at(goal));
        let mut table = table(grid, &[0.0, 48.0, 48.0], |frame, column, row| {
            let cell = row * 40 + column;
            let is_land = land[cell as usize] && from != Some(cell) && to != Some(cell);
            match frame {
                _ if is_land => f64::INFINITY,
                0 | 1 => 0.3,
                _ => 0.1,
            }
        });
        table.hold_t_per_h = 0.1;
        let goal = [goal];
        let now = RouteProblem {
            fuel_weight_h_per_t: f64::INFINITY,
            bounds: false,
            ..problem(&table, start, Goal::Places(&goal))
        };
        let solve = |depart_hour: f64| {
            let asked = RouteProblem { depart_hour, ..now };
            GridSearch::default().routes(&asked, &Control::default())
        };
        if let Ok(then) = solve(48.0) {
            let then_t = then.routes[0].fuel_t() + 4.8;
            let now_t = solve(0.0).unwrap().routes[0].fuel_t();
            prop_assert!(now_t <= then_t * 1.01, "{now_t} {then_t}");
        }
    }
}
