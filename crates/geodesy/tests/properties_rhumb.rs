//! Rhumb lines against an integration of their own, published lines, and what must hold of all.

use dipward_geodesy::{
    Position, distance_km, inverse, position,
    rhumb::{self, LegLine},
};
use proptest::prelude::*;

/// Follows a course by small steps of the differential equations of a rhumb line on WGS84, by the
/// midpoint rule: nothing of the library's formulas is used.
fn integrated(from: Position, course_deg: f64, distance_km: f64) -> Position {
    const A_KM: f64 = 6378.137;
    const E2: f64 = 0.006_694_379_990_141_316;
    let (sine, cosine) = course_deg.to_radians().sin_cos();
    let (mut latitude, mut longitude) = (from.y().to_radians(), from.x().to_radians());
    let steps = 20_000;
    let step_km = distance_km / f64::from(steps);
    let rates = |latitude: f64| {
        let w = 1.0 - E2 * latitude.sin().powi(2);
        let (meridian, parallel) =
            (A_KM * (1.0 - E2) / w.powf(1.5), A_KM / w.sqrt() * latitude.cos());
        [cosine / meridian, sine / parallel]
    };
    for _ in 0..steps {
        let half = latitude + 0.5 * step_km * rates(latitude)[0];
        let [north, east] = rates(half);
        latitude += step_km * north;
        longitude += step_km * east;
    }
    position(
        latitude.to_degrees(),
        dipward_geodesy::normalise_longitude_deg(longitude.to_degrees()),
    )
}

#[test]
fn lines_are_those_of_the_differential_equations() {
    for (from, course_deg, km) in [
        (position(-42.88, 147.33), 195.0, 2400.0),
        (position(10.0, 179.0), 80.0, 900.0),
        (position(70.0, -20.0), 359.0, 1500.0),
        (position(-60.0, 0.0), 90.0, 3000.0),
        (position(5.0, 0.0), 225.0, 2000.0),
        (position(85.0, 40.0), 300.0, 250.0),
    ] {
        let (own, other) = (rhumb::direct(from, course_deg, km), integrated(from, course_deg, km));
        assert!(distance_km(own, other) < 1e-4, "{from:?} {course_deg} {own:?} {other:?}");
        let line = rhumb::inverse(from, own);
        assert!((line.distance_km - km).abs() < 1e-6, "{line:?}");
    }
}

/// The example of the manual of GeographicLib's `RhumbSolve`, from memory: from New York, 40:38:23N
/// 73:46:44W, to Singapore, 1:21:33N 103:59:22E, on 103.582833 degrees over 18523.563 km.
#[test]
fn a_published_line() {
    let degrees = |d: f64, m: f64, s: f64| d + m / 60.0 + s / 3600.0;
    let new_york = position(degrees(40.0, 38.0, 23.0), -degrees(73.0, 46.0, 44.0));
    let singapore = position(degrees(1.0, 21.0, 33.0), degrees(103.0, 59.0, 22.0));
    let line = rhumb::inverse(new_york, singapore);
    assert!((line.course_deg - 103.582_833).abs() < 1e-6, "{line:?}");
    assert!((line.distance_km - 18_523.563).abs() < 1e-3, "{line:?}");
}

/// Over the pole, and near it, nothing is cut into a line that winds round it.
#[test]
fn the_pole_is_crossed_by_short_geodesics() {
    let cuts = rhumb::cut(position(89.0, 10.0), position(89.2, -169.0), 0.926);
    let geodesics = cuts.iter().filter(|cut| cut.1 == LegLine::Geodesic).count();
    assert!((10..40).contains(&geodesics), "{geodesics}");
    let mut before = position(89.0, 10.0);
    for &(at, line) in &cuts {
        if line == LegLine::Geodesic {
            assert!(distance_km(before, at) <= 1.852 + 1e-9);
        } else {
            assert!(before.y() <= 89.9 && at.y() <= 89.9);
        }
        before = at;
    }
    assert!(rhumb::inverse(position(90.0, 0.0), position(80.0, 50.0)).distance_km.is_nan());
    assert!(
        (rhumb::inverse(position(90.0, 0.0), position(80.0, 0.0)).course_deg - 180.0).abs() < 1e-12
    );
}

proptest! {
    #[test]
    fn there_and_back(
        latitude_deg in -89.5..89.5_f64,
        longitude_deg in -180.0..180.0_f64,
        to_latitude_deg in -89.5..89.5_f64,
        east_deg in -179.0..179.0_f64,
    ) {
        let a = position(latitude_deg, longitude_deg);
        let b = position(to_latitude_deg, dipward_geodesy::normalise_longitude_deg(longitude_deg + east_deg));
        let line = rhumb::inverse(a, b);
        let there = rhumb::direct(a, line.course_deg, line.distance_km);
        // Near east and west a course's last digits count much: the miss is held to the length.
        prop_assert!(distance_km(there, b) < 1e-8 * line.distance_km + 1e-6, "{line:?} {there:?}");
        // No line is shorter than the geodesic, and the way back is as long on the opposite course.
        prop_assert!(line.distance_km >= inverse(a, b).distance_km - 1e-6);
        let back = rhumb::inverse(b, a);
        prop_assert!((back.distance_km - line.distance_km).abs() < 1e-6);
        let turned = (back.course_deg - line.course_deg).rem_euclid(360.0) - 180.0;
        prop_assert!(turned.abs() < 1e-6, "{line:?} {back:?}");
    }

    /// Nowhere between two cuts is the rhumb line farther from the geodesic than was asked.
    #[test]
    fn cuts_keep_to_the_geodesic(
        latitude_deg in -88.0..88.0_f64,
        longitude_deg in -180.0..180.0_f64,
        course_deg in 0.0..360.0_f64,
        km in 1.0..3000.0_f64,
        limit_km in 0.2..2.0_f64,
        share in 0.0..1.0_f64,
    ) {
        let a = position(latitude_deg, longitude_deg);
        let b = dipward_geodesy::direct(a, course_deg, km).position;
        let mut before = a;
        let cuts = rhumb::cut(a, b, limit_km);
        prop_assert_eq!(cuts.last().unwrap().0, b);
        for &(at, line) in &cuts {
            let whole = inverse(before, at);
            if line == LegLine::Rhumb {
                prop_assert!(before.y().abs() <= 89.9 && at.y().abs() <= 89.9);
                let own = rhumb::inverse(before, at);
                let on_rhumb = rhumb::direct(before, own.course_deg, share * own.distance_km);
                // The nearest point of the geodesic piece, looked for finely.
                let nearest = (0..=400)
                    .map(|part| {
                        let run = whole.distance_km * f64::from(part) / 400.0;
                        let there = dipward_geodesy::direct(before, whole.initial_course_deg, run);
                        distance_km(there.position, on_rhumb)
                    })
                    .fold(f64::INFINITY, f64::min);
                let coarse = whole.distance_km / 800.0;
                prop_assert!(nearest.powi(2) <= (1.02 * limit_km).powi(2) + coarse.powi(2));
            } else {
                prop_assert!(whole.distance_km <= 1.852 + 1e-9);
            }
            before = at;
        }
    }
}
