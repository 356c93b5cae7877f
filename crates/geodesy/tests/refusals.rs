//! What is refused, and in what words.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_geodesy::{Ellipsoid, Error, Grid, Hemisphere, PolarStereographic, position};
use geo::coord;

fn arctic() -> PolarStereographic {
    PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84).unwrap()
}

fn refused<T: std::fmt::Debug>(result: Result<T, Error>) -> String {
    result.unwrap_err().to_string()
}

#[test]
fn projections_name_the_parameter_that_is_wrong() {
    let north = |latitude_deg| {
        PolarStereographic::variant_b(Hemisphere::North, latitude_deg, 0.0, Ellipsoid::WGS84)
    };
    assert_eq!(
        refused(north(-71.0)),
        "the latitude of true scale (deg) is -71, but must be from 0 to 90"
    );
    assert!(refused(north(f64::NAN)).contains("NaN"));
    assert!(refused(north(90.5)).contains("90.5"));

    let south = |latitude_deg| {
        PolarStereographic::variant_b(Hemisphere::South, latitude_deg, 0.0, Ellipsoid::WGS84)
    };
    assert_eq!(south(71.0).unwrap(), south(-71.0).unwrap());
    assert!(refused(south(-91.0)).contains("-91"));

    let scaled = |scale, meridian_deg, figure| {
        PolarStereographic::variant_a(Hemisphere::North, scale, meridian_deg, figure)
    };
    assert!(refused(scaled(0.0, 0.0, Ellipsoid::WGS84)).contains("scale at the pole"));
    assert!(refused(scaled(0.994, f64::INFINITY, Ellipsoid::WGS84)).contains("meridian"));
    let flat = Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 1.0 };
    assert!(refused(scaled(0.994, 0.0, flat)).contains("flattening"));
    let small = Ellipsoid { semi_major_m: -1.0, inverse_flattening: 298.0 };
    assert!(refused(scaled(0.994, 0.0, small)).contains("semi-major"));
    assert!(refused(arctic().with_false_origin(0.0, f64::NAN)).contains("false northing"));
}

#[test]
fn a_sphere_is_an_ellipsoid() {
    let sphere = Ellipsoid { semi_major_m: 6_371_229.0, inverse_flattening: 0.0 };
    let projection = PolarStereographic::variant_a(Hemisphere::North, 1.0, 0.0, sphere).unwrap();
    // The textbook formula, 2 R tan(colatitude / 2).
    let place = projection.forward(position(60.0, 90.0));
    let radius_m = 2.0 * 6_371_229.0 * 15.0_f64.to_radians().tan();
    assert!((place.x - radius_m).abs() < 1e-8 && place.y.abs() < 1e-8, "{place:?}");
}

#[test]
fn projections_are_checked_when_they_are_read() {
    let read = |text: &str| serde_json::from_str::<PolarStereographic>(text);
    let figure = r#""ellipsoid": {"semi_major_m": 6378137.0, "inverse_flattening": 298.257223563}"#;
    let good = format!(
        r#"{{"hemisphere": "north", "true_scale_latitude_deg": 70, "central_meridian_deg": -45, {figure}}}"#
    );
    assert_eq!(read(&good).unwrap(), arctic());
    for (was, now, says) in [
        ("70", "-70", "from 0 to 90"),
        (r#""true_scale_latitude_deg": 70, "#, "", "give either"),
        ("-45,", r#"-45, "scale_at_pole": 1.0,"#, "give either"),
        ("-45,", r#"-45, "zone": 3,"#, "unknown field"),
        ("298.257223563", "0.5", "inverse flattening"),
        ("north", "east", "unknown variant"),
    ] {
        let error = read(&good.replace(was, now)).unwrap_err().to_string();
        assert!(error.contains(says), "{now}: {error}");
    }
}

#[test]
fn grids_name_what_is_wrong() {
    let origin = coord! { x: 0.0, y: 0.0 };
    assert!(matches!(
        Grid::new(arctic(), origin, 2e3, 0, 10),
        Err(Error::CellCount { columns: 0, rows: 10 })
    ));
    assert_eq!(
        refused(Grid::new(arctic(), origin, 2e3, u32::MAX, u32::MAX)),
        "a grid of 4294967295 columns by 4294967295 rows is not between 1 and 268435456 cells"
    );
    assert!(refused(Grid::new(arctic(), origin, 0.5, 10, 10)).contains("cell size (m) is 0.5"));
    assert!(refused(Grid::new(arctic(), origin, f64::NAN, 10, 10)).contains("cell size"));
    let far = coord! { x: 0.0, y: -2e9 };
    assert!(refused(Grid::new(arctic(), far, 2e3, 10, 10)).contains("y of the grid"));
    assert!(refused(Grid::new(arctic(), origin, 1e6, 10, 2000)).contains("y of the grid"));
}

#[test]
fn coverings_name_what_is_wrong() {
    let stops = [position(70.0, 20.0), position(86.0, 139.0)];
    let cover = |cell_km, margin_km| Grid::covering(arctic(), &stops, cell_km, margin_km);
    assert_eq!(Grid::covering(arctic(), &[], 2.0, 10.0), Err(Error::NoPositions));
    assert!(refused(cover(0.0, 10.0)).contains("cell size"));
    assert!(refused(cover(f64::INFINITY, 10.0)).contains("cell size"));
    assert!(refused(cover(2.0, -1.0)).contains("margin (km) is -1"));
    assert!(refused(cover(2.0, f64::NAN)).contains("margin"));
    assert!(matches!(cover(0.001, 10.0), Err(Error::CellCount { .. })));
    // The opposite pole, a line over it, and places that are not on Earth.
    for bad in [position(-90.0, 0.0), position(95.0, 0.0), position(f64::NAN, 0.0)] {
        let error = Grid::covering(arctic(), &[stops[0], bad], 10.0, 0.0).unwrap_err();
        assert!(matches!(error, Error::NotOnProjection { .. }), "{bad:?}: {error}");
        let error = Grid::covering(arctic(), &[bad], 10.0, 0.0).unwrap_err();
        assert!(matches!(error, Error::NotOnProjection { .. }), "{bad:?}: {error}");
    }
    let over = [position(-70.0, 0.0), position(-70.0, 180.0)];
    assert!(matches!(
        Grid::covering(arctic(), &over, 10.0, 0.0),
        Err(Error::NotOnProjection { .. })
    ));
}

#[test]
fn grids_are_checked_when_they_are_read() {
    let grid = Grid::covering(arctic(), &[position(86.0, 139.0)], 2.0, 10.0).unwrap();
    let text = serde_json::to_string(&grid).unwrap();
    assert_eq!(serde_json::from_str::<Grid>(&text).unwrap(), grid);
    let error = serde_json::from_str::<Grid>(&text.replace("2000.0", "0.0")).unwrap_err();
    assert!(error.to_string().contains("cell size"), "{error}");
}
