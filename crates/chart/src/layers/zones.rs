//! `zones`: areas closed to traffic or with a greatest speed, from GeoJSON, shapefile or GeoPackage.

use std::ops::Range;
use std::path::PathBuf;

use dipward_geodesy::Grid;
use dipward_plugin::{
    Assumption, BuildContext, Clock, Control, Error, Fault, Faults, Ground, Laid, Layer,
    LayerPoint, Outline, Provenance, Quantity, Spec,
};
use geo::MultiPolygon;
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{
    schedule::Schedule,
    scheduled::{Scheduled, Show},
};
use crate::crs::MapProjection;
use crate::vector::{
    AreaFeature, AreaFile, FilePolygon, PlanePolygon, cells_touched, merged, read_area_file,
};

/// Zones from a file of polygons: GeoJSON, shapefile (`.shp`) or GeoPackage (`.gpkg`).
///
/// Each feature is a polygon with the property `no_go: true`, or `speed_limit_kn` with a number, or
/// both; `from` and `until` (RFC 3339) say when it is in force. A zone takes every cell that it
/// touches.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZonesSpec {
    /// The file.
    file: PathBuf,
    /// The table of a GeoPackage that has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    table: Option<String>,
    /// What a zone that touches no cell of the chart means.
    #[serde(default)]
    off_grid: OffGrid,
}

/// What a zone that touches no cell of the chart means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum OffGrid {
    /// A mistake.
    #[default]
    Refuse,
    /// Nothing: the file serves other charts too.
    Ignore,
}

impl Spec for ZonesSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "zones";
    const SUMMARY: &'static str =
        "no-go areas and speed limits from polygons, for a time or always";
    const EXAMPLE: &'static str = "{kind: zones, file: zones.geojson, off_grid: ignore}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let at_file = |error: Error| Faults::from(Fault::at("/file", error.to_string()));
        let AreaFile { features, notes } =
            read_area_file(&self.file, self.table.as_deref(), context).map_err(at_file)?;
        let mut faults = Faults::default();
        let mut zones = Vec::new();
        for feature in features {
            let label = feature.label.clone();
            match zone(feature, context.clock()) {
                Ok(zone) => zones.push(zone),
                Err(message) => faults.push(Fault::at(
                    "/file",
                    format!("{}: {label}: {message}", self.file.display()),
                )),
            }
        }
        let layer = Zones { file: self.file, off_grid: self.off_grid, zones, notes };
        faults.into_result(Box::new(layer) as Box<dyn Layer>)
    }
}

#[derive(Debug)]
struct Zone {
    label: String,
    no_go: bool,
    speed_limit_kn: Option<f32>,
    /// Hours in force.
    from: f64,
    until: f64,
    map: MapProjection,
    polygons: Vec<FilePolygon>,
}

fn zone(feature: AreaFeature, clock: Clock) -> Result<Zone, String> {
    let no_go = match feature.attribute("no_go") {
        None => false,
        Some(Value::Bool(no_go)) => *no_go,
        Some(other) => return Err(format!("`no_go` is {other}, but true or false is wanted")),
    };
    let speed_limit_kn = match feature.attribute("speed_limit_kn") {
        None => None,
        Some(value) => match value.as_f64() {
            Some(limit) if limit > 0.0 && limit <= 100.0 => Some(limit as f32),
            _ => {
                return Err(format!("`speed_limit_kn` is {value}, but a number above 0 is wanted"));
            }
        },
    };
    if !no_go && speed_limit_kn.is_none() {
        return Err("has neither `no_go: true` nor `speed_limit_kn`".to_owned());
    }
    let hour = |name: &str| match feature.attribute(name) {
        None => Ok(None),
        Some(value) => value
            .as_str()
            .and_then(|text| text.parse::<Timestamp>().ok())
            .map(|at| Some(clock.hour(at)))
            .ok_or_else(|| {
                format!("`{name}` is {value}, but a time like 2027-01-15T00:00Z is wanted")
            }),
    };
    let from = hour("from")?.unwrap_or(f64::NEG_INFINITY);
    let until = hour("until")?.unwrap_or(f64::INFINITY);
    if until <= from {
        return Err("`until` is not after `from`".to_owned());
    }
    let AreaFeature { label, map, polygons, .. } = feature;
    Ok(Zone { label, no_go, speed_limit_kn, from, until, map, polygons })
}

#[derive(Debug)]
struct Zones {
    file: PathBuf,
    off_grid: OffGrid,
    zones: Vec<Zone>,
    /// What must be told of how the file was read.
    notes: Vec<String>,
}

