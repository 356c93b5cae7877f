//! GRIB2 layers against fields packed by eccodes, and values found with numpy and pyproj.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

mod corpus;

use std::{collections::BTreeMap, fs, path::Path};

use corpus::cell_at;
use dipward_chart::{Chart, ForecastGribSpec, NamedLayer};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Error, Faults, Ground, Layer, LayerPoint, Quantity,
    Registry,
    conformance::{check_example, check_layer},
};
use proptest::prelude::*;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

fn context(folder: &Path) -> BuildContext {
    BuildContext::new(folder, Hemisphere::South, clock(), 48.0)
}

fn build(folder: &Path, file: &str) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<ForecastGribSpec>().unwrap();
    let yaml = format!("{{kind: forecast_grib, files: [{file}]}}");
    let document = Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
    registry.build::<LayerPoint>("", document.value(), &context(folder)).map(|built| built.object)
}

/// A chart of one small cell about a place.
fn chart_at(layer: &dyn Layer, latitude_deg: f64, longitude_deg: f64) -> Result<Chart, Error> {
    let grid = cell_at(latitude_deg, longitude_deg, 1.0);
    let layers = [NamedLayer { name: "forecast", layer }];
    Chart::lay(grid, clock(), 48.0, &layers, &layer.quantities(), &Control::default())
}

fn compare(file: &str, tolerance: f64) -> BTreeMap<String, usize> {
    let layer = build(fixtures(), file).unwrap();
    let text = fs::read_to_string(fixtures().join("grib_samples.csv")).unwrap();
    let mut seen = BTreeMap::new();
    for line in text.lines().filter_map(|line| line.strip_prefix(&format!("{file},"))) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |index: usize| fields[index].parse::<f64>().unwrap();
        let chart = chart_at(layer.as_ref(), number(1), number(2)).unwrap();
        let quantity =
            *chart.quantities().iter().find(|quantity| quantity.name() == fields[3]).unwrap();
        // Waves are compared at the first time; the samples of other times say so by their hour.
        let hour = if fields[3] == "wave_height" { 0.0 } else { number(0) };
        let at = position(number(1), number(2));
        // A forecast covers nothing after its last time: just before it.
        let value = f64::from(chart.sample(hour.min(23.9999), quantity, at).unwrap());
        let expected = number(4);
        assert!(
            (value - expected).abs() < tolerance * expected.abs().max(1.0)
                || value.is_nan() && expected.is_nan(),
            "{line}: {value}"
        );
        *seen.entry(fields[3].to_owned()).or_default() += usize::from(!expected.is_nan());
    }
    seen
}

/// GRIB2 parameter 10/2/1 does not tell what its mean is over.
#[test]
fn ice_thickness_may_be_a_volume_per_area() {
    let layer = |more: &str| {
        let mut registry = Registry::default();
        registry.register::<ForecastGribSpec>().unwrap();
        let yaml = format!("{{kind: forecast_grib, files: [forecast.grib2]{more}}}");
        let document = Document::parse("test", &yaml).map_err(|told| told.1.to_string()).unwrap();
        registry.build::<LayerPoint>("", document.value(), &context(fixtures())).unwrap().object
    };
    let (usual, volume) = (layer(""), layer(", thickness_is: volume_per_area"));
    let at = position(-64.0, 140.0);
    let value = |layer: &dyn Layer, quantity| {
        chart_at(layer, -64.0, 140.0).unwrap().sample(0.0, quantity, at).unwrap()
    };
    assert_eq!(
        value(usual.as_ref(), Quantity::ICE_THICKNESS),
        value(volume.as_ref(), Quantity::ICE_VOLUME_PER_AREA)
    );
    assert!(!volume.quantities().contains(&Quantity::ICE_THICKNESS));
    let told =
        |layer: &dyn Layer| layer.assumptions().iter().any(|own| own.text.contains("thickness_is"));
    assert!(told(usual.as_ref()) && !told(volume.as_ref()));
}

