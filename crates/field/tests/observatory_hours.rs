//! The reader on real hours: `DIPWARD_OBSERVATORIES` names a folder with tables of perturbations
//! (`drv_even_years.csv.gz` and its like), which are not shipped.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]
#![expect(clippy::print_stdout, reason = "a test that is skipped says so")]

use std::{env, fs, path::PathBuf};

use dipward_field::{
    KpHistory,
    kinds::{RecordedSpec, StationPlace},
    observatory::read_station_files,
};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Disturbance, DisturbanceRequest, ExternalField, Spec,
};
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

/// Mean of the horizontal perturbation over 100 members, all Kp and Kp 3, nT.
fn replayed(spec: RecordedSpec, from: &str, days: u32, pole: (f64, f64)) -> (f64, f64) {
    let folder = folder().unwrap();
    let hemisphere = if pole.0 < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let clock = Clock::new(from.parse().unwrap());
    let context = BuildContext::new(folder, hemisphere, clock, f64::from(24 * days));
    let built: Box<dyn Disturbance> = spec.build(&context).unwrap();
    let hours: Vec<f64> = (0..=24 * days).map(f64::from).collect();
    let mean_pole = vec![position(pole.0, pole.1); hours.len()];
    let request =
        DisturbanceRequest { clock, hours: &hours, mean_pole: &mean_pole, hemisphere, seed: 1 };
    let mut out = vec![ExternalField::default(); hours.len()];
    let (mut all, mut third) = (Vec::new(), Vec::new());
    for member in 0..100 {
        built.member(&request, member, &Control::default(), &mut out).unwrap();
        for field in &out {
            let length = field.north_nt.hypot(field.east_nt);
            all.push(length);
            if field.kp_thirds.is_some_and(|thirds| (8..=10).contains(&thirds)) {
                third.push(length);
            }
        }
    }
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    for told in built.assumptions() {
        println!("  {}", told.text);
    }
    (mean(&all), mean(&third))
}

#[test]
fn real_stretches_of_a_summer_have_its_size() {
    if folder().is_none() {
        return;
    }
    let spec = |file: &str, latitude_deg, longitude_deg| RecordedSpec {
        files: vec![file.into()],
        station: StationPlace { latitude_deg, longitude_deg },
        season_window_days: 45,
        block_days: 20,
    };
    // About the December solstice; Kp 3 of summer has a mean of 117 nT at drv, of 118 nT at res.
    let drv = spec("drv_even_years.csv.gz", -66.665, 140.007);
    let (all, third) = replayed(drv, "2026-12-01T00:00Z", 45, (-63.7, 135.5));
    println!("drv: {all:.1} nT, Kp 3 {third:.1} nT");
    assert!((third / 117.0 - 1.0).abs() < 0.1);
    let res = spec("res_even_years.csv.gz", 74.69, -94.895);
    let (all, third) = replayed(res, "2027-06-10T00:00Z", 45, (85.5, 135.0));
    println!("res: {all:.1} nT, Kp 3 {third:.1} nT");
    assert!((third / 118.0 - 1.0).abs() < 0.1);
}