impl Layer for Zones {
    fn quantities(&self) -> Vec<Quantity> {
        vec![Quantity::CLOSED, Quantity::SPEED_LIMIT]
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "zones".to_owned(),
            source: self.file.to_string_lossy().into_owned(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.notes.iter().map(|note| Assumption::new("chart", note.as_str())).collect()
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        let mut laid = Vec::with_capacity(self.zones.len());
        for zone in &self.zones {
            control.check()?;
            let zone = zone.lay(ground.grid);
            if zone.runs.is_empty() && self.off_grid == OffGrid::Refuse {
                return Err(Error::File {
                    path: self.file.clone(),
                    message: format!(
                        "{}: covers no cell of the grid (`off_grid: ignore` lets it pass)",
                        zone.label
                    ),
                });
            }
            laid.push(zone);
        }
        // Only what happens after the start needs an instant; one before it shows how it began.
        let mut moments: Vec<f64> = laid
            .iter()
            .flat_map(|zone| [zone.from, zone.until])
            .filter(|hour| hour.is_finite() && *hour > 0.0)
            .collect();
        if !moments.is_empty() {
            moments.push(0.0);
        }
        moments.sort_by(f64::total_cmp);
        moments.dedup();
        let schedule = match moments.len() {
            0 => Schedule::always(),
            _ => Schedule::of_moments(moments.clone()),
        };
        Ok(Box::new(Scheduled { schedule, show: LaidZones { zones: laid, moments } }))
    }
}

impl Zone {
    fn lay(&self, grid: &Grid) -> LaidZone {
        let plane: Vec<PlanePolygon> = self
            .polygons
            .iter()
            .map(|polygon| PlanePolygon::of_file(polygon, &self.map, grid))
            .collect();
        LaidZone {
            label: self.label.clone(),
            no_go: self.no_go,
            speed_limit_kn: self.speed_limit_kn,
            from: self.from,
            until: self.until,
            runs: merged(plane.iter().flat_map(|polygon| cells_touched(polygon, grid)).collect()),
            outline: plane.iter().map(|polygon| polygon.to_metres(grid)).collect(),
        }
    }
}

/// Memory: 8 bytes a row of the grid that a zone meets, and its outline.
#[derive(Debug)]
struct LaidZone {
    label: String,
    no_go: bool,
    speed_limit_kn: Option<f32>,
    from: f64,
    until: f64,
    /// Its cells, as increasing runs that do not touch.
    runs: Vec<Range<u32>>,
    outline: MultiPolygon<f64>,
}

impl LaidZone {
    /// What it says of a quantity.
    fn value(&self, quantity: Quantity) -> Option<f32> {
        if quantity == Quantity::CLOSED {
            self.no_go.then_some(1.0)
        } else if quantity == Quantity::SPEED_LIMIT {
            self.speed_limit_kn
        } else {
            None
        }
    }
}

#[derive(Debug)]
struct LaidZones {
    zones: Vec<LaidZone>,
    /// The hour of each state.
    moments: Vec<f64>,
}

impl Show for LaidZones {
    /// Where no zone lies it leaves "not covered", so that layers below may have zones too.
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        // Without moments after the start, what is in force then is in force for good.
        let hour = self.moments.get(state).copied().unwrap_or(0.0);
        for zone in self.zones.iter().filter(|zone| zone.from <= hour && hour < zone.until) {
            let Some(value) = zone.value(quantity) else { continue };
            let first = zone.runs.partition_point(|run| run.end <= cells.start);
            for run in zone.runs.iter().skip(first).take_while(|run| run.start < cells.end) {
                let from = run.start.max(cells.start) - cells.start;
                let to = run.end.min(cells.end) - cells.start;
                for out in out.get_mut(from as usize..to as usize).into_iter().flatten() {
                    // The lowest speed limit counts; `min` passes over "not a number".
                    *out = out.min(value);
                }
            }
        }
    }

    fn outlines(&self, _: Option<usize>) -> Vec<Outline> {
        [Quantity::CLOSED, Quantity::SPEED_LIMIT]
            .into_iter()
            .map(|quantity| Outline {
                quantity,
                areas: self
                    .zones
                    .iter()
                    .filter(|zone| zone.value(quantity).is_some())
                    .flat_map(|zone| zone.outline.0.iter().cloned())
                    .collect(),
            })
            .filter(|outline| !outline.areas.0.is_empty())
            .collect()
    }
}

#[cfg(test)]
mod tests;