#[test]
fn fields_in_longitude_and_latitude_agree_with_their_writer() {
    let seen = compare("forecast.grib2", 1e-3);
    assert_eq!(seen.len(), 7);
    assert!(seen.values().all(|count| *count > 100), "{seen:?}");
    // Ice and waves have gaps in their bitmaps.
    assert!(seen["ice_concentration"] < 200 && seen["wave_height"] < 200, "{seen:?}");
}

#[test]
fn winds_along_a_polar_grid_are_turned_into_the_frame_of_the_chart() {
    // The source is on a sphere, and its own latitudes are taken as they are.
    let layer = build(fixtures(), "forecast_polar.grib2").unwrap();
    assert_eq!(layer.quantities().len(), 2);
    let text = fs::read_to_string(fixtures().join("grib_samples.csv")).unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter_map(|line| line.strip_prefix("forecast_polar.grib2,"))
        .map(|line| line.split(',').map(|field| field.parse().unwrap_or(f64::NAN)).collect())
        .collect();
    assert!(rows.len() > 100);
    for pair in rows.chunks(2) {
        let (latitude_deg, longitude_deg) = (pair[0][1], pair[0][2]);
        let chart = chart_at(layer.as_ref(), latitude_deg, longitude_deg).unwrap();
        let at = position(latitude_deg, longitude_deg);
        for (row, quantity) in pair.iter().zip(chart.quantities()) {
            // Valid at six hours and covering no other: asked of the layer itself.
            let sampled = layer_value(layer.as_ref(), *quantity, at);
            assert!((sampled - row[4]).abs() < 0.02, "{row:?}: {sampled}");
        }
    }
}

/// A quantity at a layer's only time.
fn layer_value(layer: &dyn Layer, quantity: Quantity, at: dipward_geodesy::Position) -> f64 {
    let chart = chart_at(layer, at.y(), at.x()).unwrap();
    let ground = Ground { grid: chart.grid(), clock: clock() };
    let laid = layer.lay(ground, &Control::default()).unwrap();
    let mut out = [f32::NAN];
    laid.fill(quantity, 0, 0..1, &mut out).unwrap();
    f64::from(out[0])
}

#[test]
fn the_kind_keeps_its_contract_and_times_are_those_of_the_file() {
    let built = check_example::<ForecastGribSpec>(&context(fixtures())).unwrap();
    let layer = build(fixtures(), "forecast.grib2").unwrap();
    let chart = chart_at(layer.as_ref(), -65.0, 136.0).unwrap();
    let ground = Ground { grid: chart.grid(), clock: clock() };
    check_layer(built.object.as_ref(), ground).unwrap();
    // It ends at hour 24, and covers nothing from then on.
    assert_eq!(chart.frames(), [0.0, 12.0, 24.0, 24.0]);
    let ice = chart.quantities()[0];
    assert!(chart.sample(30.0, ice, position(-65.0, 136.0)).unwrap().is_nan());
}

#[test]
fn what_is_wrong_with_a_file_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = fs::read(fixtures().join("forecast.grib2")).unwrap();
    fs::write(folder.path().join("short.grib2"), &bytes[..bytes.len() - 5000]).unwrap();
    fs::write(folder.path().join("text.grib2"), "no such thing").unwrap();
    let mut first = bytes.clone();
    first[7] = 1;
    fs::write(folder.path().join("edition.grib2"), first).unwrap();
    for (file, word) in [
        ("missing.grib2", "cannot be read"),
        ("text.grib2", "not a GRIB file"),
        ("short.grib2", "cut short"),
        ("edition.grib2", "edition 2"),
    ] {
        let faults = build(folder.path(), file).unwrap_err();
        let fault = &faults.as_slice()[0];
        assert_eq!((fault.pointer(), faults.as_slice().len()), ("/files/0", 1));
        assert!(fault.message().starts_with(file), "{}", fault.message());
        assert!(fault.message().contains(word), "{}", fault.message());
    }
    let layer = build(fixtures(), "forecast.grib2").unwrap();
    let message = chart_at(layer.as_ref(), 80.0, 0.0).unwrap_err().to_string();
    assert!(message.contains("covers no cell"), "{message}");
}

