//! Power in open water, what it burns, and where that may not be burnt.

mod fuel;
mod heavy_fuel;
mod open_water;

pub use fuel::{FuelKind, LoadCurve, specific_consumption_g_per_kwh};
pub use heavy_fuel::{HeavyFuelBan, in_antarctic_area, in_arctic_waters, is_heavy_oil};
pub use open_water::{AdmiraltyConstant, economical_speed_kn};
