//! What tells the heading near a dip pole and a geographic pole: compass and gyro.

mod compass;
mod gyro;
mod mark;

pub use compass::{CompassZone, deflection_deg};
pub use gyro::{GyroState, gyro_speed_error_deg};
pub use mark::RouteMark;
