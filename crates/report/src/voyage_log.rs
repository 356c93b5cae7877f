//! The log of each voyage as CSV.

use std::collections::BTreeSet;

use dipward_geodesy::KM_PER_NAUTICAL_MILE;
use dipward_plugin::{
    BuildContext, Closure, Error, Faults, LogEntry, OutputFile, Report, Spec, Writer, WriterPoint,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::gpx_routes::free_stem;

/// Keys of the kind `voyage_log`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VoyageLogSpec {}

/// Writes the log of each approach's voyage as `voyages/<id>.csv`: a line for each part of it within one
/// cell of the grid and between two frames of the chart, from port to port.
///
/// Columns, empty where nothing is known:
///
/// | column | what |
/// |---|---|
/// | `begin_utc`, `end_utc` | when the part begins and ends |
/// | `phase` | `under_way`, `waiting`, `on_station` or `berth` |
/// | `latitude_deg`, `longitude_deg` | where it begins, WGS84 |
/// | `distance_km`, `speed_kn` | what is sailed and how fast |
/// | `fuel_t`, `fuel_used_t` | what is burnt in it, and by its end since the start |
/// | `power_setting` | 0 the most powerful; empty where she does not sail |
/// | `ice_concentration` | share of the cell that ice covers, 0 to 1 |
/// | `risk_index`, `elevated` | POLARIS, and whether operation is subject to elevated risk (0 or 1) |
/// | `closed_by` | why the cell is closed to her; empty where it is open |
/// | `sun_height_deg` | height of the Sun's centre in the middle of the part |
/// | `horizontal_nt` | the main field's horizontal strength, which steers a compass |
#[derive(Debug, Clone, Copy, Default)]
pub struct VoyageLogs;

impl Spec for VoyageLogSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "voyage_log";
    const SUMMARY: &'static str = "the log of each voyage, cell by cell, as voyages/<id>.csv";
    const EXAMPLE: &'static str = "{kind: voyage_log}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(VoyageLogs))
    }
}

const COLUMNS: [&str; 16] = [
    "begin_utc",
    "end_utc",
    "phase",
    "latitude_deg",
    "longitude_deg",
    "distance_km",
    "speed_kn",
    "fuel_t",
    "fuel_used_t",
    "power_setting",
    "ice_concentration",
    "risk_index",
    "elevated",
    "closed_by",
    "sun_height_deg",
    "horizontal_nt",
];

impl Writer for VoyageLogs {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let mut taken = BTreeSet::new();
        let mut files = Vec::new();
        for approach in &report.ranking.approaches {
            let stem = free_stem(&approach.id, &mut taken);
            let Some(log) = report.voyages.get(&approach.id) else { continue };
            let failed = |error: String| {
                Error::Unsolved(format!("the log of {stem} cannot be written: {error}"))
            };
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(COLUMNS).map_err(|error| failed(error.to_string()))?;
            for entry in log {
                writer.write_record(row(entry)).map_err(|error| failed(error.to_string()))?;
            }
            let bytes = writer.into_inner().map_err(|error| failed(error.to_string()))?;
            files.push(OutputFile { name: format!("voyages/{stem}.csv"), bytes });
        }
        Ok(files)
    }
}

fn row(entry: &LogEntry) -> [String; COLUMNS.len()] {
    let optional = |value: Option<f64>, digits: usize| {
        value.map(|value| format!("{value:.digits$}")).unwrap_or_default()
    };
    let sails = entry.power_setting.is_some() && entry.hours > 0.0;
    let speed_kn = sails.then(|| entry.distance_km / entry.hours / KM_PER_NAUTICAL_MILE);
    let phase = serde_json::to_value(entry.phase).unwrap_or_default();
    [
        entry.begin.to_string(),
        entry.end.to_string(),
        phase.as_str().unwrap_or_default().to_owned(),
        format!("{:.5}", entry.latitude_deg),
        format!("{:.5}", entry.longitude_deg),
        format!("{:.3}", entry.distance_km),
        optional(speed_kn, 2),
        format!("{:.4}", entry.fuel_t),
        format!("{:.3}", entry.fuel_used_t),
        entry.power_setting.map(|setting| setting.to_string()).unwrap_or_default(),
        optional(entry.ice_concentration, 3),
        optional(entry.risk_index, 2),
        u8::from(entry.elevated).to_string(),
        if entry.closure == Closure::Open { String::new() } else { entry.closure.to_string() },
        format!("{:.1}", entry.sun_height_deg),
        format!("{:.0}", entry.horizontal_nt),
    ]
}
