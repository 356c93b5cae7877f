//! Lower bounds against every route that can be had: at any weight of fuel, on any headings, on the grid
//! and off it, and after any wait at the port. One of them below a bound would refute it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a failed unwrap in a check is its report")]

mod tables;

use dipward_geodesy::{Position, distance_km, interpolate};
use dipward_plugin::{Control, Goal, PaceTable, RouteFailure, RouteProblem, RouteSet, Search};
use dipward_search::{Distinct, GridSearch, Headings};
use proptest::prelude::*;
use tables::{at, grid, problem};

/// Tables of up to 12 by 12 fields of as many cells a side, with up to three settings, ice that comes and goes
/// between frames and at them, and some closed fields.
fn worlds(side: usize) -> impl Strategy<Value = PaceTable> {
    (4..12_u32, 4..12_u32, 1..5_usize, 1..4_usize).prop_flat_map(
        move |(columns, rows, frames, settings)| {
            let cells = (columns * rows) as usize;
            let pace = prop_oneof![8 => 0.05_f32..0.3, 1 => Just(f32::INFINITY)];
            (
                prop::collection::vec(pace, cells * frames),
                prop::collection::vec(prop_oneof![3 => 0.2_f64..3.0, 1 => Just(0.0)], frames),
                prop::collection::vec(0.3_f32..2.0, cells * frames),
                0.0_f64..0.4,
            )
                .prop_map(move |(pace, gaps, burn, hold_t_per_h)| {
                    let mut hour = 0.0;
                    let hours = gaps.iter().map(|gap| {
                        hour += gap;
                        hour
                    });
                    // Each further setting is slower and thriftier.
                    let slower = |power: usize| 1.5_f32.powi(power as i32);
                    let wide = columns as usize * side;
                    let of_all = |values: &[f32], factor: &dyn Fn(usize) -> f32| {
                        let fields = |power: usize| {
                            values.chunks(columns as usize).flat_map(move |row| {
                                (0..side * wide).map(move |at| (power, row[at % wide / side]))
                            })
                        };
                        (0..settings)
                            .flat_map(fields)
                            .map(|(power, value)| value * factor(power))
                            .collect::<Vec<f32>>()
                    };
                    let side = side as u32;
                    PaceTable {
                        grid: grid(columns * side, rows * side, 2000.0 / f64::from(side)),
                        hours: hours.collect(),
                        settings,
                        sectors: 1,
                        pace_h_per_km: of_all(&pace, &slower),
                        burn_t_per_h: of_all(&burn, &|power| 0.5_f32.powi(power as i32)),
                        hold_t_per_h,
                    }
                })
        },
    )
}

/// Where a target is at an hour.
fn on_track(track: &[(f64, Position); 2], hour: f64) -> Position {
    let [(begin, from), (end, to)] = *track;
    interpolate(from, to, (hour - begin) / (end - begin))
}

/// The answer, or nothing where there is no route.
fn solve(search: &GridSearch, problem: &RouteProblem<'_>) -> Option<RouteSet> {
    match search.routes(problem, &Control::default()) {
        Ok(set) => Some(set),
        Err(RouteFailure::NoRoute(_)) => None,
        Err(RouteFailure::Error(error)) => panic!("{error}"),
    }
}

/// What is asked in a world.
#[derive(Debug, Clone)]
struct Asked {
    depart_hour: f64,
    window_h: f64,
    moving: bool,
    waits: Vec<f64>,
    /// Where between the fuel of the thriftiest and the earliest a limit is put.
    allowed: f64,
}

fn questions() -> impl Strategy<Value = Asked> {
    (
        0.0_f64..2.0,
        1.0_f64..12.0,
        any::<bool>(),
        prop::collection::vec(0.0_f64..6.0, 2),
        0.0_f64..1.0,
    )
        .prop_map(|(depart_hour, window_h, moving, waits, allowed)| Asked {
            depart_hour,
            window_h,
            moving,
            waits,
            allowed,
        })
}

