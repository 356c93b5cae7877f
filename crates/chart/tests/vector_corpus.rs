//! Charts of polygons of many writers' ways: each file is read right, or refused with words that help.
//!
//! `fixtures/vector/make_corpus.py` writes the files with pyshp, GDAL and SQLite; shapely tells what is where.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use std::{fs, path::Path};

use corpus::{build, chart_at, check, folder};
use dipward_chart::{IceChartSpec, ZonesSpec};
use dipward_plugin::Quantity;

#[test]
fn every_file_is_read_right_or_refused_with_words_that_help() {
    let failed = check::<IceChartSpec>("vector", |case| format!("kind: ice_chart\n{}", case.keys));
    assert!(failed.is_empty(), "{} files:\n{}", failed.len(), failed.join("\n"));
}

#[test]
fn zones_are_told_how_their_rings_were_taken() {
    let ring = "[[170,-60],[180,-58],[-170,-60],[180,-65],[170,-60]]";
    let text = format!(
        r#"{{"type":"Feature","properties":{{"no_go":true}},
        "geometry":{{"type":"Polygon","coordinates":[{ring}]}}}}"#
    );
    let work = tempfile::tempdir().unwrap();
    fs::write(work.path().join("z.geojson"), text).unwrap();
    let layer = build::<ZonesSpec>(work.path(), "{kind: zones, file: z.geojson, off_grid: ignore}");
    let layer = layer.unwrap();
    assert!(layer.assumptions()[0].text.contains("180th meridian"));
    for (longitude_deg, closed) in [(175.0, true), (-175.0, true), (140.0, false), (-140.0, false)]
    {
        let chart = chart_at(layer.as_ref(), -61.0, longitude_deg).unwrap();
        let at = dipward_geodesy::position(-61.0, longitude_deg);
        let value = chart.sample(0.0, Quantity::CLOSED, at).unwrap();
        assert_eq!(value == 1.0, closed, "{longitude_deg}: {value}");
    }
}

#[test]
fn a_real_chart_is_read() {
    let Ok(real) = std::env::var("DIPWARD_REAL_CHARTS") else {
        eprintln!("skipped: DIPWARD_REAL_CHARTS names no folder with files of services");
        return;
    };
    let yaml = "kind: ice_chart\n\
        charts: [{file: cis_SGRDREA_20201102T.gpkg, valid: 2020-11-02T18:00Z}]";
    let layer = build::<IceChartSpec>(Path::new(&real), yaml).unwrap();
    // CT 91 and 90 there, by GDAL and shapely.
    for (latitude_deg, longitude_deg, expected) in [(74.5, -85.0, 1.0), (74.0, -80.0, 0.9)] {
        let chart = chart_at(layer.as_ref(), latitude_deg, longitude_deg).unwrap();
        let at = dipward_geodesy::position(latitude_deg, longitude_deg);
        let value = chart.sample(0.0, Quantity::ICE_CONCENTRATION, at).unwrap();
        assert!((value - expected).abs() < 1e-6, "{latitude_deg} {longitude_deg}: {value}");
    }
}

#[test]
#[cfg(unix)]
fn what_is_no_file_is_refused_before_it_is_opened() {
    let chart = |file: &str| {
        format!("kind: ice_chart\ncharts: [{{file: {file}, valid: 2027-01-01T00:00Z}}]")
    };
    for (file, word) in [("/dev/zero", "device or a pipe"), ("grib", "is a folder")] {
        let faults =
            build::<IceChartSpec>(folder("grib").parent().unwrap(), &chart(file)).unwrap_err();
        assert!(faults.to_string().contains(word), "{faults}");
    }
    assert!(!Path::new("grib").exists());
}
