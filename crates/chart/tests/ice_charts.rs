//! Ice charts as shapefile and GeoPackage against files written by pyshp and GDAL, and against what
//! shapely and pyproj say is where.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use std::{fs, path::Path};

use corpus::cell_at;
use dipward_chart::{Chart, IceChartSpec, NamedLayer, ZonesSpec};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Faults, Layer, LayerPoint, Quantity, Registry,
};
use proptest::prelude::*;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

fn build(folder: &Path, yaml: &str) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<IceChartSpec>().unwrap();
    registry.register::<ZonesSpec>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, Hemisphere::South, clock(), 240.0);
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

fn chart_of(file: &str) -> String {
    format!("kind: ice_chart\ncharts: [{{file: {file}, valid: 2027-01-01T00:00Z}}]")
}

/// The concentration at a place, by a grid of one small cell about it.
fn concentration_at(layer: &dyn Layer, latitude_deg: f64, longitude_deg: f64) -> f32 {
    let at = position(latitude_deg, longitude_deg);
    let grid = cell_at(latitude_deg, longitude_deg, 100.0);
    let layers = [NamedLayer { name: "ice", layer }];
    let wanted = [Quantity::ICE_CONCENTRATION];
    match Chart::lay(grid, clock(), 240.0, &layers, &wanted, &Control::default()) {
        Ok(chart) => chart.sample(0.0, Quantity::ICE_CONCENTRATION, at).unwrap(),
        Err(error) => {
            assert!(error.to_string().contains("covers no cell"), "{error}");
            f32::NAN
        }
    }
}

fn compare(file: &str) {
    let layer = build(fixtures(), &chart_of(file)).unwrap();
    let text = fs::read_to_string(fixtures().join("chart_samples.csv")).unwrap();
    let mut seen = [0; 5];
    for line in text.lines().filter_map(|line| line.strip_prefix(&format!("{file},"))) {
        let fields: Vec<&str> = line.split(',').collect();
        let value = concentration_at(
            layer.as_ref(),
            fields[0].parse().unwrap(),
            fields[1].parse().unwrap(),
        );
        // Land, and what lies outside the chart, have no code.
        let (expected, kind) = match fields[2] {
            "13" => (0.3, 0),
            "91" => (1.0, 1),
            "92" => (1.0, 2),
            "01" => (0.0, 3),
            other => {
                assert!(other.is_empty());
                (f32::NAN, 4)
            }
        };
        assert!(value == expected || value.is_nan() && expected.is_nan(), "{line}: {value}");
        seen[kind] += 1;
    }
    assert!(seen.iter().all(|count| *count > 1), "{seen:?}");
}

#[test]
fn a_shapefile_on_a_polar_map_agrees_with_shapely() {
    compare("chart_south.shp");
}

#[test]
fn a_geopackage_on_a_conic_map_agrees_with_shapely() {
    compare("chart_conic.gpkg");
}

/// A file of the fixtures, and what is done to its bytes.
type Changed<'a> = (&'a str, &'a dyn Fn(Vec<u8>) -> Vec<u8>);

/// Copies fixtures, each changed, to a folder of their own.
fn changed(files: &[Changed<'_>]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, change) in files {
        let bytes = fs::read(fixtures().join(name)).unwrap();
        fs::write(folder.path().join(name), change(bytes)).unwrap();
    }
    folder
}

fn same(bytes: Vec<u8>) -> Vec<u8> {
    bytes
}

#[test]
fn what_is_wrong_with_a_file_is_told() {
    let short = |bytes: Vec<u8>| bytes[..bytes.len() - 300].to_vec();
    let cut = |bytes: Vec<u8>| bytes[..9000].to_vec();
    let gnomonic = |bytes: Vec<u8>| {
        String::from_utf8(bytes)
            .unwrap()
            .replace("Stereographic_South_Pole", "Gnomonic")
            .into_bytes()
    };
    let text = |_: Vec<u8>| b"no such thing".to_vec();
    let (shp, dbf, prj, gpkg) =
        ("chart_south.shp", "chart_south.dbf", "chart_south.prj", "chart_conic.gpkg");
    let cases: [(&str, Vec<Changed<'_>>, &str); 7] = [
        (shp, vec![(shp, &same), (prj, &same)], "chart_south.dbf: cannot be read"),
        (shp, vec![(shp, &same), (dbf, &same)], "chart_south.prj: cannot be read"),
        (shp, vec![(shp, &short), (dbf, &same), (prj, &same)], "chart_south.shp: is cut short"),
        (
            shp,
            vec![(shp, &same), (dbf, &same), (prj, &gnomonic)],
            "chart_south.prj: is in the projection Gnomonic",
        ),
        (
            shp,
            vec![(shp, &same), (dbf, &same), (prj, &text)],
            "chart_south.prj: has a reference system",
        ),
        (gpkg, vec![(gpkg, &cut)], "chart_conic.gpkg: is"),
        (gpkg, vec![(gpkg, &text)], "is not a SQLite database"),
    ];
    for (file, files, word) in cases {
        let folder = changed(&files);
        let faults = build(folder.path(), &chart_of(file)).unwrap_err();
        let fault = &faults.as_slice()[0];
        assert_eq!((fault.pointer(), faults.as_slice().len()), ("/charts/0/file", 1));
        assert!(fault.message().contains(word), "{}", fault.message());
    }
}

#[test]
fn zones_may_be_any_of_the_formats() {
    // The chart has no zone in it; what matters is that it was read.
    let faults = build(fixtures(), "{kind: zones, file: chart_conic.gpkg}").unwrap_err();
    assert_eq!(faults.as_slice().len(), 5);
    assert!(faults.as_slice()[0].message().contains("feature 1: has neither"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn mutated_files_do_not_panic(
        which in 0usize..4,
        places in prop::collection::vec((0usize..90_000, any::<u8>(), any::<bool>()), 1..5),
        cut in prop::option::of(0usize..90_000),
    ) {
        let names = ["chart_south.shp", "chart_south.dbf", "chart_south.prj", "chart_conic.gpkg"];
        let change = |mut bytes: Vec<u8>| {
            for (place, byte, head) in &places {
                // The beginnings hold the counts and offsets.
                let place = if *head { place % 300 } else { *place } % bytes.len();
                bytes[place] = *byte;
            }
            if let Some(cut) = cut {
                bytes.truncate(cut);
            }
            bytes
        };
        let mut files: Vec<Changed<'_>> =
            names.iter().map(|name| (*name, &same as &dyn Fn(Vec<u8>) -> Vec<u8>)).collect();
        files[which].1 = &change;
        let folder = changed(&files);
        let file = if which == 3 { "chart_conic.gpkg" } else { "chart_south.shp" };
        if let Ok(layer) = build(folder.path(), &chart_of(file)) {
            let value = concentration_at(layer.as_ref(), -64.0, 136.0);
            prop_assert!(value.is_nan() || (0.0..=1.0).contains(&value));
        }
    }
}
