//! The currents' field and the magnetic coordinates against the packages that their authors publish,
//! through `fixtures/amps_pyamps.py`.

use dipward_field::{
    amps::{Drivers, GroundField, MagneticPlace, SpaceField},
    igrf14,
};
use dipward_plugin::Site;

/// Rows of a CSV file, its header left out; what is not a number is NaN.
fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> {
    text.lines()
        .skip(1)
        .map(|line| line.split(',').map(|field| field.parse().unwrap_or(f64::NAN)).collect())
}

/// The time that a row begins with.
fn instant_of(line: &str) -> jiff::Timestamp {
    let time = line.split(',').next().unwrap_or_default().replace('Z', ":00Z");
    time.parse().unwrap_or_default()
}

/// pyamps 1.8 (K. M. Laundal), `AMPS.get_ground_perturbation`, at the same magnetic latitude, local
/// time and tilt: the harmonics and the driving functions by themselves.
#[test]
fn published_ground_perturbation_in_magnetic_components() {
    let field = GroundField::embedded().unwrap();
    let mut worst = 0.0_f64;
    let mut count = 0;
    for row in rows(include_str!("fixtures/amps_ground_pyamps.csv")) {
        let drivers =
            Drivers { solar_wind_km_per_s: row[4], by_nt: row[5], bz_nt: row[6], f10_7: row[7] };
        let own = field.magnetic_components_nt(row[8], row[9], row[10], &drivers);
        // The fixture gives latitude to 1e-5 degrees and the field to 1e-4 nT.
        for (own, theirs) in own.into_iter().zip([row[11], row[12]]) {
            worst = worst.max((own - theirs).abs());
        }
        count += 1;
    }
    assert_eq!(count, 864);
    assert!(worst < 0.001, "{worst} nT");
}

/// The same, from place and time on: own magnetic coordinates against those of apexpy's fit, which is
/// off by up to 0.06 degrees here, own local time and tilt against those of pyamps.
#[test]
fn published_ground_perturbation_at_the_dip_poles() {
    let field = GroundField::embedded().unwrap();
    let model = igrf14().unwrap();
    let table = include_str!("fixtures/amps_ground_pyamps.csv");
    let (mut worst, mut worst_tilt, mut worst_time) = (0.0_f64, 0.0_f64, 0.0_f64);
    let mut squares = [0.0; 2];
    let mut last: Option<(Vec<f64>, MagneticPlace)> = None;
    for (line, row) in table.lines().skip(1).zip(rows(table)) {
        let instant = instant_of(line);
        let site = Site { latitude_deg: row[2], longitude_deg: row[3], height_km: 0.0 };
        let place = match last.take().filter(|(key, _)| *key == row[1..4]) {
            Some((_, place)) => place,
            None => MagneticPlace::of(&model, row[1], &site).unwrap(),
        };
        let drivers =
            Drivers { solar_wind_km_per_s: row[4], by_nt: row[5], bz_nt: row[6], f10_7: row[7] };
        let own = field.north_east_nt(&place, instant, &drivers);
        let length = row[13].hypot(row[14]);
        let off = (own[0] - row[13]).hypot(own[1] - row[14]);
        // 2 % of the field, or 1 nT where that is more.
        worst = worst.max(off / (0.02 * length).max(1.0));
        squares[0] += off * off;
        squares[1] += length * length;
        worst_tilt = worst_tilt.max((place.dipole_tilt_deg(instant) - row[10]).abs());
        let late = (place.local_time_h(instant) - row[9] + 36.0).rem_euclid(24.0) - 12.0;
        worst_time = worst_time.max(late.abs());
        last = Some((row[1..4].to_vec(), place));
    }
    let rms = (squares[0] / squares[1]).sqrt();
    assert!(worst < 1.0, "{worst}");
    assert!(rms < 0.01, "{rms}");
    assert!(worst_tilt < 0.01 && worst_time < 0.02, "{worst_tilt} {worst_time}");
}

