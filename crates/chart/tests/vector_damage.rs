//! Shapefiles, GeoPackages and GeoJSON with bits turned over and cut short: a fault, or values that the
//! quantity can have; in bounded memory, without a panic even one that is caught.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use std::{
    fs,
    sync::atomic::{AtomicUsize, Ordering},
};

use corpus::{Draws, build, chart_at, count_panics, folder, peak_mb};
use dipward_chart::IceChartSpec;
use dipward_plugin::Quantity;

static PANICS: AtomicUsize = AtomicUsize::new(0);

/// Files that belong together; the first is the one that the scenario names.
const SOUND: [&[&str]; 8] = [
    &["island_in_hole.shp", "island_in_hole.dbf", "island_in_hole.prj"],
    &["heights.shp", "heights.dbf", "heights.prj"],
    &["total_99.shp", "total_99.dbf", "total_99.prj"],
    &["island_in_hole.gpkg"],
    &["log.gpkg", "log.gpkg-wal"],
    &["many_pages.gpkg"],
    &["island_in_hole.geojson"],
    &["crosses_180.geojson"],
];

#[test]
fn damage_is_a_fault_or_leaves_possible_values() {
    count_panics(&PANICS);
    let mut draws = Draws(11);
    let (mut refused, mut taken) = (0, 0);
    for round in 0..2000 {
        let files = SOUND[round % SOUND.len()];
        let work = tempfile::tempdir().unwrap();
        let which = draws.below(files.len());
        let cut = round % 5 == 4;
        for (index, file) in files.iter().enumerate() {
            let mut bytes = fs::read(folder("vector").join(file)).unwrap();
            if index == which && cut {
                let keep = draws.below(bytes.len());
                bytes.truncate(keep);
            } else if index == which {
                // Counts and offsets stand at the beginnings of files and pages.
                for _ in 0..=draws.below(3) {
                    let place = match draws.below(3) {
                        0 => draws.below(bytes.len().min(200)),
                        1 => 512 * draws.below(bytes.len().div_ceil(512)) + draws.below(16),
                        _ => draws.below(bytes.len()),
                    };
                    let place = place.min(bytes.len() - 1);
                    bytes[place] ^= 1 << draws.below(8);
                }
            }
            fs::write(work.path().join(file), bytes).unwrap();
        }
        let yaml =
            format!("kind: ice_chart\ncharts: [{{file: {}, valid: 2027-01-01T00:00Z}}]", files[0]);
        let Ok(layer) = build::<IceChartSpec>(work.path(), &yaml) else {
            refused += 1;
            continue;
        };
        taken += 1;
        // A cut text after its last bracket, or a table after its last row, is whole.
        assert!(!cut || !files[which].ends_with("shp"), "{} cut is taken", files[which]);
        for (latitude_deg, longitude_deg) in [(-63.4, 132.3), (-67.0, 178.0)] {
            let Ok(chart) = chart_at(layer.as_ref(), latitude_deg, longitude_deg) else { continue };
            let at = dipward_geodesy::position(latitude_deg, longitude_deg);
            let value = chart.sample(0.0, Quantity::ICE_CONCENTRATION, at).unwrap();
            assert!(value.is_nan() || (0.0..=1.0).contains(&value), "{}: {value}", files[0]);
        }
    }
    eprintln!("{refused} refused, {taken} taken, peak {:?} MB", peak_mb());
    assert!(refused > 700 && taken > 200, "{refused} {taken}");
    assert_eq!(PANICS.load(Ordering::Relaxed), 0, "panics that were caught");
    assert!(peak_mb().is_none_or(|mb| mb < 500), "{:?} MB", peak_mb());
}
