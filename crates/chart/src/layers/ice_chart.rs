//! `ice_chart`: charts of an ice service with egg-code attributes, from polygons.

mod features;
mod source;

use std::{collections::BTreeMap, ops::Range, path::PathBuf};

use dipward_geodesy::Grid;
use dipward_plugin::{
    Assumption, Beyond, BuildContext, Change, Control, Error, Fault, Faults, Ground, Laid, Layer,
    LayerPoint, Outline, Provenance, Quantity, Spec,
};
use geo::MultiPolygon;
use jiff::Timestamp;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    ageing::{Ageing, GrowingDoubt},
    drift::FreeDrift,
    noted,
    packed::check_memory,
    schedule::{BeyondRule, ChangeRule, Schedule},
    scheduled::Show,
};
use crate::{
    codes::{IceRegime, RangeReading, Reading, Stage},
    vector::{PlanePolygon, cells_by_centre},
};
use features::{ChartArea, chart_areas};
pub use source::{ClassLegend, DateInName};
use source::{Legend, read_chart};

/// Charts of one ice service, each valid at a time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IceChartSpec {
    /// The charts, in any order.
    #[schemars(length(min = 1))]
    charts: Vec<ChartFile>,
    /// How the ice changes from one chart to the next.
    #[serde(default)]
    change: ChangeRule,
    /// What holds before the first chart and after the last.
    #[serde(default)]
    beyond: BeyondRule,
    /// How old the last chart may grow before it covers nothing more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0))]
    max_age_h: Option<f64>,
    /// Whether and how the ice drifts after the last chart; without it, it stays where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drift: Option<FreeDrift>,
    /// How doubtful the ice grows with age; without it, nothing is said of its doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    doubt: Option<GrowingDoubt>,
    /// What a range of concentrations, such as 46, stands for.
    #[serde(default)]
    ranges: RangeReading,
    /// Thickness by stage of development, where it is known better than by its name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    thickness_m: BTreeMap<Stage, f32>,
    /// The stage that ice of no stated stage is taken for; without it, such ice is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unknown_stage: Option<Stage>,
    /// The columns of the service for attributes of SIGRID-3: `{CT: total, SA: kind}`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    columns: BTreeMap<String, String>,
    /// A column of words for the ice, for a service that draws classes instead of codes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    classes: Option<ClassLegend>,
}

/// One chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartFile {
    /// Polygons with SIGRID-3 attributes: a shapefile (`.shp`, with its `.dbf` and `.prj` beside it), a
    /// GeoPackage (`.gpkg`, with the write-ahead log beside it) or GeoJSON.
    file: PathBuf,
    /// When the chart is valid.
    #[schemars(with = "String", extend("format" = "date-time"))]
    valid: Timestamp,
    /// The table of a GeoPackage that has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    table: Option<String>,
    /// What a date in the file's name means.
    #[serde(default, skip_serializing_if = "is_checked")]
    date_in_name: DateInName,
}

fn is_checked(rule: &DateInName) -> bool {
    *rule == DateInName::Check
}

impl Spec for IceChartSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "ice_chart";
    const SUMMARY: &'static str =
        "ice charts with egg-code attributes (SIGRID-3): shapefile, GeoPackage or GeoJSON";
    const EXAMPLE: &'static str = "\
kind: ice_chart
charts:
  - {file: ice-2027-01-01.geojson, valid: 2027-01-01T00:00Z}
  - {file: ice-2027-01-11.geojson, valid: 2027-01-11T00:00Z}
