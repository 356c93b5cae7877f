//! Power in open water, and what it burns.

mod fuel;
mod open_water;

pub use fuel::{FuelKind, LoadCurve, specific_consumption_g_per_kwh};
pub use open_water::{AdmiraltyConstant, economical_speed_kn};
