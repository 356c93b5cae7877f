//! The keys of a scenario, with their defaults.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    CraftPoint, CriterionPoint, DisturbancePoint, LastLegPoint, LayerPoint, MainFieldPoint,
    PolicyPoint, SearchPoint, WriterPoint,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::slot::{Slot, kinds};

/// A scenario.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScenarioKeys {
    /// What the voyage is called in reports.
    #[schemars(length(min = 1))]
    pub title: String,
    /// Remarks shown at the top of every report; say here what is invented.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Seed of all random draws.
    #[serde(default = "seed")]
    pub seed: u64,
    /// The time that the plan may use.
    pub window: Window,
    /// The target.
    pub pole: PoleKeys,
    /// Where the voyage goes.
    pub chart: ChartKeys,
    /// What sails or drives.
    pub craft: Slot<CraftPoint>,
    /// Ports and departures.
    pub voyage: VoyageKeys,
    /// What may carry a party from the ship to the pole and back: for each entry the ship also seeks
    /// landings, and the approaches in two stages are ranked with the others. None by default.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub last_leg: Vec<Slot<LastLegPoint>>,
    /// The stay at the pole.
    #[serde(default)]
    pub station: StationKeys,
    /// How routes are found.
    #[serde(default = "search")]
    pub search: Slot<SearchPoint>,
    /// Figures of merit, the most important first.
    #[serde(default = "ranking")]
    #[schemars(length(min = 1))]
    pub ranking: Vec<Slot<CriterionPoint>>,
    /// How the figures of merit make an order.
    #[serde(default)]
    pub order: Order,
    /// How sure the data must be before one approach stands in a group before another: the share of the
    /// drawings of ensemble members in which the difference must be more than the criterion's
    /// indifference. Approaches that are not told apart so surely are of one group.
    #[serde(default = "confidence")]
    #[schemars(range(min = 0.5), extend("exclusiveMaximum" = 1))]
    pub confidence: f64,
    /// The files to write; by default one of each kind that the program has.
    #[serde(default)]
    pub outputs: Option<Vec<Slot<WriterPoint>>>,
}

/// The time that a plan may use, from the first possible departure to the last return.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// First instant, UTC ("2027-01-15T00:00Z").
    #[schemars(with = "String")]
    pub from: Timestamp,
    /// Last instant, UTC.
    #[schemars(with = "String")]
    pub until: Timestamp,
}

/// The target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PoleKeys {
    /// Which pole.
    #[schemars(with = "HemisphereName")]
    pub hemisphere: Hemisphere,
    /// Height above the ellipsoid at which the field is to be vertical, km.
    #[serde(default)]
    #[schemars(range(min = -1.0, max = 10.0))]
    pub height_km: f64,
    /// The main field.
    #[serde(default = "model")]
    pub model: Slot<MainFieldPoint>,
    /// What throws the pole about.
    #[serde(default = "disturbance")]
    pub disturbance: Slot<DisturbancePoint>,
    /// Size of the ensemble of pole tracks.
    #[serde(default = "members")]
    #[schemars(range(min = 1, max = 20000))]
    pub members: u32,
    /// How often an hour the instantaneous pole is looked at: what is to be near for hours on end must be
    /// near each time. Looked at once an hour, chances come out half as high again and more.
    #[serde(default = "looks_per_hour")]
    #[schemars(range(min = 1, max = 60))]
    pub looks_per_hour: u32,
}

#[derive(JsonSchema)]
#[serde(rename_all = "snake_case")]
#[expect(dead_code, reason = "stands for the names in the schema")]
enum HemisphereName {
    North,
    South,
}

/// Where the voyage goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChartKeys {
    /// Side of a grid cell, km.
    #[serde(default = "cell_km")]
    #[schemars(range(min = 0.1, max = 100.0))]
    pub cell_km: f64,
    /// How far the grid reaches beyond ports and pole, km.
    #[serde(default = "margin_km")]
    #[schemars(range(min = 0.0, max = 3000.0))]
    pub margin_km: f64,
    /// Latitude of true scale of the grid's projection.
    #[serde(default = "true_scale_latitude_deg")]
    #[schemars(range(min = 40.0, max = 90.0))]
    pub true_scale_latitude_deg: f64,
    /// Meridian that is straight up (north) or down (south) on the map; the pole's own by default.
    #[serde(default)]
    #[schemars(range(min = -180.0, max = 360.0))]
    pub central_meridian_deg: Option<f64>,
    /// The layers; the first that covers a cell wins.
    pub layers: Vec<Slot<LayerPoint>>,
}

/// Of [`VoyageKeys::home`]: any of the ports.
pub(crate) const ANY_HOME: &str = "any";
/// Of [`VoyageKeys::home`]: the port that the voyage left.
pub(crate) const SAME_HOME: &str = "same";

/// Ports and departures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VoyageKeys {
    /// Ports to leave from and to return to.
    #[schemars(length(min = 1))]
    pub ports: Vec<Port>,
    /// When to leave.
    pub departures: Departures,
    /// Where voyages may end: in `any` of the ports that have `home`, in the `same` port that they left, or in
    /// the one that is named.
    #[serde(default = "any_home")]
    pub home: String,
    /// How far from its stated position a port may be reached on the grid, km.
    #[serde(default = "harbour_km")]
    #[schemars(range(min = 0.0, max = 200.0))]
    pub harbour_km: f64,
    /// Speed on the miles between a port and the open cell where the planned track begins or ends, kn: their
    /// hours are told beside those of the track.
    #[serde(default = "pilotage_kn")]
    #[schemars(range(min = 0.5, max = 40.0))]
    pub pilotage_kn: f64,
    /// Places of refuge beside the ports, for the critical points along the way out.
    #[serde(default)]
    pub refuges: Vec<RefugeKeys>,
    /// Days that the craft may be beset: their fuel is held against every decision to go on, in the plan, for
    /// the last moment to turn and in re-planning alike, and the margin that is left is told.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 400.0))]
    pub beset_days: f64,
    /// Steps in which the way out of each of the first approaches is scanned for points of no return;
    /// each costs two searches. 0 looks for none.
    #[serde(default = "turning_points")]
    #[schemars(range(min = 0, max = 100))]
    pub turning_points: u32,
    /// Routes wanted for each port and departure, the best and distinct alternatives.
    #[serde(default = "routes")]
    #[schemars(range(min = 1, max = 12))]
    pub routes: usize,
    /// Approaches kept in the ranking.
    #[serde(default = "keep")]
    #[schemars(range(min = 1, max = 1000))]
    pub keep: usize,
}

