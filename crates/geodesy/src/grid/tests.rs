//! Grids small enough to check by eye.

use geo::coord;

use super::*;
use crate::{Ellipsoid, Hemisphere, geodesic, position};

/// Five columns and three rows of 10 km about a pole, which is the centre of cell 7.
fn about(hemisphere: Hemisphere, meridian_deg: f64) -> Grid {
    let projection =
        PolarStereographic::variant_b(hemisphere, 70.0, meridian_deg, Ellipsoid::WGS84).unwrap();
    Grid::new(projection, coord! { x: -20e3, y: -10e3 }, 10e3, 5, 3).unwrap()
}

#[test]
fn cells_count_along_the_rows_from_the_lower_left() {
    let grid = about(Hemisphere::North, 0.0);
    assert_eq!((grid.columns(), grid.rows(), grid.len(), grid.is_empty()), (5, 3, 15, false));
    assert_eq!((grid.cell_km(), grid.cell_m()), (10.0, 10e3));
    assert_eq!(grid.centre_coord(0), Some(coord! { x: -20e3, y: -10e3 }));
    assert_eq!(grid.centre_coord(9), Some(coord! { x: 20e3, y: 0.0 }));
    assert_eq!(grid.cell(2, 1), Some(11));
    assert_eq!(grid.row_column(11), Some((2, 1)));
    assert_eq!(grid.neighbour(7, 1, 1), Some(13));
    assert_eq!(grid.neighbour(7, -2, -1), Some(0));
}

#[test]
fn nothing_lies_outside() {
    let grid = about(Hemisphere::South, 0.0);
    assert_eq!(grid.row_column(15), None);
    assert_eq!(grid.centre(15), None);
    assert_eq!(grid.point_scale(u32::MAX), None);
    assert_eq!(grid.cell(0, 5), None);
    assert_eq!(grid.cell(3, 0), None);
    // The next index is another row, which a step to the right must not reach.
    assert_eq!(grid.neighbour(4, 1, 0), None);
    assert_eq!(grid.neighbour(5, -1, 0), None);
    assert_eq!(grid.neighbour(7, 0, i32::MIN), None);
    assert_eq!(grid.neighbour(7, i32::MAX, 0), None);
    assert_eq!(grid.edge_km(7, 15), None);
    assert_eq!(grid.true_course_deg(15, 1, 0), None);
    assert_eq!(grid.true_course_deg(7, 0, 0), None);
    assert_eq!(grid.cell_at(position(-80.0, 0.0)), None);
    assert_eq!(grid.cell_at(position(90.0, 0.0)), None);
    assert_eq!(grid.cell_at(position(91.0, 0.0)), None);
    assert_eq!(grid.cell_at_coord(coord! { x: f64::NAN, y: 0.0 }), None);
}

#[test]
fn a_cell_holds_its_left_and_lower_sides() {
    let grid = about(Hemisphere::North, 0.0);
    assert_eq!(grid.cell_at_coord(coord! { x: -5e3, y: -5e3 }), Some(7));
    assert_eq!(grid.cell_at_coord(coord! { x: 5e3, y: -5e3 }), Some(8));
    assert_eq!(grid.cell_at_coord(coord! { x: -5e3, y: 5e3 }), Some(12));
    assert_eq!(grid.cell_at_coord(coord! { x: -25e3, y: -15e3 }), Some(0));
    assert_eq!(grid.cell_at_coord(coord! { x: 25e3, y: 0.0 }), None);
}

#[test]
fn the_pole_is_in_its_cell_whatever_its_longitude() {
    for (hemisphere, latitude_deg) in [(Hemisphere::North, 90.0), (Hemisphere::South, -90.0)] {
        let grid = about(hemisphere, -45.0);
        for longitude_deg in [-180.0, -45.0, 0.0, 17.3] {
            assert_eq!(grid.cell_at(position(latitude_deg, longitude_deg)), Some(7));
        }
        assert_eq!(grid.centre(7), Some(position(latitude_deg, -45.0)));
        assert_eq!(grid.point_scale(7), Some(grid.projection().scale_at_pole()));
    }
}

