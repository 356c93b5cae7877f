//! The disturbance held against recorded hours: are its chances worth what they say?
//!
//! [`verify()`] asks a [`Disturbance`](dipward_plugin::Disturbance) for an ensemble at the very hours that
//! a station recorded, at the station's place, averaged as the record is averaged, and scores it:
//!
//! * [`Region`]: does the recorded vector lie in the region that should hold it 95 and 50 times in 100?
//! * [`fair_crps`]: how far is the forecast of the vector's length from what was recorded, in nT, and
//!   [`climate_crps`] how far is a table of month and hour that the record itself makes?
//! * [`EventScores`]: of the times when the chance of staying near was told as p, was it so in a share p?
//! * [`LagCorrelation`]: does the model remember for as long as the record does?
//!
//! Nothing is fitted here. A disturbance that was fitted to the same hours is flattered.

mod autocorrelation;
mod climate_table;
mod coverage;
mod crps;
mod ensemble;
mod events;
mod hours;
mod intervals;
mod knowing;
mod selection;
mod told;
mod verify;

pub use autocorrelation::LagCorrelation;
pub use climate_table::{RecordedLength, climate_crps};
pub use coverage::Region;
pub use crps::fair_crps;
pub use events::{EventBin, EventScores, HighForecasts};
pub use hours::HourScores;
pub use knowing::{Knowing, disturbance_knowing};
pub use selection::{Season, Selection};
pub use told::{HourRow, KpRow, MonthRow, PoleTold, StationTold, Verification};
pub use verify::{DEFAULT_MEMBERS, VerifySettings, verify};