/// pyamps 1.8, `get_B_space`: the toroidal and the poloidal part above the currents. The field turns
/// over within a few degrees of latitude there, so that what apexpy's fit is off shows.
#[test]
fn published_field_in_space() {
    let field = SpaceField::embedded().unwrap();
    let model = igrf14().unwrap();
    let table = include_str!("fixtures/amps_space_pyamps.csv");
    let (mut worst, mut squares) = (0.0_f64, [0.0; 2]);
    for (line, row) in table.lines().skip(1).zip(rows(table)) {
        let site = Site { latitude_deg: row[2], longitude_deg: row[3], height_km: row[4] };
        let place = MagneticPlace::of(&model, row[1], &site).unwrap();
        let drivers =
            Drivers { solar_wind_km_per_s: row[5], by_nt: row[6], bz_nt: row[7], f10_7: row[8] };
        let own = field.north_east_up_nt(&place, instant_of(line), &drivers).unwrap();
        let square = |values: [f64; 3]| values.iter().map(|x| x * x).sum::<f64>();
        let theirs = [row[9], row[10], row[11]];
        let off = square([0, 1, 2].map(|k| own[k] - theirs[k]));
        worst = worst.max(off.sqrt());
        squares = [squares[0] + off, squares[1] + square(theirs)];
    }
    let rms = (squares[0] / squares[1]).sqrt();
    assert!(worst < 4.0 && rms < 0.02, "{worst} {rms}");
}

/// apexpy 2.1.1 (C. van der Meeren, K. M. Laundal et al.), both its fit by spherical harmonics
/// (J. T. Emmert et al. 2010) and its Fortran tracing (A. D. Richmond).
#[test]
fn published_quasi_dipole_coordinates() {
    let model = igrf14().unwrap();
    let mut worst = [0.0_f64; 5];
    for row in rows(include_str!("fixtures/amps_places_apexpy.csv")) {
        let site = Site { latitude_deg: row[1], longitude_deg: row[2], height_km: row[3] };
        let place = MagneticPlace::of(&model, row[0], &site).unwrap();
        let latitude = place.quasi_dipole_latitude_deg();
        let east_of = |longitude_deg: f64| {
            let turn = (place.longitude_deg() - longitude_deg + 540.0).rem_euclid(360.0) - 180.0;
            turn * latitude.to_radians().cos()
        };
        let base = place.quasi_dipole_base();
        let apex = place.modified_apex_latitude_deg(110.0).unwrap();
        let off = [
            (latitude - row[4]).hypot(east_of(row[5])),
            apex - row[6],
            (base[0][0] - row[7]).hypot(base[0][1] - row[8]),
            (base[1][0] - row[9]).hypot(base[1][1] - row[10]),
            (latitude - row[11]).hypot(east_of(row[12])),
        ];
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off.abs());
        }
    }
    // Against the fit: degrees, degrees of latitude, base vectors, which have no unit. The fit is
    // what is off: it and the tracing of its own package differ by as much.
    assert!(worst[0] < 0.15 && worst[1] < 0.15 && worst[2] < 0.015 && worst[3] < 0.01, "{worst:?}");
    // Against the tracing, which is in single precision.
    assert!(worst[4] < 0.03, "{worst:?}");
}

/// IGRF-14 by ppigrf 2.1.0, lines by scipy's DOP853 at 1e-9, through
/// `fixtures/amps_places_scipy.py`.
#[test]
fn published_apexes_by_high_order_integration() {
    let model = igrf14().unwrap();
    for row in rows(include_str!("fixtures/amps_places_scipy.csv")) {
        let site = Site { latitude_deg: row[1], longitude_deg: row[2], height_km: row[3] };
        let place = MagneticPlace::of(&model, row[0], &site).unwrap();
        let latitude = place.quasi_dipole_latitude_deg() - row[4];
        let longitude = place.longitude_deg() - row[5];
        let height = place.apex_height_km() / row[6] - 1.0;
        assert!(latitude.abs() < 1e-5 && longitude.abs() < 1e-5 && height.abs() < 1e-5);
    }
}

