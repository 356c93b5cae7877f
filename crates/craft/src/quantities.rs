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
/// The direction that the waves go, a vector of any length: its part towards the grid's +x axis.
pub const WAVES_GRID_EAST: Quantity = Quantity::new("waves_grid_east", "1");
/// The direction that the waves go: its part towards the grid's +y axis.
pub const WAVES_GRID_NORTH: Quantity = Quantity::new("waves_grid_north", "1");
/// Mean period of the waves.
pub const WAVE_PERIOD: Quantity = Quantity::new("wave_period", "s");
/// Temperature of the air, 2 m above the sea.
pub const AIR_TEMPERATURE: Quantity = Quantity::new("air_temperature", "degC");
/// Temperature of the sea's surface.
pub const SEA_TEMPERATURE: Quantity = Quantity::new("sea_temperature", "degC");
