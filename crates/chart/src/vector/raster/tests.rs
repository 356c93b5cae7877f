use std::collections::BTreeSet;

use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};
use geo::{Contains, Intersects, Point, Rect, coord};
use proptest::prelude::*;

use super::*;
use crate::crs::MapProjection;

fn grid(columns: u32, rows: u32) -> Grid {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let half = |count: u32| -f64::from(count - 1) / 2.0 * 20_000.0;
    Grid::new(polar, coord! { x: half(columns), y: half(rows) }, 20_000.0, columns, rows).unwrap()
}

/// A star about a place, in cells, that never crosses itself.
fn star(centre: (f64, f64), radii: &[f64]) -> PlanePolygon {
    let mut ring: Vec<Coord<f64>> = radii
        .iter()
        .enumerate()
        .map(|(corner, radius)| {
            let angle = std::f64::consts::TAU * corner as f64 / radii.len() as f64;
            coord! { x: centre.0 + radius * angle.cos(), y: centre.1 + radius * angle.sin() }
        })
        .collect();
    ring.push(ring[0]);
    PlanePolygon { rings: vec![ring] }
}

fn as_geo(polygon: &PlanePolygon) -> geo::Polygon<f64> {
    geo::Polygon::new(polygon.rings[0].iter().copied().collect(), Vec::new())
}

fn by_centre(polygon: &PlanePolygon, grid: &Grid) -> BTreeSet<u32> {
    let mut cells = BTreeSet::new();
    cells_by_centre(polygon, grid, |run| {
        for cell in run {
            assert!(cells.insert(cell), "cell {cell} twice");
        }
    });
    cells
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// The oracle is point in polygon, cell in polygon and area of the cut, by another library.
    #[test]
    fn cells_agree_with_point_in_polygon(
        x in -4.0..24.0f64,
        y in -4.0..18.0f64,
        radii in prop::collection::vec(0.5..9.0f64, 3..12),
    ) {
        let grid = grid(20, 14);
        let polygon = star((x, y), &radii);
        let outline = as_geo(&polygon);
        let centres = by_centre(&polygon, &grid);
        let touched: BTreeSet<u32> = cells_touched(&polygon, &grid).into_iter().flatten().collect();
        for cell in 0..grid.len() as u32 {
            let (row, column) = grid.row_column(cell).unwrap();
            let (row, column) = (f64::from(row), f64::from(column));
            let centre = Point::new(column + 0.5, row + 0.5);
            prop_assert_eq!(outline.contains(&centre), centres.contains(&cell));
            let square = Rect::new((column, row), (column + 1.0, row + 1.0));
            // Touching in a corner or along a side alone is no matter.
            let inner = Rect::new((column + 1e-9, row + 1e-9), (column + 1.0 - 1e-9, row + 1.0 - 1e-9));
            if outline.intersects(&inner) {
                prop_assert!(touched.contains(&cell));
            }
            if !outline.intersects(&square) {
                prop_assert!(!touched.contains(&cell));
            }
        }
    }

    #[test]
    fn area_fractions_add_to_the_area(
        x in 8.0..12.0f64,
        y in 6.0..8.0f64,
        radii in prop::collection::vec(2.0..5.0f64, 8..16),
    ) {
        use geo::Area;
        let grid = grid(20, 14);
        let polygon = star((x, y), &radii);
        let mut share = vec![0.0; grid.len()];
        add_area_fraction(&polygon, &grid, &mut share);
        prop_assert!(share.iter().all(|share| (0.0..=1.000_1).contains(share)));
        let sum: f64 = share.iter().map(|&share| f64::from(share)).sum();
        let area = as_geo(&polygon).unsigned_area();
        prop_assert!((sum - area).abs() < 0.02 * area + 0.05, "{} {}", sum, area);
    }

    /// Two polygons with a common, crooked edge in longitude and latitude.
    #[test]
    fn neighbours_share_no_cell_and_leave_none(
        bend in prop::collection::vec(-3.0..3.0f64, 3..8),
        west in -180.0..180.0f64,
    ) {
        let grid = grid(200, 200);
        let steps = bend.len() as f64;
        let middle: Vec<[f64; 2]> = bend
            .iter()
            .enumerate()
            .map(|(step, off)| [west + 10.0 + off, -75.0 + 8.0 * step as f64 / steps])
            .collect();
        let mut left = vec![[west, -75.0]];
        left.extend(&middle);
        left.extend([[west, -67.0], [west, -75.0]]);
        let mut right = vec![[west + 20.0, -67.0]];
        right.extend(middle.iter().rev());
        right.extend([[west + 20.0, -75.0], [west + 20.0, -67.0]]);
        let mut outer = vec![[west, -75.0], middle[0]];
        outer.extend([[west + 20.0, -75.0], [west + 20.0, -67.0]]);
        outer.extend([*middle.last().unwrap(), [west, -67.0], [west, -75.0]]);
        let cells = |ring: Vec<[f64; 2]>| {
            by_centre(&PlanePolygon::of_file(&vec![ring], &MapProjection::LonLat, &grid), &grid)
        };
        let (left, right, outer) = (cells(left), cells(right), cells(outer));
        prop_assert!(left.is_disjoint(&right));
        prop_assert_eq!(left.union(&right).copied().collect::<BTreeSet<u32>>(), outer);
    }
}

