//! Projections and grids against numbers that others have published.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use geo::{Coord, coord};

fn assert_on_map(projection: &PolarStereographic, latitude: f64, longitude: f64, want: Coord<f64>) {
    let got = projection.forward(position(latitude, longitude));
    let off_m = (got.x - want.x).hypot(got.y - want.y);
    assert!(off_m < 0.01, "{latitude} {longitude} at {got:?}, not {want:?}");
    let back = projection.inverse(want);
    // A centimetre on the map, in degrees.
    assert!((back.y() - latitude).abs() < 1e-7 && (back.x() - longitude).abs() < 1e-6, "{back:?}");
}

/// IOGP Publication 373-7-2, Geomatics Guidance Note 7, part 2, polar stereographic variant A, the
/// example for EPSG:5041, WGS 84 / UPS North (E,N).
#[test]
fn published_epsg_variant_a() {
    let ups_north = PolarStereographic::variant_a(Hemisphere::North, 0.994, 0.0, Ellipsoid::WGS84)
        .unwrap()
        .with_false_origin(2_000_000.0, 2_000_000.0)
        .unwrap();
    assert_on_map(&ups_north, 73.0, 44.0, coord! { x: 3_320_416.75, y: 632_668.43 });
}

/// IOGP Publication 373-7-2, Geomatics Guidance Note 7, part 2, polar stereographic variant B, the
/// example for EPSG:3032, WGS 84 / Australian Antarctic Polar Stereographic.
#[test]
fn published_epsg_variant_b() {
    let antarctic = PolarStereographic::variant_b(Hemisphere::South, -71.0, 70.0, Ellipsoid::WGS84)
        .unwrap()
        .with_false_origin(6_000_000.0, 6_000_000.0)
        .unwrap();
    assert_on_map(&antarctic, -75.0, 120.0, coord! { x: 7_255_380.79, y: 7_053_389.56 });
    // The scale at the pole of the same example: k0 = 0.97276901, from memory.
    assert!((antarctic.scale_at_pole() - 0.972_769_01).abs() < 1e-8);
}

/// The systems of polar charts, against PROJ 9.5.1 (pyproj 3.7.2).
#[test]
fn published_systems_of_polar_charts() {
    use Ellipsoid as E;
    use Hemisphere::{North, South};
    for (code, hemisphere, true_scale, meridian, ellipsoid, latitude, longitude, x, y) in [
        (3031, South, -71.0, 0.0, E::WGS84, -64.0, 136.0, 1_995_406.887, -2_066_304.320),
        (3976, South, -70.0, 0.0, E::WGS84, -64.0, 136.0, 1_989_436.019, -2_060_121.305),
        (3412, South, -70.0, 0.0, E::HUGHES_1980, -64.0, 136.0, 1_989_478.041, -2_060_164.820),
        (3413, North, 70.0, -45.0, E::WGS84, 86.0, 139.0, -30_237.914, 432_422.313),
    ] {
        let projection =
            PolarStereographic::variant_b(hemisphere, true_scale, meridian, ellipsoid).unwrap();
        let got = projection.forward(position(latitude, longitude));
        assert!((got.x - x).abs() < 1e-3 && (got.y - y).abs() < 1e-3, "EPSG:{code}: {got:?}");
    }
}

/// The 25 km sea-ice grids of the National Snow and Ice Data Center.
fn nsidc_grid(hemisphere: Hemisphere) -> Grid {
    let (true_scale, meridian, left_m, bottom_m, columns, rows) = match hemisphere {
        Hemisphere::North => (70.0, -45.0, -3_850e3, -5_350e3, 304, 448),
        Hemisphere::South => (-70.0, 0.0, -3_950e3, -3_950e3, 316, 332),
    };
    let projection =
        PolarStereographic::variant_b(hemisphere, true_scale, meridian, Ellipsoid::HUGHES_1980)
            .unwrap();
    let origin = coord! { x: left_m + 12_500.0, y: bottom_m + 12_500.0 };
    Grid::new(projection, origin, 25_000.0, columns, rows).unwrap()
}

/// Centres of the corner cells, from the latitude and longitude files that NSIDC distributes with
/// its 25 km grids (psn25lats_v3 and psn25lons_v3, pss25lats_v3 and pss25lons_v3), to 1e-5 degrees.
#[test]
fn published_nsidc_corner_centres() {
    for (hemisphere, from_top, from_left, latitude, longitude) in [
        (Hemisphere::North, true, true, 31.10267, 168.32042),
        (Hemisphere::North, true, false, 31.48750, 102.37031),
        (Hemisphere::North, false, false, 34.47208, -9.99898),
        (Hemisphere::North, false, true, 34.05146, -80.71499),
        (Hemisphere::South, true, true, -39.36487, -42.23257),
        (Hemisphere::South, false, false, -41.58345, 135.0),
    ] {
        let grid = nsidc_grid(hemisphere);
        let row = if from_top { grid.rows() - 1 } else { 0 };
        let column = if from_left { 0 } else { grid.columns() - 1 };
        let cell = grid.cell(row, column).unwrap();
        let centre = grid.centre(cell).unwrap();
        assert!(
            (centre.y() - latitude).abs() < 1.1e-5 && (centre.x() - longitude).abs() < 1.1e-5,
            "{hemisphere} {row} {column}: {centre:?}"
        );
        assert_eq!(grid.cell_at(position(latitude, longitude)), Some(cell));
    }
}

/// Outer corners of the northern grid, from the NSIDC page on its polar stereographic grids; the
/// first from the page, the others from memory.
#[test]
fn published_nsidc_outer_corners() {
    let outline = nsidc_grid(Hemisphere::North).outline();
    for (latitude, longitude) in
        [(30.98, 168.35), (31.37, 102.34), (34.35, 350.03 - 360.0), (33.92, 279.26 - 360.0)]
    {
        let near = |corner: &&dipward_geodesy::Position| {
            (corner.y() - latitude).abs() < 0.0051 && (corner.x() - longitude).abs() < 0.0051
        };
        assert!(outline.iter().find(near).is_some(), "no corner at {latitude} {longitude}");
    }
}
