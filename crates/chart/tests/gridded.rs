//! Gridded files in the many shapes that writers give them: each is read as netCDF4, xarray and rasterio read
//! it, or refused with words that say what would settle it. `fixtures/gridded/make_gridded.py` writes them.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{fs, path::Path};

use dipward_chart::{
    Chart, ConcentrationGeotiffSpec, ConcentrationNetcdfSpec, ConcentrationNsidcSpec, NamedLayer,
    RasterSpec,
};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Faults, Ground, Layer, LayerPoint, Quantity, Registry,
};
use serde::Deserialize;

/// A case of `cases.json`.
#[derive(Debug, Deserialize)]
struct Case {
    name: String,
    file: String,
    yaml: String,
    #[serde(default)]
    quantity: String,
    /// Latitude, longitude and value.
    #[serde(default)]
    samples: Vec<(f64, f64, Option<f64>)>,
    /// The hour at which the samples are taken.
    #[serde(default)]
    hour: f64,
    /// The hours at which the layer has data.
    hours: Option<Vec<f64>>,
    /// What an assumption says.
    note: Option<String>,
    /// What the refusal says.
    #[serde(default)]
    fault: Vec<String>,
}

fn folder() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/gridded"))
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

const WINDOW_H: f64 = 48.0;

fn build(folder: &Path, yaml: &str) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<ConcentrationGeotiffSpec>().unwrap();
    registry.register::<ConcentrationNetcdfSpec>().unwrap();
    registry.register::<ConcentrationNsidcSpec>().unwrap();
    registry.register::<RasterSpec>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, Hemisphere::South, clock(), WINDOW_H);
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

const QUANTITIES: [Quantity; 4] = [
    Quantity::ICE_CONCENTRATION,
    Quantity::ICE_THICKNESS,
    Quantity::ELEVATION,
    Quantity::SPEED_LIMIT,
];

/// The grid of one cell of a metre about a place.
fn cell(latitude_deg: f64, longitude_deg: f64) -> Grid {
    let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let polar =
        PolarStereographic::variant_b(hemisphere, hemisphere.sign() * 70.0, 0.0, Ellipsoid::WGS84)
            .unwrap();
    let centre = polar.forward(position(latitude_deg, longitude_deg));
    Grid::new(polar, centre, 1.0, 1, 1).unwrap()
}

fn value_at(layer: &dyn Layer, case: &Case, latitude_deg: f64, longitude_deg: f64) -> f32 {
    let quantity = QUANTITIES.into_iter().find(|own| own.name() == case.quantity).unwrap();
    let layers = [NamedLayer { name: "layer", layer }];
    let grid = cell(latitude_deg, longitude_deg);
    match Chart::lay(grid, clock(), WINDOW_H, &layers, &[quantity], &Control::default()) {
        Ok(chart) => {
            chart.sample(case.hour, quantity, position(latitude_deg, longitude_deg)).unwrap()
        }
        Err(error) => {
            assert!(error.to_string().contains("covers no cell"), "{}: {error}", case.name);
            f32::NAN
        }
    }
}

fn check(case: &Case) -> Result<(), String> {
    let built = build(folder(), &case.yaml);
    if !case.fault.is_empty() {
        let faults = built.err().ok_or("is read, and should be refused")?;
        let message = faults.to_string();
        let fault = &faults.as_slice()[0];
        let missing = case.fault.iter().find(|word| !message.contains(*word));
        let named = fault.message().contains(case.file.trim_start_matches("../"));
        return match missing {
            Some(word) => Err(format!("does not say {word}: {message}")),
            None if !named => Err(format!("does not name the file: {message}")),
            None => Ok(()),
        };
    }
    let layer = built.map_err(|faults| format!("is refused: {faults}"))?;
    if let Some(note) = &case.note
        && !layer.assumptions().iter().any(|own| own.text.contains(note))
    {
        return Err(format!("does not tell of {note}: {:?}", layer.assumptions()));
    }
    if let Some(hours) = &case.hours {
        let (latitude_deg, longitude_deg, _) = case.samples[0];
        let grid = case.samples.iter().find(|sample| sample.2.is_some()).unwrap();
        let grid = cell(grid.0, grid.1);
        let laid = layer
            .lay(Ground { grid: &grid, clock: clock() }, &Control::default())
            .map_err(|error| format!("at {latitude_deg} {longitude_deg}: {error}"))?;
        if laid.hours() != hours.as_slice() {
            return Err(format!("has data at {:?}, not at {hours:?}", laid.hours()));
        }
    }
    for &(latitude_deg, longitude_deg, expected) in &case.samples {
        let value = f64::from(value_at(layer.as_ref(), case, latitude_deg, longitude_deg));
        let right = match expected {
            // Concentrations are kept in hundredths of a percent.
            Some(expected) => (value - expected).abs() <= 1e-4 + 1e-5 * expected.abs(),
            None => value.is_nan(),
        };
        if !right {
            return Err(format!("at {latitude_deg} {longitude_deg} has {value}, not {expected:?}"));
        }
    }
    Ok(())
}

#[test]
fn every_file_is_read_as_its_library_reads_it_or_refused_with_what_would_settle_it() {
    let text = fs::read_to_string(folder().join("cases.json")).unwrap();
    let cases: Vec<Case> = serde_json::from_str(&text).unwrap();
    let wrong: Vec<String> = cases
        .iter()
        .filter_map(|case| {
            let wrong = check(case).err()?;
            Some(format!("{} ({}): {wrong}", case.name, case.yaml))
        })
        .collect();
    let refused = cases.iter().filter(|case| !case.fault.is_empty()).count();
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
    assert!(cases.len() > 150 && refused > 40, "{} {refused}", cases.len());
}

/// A device never ends, and to open a pipe is to wait for its writer.
#[cfg(unix)]
#[test]
fn devices_and_folders_are_no_input() {
    for (file, what) in [("/dev/zero", "device"), (".", "folder")] {
        let yaml = format!("{{kind: raster, file: {file}, gives: elevation}}");
        let message = build(folder(), &yaml).unwrap_err().to_string();
        assert!(message.contains(what), "{message}");
    }
}
