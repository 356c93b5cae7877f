//! What must hold of every projection, everywhere.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_geodesy::{
    Ellipsoid, Hemisphere, PolarStereographic, Position, geodesic, normalise_longitude_deg,
    position,
};
use geo::{Coord, coord};
use proptest::num::f64::ANY;
use proptest::prelude::*;

fn hemisphere() -> impl Strategy<Value = Hemisphere> {
    prop_oneof![Just(Hemisphere::North), Just(Hemisphere::South)]
}

fn longitude_deg() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -180.0..180.0_f64,
        1 => Just(-180.0),
        1 => Just(0.0),
        1 => (1e-12..1e-3_f64).prop_map(|short| 180.0 - short),
        1 => (1e-12..1e-3_f64).prop_map(|past| past - 180.0),
    ]
}

/// Latitudes as if on the northern hemisphere, with the pole, its neighbourhood down to a
/// micrometre, and the other hemisphere to within a degree of the opposite pole.
fn polar_latitude_deg() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => 30.0..90.0_f64,
        2 => -89.0..30.0_f64,
        1 => Just(90.0),
        2 => (-11.0..0.0_f64).prop_map(|power| 90.0 - 10.0_f64.powf(power)),
    ]
}

fn projection() -> impl Strategy<Value = PolarStereographic> {
    let ellipsoid = prop_oneof![Just(Ellipsoid::WGS84), Just(Ellipsoid::HUGHES_1980)];
    let true_scale_deg = prop_oneof![4 => 0.0..=90.0_f64, 1 => Just(90.0), 1 => Just(0.0)];
    (hemisphere(), true_scale_deg, longitude_deg(), ellipsoid).prop_map(
        |(hemisphere, true_scale_deg, meridian_deg, ellipsoid)| {
            let true_scale_deg = hemisphere.sign() * true_scale_deg;
            PolarStereographic::variant_b(hemisphere, true_scale_deg, meridian_deg, ellipsoid)
                .unwrap()
        },
    )
}

fn projection_and_position() -> impl Strategy<Value = (PolarStereographic, Position)> {
    (projection(), polar_latitude_deg(), longitude_deg()).prop_map(
        |(projection, latitude_deg, longitude_deg)| {
            (projection, position(projection.hemisphere().sign() * latitude_deg, longitude_deg))
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4096, failure_persistence: None, ..Default::default() })]

    #[test]
    fn positions_come_back_from_the_map((projection, there) in projection_and_position()) {
        let back = projection.inverse(projection.forward(there));
        prop_assert!((back.y() - there.y()).abs() < 1e-9, "{there:?} came back as {back:?}");
        // At the pole itself any longitude is the same place.
        if there.y().abs() < 90.0 {
            let turned = normalise_longitude_deg(back.x() - there.x());
            prop_assert!(turned.abs() < 1e-9, "{there:?} came back as {back:?}");
        }
        prop_assert!((-180.0..180.0).contains(&back.x()));
    }

    #[test]
    fn places_come_back_from_the_earth(
        projection in projection(),
        x in -1.2e7..1.2e7_f64,
        y in -1.2e7..1.2e7_f64,
    ) {
        let back = projection.forward(projection.inverse(coord! { x: x, y: y }));
        prop_assert!((back.x - x).hypot(back.y - y) < 1e-6, "{x} {y} came back as {back:?}");
    }

    #[test]
    fn a_false_origin_only_moves_the_map(
        (projection, there) in projection_and_position(),
        east_m in -1e7..1e7_f64,
        north_m in -1e7..1e7_f64,
    ) {
        let moved = projection.with_false_origin(east_m, north_m).unwrap();
        let by = moved.forward(there) - projection.forward(there);
        let size_m = projection.forward(there).x.hypot(projection.forward(there).y) + 1e7;
        prop_assert!((by.x - east_m).hypot(by.y - north_m) < 1e-15 * size_m);
        let gap_km = geodesic::distance_km(moved.inverse(moved.forward(there)), there);
        prop_assert!(gap_km < 1e-11 * (1.0 + size_m / 1e7), "{gap_km}");
    }

    #[test]
    fn the_scale_is_one_where_it_should_be(
        hemisphere in hemisphere(),
        true_scale_deg in 0.0..=90.0_f64,
        longitude_deg in longitude_deg(),
    ) {
        let projection =
            PolarStereographic::variant_b(hemisphere, true_scale_deg, 10.0, Ellipsoid::WGS84)
                .unwrap();
        let there = position(hemisphere.sign() * true_scale_deg, longitude_deg);
        prop_assert!((projection.point_scale(there) - 1.0).abs() < 1e-14);
        let on_map = projection.forward(there);
        prop_assert!((projection.point_scale_at(on_map) - 1.0).abs() < 1e-14);
    }

    /// A hundred metres on the Earth, in any direction: as long on the map as the scale says, and
    /// turned as the convergence says. This is what makes the projection conformal.
    #[test]
    fn short_lines_keep_their_courses(
        (projection, there) in projection_and_position(),
        course_deg in 0.0..360.0_f64,
    ) {
        let projection = PolarStereographic::variant_a(
            projection.hemisphere(),
            0.97,
            projection.central_meridian_deg(),
            Ellipsoid::WGS84,
        )
        .unwrap();
        // Towards the opposite pole the scale changes within the line itself.
        prop_assume!(projection.hemisphere().sign() * there.y() > -60.0);
        let end = geodesic::direct(there, course_deg, 0.1).position;
        let run = projection.forward(end) - projection.forward(there);
        let scale = run.x.hypot(run.y) / 100.0;
        prop_assert!((scale / projection.point_scale(there) - 1.0).abs() < 1e-4);
        let map_course_deg = run.x.atan2(run.y).to_degrees();
        let turned = normalise_longitude_deg(
            map_course_deg - projection.convergence_deg(there) - course_deg,
        );
        prop_assert!(turned.abs() < 0.005, "{turned} degrees off");
    }

    #[test]
    fn projections_come_back_from_json(
        projection in projection(),
        east_m in -1e9..1e9_f64,
        north_m in -1e9..1e9_f64,
    ) {
        let written = serde_json::to_string(&projection.with_false_origin(east_m, north_m).unwrap());
        let text = written.unwrap();
        let back: PolarStereographic = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(serde_json::to_string(&back).unwrap(), text);
    }

    #[test]
    fn nothing_makes_a_projection_panic(
        hemisphere in hemisphere(),
        numbers in prop::array::uniform6(ANY),
        x in ANY,
        y in ANY,
    ) {
        let [parameter, meridian_deg, semi_major_m, inverse_flattening, east_m, north_m] = numbers;
        let figure = Ellipsoid { semi_major_m, inverse_flattening };
        for (ellipsoid, parameter) in
            [(figure, parameter), (Ellipsoid::WGS84, parameter), (Ellipsoid::WGS84, 0.9)]
        {
            for projection in [
                PolarStereographic::variant_a(hemisphere, parameter, meridian_deg, ellipsoid),
                PolarStereographic::variant_b(hemisphere, parameter, meridian_deg, ellipsoid),
                PolarStereographic::variant_b(hemisphere, 70.0, 0.0, ellipsoid)
                    .and_then(|projection| projection.with_false_origin(east_m, north_m)),
            ]
            .into_iter()
            .flatten()
            {
                let place = Coord { x, y };
                let there = Position::new(x, y);
                let _ = (projection.forward(there), projection.inverse(place));
                let _ = (projection.point_scale(there), projection.point_scale_at(place));
                let _ = projection.convergence_deg(there);
            }
        }
    }
}
