//! The kinds that a scenario may write for the main field and its disturbance.

mod activity;
mod coefficients;
mod forecast_table;
mod igrf14;
mod no_response;
mod recorded;
mod short_forms;
mod surveyed;
mod wmm2025;

pub use crate::learnt::LearntSpec;
pub use activity::{
    ForecastSpec, HistorySpec, ObservedSpec, OutlookSpec, SolarCycle, StatedSpec, YearSpec,
};
pub use coefficients::CoefficientsSpec;
pub use forecast_table::{ForecastError, ForecastKp, ForecastTable};
pub use igrf14::Igrf14Spec;
pub use no_response::NoResponseSpec;
pub use recorded::{RecordedSpec, StationPlace};
pub use short_forms::{
    AmpsSpec, KpForecastSpec, KpHistorySpec, KpOutlookSpec, KpYearSpec, QuietSpec,
    house_disturbance,
};
pub use surveyed::SurveyedSpec;
pub use wmm2025::Wmm2025Spec;
