//! Wind, waves, spray and light.

mod beaufort;
mod icing;
mod kwon;
mod sea_state;
mod seas;
mod sun;
mod sunlight;

pub use beaufort::{beaufort_of_waves, beaufort_of_wind, limits_kn, wind_m_s};
pub use icing::{IcingClass, SprayWeather, freezing_point_c};
pub use kwon::{FormFactor, Kwon};
pub use sea_state::{high_sea, strong_wind};
pub use seas::{Seaway, WaveCaution, encounter_period_s};
pub use sun::{
    ApparentSun, Crossing, Daylight, SunInSky, julian_day, refraction_deg, sidereal_time_deg,
    sun_in_sky,
};
pub use sunlight::SunlightSpec;
