//! Figures that others published or computed, each with its source beside it.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use dipward_field::{DipPole, all_dip_poles, dip_pole, displaced_pole, igrf14, wmm2025};
use dipward_geodesy::{
    Hemisphere::{self, North, South},
    geodesic,
};
use dipward_plugin::{FieldSample, MainField, Site};

fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> {
    text.lines().skip(1).map(|line| line.split(',').flat_map(str::parse).collect())
}

/// Greatest difference from X, Y, Z over rows of year, height, latitude, longitude, x, y, z.
fn worst(model: &dyn MainField, rows: impl Iterator<Item = [f64; 7]>) -> (usize, f64) {
    rows.fold(
        (0, 0.0),
        |(count, worst), [year, height_km, latitude_deg, longitude_deg, x, y, z]| {
            let mut out = [FieldSample::default()];
            model
                .sample(year, &[Site { latitude_deg, longitude_deg, height_km }], &mut out)
                .unwrap();
            let own = out[0].vector;
            let off = [own.north_nt - x, own.east_nt - y, own.down_nt - z];
            (count + 1, off.iter().fold(worst, |worst: f64, off| worst.max(off.abs())))
        },
    )
}

/// NOAA NCEI and British Geological Survey, WMM2025 test values (WMM2025_TestValues.txt); the table
/// itself carries up to 7e-4 nT.
#[test]
fn published_wmm2025_test_values() {
    let table = include_str!("fixtures/wmm2025_test_values.csv");
    let rows = rows(table).map(|row| [row[0], row[1], row[2], row[3], row[4], row[5], row[6]]);
    let (count, worst) = worst(&wmm2025().unwrap(), rows);
    assert_eq!(count, 100);
    assert!(worst < 0.001, "{worst} nT");
}

/// ppigrf 2.1.0 (K. Laundal), through `fixtures/igrf14_ppigrf.py`.
#[test]
fn published_igrf14_by_ppigrf() {
    let table = include_str!("fixtures/igrf14_ppigrf.csv");
    let rows = rows(table).map(|row| [row[0], row[3], row[1], row[2], row[4], row[5], row[6]]);
    let (count, worst) = worst(&igrf14().unwrap(), rows);
    assert_eq!(count, 398);
    assert!(worst < 0.002, "{worst} nT");
}

fn igrf_pole(hemisphere: Hemisphere, year: f64) -> DipPole {
    dip_pole(&igrf14().unwrap(), hemisphere, year, 0.0).unwrap()
}

/// Alken et al. 2021, Earth Planets Space 73:49, Table 4 (definitive fields of 1900 to 1985, which
/// IGRF-14 leaves as they were).
#[test]
fn published_dip_poles_of_igrf() {
    for row in rows(include_str!("fixtures/dip_poles_published.csv")) {
        for (hemisphere, latitude, longitude) in [(North, row[1], row[2]), (South, row[3], row[4])]
        {
            let pole = igrf_pole(hemisphere, row[0]).position;
            // The table is rounded to 0.01 degrees.
            assert!((pole.y() - latitude).abs() < 0.0051, "{} {hemisphere}: {pole:?}", row[0]);
            assert!((pole.x() - longitude).abs() < 0.0051, "{} {hemisphere}: {pole:?}", row[0]);
        }
    }
}

/// Computed for this project with another program, not published.
#[test]
fn dip_poles_of_other_years_and_of_wmm2025() {
    for (hemisphere, year, latitude, longitude, drift) in [
        (North, 1900.0, 70.45977, -96.18545, Some(4.9)),
        (North, 2020.0, 86.49392, 162.90662, Some(45.0)),
        (North, 2025.0, 85.72730, 138.61583, Some(35.9)),
        (South, 1900.0, -71.72130, 148.32484, None),
        (South, 2020.0, -64.07904, 135.86609, None),
        (South, 2025.0, -63.85805, 135.06347, None),
    ] {
        let pole = igrf_pole(hemisphere, year).position;
        assert!((pole.y() - latitude).abs() < 6e-6);
        assert!((pole.x() - longitude).abs() < 6e-6);
        if let Some(drift) = drift {
            // The other program took the way of a year, half of it before the epoch.
            let early = igrf_pole(hemisphere, (year - 0.5).max(1900.0)).position;
            let late = igrf_pole(hemisphere, year + 0.5).position;
            let years = if year == 1900.0 { 0.5 } else { 1.0 };
            let speed = geodesic::distance_km(early, late) / years;
            assert!((speed - drift).abs() < 0.07, "{speed}");
        }
    }
    for year in [2025.0, 2026.5, 2028.0, 2029.9] {
        let speed = igrf_pole(South, year).drift_km_per_year;
        assert!((8.75..=9.15).contains(&speed), "{speed}");
    }
    let wmm = wmm2025().unwrap();
    for (hemisphere, latitude, longitude) in
        [(North, 85.76207, 139.29527), (South, -63.85124, 135.07776)]
    {
        let pole = dip_pole(&wmm, hemisphere, 2025.0, 0.0).unwrap().position;
        assert!((pole.y() - latitude).abs() < 6e-6 && (pole.x() - longitude).abs() < 6e-6);
    }
    assert_eq!(all_dip_poles(&wmm, 2027.0, 0.0).unwrap().len(), 2);
}

/// Computed for this project with another program, not published.
#[test]
fn jacobians_of_2027_and_what_a_hundred_nanotesla_do() {
    for (hemisphere, jacobian, steepness, [least, mean, most]) in [
        (North, [[-3.3710, 1.6921], [1.6921, -3.5823]], [5.172, 1.781], [19.4, 39.9, 57.1]),
        (South, [[7.4630, 1.5491], [1.5491, 6.4094]], [8.572, 5.300], [11.9, 15.5, 18.7]),
    ] {
        let model = igrf14().unwrap();
        let pole = igrf_pole(hemisphere, 2027.0);
        let own = pole.jacobian_nt_per_km.concat();
        for (own, theirs) in own.iter().zip(jacobian.concat()) {
            assert!((own - theirs).abs() < 6e-4, "{own}");
        }
        for (own, theirs) in pole.steepness_nt_per_km().iter().zip(steepness) {
            assert!((own - theirs).abs() < 6e-4, "{own}");
        }
        assert!(!pole.is_saddle());
        let all: Vec<f64> = (0..720)
            .map(|at| {
                let (east, north) = (f64::from(at) / 2.0).to_radians().sin_cos();
                let moved = displaced_pole(&model, &pole, 100.0 * north, 100.0 * east).unwrap();
                geodesic::distance_km(pole.position, moved.unwrap())
            })
            .collect();
        // The other program stepped round the compass more coarsely.
        let near = |own: f64, theirs: f64| assert!((own - theirs).abs() < 0.25, "{own} {theirs}");
        near(all.iter().copied().fold(f64::MAX, f64::min), least);
        near(all.iter().sum::<f64>() / 720.0, mean);
        near(all.iter().copied().fold(0.0, f64::max), most);
    }
}

/// Computed for this project with another program, not published.
#[test]
fn raising_the_height_moves_the_pole() {
    for (hemisphere, km) in [(North, 2.7), (South, 0.45)] {
        let model = igrf14().unwrap();
        let ground = igrf_pole(hemisphere, 2027.0).position;
        let above = dip_pole(&model, hemisphere, 2027.0, 3.0).unwrap().position;
        let moved = geodesic::distance_km(ground, above);
        assert!((moved - km).abs() < 0.06, "{moved}");
    }
}
