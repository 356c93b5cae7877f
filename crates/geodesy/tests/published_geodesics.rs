//! Geodesics against numbers that others have published.

use dipward_geodesy::{distance_km, geodesic, normalise_longitude_deg, position};

/// C. F. F. Karney, GeographicLib for Python 2.1, test_geodesic.py, testcases: twenty random lines
/// computed in extended precision. See the script beside the fixture.
#[test]
fn published_geographiclib_test_lines() {
    let mut lines = 0;
    for line in include_str!("fixtures/geographiclib_test_lines.csv").lines().skip(1) {
        let values: Vec<f64> = line.split(',').map(|value| value.parse().unwrap()).collect();
        let [latitude1, longitude1, course1, latitude2, longitude2, course2, distance_m] =
            values[..]
        else {
            panic!("seven values in {line}");
        };
        let (a, b) = (position(latitude1, longitude1), position(latitude2, longitude2));

        let got = geodesic::inverse(a, b);
        assert!((got.distance_km * 1000.0 - distance_m).abs() < 1e-7, "{line}: {got:?}");
        assert!(normalise_longitude_deg(got.initial_course_deg - course1).abs() < 1e-11, "{line}");
        assert!(normalise_longitude_deg(got.final_course_deg - course2).abs() < 1e-11, "{line}");

        let got = geodesic::direct(a, course1, distance_m / 1000.0);
        assert!(distance_km(got.position, b) < 1e-10, "{line}: {got:?}");
        assert!(normalise_longitude_deg(got.course_deg - course2).abs() < 1e-11, "{line}");
        lines += 1;
    }
    assert_eq!(lines, 20);
}

/// The checks of GeographicLib's test suite that once caught a fault (GeodSolve 0, 4, 6, 9, 10, 11,
/// 33 and 59 of the same file): ordinary, very short, nearly antipodal, equatorial and meridional.
#[test]
fn published_geographiclib_hard_lines() {
    for (latitude1, longitude1, latitude2, longitude2, distance_m, within_m) in [
        (40.6, -73.8, 49.016_666_67, 2.55, 5_853_226.0, 0.5),
        (36.493_349_428_792, 0.0, 36.493_349_428_792_01, 0.000_000_8, 0.072, 0.5e-3),
        (
            88.202_499_451_857,
            0.0,
            -88.202_499_451_857,
            179.981_022_032_992_86,
            20_003_898.214,
            0.5e-3,
        ),
        (
            89.262_080_389_218,
            0.0,
            -89.262_080_389_218,
            179.992_207_982_775_38,
            20_003_925.854,
            0.5e-3,
        ),
        (
            89.333_123_580_033,
            0.0,
            -89.333_123_580_033,
            179.992_958_123_601_48,
            20_003_926.881,
            0.5e-3,
        ),
        (
            56.320_923_501_171,
            0.0,
            -56.320_923_501_171,
            179.664_747_671_772_9,
            19_993_558.287,
            0.5e-3,
        ),
        (
            52.784_459_512_564,
            0.0,
            -52.784_459_512_564,
            179.634_407_464_943_8,
            19_991_596.095,
            0.5e-3,
        ),
        (
            48.522_876_735_459,
            0.0,
            -48.522_876_735_459,
            179.599_720_456_223_08,
            19_989_144.774,
            0.5e-3,
        ),
        (0.0, 0.0, 0.0, 179.0, 19_926_189.0, 0.5),
        (0.0, 0.0, 0.0, 179.5, 19_980_862.0, 0.5),
        (0.0, 0.0, 0.0, 180.0, 20_003_931.0, 0.5),
        (0.0, 0.0, 1.0, 180.0, 19_893_357.0, 0.5),
        (5.0, 0.000_000_000_000_01, 10.0, 180.0, 18_345_191.174_332_71, 1e-8),
    ] {
        let (a, b) = (position(latitude1, longitude1), position(latitude2, longitude2));
        let got_m = distance_km(a, b) * 1000.0;
        assert!((got_m - distance_m).abs() < within_m, "{a:?} to {b:?}: {got_m} m");
    }
}

/// The quarter of a meridian of WGS84 is 10 001 965.729 m: from memory, and so to its last digit
/// only.
#[test]
fn published_quarter_meridian() {
    let quarter_km = distance_km(position(0.0, 20.0), position(90.0, -75.0));
    assert!((quarter_km - 10_001.965_729).abs() < 1e-6, "{quarter_km}");
}
