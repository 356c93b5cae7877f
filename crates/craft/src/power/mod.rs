//! Power in open water, what it burns, and where that may not be burnt.

mod arctic_waters;
mod fuel;
mod heavy_fuel;
mod open_water;

pub use arctic_waters::in_arctic_waters;
pub use fuel::{FuelKind, LoadCurve, Oil, specific_consumption_g_per_kwh};
pub use heavy_fuel::{HeavyFuelBan, in_antarctic_area};
pub use open_water::{AdmiraltyConstant, economical_speed_kn};
