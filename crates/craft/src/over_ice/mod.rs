//! Travel over sea ice, shelf and ice sheet.

mod bearing;
mod last_leg;
mod party;
mod traverse;

pub use bearing::{BearingConvention, BearingRisk, Melt, critical_speed_km_h};
pub use last_leg::{DepotKeys, IceDrift, OverIcePartySpec};
pub use party::{
    Bearing, BurnLoad, GroundFactors, PartyFuel, TrackedPartySpec, UnknownSlope, Vehicles,
};
pub use traverse::{Depot, TraverseBurn, TraverseFailure};
