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

/// One sigma of the two components of a horizontal field; the errors of the two are independent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct ComponentSigma {
    /// Of X.
    pub north_nt: f64,
    /// Of Y.
    pub east_nt: f64,
}

impl ComponentSigma {
    /// The same for both components.
    #[must_use]
    pub const fn isotropic(sigma_nt: f64) -> Self {
        Self { north_nt: sigma_nt, east_nt: sigma_nt }
    }

    /// That of the sum of two errors that are independent of each other: the root of the sum of the
    /// squares.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            north_nt: self.north_nt.hypot(other.north_nt),
            east_nt: self.east_nt.hypot(other.east_nt),
        }
    }

    /// Both times a factor.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self { north_nt: factor * self.north_nt, east_nt: factor * self.east_nt }
    }

    /// Root mean square of the two: the sigma of a component in whatever direction, on the average.
    #[must_use]
    pub fn rms_nt(self) -> f64 {
        self.north_nt.hypot(self.east_nt) / std::f64::consts::SQRT_2
    }
}

/// How wrong a model's horizontal field may be at a dip pole.
///
/// The parts are independent of each other.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct FieldSigma {
    /// From carrying the field to a time that its data do not reach, forward or back. It is the same
    /// field all about the pole and changes over years.
    pub forecast: ComponentSigma,
    /// From truncation of the core field and from the crust, which the model leaves out. It stays.
    pub crust: ComponentSigma,
}

impl FieldSigma {
    /// All of it together.
    #[must_use]
    pub fn total(&self) -> ComponentSigma {
        self.forecast.plus(self.crust)
    }
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
