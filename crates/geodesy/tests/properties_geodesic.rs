//! What must hold of every geodesic.

use dipward_geodesy::{
    Position, distance_km, geodesic, normalise_course_deg, normalise_longitude_deg, position,
};
use proptest::num::f64::ANY;
use proptest::prelude::*;

/// Positions with the poles, the date line, the equator and their neighbourhoods well represented.
fn anywhere() -> impl Strategy<Value = Position> {
    let latitude_deg = prop_oneof![
        6 => -90.0..=90.0_f64,
        2 => 60.0..90.0_f64,
        2 => -90.0..-60.0_f64,
        1 => Just(90.0),
        1 => Just(-90.0),
        1 => Just(0.0),
        1 => (-10.0..0.0_f64).prop_map(|power| 90.0 - 10.0_f64.powf(power)),
        1 => (-10.0..0.0_f64).prop_map(|power| 10.0_f64.powf(power) - 90.0),
    ];
    let longitude_deg = prop_oneof![
        6 => -180.0..180.0_f64,
        1 => Just(-180.0),
        1 => Just(180.0),
        1 => Just(0.0),
        1 => (1e-12..1e-3_f64).prop_map(|short| 180.0 - short),
        1 => (1e-12..1e-3_f64).prop_map(|past| past - 180.0),
    ];
    (latitude_deg, longitude_deg)
        .prop_map(|(latitude_deg, longitude_deg)| position(latitude_deg, longitude_deg))
}

/// Pairs of positions: any two, near ones, the same one, and ones nearly opposite.
fn pair() -> impl Strategy<Value = (Position, Position)> {
    let small_deg = || (-12.0..1.0_f64).prop_map(|power| 10.0_f64.powf(power));
    prop_oneof![
        4 => (anywhere(), anywhere()),
        2 => (anywhere(), 0.0..360.0_f64, -6.0..2.0_f64).prop_map(|(a, course_deg, power)| {
            (a, geodesic::direct(a, course_deg, 10.0_f64.powf(power)).position)
        }),
        1 => anywhere().prop_map(|a| (a, a)),
        2 => (anywhere(), small_deg(), small_deg()).prop_map(|(a, up_deg, along_deg)| {
            (a, position((up_deg - a.y()).clamp(-90.0, 90.0), a.x() + 180.0 - along_deg))
        }),
    ]
}