/// Beside the pole, the step to it is due north or due south, and on it courses are the grid's own.
#[test]
fn courses_lead_to_the_pole_and_away() {
    let north = about(Hemisphere::North, -45.0);
    let south = about(Hemisphere::South, 120.0);
    for (cell, dcolumn, drow) in [(6, 1, 0), (8, -1, 0), (2, 0, 1), (12, 0, -1), (11, 1, -1)] {
        let to_north = north.true_course_deg(cell, dcolumn, drow).unwrap();
        assert!(to_north.min(360.0 - to_north) < 1e-12, "{cell}: {to_north}");
        let to_south = south.true_course_deg(cell, dcolumn, drow).unwrap();
        assert!((to_south - 180.0).abs() < 1e-12, "{cell}: {to_south}");
    }
    for grid in [north, south] {
        for (dcolumn, drow, course_deg) in
            [(0, 1, 0.0), (1, 1, 45.0), (1, 0, 90.0), (0, -1, 180.0), (-1, 0, 270.0)]
        {
            assert_eq!(grid.true_course_deg(7, dcolumn, drow), Some(course_deg));
            let end = grid.centre(grid.neighbour(7, dcolumn, drow).unwrap()).unwrap();
            let line = geodesic::inverse(grid.centre(7).unwrap(), end);
            assert!((line.initial_course_deg - course_deg).abs() < 1e-9, "{line:?}");
        }
    }
}

#[test]
fn bounds_and_outline_go_round_the_outer_sides() {
    let grid = about(Hemisphere::South, 0.0);
    assert_eq!(grid.bounds().min(), coord! { x: -25e3, y: -15e3 });
    assert_eq!(grid.bounds().max(), coord! { x: 25e3, y: 15e3 });

    let wide = Grid::new(*grid.projection(), coord! { x: 1e6, y: -2e6 }, 25e3, 40, 20).unwrap();
    let ring = wide.outline();
    assert_eq!(ring.first(), ring.last());
    assert_eq!(ring.len(), 2 * (20 + 10) + 1);
    let on_map: Vec<_> = ring.iter().map(|corner| wide.coord(*corner)).collect();
    let doubled_area_m2: f64 =
        on_map.windows(2).map(|side| side[0].x * side[1].y - side[1].x * side[0].y).sum();
    assert!((doubled_area_m2 / 2.0 / (1e6 * 0.5e6) - 1.0).abs() < 1e-9);
}

#[test]
fn a_grid_over_the_date_line_is_in_one_piece() {
    let projection =
        PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84).unwrap();
    let stops = [position(70.0, 179.0), position(70.0, -179.0)];
    let grid = Grid::covering(projection, &stops, 5.0, 20.0).unwrap();
    // Some 76 km apart, so a grid that went the other way round the Earth would be far larger.
    assert!(grid.len() < 1000, "{} cells", grid.len());
    let middle = grid.cell_at(position(70.0, 180.0)).unwrap();
    assert_eq!(grid.cell_at(position(70.0, -180.0)), Some(middle));
    let beside = grid.neighbour(middle, 1, 0).unwrap();
    assert!((grid.edge_km(middle, beside).unwrap() - 5.0).abs() < 0.01);
}

#[test]
fn grids_of_one_cell_size_share_their_cells() {
    let projection =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let one = Grid::covering(projection, &[position(-65.0, 135.0)], 2.0, 60.0).unwrap();
    let other = Grid::covering(projection, &[position(-65.3, 136.0)], 2.0, 45.5).unwrap();
    let there = position(-65.2, 135.6);
    let centres = [&one, &other].map(|grid| grid.centre(grid.cell_at(there).unwrap()));
    assert_eq!(centres[0], centres[1]);
}
