//! Ships and over-ice vehicles: what ice they bear, how fast they go, at what fuel.
//!
//! The physics stand alone and can be called without a scenario: [`RiskValues`] (POLARIS),
//! [`ResistanceFormula`] and [`Propulsion`] (level ice against net thrust), [`MinimumPower`] (the
//! Finnish-Swedish rules), [`AdmiraltyConstant`] and [`FuelKind`]. The kinds build on them:
//! [`IcebreakerSpec`].
//!
//! Numbers that could not be confirmed in a source are said to be "from memory" where they stand,
//! and the kinds repeat that among their assumptions.

mod error;
mod ice;
mod icebreaker;
mod power;

pub use error::Error;
pub use ice::{
    ChannelHull, ESCORT_ALLOWANCE, Hull, IceClass, IceStrength, LevelIce, MinimumPower, Operation,
    PropellerKind, Propulsion, ResistanceFormula, RiskValues, Screw, SpeedCurve,
    StageOfDevelopment, bollard_pull_n,
};
pub use icebreaker::{
    CautiousIce, DepthDoubt, EquivalentThickness, Fuel, IceRules, IcebreakerSpec, Machinery,
    Propellers, Reserve, SpecialConsideration, ThicknessRule, UnknownDepth, UnknownIce,
};
pub use power::{
    AdmiraltyConstant, FuelKind, LoadCurve, economical_speed_kn, specific_consumption_g_per_kwh,
};