#[test]
fn winds_and_temperatures_aloft_are_not_taken_for_those_at_sea() {
    let faults = build(fixtures(), "forecast_aloft.grib2").unwrap_err();
    // Winds are there at 100 m and at 10 m; temperatures at no height of 2 m.
    assert_eq!(faults.as_slice().len(), 1, "{faults}");
    let message = faults.as_slice()[0].message();
    for word in ["0/0/0", "850 hPa", "the surface", "2 m above ground is wanted"] {
        assert!(message.contains(word), "{message}");
    }
    // With fields of the right levels in the same file those alone count.
    let folder = tempfile::tempdir().unwrap();
    let read = |name: &str| fs::read(fixtures().join(name)).unwrap();
    let both = [read("forecast_aloft.grib2"), read("forecast.grib2")].concat();
    fs::write(folder.path().join("both.grib2"), both).unwrap();
    let [mixed, alone] = [(folder.path(), "both.grib2"), (fixtures(), "forecast.grib2")]
        .map(|(folder, file)| build(folder, file).unwrap());
    let at = position(-65.0, 136.0);
    for quantity in alone.quantities() {
        let values = [&mixed, &alone].map(|layer| layer_value(layer.as_ref(), quantity, at));
        assert_eq!(values[0], values[1], "{quantity}");
    }
}

/// The messages with another type of surface in their section 4.
fn at_surface(mut bytes: Vec<u8>, surface: u8) -> Vec<u8> {
    let mut at = 0;
    while bytes[at..].starts_with(b"GRIB") {
        let end = at
            + usize::try_from(u64::from_be_bytes(bytes[at + 8..at + 16].try_into().unwrap()))
                .unwrap();
        at += 16;
        while !bytes[at..].starts_with(b"7777") {
            let length = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
            if bytes[at + 4] == 4 {
                // Octet 23 of template 4.0.
                bytes[at + 22] = surface;
            }
            at += length;
        }
        at = end;
        if at == bytes.len() {
            break;
        }
    }
    bytes
}

#[test]
fn winds_of_wave_models_are_told_for_the_surface() {
    let folder = tempfile::tempdir().unwrap();
    let winds = fs::read(fixtures().join("forecast_polar.grib2")).unwrap();
    fs::write(folder.path().join("sea.grib2"), at_surface(winds.clone(), 1)).unwrap();
    fs::write(folder.path().join("isobar.grib2"), at_surface(winds, 100)).unwrap();
    let sea = build(folder.path(), "sea.grib2").unwrap();
    let plain = build(fixtures(), "forecast_polar.grib2").unwrap();
    let at = position(84.0, -100.0);
    for quantity in plain.quantities() {
        let values = [&sea, &plain].map(|layer| layer_value(layer.as_ref(), quantity, at));
        assert!(values[0] == values[1] && values[0].is_finite(), "{quantity} {values:?}");
    }
    let said = |layer: &dyn Layer| {
        layer.assumptions().iter().any(|one| one.text.contains("for the surface is taken"))
    };
    assert!(said(sea.as_ref()) && !said(plain.as_ref()));
    let faults = build(folder.path(), "isobar.grib2").unwrap_err();
    assert!(faults.to_string().contains("0/2/2 is there at 0.1 hPa alone"), "{faults}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn mutated_files_do_not_panic(
        file in prop::sample::select(vec!["forecast.grib2", "forecast_polar.grib2"]),
        places in prop::collection::vec((0usize..160_000, any::<u8>(), any::<bool>()), 1..5),
        cut in prop::option::of(0usize..160_000),
    ) {
        let mut bytes = fs::read(fixtures().join(file)).unwrap();
        for (place, byte, head) in places {
            // The sections of the first message say how the rest is to be read.
            let place = if head { place % 220 } else { place } % bytes.len();
            bytes[place] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut);
        }
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("x.grib2"), bytes).unwrap();
        if let Ok(layer) = build(folder.path(), "x.grib2") {
            let _ = chart_at(layer.as_ref(), -64.0, 136.0);
        }
    }
}
