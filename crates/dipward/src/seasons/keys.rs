//! The keys of a study.

use std::path::PathBuf;

use dipward_plugin::{
    CraftPoint, DisturbancePoint, Faults, LayerPoint, PolicyPoint, Registry, faults_by_schema,
    read_value, schema_of,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::scenario::{Departures, Slot, fill_slots};

/// A study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StudyKeys {
    /// What the study is called in reports.
    #[schemars(length(min = 1))]
    pub title: String,
    /// Remarks shown at the top of the page; say here what is invented.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Seed of all random draws. Each year has a seed of its own, made of this one and its place.
    #[serde(default = "seed")]
    pub seed: u64,
    /// The scenario that all cases are made of. Files that the study or the scenario name are looked
    /// for beside the scenario.
    #[schemars(with = "String", length(min = 1))]
    pub scenario: PathBuf,
    /// Keys of the scenario to replace for all cases, in the scenario's own form; null takes a key
    /// away.
    #[serde(default)]
    pub change: Map<String, Value>,
    /// The years.
    #[schemars(length(min = 1, max = 1000))]
    pub years: Vec<StudyYear>,
    /// When to leave, with the dates of the scenario's own year; its `voyage.departures` by default.
    #[serde(default)]
    pub departures: Option<Departures>,
    /// Names of the scenario's ports to leave from; by default all from which voyages may begin.
    #[serde(default)]
    #[schemars(length(min = 1))]
    pub ports: Option<Vec<String>>,
    /// The craft to compare; by default the scenario's own.
    #[serde(default)]
    #[schemars(length(min = 1, max = 100))]
    pub craft: Option<Vec<CraftVariant>>,
    /// The policies to compare; by default the scenario's own.
    #[serde(default)]
    #[schemars(length(min = 1, max = 100))]
    pub policies: Option<Vec<PolicyVariant>>,
}

/// A year of a study: the window, the departures and the season of the Kp history are those of the
/// scenario, moved by whole years. A past year as it was has its chart in `layers` and its Kp in
/// `disturbance`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StudyYear {
    /// The year in which the window begins.
    #[schemars(range(min = 1900, max = 2200))]
    pub year: i16,
    /// Its name in reports, for instance "2028 with the ice of 2019"; the year itself by default.
    #[serde(default)]
    pub name: Option<String>,
    /// The layers of this year in place of the scenario's.
    #[serde(default)]
    pub layers: Option<Vec<Slot<LayerPoint>>>,
    /// The year in which a window would begin that the layers' instants are written for; they are
    /// moved to `year` by whole years. By default that of the scenario where the layers are the
    /// scenario's, else `year`, so that they are not moved.
    #[serde(default)]
    #[schemars(range(min = 1900, max = 2200))]
    pub layers_of: Option<i16>,
    /// Days by which the season of the layers comes later; earlier where below zero.
    #[serde(default)]
    #[schemars(range(min = -180.0, max = 180.0))]
    pub layers_later_days: f64,
    /// The disturbance of this year in place of the scenario's: `kp_year` is the Kp that was observed in
    /// one past year. The scenario's `kp_history` is not that of this year, but is drawn from the season of
    /// all years.
    #[serde(default)]
    pub disturbance: Option<Slot<DisturbancePoint>>,
}

/// A craft of a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CraftVariant {
    /// Its name in reports.
    #[schemars(length(min = 1))]
    pub name: String,
    /// A whole craft with its kind; without a kind, the keys of the scenario's craft to replace, null
    /// taking one away.
    #[schemars(with = "std::collections::BTreeMap<String, Value>")]
    pub craft: Slot<CraftPoint>,
}

/// A policy of a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PolicyVariant {
    /// Its name in reports.
    #[schemars(length(min = 1))]
    pub name: String,
    /// The policy.
    pub policy: Slot<PolicyPoint>,
}

impl StudyKeys {
    /// Reads the keys of a study.
    ///
    /// # Errors
    ///
    /// All that is wrong with them by their schema.
    pub fn read(value: &Value) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        faults.extend(faults_by_schema(&schema_of::<Self>(), value));
        faults.into_result(())?;
        read_value(value.clone()).map_err(Faults::from)
    }
}

/// The JSON Schema (draft 2020-12) of a study with all registered kinds.
#[must_use]
pub fn study_schema(registry: &Registry) -> Value {
    let mut schema = schema_of::<StudyKeys>();
    fill_slots(&mut schema, registry);
    schema
}

fn seed() -> u64 {
    1
}
