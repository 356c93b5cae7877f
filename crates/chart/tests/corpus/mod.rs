//! Files that independent libraries wrote, with what they hold at random places.

#![allow(dead_code, unreachable_pub, reason = "each test program uses its own part")]

use std::{
    fs,
    path::{Path, PathBuf},
    sync::atomic::{AtomicUsize, Ordering},
};

use dipward_chart::{Chart, NamedLayer};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Error, Faults, Layer, LayerPoint, Registry, Spec,
};
use serde::Deserialize;

/// One file and what is known of it.
#[derive(Debug, Deserialize)]
pub struct Case {
    pub file: String,
    /// Keys of the layer besides the file.
    pub keys: String,
    /// Hour, latitude, longitude, quantity and value; nothing where the file has none.
    pub samples: Vec<(f64, f64, f64, String, Option<f64>)>,
    /// Words that the layer's assumptions must have.
    pub says: Vec<String>,
    /// Words of the fault that refuses the file.
    pub refused: Option<Vec<String>>,
    /// How far a value may be off, where not by a ten-thousandth.
    #[serde(default)]
    pub tolerance: Option<f64>,
    /// What the file is for.
    pub note: String,
}

pub fn folder(of: &str) -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures")).join(of)
}

pub fn cases(of: &str) -> Vec<Case> {
    serde_json::from_str(&fs::read_to_string(folder(of).join("corpus.json")).unwrap()).unwrap()
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

pub fn build<S: Spec<Point = LayerPoint>>(
    folder: &Path,
    yaml: &str,
) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<S>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, Hemisphere::South, clock(), 48.0);
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

/// One cell of a size about a place, on EPSG:3031 or 3413.
pub fn cell_at(latitude_deg: f64, longitude_deg: f64, cell_m: f64) -> Grid {
    let (hemisphere, true_scale_deg, central_deg) = if latitude_deg < 0.0 {
        (Hemisphere::South, -71.0, 0.0)
    } else {
        (Hemisphere::North, 70.0, -45.0)
    };
    let polar =
        PolarStereographic::variant_b(hemisphere, true_scale_deg, central_deg, Ellipsoid::WGS84)
            .unwrap();
    let at = polar.forward(position(latitude_deg, longitude_deg));
    Grid::new(polar, at, cell_m, 1, 1).unwrap()
}

/// A chart of one small cell about a place.
pub fn chart_at(layer: &dyn Layer, latitude_deg: f64, longitude_deg: f64) -> Result<Chart, Error> {
    let grid = cell_at(latitude_deg, longitude_deg, 200.0);
    let layers = [NamedLayer { name: "layer", layer }];
    Chart::lay(grid, clock(), 48.0, &layers, &layer.quantities(), &Control::default())
}

/// Counts every panic from now on.
pub fn count_panics(panics: &'static AtomicUsize) {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        panics.fetch_add(1, Ordering::Relaxed);
        before(info);
    }));
}

/// Holds every case of a corpus; what fails, in words.
pub fn check<S: Spec<Point = LayerPoint>>(of: &str, yaml: impl Fn(&Case) -> String) -> Vec<String> {
    let cases = cases(of);
    assert!(cases.len() > 30, "{}", cases.len());
    cases.iter().filter_map(|case| failure::<S>(of, case, &yaml(case)).err()).collect()
}

fn failure<S: Spec<Point = LayerPoint>>(of: &str, case: &Case, yaml: &str) -> Result<(), String> {
    let failed = |what: String| Err(format!("{} ({}): {what}", case.file, case.keys));
    let built = build::<S>(&folder(of), yaml);
    let layer = match (built, &case.refused) {
        (Err(faults), Some(words)) => {
            let text: Vec<String> = faults
                .as_slice()
                .iter()
                .map(|fault| {
                    format!("{} {}", fault.message(), fault.help_text().unwrap_or_default())
                })
                .collect();
            let text = text.join("\n");
            return match words.iter().find(|word| !text.contains(word.as_str())) {
                Some(word) => failed(format!("the fault lacks `{word}`: {text}")),
                None => Ok(()),
            };
        }
        (Err(faults), None) => return failed(format!("is refused: {faults}")),
        (Ok(_), Some(words)) => return failed(format!("is taken, not refused with {words:?}")),
        (Ok(layer), None) => layer,
    };
    let said: Vec<String> = layer.assumptions().into_iter().map(|one| one.text).collect();
    let said = said.join("\n");
    if let Some(word) = case.says.iter().find(|word| !said.contains(word.as_str())) {
        return failed(format!("the assumptions lack `{word}`: {said}"));
    }
    let mut wrong = Vec::new();
    for (hour, latitude_deg, longitude_deg, name, expected) in &case.samples {
        let value = match chart_at(layer.as_ref(), *latitude_deg, *longitude_deg) {
            Ok(chart) => {
                let quantity = layer.quantities().into_iter().find(|own| own.name() == name);
                let at = position(*latitude_deg, *longitude_deg);
                match quantity {
                    Some(quantity) => f64::from(chart.sample(*hour, quantity, at).unwrap()),
                    None => return failed(format!("gives no {name}")),
                }
            }
            Err(error) if error.to_string().contains("covers no cell") => f64::NAN,
            Err(error) => return failed(error.to_string()),
        };
        let tolerance = case.tolerance.unwrap_or(1e-4) * expected.unwrap_or(1.0).abs().max(1.0);
        let right = match expected {
            Some(expected) => (value - expected).abs() <= tolerance,
            None => value.is_nan(),
        };
        if !right {
            wrong.push(format!(
                "{name} at hour {hour}, {latitude_deg} {longitude_deg} is {value}, not {expected:?}"
            ));
        }
    }
    match wrong.first() {
        Some(first) => failed(format!("{} of {}: {first}", wrong.len(), case.samples.len())),
        None => Ok(()),
    }
}

/// Numbers from a seed (SplitMix64, Steele and others 2014).
#[derive(Debug)]
pub struct Draws(pub u64);

impl Draws {
    pub fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) % bound as u64) as usize
    }
}

/// The greatest memory that the process has had, where the system tells.
pub fn peak_mb() -> Option<usize> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<usize>().ok()? / 1024)
}
