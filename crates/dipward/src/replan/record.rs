//! What a re-planning answers, field for field the `replan.json`, and the history of a voyage.

use dipward_plugin::{Approach, Error, TurnBack, TurningDecision};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// What a plan is known by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanIdentity {
    /// The approach's id.
    pub id: String,
    /// SHA-256 of the ranking's file, in hex.
    pub sha256: String,
    /// The title of the scenario that the plan was made of.
    pub scenario: String,
}

/// The answers of a re-planning.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Replan {
    /// [`dipward_plugin::SCHEMA_VERSION`].
    pub schema_version: u32,
    /// The version of the program.
    pub dipward_version: String,
    /// [`dipward_plugin::CAUTION`].
    pub caution: String,
    /// The plan that was being sailed.
    pub plan: PlanIdentity,
    /// When the craft was where it was.
    pub at: Timestamp,
    /// Where the craft was, geodetic latitude, WGS84.
    pub latitude_deg: f64,
    /// Where the craft was, east positive.
    pub longitude_deg: f64,
    /// Usable fuel aboard.
    pub fuel_t: f64,
    /// The plan, sailed from here.
    pub present: PresentPlan,
    /// What the plan had promised.
    pub planned: Figures,
    /// What the plan promises now, if it is feasible.
    pub now: Option<Figures>,
    /// `now` less `planned`.
    pub change: Option<Difference>,
    /// The first approach of the new ranking.
    pub best: Option<String>,
    /// What it promises.
    pub best_figures: Option<Figures>,
    /// What made the change.
    pub causes: Causes,
    /// When to turn for home.
    pub turning: Turning,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// Whether the plan is still feasible and still best.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PresentPlan {
    /// Whether its remaining waypoints, the stay and the way home fit the fuel and the window.
    pub feasible: bool,
    /// Why not.
    pub reason: Option<String>,
    /// Whether no new approach stands before it by the scenario's criteria.
    pub still_best: bool,
    /// Its place among the new approaches.
    pub rank: Option<u32>,
    /// The plan as it is now. Its bounds are not computed and stand at 0.
    pub approach: Option<Approach>,
}

/// The figures by which a change is told.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// Reaching the mean pole.
    pub arrive: Timestamp,
    /// Back in port.
    pub back: Timestamp,
    /// Fuel aboard on return, the reserve included.
    pub fuel_at_end_t: f64,
    /// The lowest risk index met, if the craft has one.
    pub minimum_rio: Option<f64>,
    /// Chance of attaining the pole.
    pub attainment: f64,
}

impl Figures {
    /// The figures of an approach.
    #[must_use]
    pub fn of(approach: &Approach) -> Self {
        Self {
            arrive: approach.arrive,
            back: approach.back,
            fuel_at_end_t: approach.fuel_t.margin + approach.fuel_t.reserve,
            minimum_rio: approach.risk.minimum_rio,
            attainment: approach.attainment.probability,
        }
    }

    /// These figures less others.
    #[must_use]
    pub fn less(&self, other: &Self) -> Difference {
        let hours = |a: Timestamp, b: Timestamp| {
            (a.as_millisecond() - b.as_millisecond()) as f64 / 3_600_000.0
        };
        Difference {
            arrive_h: hours(self.arrive, other.arrive),
            back_h: hours(self.back, other.back),
            fuel_at_end_t: self.fuel_at_end_t - other.fuel_at_end_t,
            minimum_rio: self.minimum_rio.zip(other.minimum_rio).map(|(a, b)| a - b),
            attainment: self.attainment - other.attainment,
        }
    }
}

/// How figures differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Difference {
    /// Hours later at the pole.
    pub arrive_h: f64,
    /// Hours later in port.
    pub back_h: f64,
    /// More fuel on return.
    pub fuel_at_end_t: f64,
    /// By how much the lowest risk index is higher, where both have one.
    pub minimum_rio: Option<f64>,
    /// By how much attaining the pole is likelier.
    pub attainment: f64,
}

