//! The log of a voyage: what is done in each cell and between each two frames of the chart.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::craft::Closure;

/// What a ship does in a part of a voyage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Sails.
    UnderWay,
    /// Waits on the way.
    Waiting,
    /// Lies or moves about at the pole.
    OnStation,
    /// Lies at a landing, while a party goes on.
    Berth,
}

impl Phase {
    /// All, in the order of their columns.
    pub const EACH: [Self; 4] = [Self::UnderWay, Self::Waiting, Self::OnStation, Self::Berth];
}

impl fmt::Display for Phase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::UnderWay => "under way",
            Self::Waiting => "waiting",
            Self::OnStation => "on station",
            Self::Berth => "at the berth",
        })
    }
}

/// A part of a voyage within one cell of the grid and between two frames of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogEntry {
    /// What she does.
    pub phase: Phase,
    /// Where it begins: geodetic latitude on WGS84.
    pub latitude_deg: f64,
    /// Where it begins: longitude, east positive.
    pub longitude_deg: f64,
    /// When it begins.
    pub begin: Timestamp,
    /// When it ends.
    pub end: Timestamp,
    /// How long it takes.
    pub hours: f64,
    /// What is sailed.
    pub distance_km: f64,
    /// What is burnt.
    pub fuel_t: f64,
    /// What has been burnt at its end since the start of the voyage.
    pub fuel_used_t: f64,
    /// The power setting, 0 the most powerful; nothing where she does not sail.
    pub power_setting: Option<usize>,
    /// Share of the cell that ice covers, 0 to 1; nothing where it is not known.
    pub ice_concentration: Option<f64>,
    /// The risk index, if the craft has one there.
    pub risk_index: Option<f64>,
    /// Whether operation is subject to elevated risk.
    pub elevated: bool,
    /// Why the cell is closed to her, if it is.
    pub closure: Closure,
    /// Height of the Sun's centre above the horizon in the middle of it, degrees.
    pub sun_height_deg: f64,
    /// Strength of the horizontal field, which steers a compass, nT.
    pub horizontal_nt: f64,
}

/// The log of a voyage from port to port: entries that follow one another without a gap.
pub type VoyageLog = Vec<LogEntry>;

/// Exposure by the risk index, over the whole voyage.
///
/// The index speaks of a ship under way. What it says of one that lies in ice is told beside, and does
/// not hold the pressure of the ice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Risk {
    /// The lowest index met, if the craft has one.
    pub minimum_rio: Option<f64>,
    /// Hours where operation is subject to elevated risk.
    pub hours_elevated: f64,
    /// The same by what the ship does; zeros in a ranking of an earlier version.
    #[serde(default)]
    pub by_phase: RiskByPhase,
}

/// Exposure by what a ship does.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RiskByPhase {
    /// Sailing.
    pub under_way: PhaseRisk,
    /// Waiting on the way.
    pub waiting: PhaseRisk,
    /// At the pole.
    pub on_station: PhaseRisk,
    /// At a landing.
    pub berth: PhaseRisk,
}

/// Exposure in one phase.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PhaseRisk {
    /// Hours in all.
    pub hours: f64,
    /// The lowest index met, if the craft has one.
    pub minimum_rio: Option<f64>,
    /// Hours where operation is subject to elevated risk.
    pub hours_elevated: f64,
}

impl RiskByPhase {
    /// The exposure in a phase.
    #[must_use]
    pub fn of(mut self, phase: Phase) -> PhaseRisk {
        *self.of_mut(phase)
    }

    fn of_mut(&mut self, phase: Phase) -> &mut PhaseRisk {
        match phase {
            Phase::UnderWay => &mut self.under_way,
            Phase::Waiting => &mut self.waiting,
            Phase::OnStation => &mut self.on_station,
            Phase::Berth => &mut self.berth,
        }
    }
}

impl Risk {
    /// The exposure of a voyage: every entry counts for its time.
    ///
    /// # Example
    ///
    /// ```
    /// assert_eq!(dipward_plugin::Risk::of(&[]).hours_elevated, 0.0);
    /// ```
    #[must_use]
    pub fn of(log: &[LogEntry]) -> Self {
        let mut risk = Self::default();
        for entry in log {
            let phase = risk.by_phase.of_mut(entry.phase);
            let elevated_h = if entry.elevated { entry.hours } else { 0.0 };
            phase.hours += entry.hours;
            phase.hours_elevated += elevated_h;
            phase.minimum_rio = lower(phase.minimum_rio, entry.risk_index);
            risk.hours_elevated += elevated_h;
            risk.minimum_rio = lower(risk.minimum_rio, entry.risk_index);
        }
        risk
    }
}

fn lower(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, other) => one.or(other),
    }
}
