//! What the tests of the layers build on: a scenario's folder, a grid, a chart.

use std::fs;

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Error, Faults, Ground, Layer, LayerPoint, Quantity,
    Registry, Spec,
    conformance::{check_example, check_layer},
};
use geo::coord;
use tempfile::TempDir;

use crate::{Chart, NamedLayer};

pub(super) fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

pub(super) const WINDOW_H: f64 = 720.0;

/// A folder with files, and the context of a scenario in it.
pub(super) fn folder(files: &[(&str, &[u8])]) -> (TempDir, BuildContext) {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        fs::write(folder.path().join(name), bytes).unwrap();
    }
    let context = BuildContext::new(folder.path(), Hemisphere::South, clock(), WINDOW_H);
    (folder, context)
}

/// Builds a layer from YAML, as a scenario would.
pub(super) fn build<S: Spec<Point = LayerPoint>>(
    yaml: &str,
    files: &[(&str, &[u8])],
) -> Result<Box<dyn Layer>, Faults> {
    let (_folder, context) = folder(files);
    let mut registry = Registry::default();
    registry.register::<S>().unwrap();
    let yaml = format!("kind: {}\n{yaml}", S::KIND);
    let document = Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

/// Holds a kind's example, and what it builds, to the contracts of kinds and of layers.
#[track_caller]
pub(super) fn check_contract<S: Spec<Point = LayerPoint>>(files: &[(&str, &[u8])]) {
    let (_folder, context) = folder(files);
    let built = check_example::<S>(&context).unwrap();
    check_layer(built.object.as_ref(), Ground { grid: &grid(), clock: clock() }).unwrap();
}

/// The message of the only fault.
pub(super) fn fault<S: Spec<Point = LayerPoint>>(yaml: &str, files: &[(&str, &[u8])]) -> String {
    let faults = build::<S>(yaml, files).unwrap_err();
    assert_eq!(faults.as_slice().len(), 1, "{faults}");
    format!("{} {}", faults.as_slice()[0].pointer(), faults.as_slice()[0].message())
}

/// 800 km around 64S 136E in cells of 10 km.
pub(super) fn grid() -> Grid {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let centre = polar.forward(position(-64.0, 136.0));
    let origin = coord! { x: centre.x - 400_000.0, y: centre.y - 400_000.0 };
    Grid::new(polar, origin, 10_000.0, 81, 81).unwrap()
}

pub(super) fn chart(layer: &dyn Layer) -> Result<Chart, Error> {
    let layers = [NamedLayer { name: "layer", layer }];
    Chart::lay(grid(), clock(), WINDOW_H, &layers, &layer.quantities(), &Control::default())
}

pub(super) fn at(latitude_deg: f64, longitude_deg: f64) -> Position {
    position(latitude_deg, longitude_deg)
}

/// A quantity at a place and hour.
pub(super) fn sample(chart: &Chart, hour: f64, quantity: Quantity, at: Position) -> f32 {
    assert!(chart.grid().cell_at(at).is_some());
    chart.sample(hour, quantity, at).unwrap()
}

/// A feature that is a box in longitude and latitude.
pub(super) fn box_feature(
    (west, east): (f64, f64),
    (south, north): (f64, f64),
    properties: &str,
) -> String {
    format!(
        r#"{{"type":"Feature","properties":{properties},"geometry":{{"type":"Polygon","coordinates":
        [[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]}}}}"#
    )
}

pub(super) fn collection(features: &[String]) -> String {
    format!(r#"{{"type":"FeatureCollection","features":[{}]}}"#, features.join(","))
}