/// Holds the bounds of a question against all routes.
fn hold(table: &PaceTable, question: Asked) -> Result<(), TestCaseError> {
    let Asked { depart_hour, window_h, moving, waits, allowed } = question;
    let (columns, rows) = (f64::from(table.grid.columns()), f64::from(table.grid.rows()));
    let place = at(&table.grid, columns - 1.2, rows - 1.4);
    let other = at(&table.grid, columns - 1.2, 0.7);
    let track = [(0.0, other), (depart_hour + window_h, place)];
    let places = [place];
    let asked = RouteProblem {
        depart_hour,
        latest_hour: depart_hour + window_h,
        ..problem(
            table,
            at(&table.grid, 0.3, 0.2),
            if moving { Goal::Track(&track) } else { Goal::Places(&places) },
        )
    };
    let sparing = RouteProblem { fuel_weight_h_per_t: f64::INFINITY, ..asked };
    let search = GridSearch::default();
    let (Some(earliest), Some(thriftiest)) = (solve(&search, &asked), solve(&search, &sparing))
    else {
        return Ok(());
    };
    let (least_h, least_t) = (earliest.lower_bound_h, thriftiest.lower_bound_t);
    // A limit between what the two burn.
    let (some_t, most_t) = (thriftiest.routes[0].fuel_t(), earliest.routes[0].fuel_t());
    let limit_t = some_t + allowed * (most_t - some_t).max(0.0);
    let limited = RouteProblem { fuel_limit_t: Some(limit_t), ..asked };
    let within = solve(&search, &limited);
    if let Some(set) = &within {
        prop_assert!(set.routes.iter().all(|route| route.fuel_t() <= limit_t));
        prop_assert!(set.routes[0].arrive_hour() <= asked.latest_hour);
    }
    let within_h = within.map_or(0.0, |set| set.lower_bound_h);
    for headings in [Headings::Eight, Headings::ThirtyTwo] {
        for smoothing in [true, false] {
            let search = GridSearch { headings, smoothing, distinct: Distinct::default() };
            for weight in [0.0, 0.3, 3.0, f64::INFINITY] {
                for wait_h in std::iter::once(0.0).chain(waits.iter().copied()) {
                    let tried = RouteProblem {
                        depart_hour: depart_hour + wait_h,
                        fuel_weight_h_per_t: weight,
                        bounds: false,
                        ..asked
                    };
                    if tried.depart_hour > tried.latest_hour {
                        continue;
                    }
                    let Some(set) = solve(&search, &tried) else { continue };
                    let end = set.routes[0].points.last().unwrap();
                    let sought = if moving { on_track(&track, end.hour) } else { place };
                    prop_assert!(distance_km(end.position, sought) < 0.01, "{end:?}");
                    let hours = end.hour - depart_hour;
                    let tonnes = set.routes[0].fuel_t() + wait_h * table.hold_t_per_h;
                    prop_assert!(least_h <= hours * (1.0 + 1e-5) + 1e-6, "{least_h} {hours}");
                    if tonnes <= limit_t {
                        prop_assert!(within_h <= hours * (1.0 + 1e-5) + 1e-6, "{within_h} {hours}");
                    }
                    prop_assert!(least_t <= tonnes * (1.0 + 1e-5) + 1e-6, "{least_t} {tonnes}");
                }
            }
        }
    }
    Ok(())
}

/// A wall of cells that touch at their corners alone, with one way round its end: no bound leaks through it.
#[test]
fn no_bound_leaks_between_cells_that_touch_at_a_corner() {
    let wide = grid(60, 60, 1000.0);
    let table = tables::table(wide.clone(), &[0.0], |_, column, row| {
        if column + row == 60 && column > 12 { f64::INFINITY } else { 0.1 }
    });
    let (from, to) = (at(&wide, 40.0, 15.0), at(&wide, 45.0, 20.0));
    let set = solve(&GridSearch::default(), &problem(&table, from, Goal::Places(&[to]))).unwrap();
    let taken_h = set.routes[0].arrive_hour();
    // Straight it would be seven cells, and just so through a corner; round the end of the wall it is some 86.
    assert!(taken_h > 6.0, "{taken_h}");
    assert!(set.lower_bound_h <= taken_h && set.lower_bound_h > 0.97 * taken_h, "{set:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_route_is_below_a_bound(table in worlds(1), question in questions()) {
        hold(&table, question)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Where a front crosses fields of many cells, it is at its own hours in each.
    #[test]
    fn no_route_is_below_a_bound_over_wide_fields(table in worlds(5), question in questions()) {
        hold(&table, question)?;
    }
}
