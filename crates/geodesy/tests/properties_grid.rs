//! What must hold of every grid.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_geodesy::{
    Cell, Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, distance_km, geodesic,
    normalise_longitude_deg, position,
};
use geo::coord;
use proptest::num::f64::ANY;
use proptest::prelude::*;

fn projection() -> impl Strategy<Value = PolarStereographic> {
    let hemisphere = prop_oneof![Just(Hemisphere::North), Just(Hemisphere::South)];
    (hemisphere, 60.0..=90.0_f64, -180.0..180.0_f64).prop_map(
        |(hemisphere, true_scale_deg, meridian_deg)| {
            PolarStereographic::variant_b(
                hemisphere,
                true_scale_deg,
                meridian_deg,
                Ellipsoid::WGS84,
            )
            .unwrap()
        },
    )
}

/// A position from 30 degrees to the pole: anywhere, on the date line, near the pole and on it.
fn polar(projection: PolarStereographic) -> impl Strategy<Value = Position> {
    let latitude_deg = prop_oneof![
        5 => 30.0..90.0_f64,
        2 => (-9.0..0.0_f64).prop_map(|power| 90.0 - 10.0_f64.powf(power)),
        1 => Just(90.0),
    ];
    let longitude_deg = prop_oneof![4 => -180.0..180.0_f64, 1 => Just(-180.0)];
    (latitude_deg, longitude_deg).prop_map(move |(latitude_deg, longitude_deg)| {
        position(projection.hemisphere().sign() * latitude_deg, longitude_deg)
    })
}

/// A grid of 21 by 21 cells of 2 km, with a position in its middle cell, on its centre when snapped.
fn grid() -> impl Strategy<Value = Grid> {
    projection().prop_flat_map(|projection| {
        (polar(projection), any::<bool>()).prop_map(move |(middle, snapped)| {
            let mut centre = projection.forward(middle);
            if snapped {
                centre =
                    coord! { x: (centre.x / 2e3).round() * 2e3, y: (centre.y / 2e3).round() * 2e3 };
            }
            let origin = centre - coord! { x: 20e3, y: 20e3 };
            Grid::new(projection, origin, 2e3, 21, 21).unwrap()
        })
    })
}

fn step() -> impl Strategy<Value = (i32, i32)> {
    (-5..=5_i32, -5..=5_i32).prop_filter("a step goes somewhere", |&step| step != (0, 0))
}

const MIDDLE: Cell = 10 * 21 + 10;