/// A port.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Port {
    /// Its name.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Geodetic latitude, WGS84.
    #[schemars(range(min = -90.0, max = 90.0))]
    pub latitude_deg: f64,
    /// Longitude, east positive.
    #[schemars(range(min = -180.0, max = 360.0))]
    pub longitude_deg: f64,
    /// Whether voyages may begin here.
    #[serde(default = "yes")]
    pub depart: bool,
    /// Whether voyages may end here.
    #[serde(default = "yes")]
    pub home: bool,
}

/// A place of refuge: an anchorage, a station, an ice edge where help lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RefugeKeys {
    /// Its name.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Geodetic latitude, WGS84.
    #[schemars(range(min = -90.0, max = 90.0))]
    pub latitude_deg: f64,
    /// Longitude, east positive.
    #[schemars(range(min = -180.0, max = 360.0))]
    pub longitude_deg: f64,
}

/// When to leave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Departures {
    /// The first departure, UTC.
    #[schemars(with = "String")]
    pub from: Timestamp,
    /// The last departure, UTC; the first alone by default.
    #[serde(default)]
    #[schemars(with = "Option<String>")]
    pub until: Option<Timestamp>,
    /// Hours between departures.
    #[serde(default = "every_h")]
    #[schemars(range(min = 0.25, max = 8760.0))]
    pub every_h: f64,
}

/// The stay at the pole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct StationKeys {
    /// The pole counts as attained when it comes within this distance of the craft, km.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub within_km: f64,
    /// And stays within for this many hours on end.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub for_h: f64,
    /// The shortest stay worth the voyage, hours.
    #[schemars(range(min = 0.0, max = 10000.0))]
    pub at_least_h: f64,
    /// The longest stay, hours.
    #[schemars(range(min = 0.0, max = 10000.0))]
    pub at_most_h: f64,
    /// What the party does on station.
    pub policy: Slot<PolicyPoint>,
    /// Fuel set aside for moving about on station, beyond what keeping station burns, t.
    #[schemars(range(min = 0.0, max = 10000.0))]
    pub chase_fuel_t: f64,
    /// Distance from the craft up to which the party's own readings fix the instantaneous pole, km.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub reading_range_km: f64,
    /// Hours between the instants at which leaving is considered.
    #[schemars(range(min = 1.0, max = 240.0))]
    pub leave_every_h: f64,
    /// What the craft does where the chart closes over the place that it lies at.
    pub when_closed: WhenClosed,
}

/// What a craft does where the chart closes over the place that it lies at: ice beyond it, or a zone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum WhenClosed {
    /// At the pole it moves off to the nearest place that stays open, and comes back; where none is within
    /// an hour's way, and at a landing, it leaves before.
    #[default]
    MoveOff,
    /// It leaves for home before.
    Leave,
    /// There is no such approach.
    Refuse,
}

impl Default for StationKeys {
    fn default() -> Self {
        Self {
            within_km: 10.0,
            for_h: 1.0,
            at_least_h: 48.0,
            at_most_h: 240.0,
            policy: Slot::kind("hold"),
            chase_fuel_t: 0.0,
            reading_range_km: 100.0,
            leave_every_h: 24.0,
            when_closed: WhenClosed::default(),
        }
    }
}

/// How figures of merit make an order.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    /// Figure by figure: an approach that the data show to be worse than the best of those left, by more
    /// than the indifference, falls into a later group; the next figure decides among the rest.
    #[default]
    Lexicographic,
    /// The weighted sum: an approach whose sum the data show to be less than the greatest falls into a
    /// later group.
    Weighted,
}

fn seed() -> u64 {
    1
}

fn confidence() -> f64 {
    0.9
}

fn model() -> Slot<MainFieldPoint> {
    Slot::kind("igrf14")
}

fn disturbance() -> Slot<DisturbancePoint> {
    Slot::new(json!({ "activity": { "kind": "history" }, "response": { "kind": "learnt" } }))
}

fn members() -> u32 {
    400
}

fn looks_per_hour() -> u32 {
    4
}

fn cell_km() -> f64 {
    5.0
}

fn margin_km() -> f64 {
    300.0
}

fn true_scale_latitude_deg() -> f64 {
    71.0
}

fn any_home() -> String {
    ANY_HOME.to_owned()
}

fn harbour_km() -> f64 {
    30.0
}

// Common practice in confined waters, from memory; no source.
fn pilotage_kn() -> f64 {
    8.0
}

fn routes() -> usize {
    3
}

fn turning_points() -> u32 {
    6
}

fn keep() -> usize {
    24
}

fn yes() -> bool {
    true
}

fn every_h() -> f64 {
    48.0
}

fn search() -> Slot<SearchPoint> {
    Slot::kind("grid")
}

fn ranking() -> Vec<Slot<CriterionPoint>> {
    kinds(&["attainment", "fuel_margin", "hours_elevated", "arrival"])
}
