//! Figures of the Earth.

use serde::{Deserialize, Serialize};

use crate::error::{Error, check};

/// An ellipsoid of revolution, flattened at the poles.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ellipsoid {
    /// Equatorial radius in metres.
    pub semi_major_m: f64,
    /// One over the flattening; 0 stands for a sphere, as it does in the well-known text of
    /// coordinate reference systems.
    pub inverse_flattening: f64,
}

impl Ellipsoid {
    /// World Geodetic System 1984, on which every [`Position`](crate::Position) lies.
    ///
    /// Source: NGA.STND.0036, 2014, table 3.1.
    pub const WGS84: Self = Self { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_223_563 };

    /// The Hughes 1980 ellipsoid of the NSIDC sea-ice grids (EPSG ellipsoid 7058).
    ///
    /// Its charts give geodetic latitudes that are used as if they were on WGS84, as the service
    /// itself does.
    pub const HUGHES_1980: Self =
        Self { semi_major_m: 6_378_273.0, inverse_flattening: 298.279_411_123_064 };

    /// The flattening, (a - b) / a.
    #[must_use]
    pub fn flattening(&self) -> f64 {
        if self.inverse_flattening == 0.0 { 0.0 } else { self.inverse_flattening.recip() }
    }

    /// The square of the first eccentricity.
    #[must_use]
    pub fn eccentricity_squared(&self) -> f64 {
        let flattening = self.flattening();
        flattening * (2.0 - flattening)
    }

    /// Fails when the figure is not one that a projection can be made of.
    pub(crate) fn checked(self) -> Result<Self, Error> {
        check("the semi-major axis (m)", self.semi_major_m, "from 1e3 to 1e9", |value| {
            (1e3..=1e9).contains(&value)
        })?;
        check("the inverse flattening", self.inverse_flattening, "0 or at least 10", |value| {
            value == 0.0 || value >= 10.0
        })?;
        Ok(self)
    }
}
