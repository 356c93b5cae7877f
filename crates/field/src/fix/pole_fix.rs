//! What a fix tells.

use dipward_geodesy::Hemisphere;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{next_reading::NextReading, reading::Element};
use crate::Ellipse;

/// A pole with what it is worth to whoever made the last reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PoleEstimate {
    /// When the pole is there.
    pub time: Timestamp,
    /// Its latitude.
    pub latitude_deg: f64,
    /// Its longitude.
    pub longitude_deg: f64,
    /// Holds 95 in 100 of what may be.
    pub ellipse_95: Ellipse,
    /// From the reading of that time.
    pub distance_km: f64,
    /// True course from the reading's place.
    pub bearing_deg: f64,
    /// How many times the 95 % ellipse must be scaled to pass through the reading's place; up to 1
    /// the reader was within it.
    pub ellipses_away: f64,
}

/// Whether the readings or the model say how the field grows about the pole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum JacobianSource {
    /// The readings leave the model's Jacobian nearly as much in doubt as it was.
    Model,
    /// The readings halve the doubt about each part of it or better.
    Readings,
}

/// What is left of one element of one reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// Which reading, from 0 in the order given.
    pub reading: usize,
    /// What was measured.
    pub element: Element,
    /// Measured less expected, nT or degrees.
    pub difference: f64,
    /// The same in sigmas.
    pub normalised: f64,
    /// 1 where it counts in full, near 0 for an outlier.
    pub weight: f64,
}

/// A fix.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PoleFix {
    /// Which pole.
    pub hemisphere: Hemisphere,
    /// The model that it was sought with.
    pub model: String,
    /// The mean pole by the model alone at the time of the last reading.
    pub model_pole: PoleEstimate,
    /// The mean pole at the time of the last reading, free of the currents overhead.
    pub mean_pole: PoleEstimate,
    /// The mean pole at the time of each reading, in the order given.
    pub mean_poles: Vec<Option<PoleEstimate>>,
    /// Where the field was vertical at each reading, currents included, in the order given; `None`
    /// where they left no pole.
    pub instantaneous_poles: Vec<Option<PoleEstimate>>,
    /// The Jacobian at the mean pole, toward north and east there.
    pub jacobian_nt_per_km: [[f64; 2]; 2],
    /// One sigma of its parts north-north, north-east and east-east of the model's pole.
    pub jacobian_sigma_nt_per_km: [f64; 3],
    /// Who says so.
    pub jacobian_from: JacobianSource,
    /// What is left of the readings.
    pub residuals: Vec<Residual>,
    /// Where another reading would help most.
    pub next_reading: Option<NextReading>,
    /// What was taken for granted.
    pub assumptions: Vec<String>,
}