proptest! {
    #![proptest_config(ProptestConfig { cases: 4096, failure_persistence: None, ..Default::default() })]

    /// Up to five columns and rows, so knight's moves and all the longer ones.
    #[test]
    fn edges_are_as_long_as_geodesics(grid in grid(), (dcolumn, drow) in step()) {
        let end = grid.neighbour(MIDDLE, dcolumn, drow).unwrap();
        let edge_km = grid.edge_km(MIDDLE, end).unwrap();
        let line_km = distance_km(grid.centre(MIDDLE).unwrap(), grid.centre(end).unwrap());
        let excess = edge_km / line_km - 1.0;
        prop_assert!(excess < 1e-7, "{excess:e}");
        // A straight step on the map is no shortest line, so only rounding can make it shorter.
        prop_assert!(excess > -2e-11, "{excess:e}");
        prop_assert_eq!(grid.edge_km(end, MIDDLE), Some(edge_km));
    }

    /// The mean of the two ends serves the steps of a search that looks no farther than (3, 2).
    #[test]
    fn the_scale_table_serves_short_steps(
        grid in grid(),
        dcolumn in -3..=3_i32,
        drow in -3..=3_i32,
    ) {
        prop_assume!((1..=13).contains(&(dcolumn * dcolumn + drow * drow)));
        let table = grid.scale_table();
        prop_assert_eq!(table.len(), grid.len());
        let end = grid.neighbour(MIDDLE, dcolumn, drow).unwrap();
        let run_km = grid.cell_km() * f64::from(dcolumn).hypot(f64::from(drow));
        let mean = (table[MIDDLE as usize] + table[end as usize]) / 2.0;
        let edge_km = grid.edge_km(MIDDLE, end).unwrap();
        prop_assert!((run_km * mean / edge_km - 1.0).abs() < 1e-7);
        prop_assert_eq!(table[end as usize], grid.point_scale(end).unwrap().recip());
    }

    #[test]
    fn a_detour_over_cells_is_no_shorter(grid in grid(), one in step(), two in step()) {
        let by = grid.neighbour(MIDDLE, one.0, one.1).unwrap();
        let end = grid.neighbour(by, two.0, two.1).unwrap();
        let straight_km = grid.edge_km(MIDDLE, end).unwrap();
        let detour_km = grid.edge_km(MIDDLE, by).unwrap() + grid.edge_km(by, end).unwrap();
        // The straight step of the map is up to 1e-7 longer than the geodesic.
        prop_assert!(straight_km <= detour_km * (1.0 + 1e-7));
    }

    #[test]
    fn true_courses_are_those_of_geodesics(grid in grid(), (dcolumn, drow) in step()) {
        let (from, end) =
            (grid.centre(MIDDLE).unwrap(), grid.neighbour(MIDDLE, dcolumn, drow).unwrap());
        let course_deg = grid.true_course_deg(MIDDLE, dcolumn, drow).unwrap();
        prop_assert!((0.0..360.0).contains(&course_deg));
        let line = geodesic::inverse(from, grid.centre(end).unwrap());
        // A straight step of 14 km bends by a few hundredths of a degree at the edge of the map.
        let turned = normalise_longitude_deg(course_deg - line.initial_course_deg);
        prop_assert!(turned.abs() < 0.04, "{turned} degrees");
    }

    #[test]
    fn cells_are_found_at_their_centres(
        grid in grid(),
        row in 0..21_u32,
        column in 0..21_u32,
        right in -0.499..0.499_f64,
        up in -0.499..0.499_f64,
    ) {
        let cell = grid.cell(row, column).unwrap();
        prop_assert_eq!(grid.row_column(cell), Some((row, column)));
        prop_assert_eq!(grid.cell_at(grid.centre(cell).unwrap()), Some(cell));
        let beside = grid.centre_coord(cell).unwrap()
            + coord! { x: right * grid.cell_m(), y: up * grid.cell_m() };
        prop_assert_eq!(grid.cell_at_coord(beside), Some(cell));
        prop_assert_eq!(grid.cell_at(grid.position(beside)), Some(cell));
    }

    #[test]
    fn steps_can_be_taken_back(grid in grid(), cell in 0..441_u32, (dcolumn, drow) in step()) {
        match grid.neighbour(cell, dcolumn, drow) {
            Some(end) => prop_assert_eq!(grid.neighbour(end, -dcolumn, -drow), Some(cell)),
            None => {
                let (row, column) = grid.row_column(cell).unwrap();
                let (row, column) = (row as i32 + drow, column as i32 + dcolumn);
                prop_assert!(!(0..21).contains(&row) || !(0..21).contains(&column));
            }
        }
    }

    #[test]
    fn grids_come_back_from_json(grid in grid()) {
        let text = serde_json::to_string(&grid).unwrap();
        let back: Grid = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(serde_json::to_string(&back).unwrap(), text);
    }

    #[test]
    fn nothing_makes_a_grid_panic(
        projection in projection(),
        numbers in prop::array::uniform5(ANY),
        counts in prop::array::uniform2(any::<u32>()),
        cell in any::<Cell>(),
        steps in prop::array::uniform2(any::<i32>()),
    ) {
        let [x, y, cell_m, longitude_deg, latitude_deg] = numbers;
        let there = Position::new(longitude_deg, latitude_deg);
        let _ = Grid::covering(projection, &[there], cell_m, x);
        let _ = Grid::covering(projection, &[position(80.0, 0.0), there], 10.0, 10.0);
        for (origin, cell_m, columns, rows) in [
            (coord! { x: x, y: y }, cell_m, counts[0], counts[1]),
            (coord! { x: 0.0, y: 0.0 }, 1.0, counts[0] % 65_536, counts[1] % 4_096),
            (coord! { x: -1e9, y: 1e6 }, 1e5, 1, counts[1] % 4_096),
        ] {
            if let Ok(grid) = Grid::new(projection, origin, cell_m, columns, rows) {
                let _ = (grid.centre(cell), grid.cell_at(there), grid.row_column(cell));
                let _ = (grid.neighbour(cell, steps[0], steps[1]), grid.edge_km(cell, 0));
                let _ = (grid.true_course_deg(cell, steps[0], steps[1]), grid.bounds());
                let _ = (grid.cell(counts[0], counts[1]), grid.outline());
                let _ = grid.cell_at_coord(coord! { x: x, y: y });
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2048, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_covering_grid_holds_the_voyage(
        (projection, stops) in projection().prop_flat_map(|projection| {
            (Just(projection), prop::collection::vec(polar(projection), 1..4))
        }),
        cell_km in 5.0..50.0_f64,
        margin_km in 0.0..200.0_f64,
    ) {
        let grid = Grid::covering(projection, &stops, cell_km, margin_km).unwrap();
        for stop in &stops {
            prop_assert!(grid.cell_at(*stop).is_some());
        }
        for leg in stops.windows(2) {
            for point in geodesic::points_along(leg[0], leg[1], 37.0) {
                prop_assert!(grid.cell_at(point).is_some(), "{point:?} is not covered");
            }
        }
        // The margin is there on all sides, and not much more.
        let inner = grid.bounds();
        let first = grid.coord(stops[0]);
        prop_assert!(first.x - inner.min().x >= margin_km * 1e3);
        prop_assert!(inner.max().y - first.y >= margin_km * 1e3);
        if stops.len() == 1 {
            let across_km = f64::from(grid.columns()) * grid.cell_km();
            prop_assert!(across_km <= 2.0 * margin_km + 3.0 * cell_km + 1e-6);
        }
        for value in [grid.origin().x, grid.origin().y] {
            let cells = value / grid.cell_m();
            prop_assert!((cells - cells.round()).abs() < 1e-9);
        }
    }
}
