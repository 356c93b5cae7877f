//! GRIB with bits turned over and cut short: a fault, or values that the quantity can have; in bounded
//! memory, without a panic even one that is caught, and no message is lost in silence.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use std::{
    fs,
    sync::atomic::{AtomicUsize, Ordering},
};

use corpus::{Draws, build, cases, chart_at, count_panics, folder, peak_mb};
use dipward_chart::ForecastGribSpec;

static PANICS: AtomicUsize = AtomicUsize::new(0);

#[test]
fn damage_is_a_fault_or_leaves_possible_values() {
    count_panics(&PANICS);
    let sound: Vec<String> = cases("grib")
        .into_iter()
        .filter(|case| case.refused.is_none() && case.keys.is_empty())
        .map(|case| case.file)
        .collect();
    let mut draws = Draws(5);
    let (mut refused, mut taken) = (0, 0);
    let work = tempfile::tempdir().unwrap();
    for round in 0..1200 {
        // Every sound file in turn, twenty times each.
        let file = &sound[round % sound.len()];
        let mut bytes = fs::read(folder("grib").join(file)).unwrap();
        let cut = round % 6 == 5;
        if cut {
            let keep = draws.below(bytes.len());
            bytes.truncate(keep);
        } else {
            // Headers of sections and pictures tell how the rest is read.
            let range = if round % 2 == 0 { bytes.len().min(260) } else { bytes.len() };
            for _ in 0..=draws.below(2) {
                let place = draws.below(range);
                bytes[place] ^= 1 << draws.below(8);
            }
        }
        fs::write(work.path().join("x.grib2"), &bytes).unwrap();
        let yaml = "{kind: forecast_grib, files: [x.grib2], beyond: hold}";
        let Ok(layer) = build::<ForecastGribSpec>(work.path(), yaml) else {
            refused += 1;
            continue;
        };
        taken += 1;
        // Cut between two messages, or in what follows them, a file is whole.
        assert!(
            !cut || bytes.ends_with(b"7777") || file.starts_with("junk"),
            "{file} cut to {} is taken",
            bytes.len()
        );
        for (latitude_deg, longitude_deg) in [(-63.4, 132.3), (-70.2, 141.7)] {
            let Ok(chart) = chart_at(layer.as_ref(), latitude_deg, longitude_deg) else { continue };
            for quantity in layer.quantities() {
                let value = chart
                    .sample(0.0, quantity, dipward_geodesy::position(latitude_deg, longitude_deg))
                    .unwrap();
                let possible = match quantity.name() {
                    "ice_concentration" => 0.0..=1.0,
                    "wave_height" | "ice_thickness" => 0.0..=50.0,
                    "visibility" => 0.0..=500.0,
                    _ => -170.0..=170.0,
                };
                assert!(value.is_nan() || possible.contains(&value), "{file}: {quantity} {value}");
            }
        }
    }
    eprintln!("{refused} refused, {taken} taken, peak {:?} MB", peak_mb());
    assert!(refused > 300 && taken > 100, "{refused} {taken}");
    assert_eq!(PANICS.load(Ordering::Relaxed), 0, "panics that were caught");
    assert!(peak_mb().is_none_or(|mb| mb < 700), "{:?} MB", peak_mb());
}
