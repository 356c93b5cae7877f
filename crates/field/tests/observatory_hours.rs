//! The reader on real hours: `DIPWARD_OBSERVATORIES` names a folder with tables of perturbations
//! (`drv_even_years.csv.gz` and its like), which are not shipped.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use std::{env, fs, path::PathBuf};

use dipward_field::{KpHistory, observatory::read_station_files};
use dipward_geodesy::position;
use jiff::tz::Offset;

/// The folder of the hours; what it prints is seen where a test is skipped.
fn folder() -> Option<PathBuf> {
    let folder = env::var_os("DIPWARD_OBSERVATORIES").map(PathBuf::from);
    if folder.is_none() {
        println!("skipped: DIPWARD_OBSERVATORIES names no folder with hours of observatories");
    }
    folder
}

#[test]
fn hours_of_dumont_d_urville_give_the_known_means() {
    let Some(folder) = folder() else { return };
    let bytes = fs::read(folder.join("drv_even_years.csv.gz")).unwrap();
    let place = position(-66.665, 140.007);
    let record = read_station_files(&[("drv_even_years.csv.gz", bytes)], Some(place)).unwrap();
    assert_eq!((record.name.as_str(), record.cadence_h), ("drv_even_years", 1.0));
    // Summer of Kp 3 (all years): mean 117 nT; winter 53 nT. Even years alone: within 5 %.
    let mean = |months: [i8; 4]| {
        let (mut sum, mut count) = (0.0, 0.0);
        for (index, [north, east]) in record.perturbation_nt.iter().enumerate() {
            let instant = record.instant(index);
            let kp = KpHistory::embedded().at(instant);
            let month = Offset::UTC.to_datetime(instant).month();
            let wanted = months.contains(&month) && kp.is_some_and(|kp| kp.class() == 3);
            if wanted && north.is_finite() {
                sum += f64::from(north.hypot(*east));
                count += 1.0;
            }
        }
        sum / count
    };
    let (summer, winter) = (mean([11, 12, 1, 2]), mean([5, 6, 7, 8]));
    println!("Kp 3: summer {summer:.1}, winter {winter:.1} nT; {} hours", record.recorded());
    assert!((summer / 117.0 - 1.0).abs() < 0.05 && (winter / 53.0 - 1.0).abs() < 0.05);
}
