//! GRIB of many writers' ways: each file is read right, or refused with words that help.
//!
//! `fixtures/grib/make_corpus.py` writes the files with eccodes, and what eccodes unpacks of each.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use corpus::{Case, build, check};
use dipward_chart::ForecastGribSpec;

fn yaml(case: &Case) -> String {
    format!(
        "kind: forecast_grib\nfiles: [{}]\nchange: step\nbeyond: hold\n{}",
        case.file, case.keys
    )
}

#[test]
fn every_file_is_read_right_or_refused_with_words_that_help() {
    let failed = check::<ForecastGribSpec>("grib", yaml);
    assert!(failed.is_empty(), "{} files:\n{}", failed.len(), failed.join("\n"));
}

#[test]
fn real_files_of_two_services_are_read() {
    let Ok(real) = std::env::var("DIPWARD_REAL_CHARTS") else {
        eprintln!("skipped: DIPWARD_REAL_CHARTS names no folder with files of services");
        return;
    };
    let real = std::path::Path::new(&real);
    let waves =
        build::<ForecastGribSpec>(real, "{kind: forecast_grib, files: [gfswave_atl.grib2]}");
    let waves = waves.unwrap();
    let names: Vec<&str> = waves.quantities().iter().map(|quantity| quantity.name()).collect();
    assert_eq!(names, ["wave_height", "wind_grid_east", "wind_grid_north"]);
    // Albedo, snow and cloud: nothing that a route is reckoned by.
    let yaml = "{kind: forecast_grib, files: [ecmwf-ifs-oper-surface.grib2]}";
    let faults = build::<ForecastGribSpec>(real, yaml).unwrap_err();
    assert!(faults.to_string().contains("no field of a parameter that is taken"), "{faults}");
}