change: linear
max_age_h: 240
thickness_m: {thick_first_year: 1.5}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        for (stage, thickness_m) in &self.thickness_m {
            if !(*thickness_m > 0.0 && *thickness_m <= 50.0) {
                let name = serde_json::to_value(stage).unwrap_or_default();
                faults.push(Fault::at(
                    format!("/thickness_m/{}", name.as_str().unwrap_or_default()),
                    format!("{thickness_m} m is no thickness of ice"),
                ));
            }
        }
        if self.unknown_stage.is_some_and(|stage| stage.thickness_m().is_none()) {
            faults.push(Fault::at("/unknown_stage", "this stage says nothing of the ice"));
        }
        let reading = Reading {
            ranges: self.ranges,
            thickness_m: self.thickness_m,
            unknown_stage: self.unknown_stage,
        };
        let mut charts = Vec::new();
        for (index, chart) in self.charts.iter().enumerate() {
            let legend = Legend { columns: &self.columns, classes: self.classes.as_ref() };
            let read = read_chart(chart, legend, context).and_then(|read| {
                Ok((chart_areas(&chart.file, read.features, &reading)?, read.notes))
            });
            match read {
                Ok((areas, notes)) => {
                    charts.push(Charted { file: chart.file.clone(), areas, notes });
                }
                Err(error) => {
                    faults.push(Fault::at(format!("/charts/{index}/file"), error.to_string()));
                }
            }
        }
        let valid: Vec<Timestamp> = self.charts.iter().map(|chart| chart.valid).collect();
        let rules = (self.change, self.beyond);
        let schedule = Schedule::of_files(&valid, rules, self.max_age_h, context, |index| {
            format!("/charts/{index}/valid")
        });
        let ageing = Ageing::build(self.drift, self.doubt, self.beyond.into(), context);
        let (schedule, ageing) = (noted(schedule, &mut faults), noted(ageing, &mut faults));
        match (schedule, ageing) {
            (Some(schedule), Some(ageing)) => {
                faults.into_result(
                    Box::new(IceCharts { charts, schedule, reading, ageing }) as Box<dyn Layer>
                )
            }
            _ => Err(faults),
        }
    }
}

#[derive(Debug)]
struct Charted {
    file: PathBuf,
    areas: Vec<ChartArea>,
    /// What must be told of how the file was read.
    notes: Vec<String>,
}

#[derive(Debug)]
struct IceCharts {
    charts: Vec<Charted>,
    schedule: Schedule,
    reading: Reading,
    ageing: Ageing,
}

impl Layer for IceCharts {
    fn quantities(&self) -> Vec<Quantity> {
        let mut quantities = vec![Quantity::ICE_CONCENTRATION, Quantity::ICE_THICKNESS];
        quantities.extend(Quantity::ICE_PARTIALS);
        if self.tells_land_ice() {
            quantities.push(Quantity::LAND_ICE);
        }
        quantities.extend(self.ageing.quantities());
        quantities
    }

    fn provenance(&self) -> Provenance {
        let files: Vec<String> =
            self.charts.iter().map(|chart| chart.file.to_string_lossy().into_owned()).collect();
        Provenance { name: "ice charts".to_owned(), source: files.join(", "), licence: None }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let ranges = match self.reading.ranges {
            RangeReading::Highest => "the highest",
            RangeReading::Middle => "the middle",
        };
        let mut list = vec![
            Assumption::new(
                "chart",
                format!("a charted range of concentrations stands for {ranges} of the range"),
            ),
            Assumption::new(
                "chart",
                "charted ice has the middle thickness of its stage of development, and old ice and \
                 others without an upper bound a cautious figure, where the scenario states none",
            ),
        ];
        if self.schedule.hours().len() > 1 && self.schedule.change() == Change::Linear {
            list.push(Assumption::new("chart", "ice changes linearly from one chart to the next"));
        }
        if self.tells_land_ice() {
            list.push(Assumption::new(
                "chart",
                format!(
                    "charted ice of land origin (glacier ice, icebergs, and growlers, whose code floebergs \
                     share) without a tenth of its own, as in bergy water, stands for {:.0} %; it lies \
                     where it was charted",
                    100.0 * IceRegime::TRACE
                ),
            ));
        }
        list.extend(self.charts.iter().filter_map(Charted::odd_codes));
        let notes = self.charts.iter().flat_map(|chart| &chart.notes);
        list.extend(notes.map(|note| Assumption::new("chart", note.as_str())));
        list.extend(self.ageing.assumptions());
        if self.schedule.beyond() == Beyond::Hold && self.ageing.stays() {
            list.push(Assumption::new(
                "chart",
                "ice persists as first charted before the first chart and as last charted after the \
                 last",
            ));
        }
        if let Some(stage) = self.reading.unknown_stage {
            list.push(Assumption::new(
                "chart",
                format!("charted ice of no stated stage is taken for {stage}"),
            ));
        }
        list
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        check_memory(ground.grid, self.charts.len(), 2)?;
        let rasters: Vec<Result<Raster, Error>> =
            self.charts.par_iter().map(|chart| chart.lay(ground.grid, control)).collect();
        let rasters = rasters.into_iter().collect::<Result<Vec<_>, _>>()?;
        let show = LaidIceCharts { rasters };
        self.ageing.lay(self.schedule.clone(), show, ground, control)
    }
}

