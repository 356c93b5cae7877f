//! The ground field straight from the sheet of current, by the law of Biot and Savart.
//!
//! The poloidal field is that of a current function on the sphere at 110 km,
//!
//! ```text
//!   psi = a/mu_0 sum (2n+1)/n (a/R)^(n+1) P_nm [c cos(m mlt) + s sin(m mlt)],
//! ```
//!
//! which is that of a shell of dipoles psi R n dA. Summing over the sphere with the magnetic
//! coordinates traced at every point asks nothing of the quasi-dipole gradients at the ground, which
//! is what it checks.

use dipward_plugin::Site;

use crate::{
    amps::{
        Drivers, MagneticPlace,
        coefficients::{Coefficients, TERMS},
        dipole::Dipole,
        far_field::FarField,
        field_line::{Stand, apex},
        ground::GroundField,
        legendre::Legendre,
        magnetic_place::quasi_dipole_latitude,
        sun,
        vector::{Vector, dot, norm, plus, scaled},
    },
    igrf14,
};

const RADIUS_KM: f64 = FarField::RADIUS_KM;
const SHEET_KM: f64 = RADIUS_KM + 110.0;

/// mu_0 psi / a in nT at a magnetic place, for harmonics with the drivers put in.
fn current_function(harmonics: &[(usize, usize, f64, f64)], latitude: f64, mlt: f64) -> f64 {
    let legendre = Legendre::at(std::f64::consts::FRAC_PI_2 - latitude, 45);
    harmonics
        .iter()
        .map(|&(n, m, c, s)| {
            let nf = n as f64;
            let turn = (m as f64 * mlt).sin_cos();
            let weight = (2.0 * nf + 1.0) / nf * (RADIUS_KM / SHEET_KM).powf(nf + 1.0);
            weight * legendre.value(n, m) * (c * turn.1 + s * turn.0)
        })
        .sum()
}

/// A piece of the unit sphere and its magnetic coordinates.
struct Point {
    direction: Vector,
    weight: f64,
    latitude: f64,
    longitude: f64,
}

/// The whole sphere, dense about the third of the axes.
fn sphere(axes: [Vector; 3], coordinates: impl Fn(Vector) -> Option<[f64; 2]>) -> Vec<Point> {
    const RINGS: usize = 80;
    const SPOKES: usize = 24;
    let edge = |ring: usize| {
        let t = ring as f64 / RINGS as f64;
        std::f64::consts::PI * (0.03 * t + 0.97 * t.powi(3))
    };
    let mut points = Vec::with_capacity(RINGS * SPOKES);
    for ring in 0..RINGS {
        let (low, high) = (edge(ring), edge(ring + 1));
        let (sine, cosine) = (0.5 * (low + high)).sin_cos();
        let weight = (low.cos() - high.cos()) * std::f64::consts::TAU / SPOKES as f64;
        for spoke in 0..SPOKES {
            let (y, x) = (std::f64::consts::TAU * (spoke as f64 + 0.5) / SPOKES as f64).sin_cos();
            let flat = plus(scaled(axes[0], sine * x), sine * y, axes[1]);
            let direction = plus(flat, cosine, axes[2]);
            if let Some([latitude, longitude]) = coordinates(direction) {
                points.push(Point { direction, weight, latitude, longitude });
            }
        }
    }
    points
}

/// The field at the ground in the direction `up`, from mu_0 psi / a by magnetic coordinates.
fn field_below(points: &[Point], up: Vector, psi: impl Fn(f64, f64) -> f64) -> Vector {
    let ground = scaled(up, RADIUS_KM);
    let mut field = [0.0; 3];
    for &Point { direction, weight, latitude, longitude } in points {
        let psi = psi(latitude, longitude);
        let away = plus(ground, -SHEET_KM, direction);
        let distance = norm(away);
        // The gradient of away . n / distance^3.
        let across = dot(away, direction);
        let gradient =
            plus(scaled(direction, distance.powi(-3)), -3.0 * across / distance.powi(5), away);
        let strength =
            psi * RADIUS_KM * SHEET_KM * SHEET_KM * weight / (4.0 * std::f64::consts::PI);
        field = plus(field, -strength, gradient);
    }
    field
}

