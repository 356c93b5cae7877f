use std::fmt::{self, Debug};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::{Assumption, Error, Provenance, Quantity};

/// A run of cells at one instant: named columns of equal length.
#[derive(Debug, Clone, Copy)]
pub struct CellBatch<'a> {
    /// Number of cells.
    pub len: usize,
    /// Each quantity's values; not a number where nothing covers the cell.
    pub columns: &'a [(Quantity, &'a [f32])],
}

impl<'a> CellBatch<'a> {
    /// The values of a quantity, if the chart has it at all.
    #[must_use]
    pub fn column(&self, quantity: Quantity) -> Option<&'a [f32]> {
        self.columns.iter().find(|(name, _)| *name == quantity).map(|(_, values)| *values)
    }
}

/// Why a craft cannot be in a cell.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Closure {
    /// It can.
    #[default]
    Open,
    /// Land, or for an over-ice craft terrain it cannot cross.
    Land,
    /// Floating ice shelf, to a ship.
    Shelf,
    /// Too little water under the keel.
    Depth,
    /// Ice that stops the craft.
    Ice,
    /// Ice beyond the craft's class by the risk index.
    RiskIndex,
    /// Ice of land origin: too much of it, or a berg too near.
    LandIce,
    /// No ice information, where the scenario refuses to guess.
    Unknown,
    /// A no-go zone.
    Zone,
    /// Ice too thin to bear, or open water, to an over-ice craft.
    Bearing,
    /// Wind or sea beyond what the craft is sailed in.
    Weather,
}

impl fmt::Display for Closure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Open => "open",
            Self::Land => "land",
            Self::Shelf => "ice shelf",
            Self::Depth => "too shallow",
            Self::Ice => "ice that stops the craft",
            Self::RiskIndex => "ice beyond the ice class",
            Self::LandIce => "ice of land origin",
            Self::Unknown => "no ice information",
            Self::Zone => "no-go zone",
            Self::Bearing => "ice that does not bear",
            Self::Weather => "wind or sea beyond what the craft is sailed in",
        })
    }
}

/// How a craft fares in one cell on one heading at one power setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Travel {
    /// Hours per kilometre made good; infinite where the cell is closed.
    pub pace_h_per_km: f32,
    /// Fuel burnt per hour under way.
    pub burn_t_per_h: f32,
    /// Risk index outcome, not a number where it has no meaning.
    pub risk_index: f32,
    /// Whether operation is subject to elevated risk.
    pub elevated: bool,
    /// Why the cell is closed, if it is.
    pub closure: Closure,
}

impl Travel {
    /// A closed cell.
    #[must_use]
    pub const fn closed(closure: Closure, risk_index: f32) -> Self {
        Self {
            pace_h_per_km: f32::INFINITY,
            burn_t_per_h: 0.0,
            risk_index,
            elevated: false,
            closure,
        }
    }
}

/// What moves: it decides what land and ice mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CraftMode {
    /// Afloat.
    Ship,
    /// On the surface of land, shelf or sea ice.
    OverIce,
}

/// One way to run the engines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PowerSetting {
    /// Its name ("85 %").
    pub name: String,
    /// Fraction of the full propulsion power, 0 to 1.
    pub fraction: f64,
}

/// Fuel and what it must last for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stores {
    /// Usable fuel when leaving port.
    pub capacity_t: f64,
    /// Fuel that must be left on return.
    pub reserve_t: f64,
    /// Fuel burnt per hour while keeping station.
    pub hold_t_per_h: f64,
}

/// A craft under way at a place and an hour, about which it is asked what its people must heed.
#[derive(Debug, Clone, Copy)]
pub struct Look<'a> {
    /// Geodetic latitude, WGS84.
    pub latitude_deg: f64,
    /// Longitude, east positive.
    pub longitude_deg: f64,
    /// When.
    pub time: Timestamp,
    /// Speed over the ground.
    pub speed_kn: f64,
    /// Course, clockwise from the grid's +y; not a number where the craft lies still.
    pub grid_course_deg: f64,
    /// The one cell about the place, with the craft's quantities that the chart has.
    pub cell: &'a CellBatch<'a>,
}

/// Answers pace, burn and limits from the chart's quantities. YAML slot `craft`.
pub trait Craft: Debug + Send + Sync {
    /// The craft's name.
    fn name(&self) -> String;

    /// Name and source of the physics.
    fn provenance(&self) -> Provenance;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption>;

    /// Afloat or over ice.
    fn mode(&self) -> CraftMode;

    /// The quantities that it reads, so that the chart prepares no others.
    fn reads(&self) -> Vec<Quantity>;

    /// Its power settings, at least one, the most powerful first.
    fn settings(&self) -> Vec<PowerSetting>;

    /// The number of heading sectors that its pace is told apart for: 1 where heading does not
    /// matter. Sector `s` of `n` is centred on `360 s / n` degrees clockwise from the grid's +y.
    fn sectors(&self) -> u16 {
        1
    }

    /// Fuel, reserve and the burn on station.
    fn stores(&self) -> Stores;

    /// The quantities that [`Craft::cautions`] reads beyond [`Craft::reads`].
    fn caution_reads(&self) -> Vec<Quantity> {
        Vec::new()
    }

    /// What the people aboard must heed at a place and an hour of the voyage, in sentences without a
    /// full stop. One danger has the same words wherever it holds: the host tells where and when it
    /// first does, and for how far in all.
    fn cautions(&self, look: &Look<'_>) -> Vec<String> {
        let _ = look;
        Vec::new()
    }

    /// Fills `out`, one entry a cell, for one setting and heading sector.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] where the chart lacks a quantity that the craft cannot do without.
    fn travel(
        &self,
        cells: &CellBatch<'_>,
        setting: usize,
        sector: u16,
        out: &mut [Travel],
    ) -> Result<(), Error>;
}
