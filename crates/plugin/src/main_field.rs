use std::{fmt::Debug, ops::RangeInclusive};

use dipward_geodesy::Hemisphere;
use serde::{Deserialize, Serialize};

use crate::{Assumption, Error, Provenance};

/// A place to evaluate the field at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Site {
    /// Geodetic latitude, WGS84.
    pub latitude_deg: f64,
    /// Longitude, east positive.
    pub longitude_deg: f64,
    /// Height above the ellipsoid.
    pub height_km: f64,
}

/// A magnetic field vector in the local geodetic frame.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct FieldVector {
    /// X, toward geodetic north.
    pub north_nt: f64,
    /// Y, toward east.
    pub east_nt: f64,
    /// Z, down along the ellipsoid's normal.
    pub down_nt: f64,
}

impl FieldVector {
    /// H, the horizontal intensity.
    #[must_use]
    pub fn horizontal_nt(&self) -> f64 {
        self.north_nt.hypot(self.east_nt)
    }

    /// F, the total intensity.
    #[must_use]
    pub fn total_nt(&self) -> f64 {
        self.horizontal_nt().hypot(self.down_nt)
    }

    /// I, the dip below the horizontal: +90 at a north dip pole.
    #[must_use]
    pub fn inclination_deg(&self) -> f64 {
        self.down_nt.atan2(self.horizontal_nt()).to_degrees()
    }

    /// D, east of true north, -180 to 180; 0 where the field is exactly vertical.
    #[must_use]
    pub fn declination_deg(&self) -> f64 {
        self.east_nt.atan2(self.north_nt).to_degrees()
    }
}

/// The field and its spatial gradient at one site.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FieldSample {
    /// The field.
    pub vector: FieldVector,
    /// The physical gradient tensor in the site's local frame, nT/km: row i is the component (north,
    /// east, down), column j the direction (north, east, down). Symmetric and of zero trace where
    /// there is no source. It does *not* contain the turning of the frame along the ellipsoid.
    pub gradient_nt_per_km: [[f64; 3]; 3],
}

/// How wrong a model's horizontal field may be at a dip pole, one sigma of each component.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct FieldSigma {
    /// From forecasting the secular variation beyond the model's data.
    pub forecast_nt: f64,
    /// From truncation of the core field and from the crust, which the model leaves out.
    pub crust_nt: f64,
}

/// Answers what the main field is at positions and at an epoch.
///
/// YAML slot `pole.model`. Deterministic; the same input gives the same bits on any thread.
pub trait MainField: Debug + Send + Sync {
    /// Name and source of the model.
    fn provenance(&self) -> Provenance;

    /// Decimal years that the model answers for. Outside them [`MainField::sample`] is an error,
    /// unless the model was built to extrapolate, which its range and its assumptions then say.
    fn years(&self) -> RangeInclusive<f64>;

    /// The field at `sites` at one epoch.
    ///
    /// # Arguments
    ///
    /// `out` has the length of `sites`.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for an epoch outside [`MainField::years`] or a site that is not finite,
    /// beyond ±90 degrees of latitude, or inside the model's source region.
    fn sample(
        &self,
        decimal_year: f64,
        sites: &[Site],
        out: &mut [FieldSample],
    ) -> Result<(), Error>;

    /// The model's uncertainty at `decimal_year` about the dip pole of a hemisphere.
    fn sigma(&self, decimal_year: f64, hemisphere: Hemisphere) -> FieldSigma;

    /// What the model takes for granted.
    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
}
