//! The quantities that craft read beyond those of the plugin crate.

use dipward_plugin::Quantity;

/// Altitude of the sun's centre above the horizon, without refraction.
pub const SUN_ALTITUDE: Quantity = Quantity::new("sun_altitude", "deg");
/// Greatest slope of the ice or rock surface within the cell.
pub const SURFACE_SLOPE: Quantity = Quantity::new("surface_slope", "deg");