/// What made a plan change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Causes {
    /// Whether the causes were told apart.
    pub told_apart: bool,
    /// Why not, or what is doubtful.
    pub remarks: Vec<String>,
    /// The plan sailed in the former scenario from its own start: what the causes are counted from.
    pub before: Option<Figures>,
    /// One entry a cause, each with that cause alone changed.
    pub each: Vec<Cause>,
    /// The sum of the differences of all causes falls short of the whole change by this much: what
    /// they do only together. Nothing where a part cannot be sailed.
    pub only_together: Option<Difference>,
}

impl Causes {
    /// Causes that could not be told apart.
    pub(super) fn untold(why: impl Into<String>) -> Self {
        Self {
            told_apart: false,
            remarks: vec![why.into()],
            before: None,
            each: Vec::new(),
            only_together: None,
        }
    }
}

/// One cause of a change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cause {
    /// What alone was changed ("ice layers", "pole", "position and fuel", "other keys").
    pub changed: String,
    /// Why the plan is not feasible with this change alone, if it is not.
    pub reason: Option<String>,
    /// What the plan promises with this change alone.
    pub figures: Option<Figures>,
    /// That, less what it promised before.
    pub difference: Option<Difference>,
}

/// When to turn for home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Turning {
    /// The approach that is followed: the present plan where its way out can be sailed, else the best
    /// of the new ranking.
    pub along: Option<String>,
    /// The last moment to turn for home, and what ends the time for it; nothing where it is too late even now,
    /// and where no limit was found within the window.
    pub last: Option<TurnBack>,
    /// Whether it is too late even now: no way leads home in time, or the fuel aboard does not suffice for it
    /// with the reserve and the days beset.
    #[serde(default)]
    pub too_late: bool,
    /// Fuel along the way, on arrival and through the stay. Which refuge is nearest is not looked for.
    pub decisions: Vec<TurningDecision>,
}

/// One re-planning in the history of a voyage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HistoryEntry {
    /// The plan that was being sailed.
    pub plan: PlanIdentity,
    /// When the craft was where it was.
    pub at: Timestamp,
    /// Where the craft was.
    pub latitude_deg: f64,
    /// Where the craft was.
    pub longitude_deg: f64,
    /// Usable fuel aboard.
    pub fuel_t: f64,
    /// Whether the plan was still feasible.
    pub feasible: bool,
    /// Why not.
    pub reason: Option<String>,
    /// Whether it was still best.
    pub still_best: bool,
    /// How its promise had changed.
    pub change: Option<Difference>,
    /// The first approach of the new ranking.
    pub best: Option<String>,
}

impl From<&Replan> for HistoryEntry {
    fn from(replan: &Replan) -> Self {
        Self {
            plan: replan.plan.clone(),
            at: replan.at,
            latitude_deg: replan.latitude_deg,
            longitude_deg: replan.longitude_deg,
            fuel_t: replan.fuel_t,
            feasible: replan.present.feasible,
            reason: replan.present.reason.clone(),
            still_best: replan.present.still_best,
            change: replan.change,
            best: replan.best.clone(),
        }
    }
}

/// Reads a history.
///
/// # Errors
///
/// [`Error::File`] for what is no history.
pub fn read_history(path: &std::path::Path, bytes: &[u8]) -> Result<Vec<HistoryEntry>, Error> {
    serde_json::from_slice(bytes).map_err(|error| Error::File {
        path: path.to_owned(),
        message: format!("not a history of re-planning: {error}"),
    })
}

/// Adds entries to a history, each once: the same watch, planned again, is no second watch.
pub fn append_to_history(
    history: &mut Vec<HistoryEntry>,
    entries: impl IntoIterator<Item = HistoryEntry>,
) {
    for entry in entries {
        if !history.contains(&entry) {
            history.push(entry);
        }
    }
}
