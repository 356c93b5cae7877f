//! The Earth's main field, its dip poles, and how they wander.
//!
//! A dip pole is where the field is vertical. The way from coefficients to where it may be found:
//!
//! * [`read_shc`], [`read_cof`], [`igrf14`], [`wmm2025`] make a [`GaussModel`]; a [`Snapshot`] of it
//!   gives the field with its whole gradient at many sites.
//! * [`dip_pole`], [`dip_pole_near`], [`all_dip_poles`] find the poles of any
//!   [`MainField`](dipward_plugin::MainField), with the Jacobian of the horizontal field about them,
//!   their drift, and the ellipse that a doubt about the field makes ([`doubt`] says how large).
//! * [`displaced_pole`] says where a pole goes when currents above it add a horizontal field.
//! * [`KpHistory`] and the activities in [`kinds`] say how active the magnetosphere is, [`learnt`] and
//!   [`amps`] what that does to the field, as an ensemble.
//! * [`observatory`] reads what stations recorded, for the kind `recorded`.
//! * [`pole_tracks`] puts it together: hourly positions of the instantaneous pole, member by member.
//! * [`read_readings`] and [`fix_pole`] find it by readings of the field, [`evidence()`] says what those
//!   prove, and [`ShipDeviation`] what a ship's own iron does to them.
//! * [`SurveyedPole`] stands in for a model where somebody has found the pole.
//!
//! # What the pole is
//!
//! The dip pole is where the horizontal field vanishes, at sea level or a stated height, of the field
//! smoothed over about 100 km: the core's, and of the crust's what is longer than 100 km (degree 400,
//! [`MAX_DEGREE`]). What is shorter is noise of a reading. The *model's pole* is that of the main field
//! alone, which stops at a degree (13 in IGRF-14: 40,000 km / 13, some 3000 km). The *mean pole* is off
//! it by what the model leaves out and by its error in time, which [`FieldSigma`](dipward_plugin::FieldSigma)
//! tells; surveys report the mean pole. The *instantaneous pole* is the mean pole moved by the currents
//! of a moment.
//!
//! # Conventions
//!
//! Positions are WGS84, heights above its ellipsoid; fields are told toward geodetic north, east and
//! down. Decimal years are the year plus the elapsed fraction of that calendar year, and the
//! coefficients of IGRF are straight lines in them; the other usual convention, days, moves the
//! north dip pole by up to 52 m.
//!
//! ```
//! use dipward_field::{
//!     TrackRequest, dip_pole, igrf14,
//!     kinds::KpHistorySpec,
//!     pole_tracks,
//! };
//! use dipward_geodesy::Hemisphere;
//! use dipward_plugin::{BuildContext, Clock, Control, Spec};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let model = igrf14()?;
//! let clock = Clock::new("2027-01-15T00:00Z".parse()?);
//! let pole = dip_pole(&model, Hemisphere::South, clock.decimal_year(0.0), 0.0)?;
//! println!("{:?}, doubt {:?}", pole.position, pole.sigma_ellipse().holding(0.95));
//!
//! let context = BuildContext::new(".", Hemisphere::South, clock, 48.0);
//! let disturbance = KpHistorySpec::default().build(&context)?;
//! let hours: Vec<f64> = (0..48).map(f64::from).collect();
//! let request = TrackRequest {
//!     clock,
//!     hours: &hours,
//!     hemisphere: Hemisphere::South,
//!     members: 20,
//!     seed: 1,
//!     height_km: 0.0,
//!     looks: 4,
//! };
//! let tracks = pole_tracks(&model, &*disturbance, &request, &Control::default())?;
//! assert_eq!(tracks.mean_track().len(), 48);
//! assert!(tracks.rms_km(24).is_some_and(|km| km < 100.0));
//! # Ok(())
//! # }
//! ```

mod all_dip_poles;
pub mod amps;
mod cof;
mod crust_scaled;
mod deviation;
mod dip_pole;
mod displacement;
#[cfg(test)]
mod documented;
pub mod doubt;
mod ellipse;
mod ellipsoid_frame;
mod embedded;
mod evidence;
mod fix;
mod gauss_model;
pub mod kinds;
mod known_pole;
mod kp_blend;
mod kp_bootstrap;
mod kp_history;
mod kp_outlook;
mod kp_past;
mod kp_season;
mod lanes;
pub mod learnt;
mod moving_patch;
pub mod observatory;
mod patch;
mod path_answers;
mod plane_matrix;
mod quiet_windows;
mod read_error;
mod series;
mod shc;
mod solar_cycle;
mod streams;
mod surveyed;
mod synthesis;
mod tangent;
mod text;
mod track_statistics;
mod tracks;
mod uncertainty;
pub mod verification;

pub use all_dip_poles::{all_dip_poles, dip_pole};
pub use cof::read_cof;
pub use crust_scaled::CrustScaled;
pub use deviation::{
    BLACKOUT_NT, CAUTION_NT, GREATEST_DEVIATION_DEG, ShipDeviation, SwingReading, read_swing,
};
pub use dip_pole::{DipPole, Drift, DriftSides, dip_pole_near};
pub use dipward_plugin::Kp;
pub use displacement::{FARTHEST_KM, displaced_pole};
pub use doubt::{ComponentGrowth, Doubt, DoubtAtPole, Growth};
pub use ellipse::Ellipse;
pub use embedded::{igrf14, wmm2025};
pub use evidence::{
    CrossingClaim, CrossingLine, Evidence, InstantaneousPoleClaim, MeanPoleClaim, ReadingRecord,
    evidence,
};
pub use fix::{
    BearingCorrection, Element, FixSettings, JacobianSource, Measured, NextReading, PoleEstimate,
    PoleFix, Reading, Residual, correct_bearings, fix_pole, read_readings, straight_fix,
    virtual_geomagnetic_pole,
};
pub use gauss_model::{EXTRAPOLATION_YEARS, GaussModel, STILL_YEARS};
pub use known_pole::KnownPole;
pub use kp_history::{KpHistory, SLOTS_A_DAY};
pub use kp_outlook::KpOutlook;
pub use kp_past::KpPast;
pub use kp_season::median_kp_of_season;
pub use quiet_windows::{
    HourOfDayChance, StayingChance, best_stays, chances_by_hour_of_day, chances_by_season,
    staying_chances,
};
pub use read_error::ReadError;
pub use series::{MAX_DEGREE, Series};
pub use shc::read_shc;
pub use solar_cycle::solar_cycle_phase;
pub use surveyed::SurveyedPole;
pub use synthesis::Snapshot;
pub use track_statistics::EnsembleEllipse;
pub use tracks::{PoleTracks, TrackRequest, pole_tracks, pole_tracks_during};
pub use uncertainty::PoleUncertainty;
