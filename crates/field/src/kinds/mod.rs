//! The kinds that a scenario may write for the main field and its disturbance.

mod by_kp;
mod coefficients;
mod forecast_table;
mod igrf14;
mod kp_forecast;
mod kp_history;
mod kp_outlook;
mod kp_year;
mod quiet;
mod surveyed;
mod wmm2025;

pub(crate) use by_kp::{ByKp, KpSource};
pub use coefficients::CoefficientsSpec;
pub use forecast_table::{ForecastError, ForecastKp, ForecastTable};
pub use igrf14::Igrf14Spec;
pub use kp_forecast::KpForecastSpec;
pub use kp_history::{KpHistorySpec, SolarCycle};
pub use kp_outlook::{KpOutlookKeys, KpOutlookSpec};
pub use kp_year::KpYearSpec;
pub use quiet::QuietSpec;
pub use surveyed::SurveyedSpec;
pub use wmm2025::Wmm2025Spec;
