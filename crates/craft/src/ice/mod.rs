//! Ice: what a class of ship bears, what resistance ice makes, how fast a ship goes through it.

mod age;
mod channel;
mod lindqvist;
mod polaris;
mod resistance;
mod riska;
mod season;
mod speed_curve;
mod stage;
mod thrust;

pub use age::IceAge;
pub use channel::{ChannelHull, MinimumPower, Screw};
pub use lindqvist::IceStrength;
pub use polaris::{ESCORT_ALLOWANCE, IceClass, Operation, RiskValues};
pub use resistance::{Hull, LevelIce, ResistanceFormula};
pub use season::{IceSeason, window_has_melt};
pub use speed_curve::SpeedCurve;
pub use stage::StageOfDevelopment;
pub use thrust::{PropellerKind, Propulsion, bollard_pull_n};