#[test]
fn the_ground_field_is_that_of_the_sheet() {
    let model = igrf14().unwrap();
    let ground = GroundField::embedded().unwrap();
    let coefficients = Coefficients::embedded().unwrap();
    let drivers = Drivers { solar_wind_km_per_s: 500.0, by_nt: 3.0, bz_nt: -5.0, f10_7: 120.0 };
    let far = FarField::new(&model, 2027.0);
    let dipole = Dipole::of(&far);
    for (latitude_deg, longitude_deg, month) in [(85.42, 132.0, 6), (-63.77, 134.75, 12)] {
        let site = Site { latitude_deg, longitude_deg, height_km: 0.0 };
        let place = MagneticPlace::of(&model, 2027.0, &site).unwrap();
        // One sheet on the sphere of magnetic coordinates, where the two must be one and the same;
        // one above the Earth, where the coordinates bend with height and place.
        let latitude = place.quasi_dipole_latitude_deg().to_radians();
        let longitude = place.longitude_deg().to_radians();
        let ((sl, cl), (sm, cm)) = (latitude.sin_cos(), longitude.sin_cos());
        let ideal = [[-sl * cm, -sl * sm, cl], [-sm, cm, 0.0], [cl * cm, cl * sm, sl]];
        let ideal_sheet = sphere(ideal, |at| Some([at[2].asin(), at[1].atan2(at[0])]));
        let Stand { north, east, .. } = place.stand;
        let up = scaled(place.stand.place, 1.0 / norm(place.stand.place));
        let north = plus(north, -dot(north, up), up);
        let north = scaled(north, 1.0 / norm(north));
        let sheet = sphere([north, east, up], |at| {
            let top = apex(&far, scaled(at, SHEET_KM / RADIUS_KM)).ok()?;
            let longitude = dipole.longitude_deg(top.place).to_radians();
            Some([quasi_dipole_latitude(110.0, &top), longitude])
        });
        for hour in [4, 13] {
            let instant = format!("2027-{month:02}-21T{hour:02}:00Z").parse().unwrap();
            let sun = sun::direction(instant);
            let tilt = dipole.tilt_deg(sun);
            let noon = dipole.longitude_deg(sun).to_radians() - std::f64::consts::PI;
            let terms = drivers.terms(tilt);
            let put_in = |values: &[f64; TERMS]| -> f64 {
                values.iter().zip(&terms).map(|(value, term)| value * term).sum()
            };
            let harmonics: Vec<_> = coefficients
                .poloidal
                .iter()
                .map(|h| (h.degree, h.order, put_in(&h.cosine), put_in(&h.sine)))
                .collect();
            let psi =
                |latitude, longitude| current_function(&harmonics, latitude, longitude - noon);

            let below = field_below(&ideal_sheet, ideal[2], psi);
            let own = ground.magnetic_components_nt(
                place.quasi_dipole_latitude_deg(),
                place.local_time_h(instant),
                tilt,
                &drivers,
            );
            let off = (dot(below, ideal[1]) - own[0]).hypot(dot(below, ideal[0]) - own[1]);
            assert!(off < 0.01 * own[0].hypot(own[1]), "{off} {own:?}");

            let below = field_below(&sheet, up, psi);
            let own = ground.north_east_nt(&place, instant, &drivers);
            let off = (dot(below, north) - own[0]).hypot(dot(below, east) - own[1]);
            let part = off / own[0].hypot(own[1]);
            println!("{site:?} {hour} h: {part:.4} of {own:.1?}");
            assert!(part < 0.08, "{part}");
        }
    }
}