/// Recomputed, not published: how far the average currents carry the dip pole over a day of 2027,
/// mean and greatest, km, by the Jacobian of IGRF-14 there. The figures were once made with pyamps for
/// F10.7 = 120, with the magnetic components laid along unit vectors of f1 and f2. That is right only
/// where magnetic north and east are at right angles; by the gradients, as the library has it, the
/// northern pole is carried some 15 % less far.
#[test]
fn recomputed_displacements_of_the_dip_poles() {
    // (N, E) nT per km along the ellipsoid, 2027.0.
    let north = (85.42, 132.0, [[-3.3710, 1.6921], [1.6921, -3.5823]]);
    let south = (-63.77, 134.75, [[7.4630, 1.5491], [1.5491, 6.4094]]);
    let wind = |solar_wind_km_per_s, bz_nt| Drivers {
        solar_wind_km_per_s,
        by_nt: 0.0,
        bz_nt,
        f10_7: 120.0,
    };
    let (quiet, active) = (wind(370.0, 0.0), wind(500.0, -5.0));
    let field = GroundField::embedded().unwrap();
    let model = igrf14().unwrap();
    for ((latitude_deg, longitude_deg, jacobian), month, drivers, expected) in [
        (north, 6, quiet, [6.5, 13.0]),
        (north, 12, quiet, [1.3, 3.3]),
        (south, 12, quiet, [2.1, 4.2]),
        (south, 6, quiet, [0.7, 1.2]),
        (north, 6, active, [36.0, 67.0]),
        (north, 12, active, [17.0, 28.0]),
        (south, 12, active, [13.0, 23.0]),
        (south, 6, active, [5.6, 8.2]),
    ] {
        let site = Site { latitude_deg, longitude_deg, height_km: 0.0 };
        let place = MagneticPlace::of(&model, 2027.0, &site).unwrap();
        let start: jiff::Timestamp = format!("2027-{month:02}-21T00:00Z").parse().unwrap();
        let [[a, b], [c, d]] = jacobian;
        let determinant: f64 = a * d - b * c;
        let km =
            |[n, e]: [f64; 2]| ((d * n - b * e) / determinant).hypot((a * e - c * n) / determinant);
        let [f1, f2] = place.quasi_dipole_base();
        let (f1_length, f2_length) = (f1[0].hypot(f1[1]), f2[0].hypot(f2[1]));
        let (mut by_gradient, mut by_unit_vectors) = ([0.0_f64; 2], [0.0_f64; 2]);
        for quarter in 0..96 {
            let instant = start + jiff::SignedDuration::from_mins(15 * quarter);
            let [east, north] = field.magnetic_components_nt(
                place.quasi_dipole_latitude_deg(),
                place.local_time_h(instant),
                place.dipole_tilt_deg(instant),
                &drivers,
            );
            let unit = [1, 0].map(|k| east * f1[k] / f1_length + north * f2[k] / f2_length);
            let gradient = field.north_east_nt(&place, instant, &drivers);
            for (out, km) in [(&mut by_gradient, km(gradient)), (&mut by_unit_vectors, km(unit))] {
                *out = [out[0] + km / 96.0, out[1].max(km)];
            }
        }
        println!("{latitude_deg}, month {month}: {by_gradient:.1?} {by_unit_vectors:.1?} km");
        for k in 0..2 {
            // The figures have two digits.
            let digit: f64 = if expected[k] < 10.0 { 0.1 } else { 1.0 };
            let off = (by_unit_vectors[k] - expected[k]).abs();
            assert!(off < digit.max(0.05 * expected[k]), "{by_unit_vectors:?} {expected:?}");
            assert!((by_gradient[k] / expected[k] - 1.0).abs() < 0.25, "{by_gradient:?}");
        }
    }
}
