use std::{collections::BTreeMap, fmt::Debug};

use dipward_geodesy::{Grid, Position};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::{Error, Outline, Profile, Provenance, Ranking, VoyageLog};

/// Everything that a writer may show.
#[derive(Debug, Clone)]
pub struct Report {
    /// The result.
    pub ranking: Ranking,
    /// What each approach passes through, by the approach's id.
    pub profiles: BTreeMap<String, Profile>,
    /// The log of each approach's voyage, by the approach's id.
    pub voyages: BTreeMap<String, VoyageLog>,
    /// Cumulative chance of attainment on station, by the approach's id: instant and probability.
    pub attainment_on_station: BTreeMap<String, Vec<(Timestamp, f64)>>,
    /// The target through the window.
    pub pole: PolePicture,
    /// The chart at the time of the picture.
    pub map: MapPicture,
    /// The layers, the first wins.
    pub layers: Vec<LayerRecord>,
    /// The scenario with every default written out, as YAML.
    pub resolved_scenario: String,
    /// How the result came about.
    pub run: RunRecord,
    /// What the scenario says of itself (that ship, people, dates and ice are invented, for instance).
    pub notes: Vec<String>,
}

/// The pole's mean path and how far it strays.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PolePicture {
    /// The mean pole through the window.
    pub mean_track: Vec<(Timestamp, Position)>,
    /// The mean daily path about the mean pole at mid-window, closed, from the ensemble.
    pub daily_oval: Vec<Position>,
    /// The same over the hours with a Kp below [`quiet_below_kp`](Self::quiet_below_kp); empty where the
    /// disturbance knows no Kp.
    pub quiet_oval: Vec<Position>,
    /// The Kp below which an hour counts as quiet.
    pub quiet_below_kp: f64,
    /// Holds half of the ensemble's positions over the window.
    pub ellipse_50: Option<PoleEllipse>,
    /// Holds 95 in 100 of the ensemble's positions over the window.
    pub ellipse_95: Option<PoleEllipse>,
    /// A sample of instantaneous positions for drawing.
    pub cloud: Vec<Position>,
    /// For each day of the window, the chance that the instantaneous pole comes within the stated
    /// distance of the mean pole for the stated time on that day.
    pub chance_by_day: Vec<(Timestamp, f64)>,
    /// The stated distance.
    pub within_km: f64,
}

/// An ellipse of positions on the ellipsoid, small enough to be drawn in a plane.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PoleEllipse {
    /// Its centre.
    #[serde(skip)]
    pub centre: Position,
    /// Half of the long axis.
    pub semi_major_km: f64,
    /// Half of the short axis.
    pub semi_minor_km: f64,
    /// True bearing of the long axis.
    pub bearing_deg: f64,
    /// Share of the positions inside.
    pub probability: f64,
}

/// What the map shows below the routes.
#[derive(Debug, Clone)]
pub struct MapPicture {
    /// The chart's grid; all columns below have its length.
    pub grid: Grid,
    /// The instant shown.
    pub at: Timestamp,
    /// Land and shelf outlines in the grid's metres.
    pub outlines: Vec<Outline>,
    /// Sea-ice concentration 0 to 1, not a number where unknown; empty if the chart has none.
    pub ice_concentration: Vec<f32>,
    /// Cells closed to the craft for another reason than land, shelf or ice.
    pub closed: Vec<bool>,
    /// Cells where the operation is subject to elevated risk.
    pub elevated: Vec<bool>,
    /// Ports and other named places.
    pub places: Vec<(String, Position)>,
}

/// One layer's part in the chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LayerRecord {
    /// The layer's name in the scenario.
    pub name: String,
    /// Its kind.
    pub kind: String,
    /// Its origin.
    pub provenance: Provenance,
    /// Share of the grid's cells that it covers at the start of the window, 0 to 1, by the quantity
    /// that it covers best.
    pub coverage: f64,
    /// First and last instant of its data; absent for a layer that does not change.
    pub instants: Option<(Timestamp, Timestamp)>,
    /// Age of the data that hold at the end of the window, hours.
    pub age_at_end_h: Option<f64>,
}

/// How a result came about, written as `run.json`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RunRecord {
    /// Version of the program.
    pub dipward_version: String,
    /// The seed.
    pub seed: u64,
    /// SHA-256 of the scenario and of each file that it names, by the name used.
    pub inputs_sha256: BTreeMap<String, String>,
    /// Seconds that each stage took, in order. These differ from run to run.
    pub timings_s: Vec<(String, f64)>,
    /// Number of grid cells, frames, pole members and problems searched.
    pub counts: BTreeMap<String, u64>,
}

/// A file that a writer has made, not yet on disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutputFile {
    /// Name within the output folder; may have sub-folders, `/` between.
    pub name: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Makes files from a report. YAML slot `outputs[]`.
///
/// A writer makes bytes and does not touch the disk: the host writes all files or none.
pub trait Writer: Debug + Send + Sync {
    /// Makes the files.
    ///
    /// # Errors
    ///
    /// [`Error`] where the report cannot be put into this form.
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error>;
}
