//! Dip poles of made-up fields: near the geographic pole, many at once, none at all.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use std::fmt::Write;

use dipward_field::{GaussModel, all_dip_poles, dip_pole, displaced_pole, doubt, igrf14, read_shc};
use dipward_geodesy::{Hemisphere, geodesic, position};
use dipward_plugin::{FieldSample, MainField, Provenance, Site};
use proptest::prelude::*;

/// A model of given rows of degree, order (negative for h) and value.
fn model(degree: i32, value: impl Fn(i32, i32) -> f64) -> GaussModel {
    let mut text = format!("# made up\n1 {degree} 1 1 1\n2000\n");
    for n in 1..=degree {
        for m in -n..=n {
            writeln!(text, "{n} {m} {}", value(n, m)).unwrap();
        }
    }
    GaussModel::new(read_shc(text.as_bytes()).unwrap(), Provenance::default(), doubt::IGRF14)
}

fn horizontal_nt(model: &dyn MainField, latitude_deg: f64, longitude_deg: f64) -> f64 {
    let mut out = [FieldSample::default()];
    model
        .sample(2000.0, &[Site { latitude_deg, longitude_deg, height_km: 0.0 }], &mut out)
        .unwrap();
    out[0].vector.horizontal_nt()
}

/// A number from -1 to 1 that looks random.
fn rough(seed: i32, n: i32, m: i32) -> f64 {
    (f64::from(seed) * 12.9898 + f64::from(n) * 78.233 + f64::from(m) * 37.719).sin() * 43_758.545_3
        % 1.0
}

#[test]
fn an_axial_dipole_has_its_poles_at_the_geographic_ones() {
    let axial = model(1, |_, m| if m == 0 { -30_000.0 } else { 0.0 });
    let poles = all_dip_poles(&axial, 2000.0, 0.0).unwrap();
    assert_eq!(poles.len(), 2);
    assert!((poles[0].position.y() - 90.0).abs() < 1e-8);
    assert!((poles[1].position.y() + 90.0).abs() < 1e-8);
    assert_eq!(poles[0].hemisphere, Hemisphere::North);
    // It does not drift, and its model answers for any year.
    assert_eq!(poles[0].drift_km_per_year, 0.0);
    // A push moves it off along a meridian and back.
    let moved = displaced_pole(&axial, &poles[0], 500.0, 0.0).unwrap().unwrap();
    let km = geodesic::distance_km(poles[0].position, moved);
    let [[j, _], _] = poles[0].jacobian_nt_per_km;
    assert!((km + 500.0 / j).abs() < 1.0, "{km}");
}

#[test]
fn a_field_without_one_of_the_poles_says_so() {
    let none = model(1, |_, _| 0.0);
    let told = dip_pole(&none, Hemisphere::North, 2000.0, 0.0).unwrap_err().to_string();
    assert!(told.contains("no north dip pole"), "{told}");
    assert!(all_dip_poles(&none, 2000.0, 0.0).unwrap().is_empty());
    // Vertical all along the equator.
    let zonal = model(2, |n, m| if n == 2 && m == 0 { 20_000.0 } else { 0.0 });
    let _ = all_dip_poles(&zonal, 2000.0, 0.0);
}

/// On a sphere, proper poles less saddles are two (Poincare and Hopf): a set that adds up to another
/// number has missed one.
#[test]
fn a_rough_crust_makes_more_poles_and_none_is_missed() {
    let core = igrf14().unwrap().parts()[0].clone();
    let mut seen_many = false;
    for (seed, strength) in [(1, 3.0), (2, 25.0), (3, 50.0)] {
        let crust = model(30, |n, m| if n < 14 { 0.0 } else { strength * rough(seed, n, m) });
        let whole = GaussModel::new(core.clone(), Provenance::default(), doubt::IGRF14)
            .plus(crust.parts()[0].clone());
        let poles = all_dip_poles(&whole, 2000.0, 0.0).unwrap();
        let saddles = poles.iter().filter(|pole| pole.is_saddle()).count();
        println!("{strength} nT: {} poles, {saddles} saddles", poles.len());
        assert_eq!(poles.len() - 2 * saddles, 2);
        seen_many |= poles.len() > 2;
        for pole in &poles {
            let at = pole.position;
            assert!(horizontal_nt(&whole, at.y(), at.x()) < 1e-5);
        }
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let principal = dip_pole(&whole, hemisphere, 2000.0, 0.0).unwrap();
            assert!(!principal.is_saddle());
            assert!(
                poles.iter().any(|pole| {
                    geodesic::distance_km(pole.position, principal.position) < 1e-3
                })
            );
        }
    }
    assert!(seen_many);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Dipoles tilted by next to nothing have their poles next to the geographic ones.
    #[test]
    fn poles_near_the_geographic_pole_are_found(
        tilt in -9.0..0.0_f64,
        longitude in -180.0..180.0_f64,
        quadrupole in -500.0..500.0_f64,
    ) {
        let across = 30_000.0 * 10.0_f64.powf(tilt);
        let (sine, cosine) = longitude.to_radians().sin_cos();
        let model = model(2, |n, m| match (n, m) {
            (1, 0) => -30_000.0,
            (1, 1) => across * cosine,
            (1, -1) => across * sine,
            (2, 0) => quadrupole,
            _ => 0.0,
        });
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let pole = dip_pole(&model, hemisphere, 2000.0, 0.0).unwrap();
            let at = pole.position;
            prop_assert!(horizontal_nt(&model, at.y(), at.x()) < 1e-6);
            let moved = displaced_pole(&model, &pole, 100.0, -50.0).unwrap().unwrap();
            let linear = pole.linear_displacement_km([100.0, -50.0]).unwrap();
            let km = geodesic::distance_km(at, moved);
            prop_assert!((km / linear[0].hypot(linear[1]) - 1.0).abs() < 0.05);
        }
    }

    /// Newton's method from anywhere within some hundred km comes back to the pole.
    #[test]
    fn the_nearest_pole_is_found_from_around(bearing in 0.0..360.0, km in 0.0..300.0) {
        let model = igrf14().unwrap();
        let exact = dip_pole(&model, Hemisphere::North, 2027.0, 0.0).unwrap();
        let guess = geodesic::direct(exact.position, bearing, km).position;
        let again = dipward_field::dip_pole_near(&model, guess, 2027.0, 0.0).unwrap();
        prop_assert!(geodesic::distance_km(exact.position, again.position) < 1e-6);
    }
}

#[test]
fn drift_is_the_way_between_two_times() {
    let model = igrf14().unwrap();
    for hemisphere in [Hemisphere::North, Hemisphere::South] {
        let at = |year| dip_pole(&model, hemisphere, year, 0.0).unwrap();
        let (early, now, late) = (at(2026.99), at(2027.0), at(2027.01));
        let way = geodesic::inverse(early.position, late.position);
        assert!((way.distance_km / 0.02 - now.drift_km_per_year).abs() < 1e-3);
        let middle_course = geodesic::inverse(now.position, late.position).initial_course_deg;
        assert!((middle_course - now.drift_bearing_deg).abs() < 0.05);
    }
    let end = dip_pole(&model, Hemisphere::South, 2030.0, 0.0).unwrap();
    assert!(end.drift_km_per_year > 8.0);
    let _ = position(0.0, 0.0);
}
