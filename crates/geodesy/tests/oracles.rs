//! The library against independent computations; the scripts beside the fixtures made them.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_geodesy::{
    Ellipsoid, Hemisphere, PolarStereographic, distance_km, geodesic, normalise_longitude_deg,
    position,
};

fn rows(fixture: &str) -> impl Iterator<Item = Vec<&str>> {
    fixture.lines().skip(1).map(|line| line.split(',').collect())
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

#[test]
fn geodesics_agree_with_their_integrals() {
    let mut lines = 0;
    for row in rows(include_str!("fixtures/geodesics_by_quadrature.csv")) {
        let [kind, values @ ..] = &row[..] else { panic!("an empty row") };
        let values: Vec<f64> = values.iter().map(|value| number(value)).collect();
        let [latitude1, course1, latitude2, longitude2, course2, length_km] = values[..] else {
            panic!("six values in {row:?}");
        };
        // Off the zero meridian and across the date line, so that turns of longitude are tried too.
        for longitude1 in [0.0, 170.0, -179.5] {
            let a = position(latitude1, longitude1);
            let b = position(latitude2, longitude1 + longitude2);

            let there = geodesic::direct(a, course1, length_km);
            assert!(distance_km(there.position, b) < 5e-11, "{kind} {row:?}: {there:?}");
            let turned = normalise_longitude_deg(there.course_deg - course2);
            assert!(turned.abs() < 1e-12, "{kind} {row:?}: {there:?}");

            let line = geodesic::inverse(a, b);
            assert!((line.distance_km - length_km).abs() < 5e-11, "{kind} {row:?}: {line:?}");
            // The course of a line to a nearby or nearly antipodal position hangs on the last digit
            // of that position.
            let turned = normalise_longitude_deg(line.initial_course_deg - course1);
            let within = if *kind == "antipodal" { 1e-6 } else { 1e-9 };
            assert!(turned.abs() < within, "{kind} {row:?}: {line:?}");
        }
        lines += 1;
    }
    assert_eq!(lines, 48);
}

#[test]
fn projections_agree_with_proj() {
    let mut lines = 0;
    for row in rows(include_str!("fixtures/polar_stereographic_by_proj.csv")) {
        let [hemisphere, variant, parameter, meridian, ellipsoid, east, north, values @ ..] =
            &row[..]
        else {
            panic!("a short row {row:?}");
        };
        let values: Vec<f64> = values.iter().map(|value| number(value)).collect();
        let [latitude, longitude, x, y, scale, convergence] = values[..] else {
            panic!("six values in {row:?}");
        };
        let hemisphere = match *hemisphere {
            "north" => Hemisphere::North,
            _ => Hemisphere::South,
        };
        let ellipsoid = match *ellipsoid {
            "wgs84" => Ellipsoid::WGS84,
            _ => Ellipsoid::HUGHES_1980,
        };
        let build = match *variant {
            "a" => PolarStereographic::variant_a,
            _ => PolarStereographic::variant_b,
        };
        let projection = build(hemisphere, number(parameter), number(meridian), ellipsoid)
            .unwrap()
            .with_false_origin(number(east), number(north))
            .unwrap();
        let there = position(latitude, longitude);

        let coord = projection.forward(there);
        // The fixture is rounded to a micrometre.
        assert!((coord.x - x).hypot(coord.y - y) < 2e-6, "{row:?}: {coord:?}");
        let back = projection.inverse(coord);
        assert!((back.y() - latitude).abs() < 1e-12, "{row:?}: {back:?}");
        assert!(normalise_longitude_deg(back.x() - longitude).abs() < 1e-10, "{row:?}: {back:?}");
        // PROJ takes its scale from finite differences.
        for got in [projection.point_scale(there), projection.point_scale_at(coord)] {
            assert!((got / scale - 1.0).abs() < 1e-8, "{row:?}: {got}");
        }
        let turned = normalise_longitude_deg(projection.convergence_deg(there) - convergence);
        assert!(turned.abs() < 1e-6, "{row:?}");
        lines += 1;
    }
    assert_eq!(lines, 60);
}