/// How far apart two courses are, degrees.
fn apart_deg(a: f64, b: f64) -> f64 {
    normalise_longitude_deg(a - b).abs()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4096, failure_persistence: None, ..Default::default() })]

    #[test]
    fn following_the_line_closes_within_a_millimetre((a, b) in pair()) {
        let line = geodesic::inverse(a, b);
        prop_assert!((0.0..360.0).contains(&line.initial_course_deg), "{line:?}");
        prop_assert!((0.0..360.0).contains(&line.final_course_deg), "{line:?}");
        let there = geodesic::direct(a, line.initial_course_deg, line.distance_km);
        let gap_km = distance_km(there.position, b);
        prop_assert!(gap_km < 1e-6, "{a:?} to {b:?}: {gap_km} km short");
        prop_assert!((-180.0..180.0).contains(&there.position.x()));
    }

    #[test]
    fn the_way_back_is_as_long_and_opposite((a, b) in pair()) {
        let (out, back) = (geodesic::inverse(a, b), geodesic::inverse(b, a));
        prop_assert!((out.distance_km - back.distance_km).abs() < 1e-10);
        prop_assert_eq!(out.distance_km, distance_km(a, b));
        // Between nearly opposite positions there may be two ways as short, and over less than a
        // metre the course hangs on the last digits of the positions.
        if (1e-3..19_900.0).contains(&out.distance_km) {
            let turned = apart_deg(out.initial_course_deg + 180.0, back.final_course_deg);
            prop_assert!(turned < 1e-4 / out.distance_km.min(1e3), "{out:?} {back:?}");
        }
    }

    #[test]
    fn a_detour_is_no_shorter(a in anywhere(), b in anywhere(), c in anywhere()) {
        prop_assert!(distance_km(a, c) <= distance_km(a, b) + distance_km(b, c) + 1e-10);
    }

    #[test]
    fn whole_turns_change_nothing((a, b) in pair(), turns in -3..=3_i32) {
        let turned = Position::new(b.x() + 360.0 * f64::from(turns), b.y());
        let gap_km = (distance_km(a, b) - distance_km(a, turned)).abs();
        // The sum of a longitude and whole turns is rounded to 2e-13 degrees.
        prop_assert!(gap_km < 1e-10, "{gap_km}");
    }

    /// From a pole the course is the limit along the meridian that is given with it.
    #[test]
    fn courses_at_a_pole_follow_its_longitude(
        longitude_deg in -180.0..180.0_f64,
        latitude_deg in -89.0..89.0_f64,
        to_longitude_deg in -180.0..180.0_f64,
        north in any::<bool>(),
    ) {
        let b = position(latitude_deg, to_longitude_deg);
        let sign = if north { 1.0 } else { -1.0 };
        let pole = position(sign * 90.0, longitude_deg);
        let course_deg = geodesic::inverse(pole, b).initial_course_deg;
        let turn_deg = b.x() - longitude_deg;
        let expected_deg = if north { 180.0 - turn_deg } else { turn_deg };
        prop_assert!(apart_deg(course_deg, expected_deg) < 1e-9, "{course_deg} {expected_deg}");

        // A millimetre short of the pole on that meridian it is nearly the same.
        let beside = position(sign * (90.0 - 1e-8), longitude_deg);
        let near_deg = geodesic::inverse(beside, b).initial_course_deg;
        prop_assert!(apart_deg(course_deg, near_deg) < 1e-5, "{course_deg} {near_deg}");
    }

    #[test]
    fn parts_of_a_line_add_up((a, b) in pair(), fraction in 0.0..=1.0_f64) {
        let whole_km = distance_km(a, b);
        let between = geodesic::interpolate(a, b, fraction);
        prop_assert!((distance_km(a, between) - fraction * whole_km).abs() < 1e-9);
        prop_assert!((distance_km(between, b) - (1.0 - fraction) * whole_km).abs() < 1e-9);
    }

    #[test]
    fn points_along_a_line_are_evenly_spaced((a, b) in pair(), max_spacing_km in 100.0..5000.0_f64) {
        let points = geodesic::points_along(a, b, max_spacing_km);
        prop_assert_eq!(points.first(), Some(&a));
        prop_assert_eq!(points.last(), Some(&b));
        let whole_km = distance_km(a, b);
        let each_km = whole_km / (points.len() - 1) as f64;
        prop_assert!(each_km <= max_spacing_km);
        for step in points.windows(2) {
            prop_assert!((distance_km(step[0], step[1]) - each_km).abs() < 1e-9);
        }
    }

    #[test]
    fn angles_stay_in_their_range(angle_deg in prop_oneof![ANY, -1e3..1e3_f64]) {
        let (longitude_deg, course_deg) =
            (normalise_longitude_deg(angle_deg), normalise_course_deg(angle_deg));
        if angle_deg.is_finite() {
            prop_assert!((-180.0..180.0).contains(&longitude_deg));
            prop_assert!((0.0..360.0).contains(&course_deg));
            prop_assert_eq!(normalise_longitude_deg(longitude_deg), longitude_deg);
            prop_assert_eq!(normalise_course_deg(course_deg), course_deg);
        } else {
            prop_assert!(longitude_deg.is_nan() && course_deg.is_nan());
        }
    }

    #[test]
    fn nothing_makes_a_geodesic_panic(
        numbers in prop::array::uniform6(ANY),
        a in anywhere(),
    ) {
        let [x1, y1, x2, y2, course_deg, run_km] = numbers;
        let (b, c) = (Position::new(x1, y1), Position::new(x2, y2));
        for (from, to) in [(a, b), (b, a), (b, c)] {
            let _ = (geodesic::inverse(from, to), geodesic::interpolate(from, to, run_km));
            let _ = geodesic::direct(from, course_deg, run_km);
            let _ = geodesic::points_along(from, to, run_km.max(100.0));
        }
        prop_assert_eq!(geodesic::points_along(a, a, run_km).len(), 2);
    }
}