#[test]
fn a_cap_about_the_pole_is_a_disc() {
    let grid = grid(301, 301);
    let cap = vec![vec![
        [-180.0, -80.0],
        [180.0, -80.0],
        [180.0, -90.0],
        [-180.0, -90.0],
        [-180.0, -80.0],
    ]];
    let cells = by_centre(&PlanePolygon::of_file(&cap, &MapProjection::LonLat, &grid), &grid);
    for cell in 0..grid.len() as u32 {
        let latitude_deg = grid.centre(cell).unwrap().y();
        // 0.02 of a cell of 20 km is 0.004 degrees.
        if (latitude_deg + 80.0).abs() > 0.005 {
            assert_eq!(cells.contains(&cell), latitude_deg < -80.0, "{latitude_deg}");
        }
    }
}

#[test]
fn a_polygon_cut_at_the_antimeridian_is_whole() {
    let grid = grid(301, 301);
    let east = vec![[170.0, -75.0], [180.0, -75.0], [180.0, -70.0], [170.0, -70.0], [170.0, -75.0]];
    let west =
        vec![[-180.0, -75.0], [-170.0, -75.0], [-170.0, -70.0], [-180.0, -70.0], [-180.0, -75.0]];
    let across =
        vec![[170.0, -75.0], [190.0, -75.0], [190.0, -70.0], [170.0, -70.0], [170.0, -75.0]];
    let cells = |ring: Vec<[f64; 2]>| {
        by_centre(&PlanePolygon::of_file(&vec![ring], &MapProjection::LonLat, &grid), &grid)
    };
    let (east, west) = (cells(east), cells(west));
    assert!(east.is_disjoint(&west));
    assert_eq!(east.union(&west).copied().collect::<BTreeSet<u32>>(), cells(across));
    assert!(east.len() > 400 && west.len() > 400);
}

#[test]
fn edges_follow_the_parallel_not_the_chord() {
    let grid = grid(301, 301);
    let band = vec![vec![[0.0, -75.0], [90.0, -75.0], [90.0, -72.0], [0.0, -72.0], [0.0, -75.0]]];
    for cell in by_centre(&PlanePolygon::of_file(&band, &MapProjection::LonLat, &grid), &grid) {
        let centre = grid.centre(cell).unwrap();
        assert!((-75.01..-71.99).contains(&centre.y()), "{centre:?}");
    }
}

#[test]
fn the_other_pole_is_no_trouble() {
    let grid = grid(30, 30);
    let world =
        vec![vec![[-180.0, -90.0], [180.0, -90.0], [180.0, 90.0], [-180.0, 90.0], [-180.0, -90.0]]];
    assert_eq!(
        by_centre(&PlanePolygon::of_file(&world, &MapProjection::LonLat, &grid), &grid).len(),
        900
    );
}

#[test]
fn a_sliver_between_centres_is_touched_though_it_holds_no_centre() {
    let grid = grid(20, 14);
    let polygon = PlanePolygon {
        rings: vec![vec![
            coord! { x: 2.1, y: 3.6 },
            coord! { x: 9.9, y: 3.6 },
            coord! { x: 9.9, y: 3.7 },
            coord! { x: 2.1, y: 3.7 },
            coord! { x: 2.1, y: 3.6 },
        ]],
    };
    assert!(by_centre(&polygon, &grid).is_empty());
    let cells: Vec<u32> = cells_touched(&polygon, &grid).into_iter().flatten().collect();
    assert_eq!(cells, (62..70).collect::<Vec<u32>>());
}
