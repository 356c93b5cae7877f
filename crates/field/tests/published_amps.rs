//! The currents' field and the magnetic coordinates against the packages that their authors publish,
//! through `fixtures/amps_pyamps.py`.

use dipward_field::{
    amps::{Drivers, GroundField, MagneticPlace},
    igrf14,
};
use dipward_plugin::Site;

/// Rows of a CSV file, its header left out; what is not a number is NaN.
fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> {
    text.lines()
        .skip(1)
        .map(|line| line.split(',').map(|field| field.parse().unwrap_or(f64::NAN)).collect())
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
    println!("{count} rows, worst {worst:.5} nT");
    assert_eq!(count, 864);
    assert!(worst < 0.001, "{worst} nT");
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
        println!("{site:?} {latitude:.4} {off:.4?}");
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off.abs());
        }
    }
    println!("{worst:.4?}");
}
