//! How far one may go and still come back: radius of action, point of no return, critical point,
//! and the helicopter that flies by them.

mod ground;
mod helicopter;
mod last_leg;
mod turning;
mod wind;

pub use ground::LandsOn;
pub use helicopter::{FlightFuelRule, FlightHindrance, Helicopter};
pub use last_leg::HelicopterSpec;
pub use turning::{CriticalPoint, PointOfNoReturn, radius_of_action_nm};
pub use wind::{crossing_time, ground_speed};
