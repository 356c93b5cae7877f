//! The kinds that say where Kp comes from.

mod forecast;
mod history;
mod observed;
mod outlook;
mod stated;
mod year;

pub use forecast::ForecastSpec;
pub use history::{HistorySpec, SolarCycle};
pub use observed::ObservedSpec;
pub use outlook::OutlookSpec;
pub use stated::StatedSpec;
pub use year::YearSpec;

/// Where in a scenario an activity stands, for its assumptions.
const ABOUT: &str = "pole.disturbance.activity";
