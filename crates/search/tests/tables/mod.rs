//! Tables for tests: small worlds over a patch of the polar map where the scale hardly varies.

#![allow(dead_code, reason = "each test binary uses a part")]
#![allow(clippy::unwrap_used, reason = "the values are constants that are in range")]

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, Position};
use dipward_plugin::{Goal, PaceTable, RouteProblem};
use geo::Coord;

/// A grid whose cell 0 is centred on the parallel of true scale, 71 S.
pub(crate) fn grid(columns: u32, rows: u32, cell_m: f64) -> Grid {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    // About 2082 km from the pole along +y.
    let origin = Coord { x: 0.0, y: 2_082_000.0 };
    Grid::new(polar, origin, cell_m, columns, rows).unwrap()
}

/// One setting, one sector; `pace` of frame, column and row in h/km.
pub(crate) fn table(grid: Grid, hours: &[f64], pace: impl Fn(usize, u32, u32) -> f64) -> PaceTable {
    let mut values = Vec::with_capacity(hours.len() * grid.len());
    for frame in 0..hours.len() {
        for row in 0..grid.rows() {
            values.extend((0..grid.columns()).map(|column| pace(frame, column, row) as f32));
        }
    }
    PaceTable {
        hours: hours.to_vec(),
        settings: 1,
        sectors: 1,
        burn_t_per_h: vec![1.0; values.len()],
        pace_h_per_km: values,
        hold_t_per_h: 0.1,
        grid,
    }
}

/// The position of a place in cell widths from the centre of cell 0.
pub(crate) fn at(grid: &Grid, column: f64, row: f64) -> Position {
    let origin = grid.origin();
    grid.position(Coord { x: origin.x + column * grid.cell_m(), y: origin.y + row * grid.cell_m() })
}

/// The earliest arrival without limits.
pub(crate) fn problem<'a>(
    table: &'a PaceTable,
    start: Position,
    goal: Goal<'a>,
) -> RouteProblem<'a> {
    RouteProblem {
        table,
        start,
        depart_hour: 0.0,
        goal,
        fuel_weight_h_per_t: 0.0,
        fuel_limit_t: None,
        latest_hour: f64::INFINITY,
        routes: 1,
        bounds: true,
    }
}

/// The least of a function over an interval, by golden section.
pub(crate) fn least(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> (f64, f64) {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..200 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if f(a) < f(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let x = f64::midpoint(low, high);
    (x, f(x))
}
