use std::fmt::Debug;

use crate::Assumption;

/// An offset from the mean pole toward north and east, km, in the plane that touches the Earth there.
pub type OffsetKm = [f64; 2];

/// What a party on station knows at a whole hour, and no more: nothing here looks ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knowledge {
    /// Hours since the window began.
    pub hour: f64,
    /// Hours since the arrival.
    pub since_arrival_h: f64,
    /// Hours until the craft must leave for fuel, ice or the window.
    pub left_h: f64,
    /// Where the craft is.
    pub craft_km: OffsetKm,
    /// Where the ensemble's mean has the pole at this hour of the day.
    pub oval_km: OffsetKm,
    /// The offset at which the pole of the ensemble stays nearest most often.
    pub haunt_km: OffsetKm,
    /// Where the party's own readings have the pole now, if it is near enough to be read.
    pub reading_km: Option<OffsetKm>,
    /// Kp of the present three hours in thirds, if known.
    pub kp_thirds: Option<u8>,
    /// How far the craft can go within the next hour; 0 where it is beset.
    pub reach_km: f64,
    /// How far the ice carries a craft that lies in it within the next hour; nothing where none is known to drift.
    pub drift_km: Option<OffsetKm>,
}

/// What the party does in the next hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// Keeps its place, against the drift of the ice if need be.
    Hold,
    /// Lies still in the ice and lets it carry it.
    Drift,
    /// Makes for an offset from the mean pole, as far as its pace allows.
    MakeFor(OffsetKm),
    /// Leaves for home.
    Leave,
}

/// Decides hour by hour what a party on station does. YAML slot `station.policy`.
///
/// A policy is asked for each member of the ensemble on its own and must not keep anything from one
/// call to the next, so that members can be followed in any order.
pub trait Policy: Debug + Send + Sync {
    /// The rule in a few words, for reports.
    fn describe(&self) -> String;

    /// What to do.
    fn act(&self, known: &Knowledge) -> Action;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}
