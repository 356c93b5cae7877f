//! The quantities that craft read beyond those of the plugin crate.

use dipward_plugin::Quantity;

/// Wind towards the grid's +x axis, 10 m above the sea.
pub const WIND_GRID_EAST: Quantity = Quantity::new("wind_grid_east", "m/s");
/// Wind towards the grid's +y axis, 10 m above the sea.
pub const WIND_GRID_NORTH: Quantity = Quantity::new("wind_grid_north", "m/s");
/// Significant height of the waves.
pub const WAVE_HEIGHT: Quantity = Quantity::new("wave_height", "m");
/// Horizontal visibility.
pub const VISIBILITY: Quantity = Quantity::new("visibility", "km");
/// Altitude of the sun's centre above the horizon, without refraction.
pub const SUN_ALTITUDE: Quantity = Quantity::new("sun_altitude", "deg");
/// Greatest slope of the ice or rock surface within the cell.
pub const SURFACE_SLOPE: Quantity = Quantity::new("surface_slope", "deg");
/// 1 where crevasses are known or suspected, 0 elsewhere.
pub const CREVASSES: Quantity = Quantity::new("crevasses", "1");