impl IceCharts {
    /// Whether any chart tells of ice of land origin.
    fn tells_land_ice(&self) -> bool {
        let mut areas = self.charts.iter().flat_map(|chart| &chart.areas);
        areas.any(|area| area.regime.land_ice > 0.0)
    }
}

/// How many odd codes are told one by one.
const TOLD: usize = 3;

impl Charted {
    /// What the chart has for a form or a trace and the format has not.
    fn odd_codes(&self) -> Option<Assumption> {
        let odd: Vec<&str> =
            self.areas.iter().flat_map(|area| &area.odd_codes).map(String::as_str).collect();
        let told = odd.get(..odd.len().min(TOLD)).unwrap_or_default().join("; ");
        let more = if odd.len() > TOLD { "; and so on" } else { "" };
        (!odd.is_empty()).then(|| {
            Assumption::new(
                "chart",
                format!(
                    "{}: {} codes of form or trace that SIGRID-3 has not there count as unknown ({told}{more})",
                    self.file.display(),
                    odd.len()
                ),
            )
        })
    }

    fn lay(&self, grid: &Grid, control: &Control) -> Result<Raster, Error> {
        let mut area_of_cell = vec![NO_AREA; grid.len()];
        let mut ice = Vec::new();
        // The areas were counted when the file was read; they fit.
        for (number, area) in (NO_AREA + 1..).zip(&self.areas) {
            control.check()?;
            for polygon in &area.polygons {
                let polygon = PlanePolygon::of_file(polygon, &area.map, grid);
                cells_by_centre(&polygon, grid, |run| {
                    let run = run.start as usize..run.end as usize;
                    area_of_cell.get_mut(run).into_iter().flatten().for_each(|cell| *cell = number);
                });
                if area.regime.concentration > 0.0 {
                    ice.push(polygon.to_metres(grid));
                }
            }
        }
        if area_of_cell.iter().all(|area| *area == NO_AREA) {
            let first = self.areas.first().map_or("no feature", |area| area.label.as_str());
            return Err(Error::File {
                path: self.file.clone(),
                message: format!(
                    "covers no cell of the grid, from {first} on: is it a chart of other waters?"
                ),
            });
        }
        let values = self.areas.iter().map(|area| area.columns()).collect();
        Ok(Raster { area_of_cell, values, ice: MultiPolygon::new(ice) })
    }
}

/// The number of a cell that no area holds; areas count from the next.
const NO_AREA: u16 = 0;

/// The most areas that a chart may have.
const MAX_AREAS: usize = (u16::MAX - 1) as usize;

/// One chart on the grid. Memory: 2 bytes a cell.
#[derive(Debug)]
struct Raster {
    area_of_cell: Vec<u16>,
    /// Concentration, thickness, ice of land origin and partials of each area.
    values: Vec<[f32; 14]>,
    ice: MultiPolygon<f64>,
}

#[derive(Debug)]
struct LaidIceCharts {
    rasters: Vec<Raster>,
}

/// The place of a quantity in an area's columns.
fn column(quantity: Quantity) -> Option<usize> {
    if quantity == Quantity::ICE_CONCENTRATION {
        Some(0)
    } else if quantity == Quantity::ICE_THICKNESS {
        Some(1)
    } else if quantity == Quantity::LAND_ICE {
        Some(2)
    } else {
        Quantity::ICE_PARTIALS.iter().position(|partial| *partial == quantity).map(|at| at + 3)
    }
}

impl Show for LaidIceCharts {
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let (Some(raster), Some(column)) = (self.rasters.get(state), column(quantity)) else {
            return;
        };
        // One number an area, so that the walk over the cells looks up a short table.
        let table: Vec<f32> = std::iter::once(f32::NAN)
            .chain(raster.values.iter().filter_map(|values| values.get(column).copied()))
            .collect();
        let run = cells.start as usize..cells.end as usize;
        let areas = raster.area_of_cell.get(run).unwrap_or_default();
        for (out, area) in out.iter_mut().zip(areas) {
            *out = table.get(usize::from(*area)).copied().unwrap_or(f32::NAN);
        }
    }

    fn outlines(&self, first: Option<usize>) -> Vec<Outline> {
        first
            .and_then(|first| self.rasters.get(first))
            .map(|raster| Outline {
                quantity: Quantity::ICE_CONCENTRATION,
                areas: raster.ice.clone(),
            })
            .into_iter()
            .collect()
    }
}

#[cfg(test)]
mod tests;
