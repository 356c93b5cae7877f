//! The last moment to turn for home, and the scan of decisions along a voyage.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// The last moment to turn for home.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TurnBack {
    /// What ends the time for turning; nothing in a ranking of an earlier version, which did not tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<TurnBackLimit>,
    /// When.
    pub time: Timestamp,
    /// Where the craft then is.
    pub latitude_deg: f64,
    /// Where the craft then is.
    pub longitude_deg: f64,
}

/// What ends the time for turning home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TurnBackLimit {
    /// From then on the fuel does not suffice for the way home with the reserve and the days beset.
    Fuel,
    /// From the next instant looked at no way home ends within the scenario's window: what comes after the
    /// window is not known.
    Window,
    /// From then on the party has no light to travel or to fly in.
    Light,
    /// From the next instant looked at the way home is closed.
    Ice,
    /// From the next instant looked at the party's own stores do not suffice.
    Stores,
}

impl TurnBackLimit {
    /// The limit in a word, as files have it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Fuel => "fuel",
            Self::Window => "window",
            Self::Light => "light",
            Self::Ice => "ice",
            Self::Stores => "stores",
        }
    }
}

impl TurnBack {
    /// What ends the time for turning, as the end of a sentence on the last moment to turn.
    #[must_use]
    pub fn in_words(&self) -> &'static str {
        match self.limit {
            Some(TurnBackLimit::Fuel) => {
                "from then on the fuel does not suffice for the way home with the reserve and the days beset"
            }
            Some(TurnBackLimit::Window) => {
                "from the next instant looked at no way home ends within the planned window"
            }
            Some(TurnBackLimit::Light) => "from then on there is no light for the party's way",
            Some(TurnBackLimit::Ice) => "from the next instant looked at the way home is closed",
            Some(TurnBackLimit::Stores) => {
                "from the next instant looked at the party's own stores do not suffice"
            }
            None => "what ends the time for it is not told",
        }
    }
}

/// Turning back along the way out and on station, as a forward scan sees it.
///
/// The margin of fuel at a decision is what is aboard less the way home of least fuel from there, with
/// the ice of that time, the reserve and the fuel for the days that the craft may be beset.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurningScan {
    /// Hours between the decisions looked at under way; between them the margin is taken as linear.
    pub under_way_every_h: f64,
    /// Hours between the decisions looked at on station.
    pub on_station_every_h: f64,
    /// The days that the craft may be beset, an allowance in each margin.
    pub beset_days: f64,
    /// The decisions, in the order of time.
    pub decisions: Vec<TurningDecision>,
    /// Every point of no return and what undoes one, in the order of time.
    pub crossings: Vec<TurningCrossing>,
    /// Where another refuge becomes the nearest in time.
    pub critical_points: Vec<CriticalPoint>,
}

/// A moment at which the craft may turn for home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurningDecision {
    /// When.
    pub time: Timestamp,
    /// Where the craft then is.
    pub latitude_deg: f64,
    /// Where the craft then is.
    pub longitude_deg: f64,
    /// Fuel aboard.
    pub fuel_t: f64,
    /// Fuel for the way home of least fuel, if a way leads home.
    pub home_t: Option<f64>,
    /// The margin, if a way leads home.
    pub margin_t: Option<f64>,
    /// Days beset at the burn of keeping station that would use up the margin and the allowance.
    pub beset_days: Option<f64>,
    /// The port or refuge that is reached first from here, under way.
    pub nearest_refuge: Option<String>,
}

/// What happens to the way back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TurningEvent {
    /// The fuel no longer suffices for the way home.
    NoReturn,
    /// It suffices again, because the ice has opened.
    ReturnAgain,
    /// This is the last decision from which a way leads home in time.
    WayHomeCloses,
    /// This is the first decision from which a way leads home in time again.
    WayHomeOpens,
}

/// When and where the way back is lost or won.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TurningCrossing {
    /// When.
    pub time: Timestamp,
    /// Where the craft then is.
    pub latitude_deg: f64,
    /// Where the craft then is.
    pub longitude_deg: f64,
    /// What happens.
    pub event: TurningEvent,
}

/// The moment at which two refuges are equally far in time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CriticalPoint {
    /// When.
    pub time: Timestamp,
    /// Where the craft then is.
    pub latitude_deg: f64,
    /// Where the craft then is.
    pub longitude_deg: f64,
    /// The refuge that is nearer before.
    pub behind: String,
    /// The refuge that is nearer after.
    pub ahead: String,
}
