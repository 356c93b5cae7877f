//! A projection as it is read and written: its parameters, checked when they are read.

use serde::{Deserialize, Serialize};

use super::{Hemisphere, PolarStereographic, Scale};
use crate::ellipsoid::Ellipsoid;
use crate::error::Error;

/// The parameters of a projection as they are read and written.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Parameters {
    hemisphere: Hemisphere,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    true_scale_latitude_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    scale_at_pole: Option<f64>,
    central_meridian_deg: f64,
    ellipsoid: Ellipsoid,
    #[serde(default)]
    false_easting_m: f64,
    #[serde(default)]
    false_northing_m: f64,
}

impl TryFrom<Parameters> for PolarStereographic {
    type Error = Error;

    fn try_from(parameters: Parameters) -> Result<Self, Error> {
        let Parameters { hemisphere, central_meridian_deg, ellipsoid, .. } = parameters;
        match (parameters.true_scale_latitude_deg, parameters.scale_at_pole) {
            (Some(latitude_deg), None) => {
                Self::variant_b(hemisphere, latitude_deg, central_meridian_deg, ellipsoid)?
            }
            (None, Some(scale)) => {
                Self::variant_a(hemisphere, scale, central_meridian_deg, ellipsoid)?
            }
            _ => return Err(Error::ScaleNotStatedOnce),
        }
        .with_false_origin(parameters.false_easting_m, parameters.false_northing_m)
    }
}

impl From<PolarStereographic> for Parameters {
    fn from(projection: PolarStereographic) -> Self {
        let (true_scale_latitude_deg, scale_at_pole) = match projection.scale {
            Scale::TrueAtDeg(latitude_deg) => {
                (Some(projection.hemisphere.sign() * latitude_deg), None)
            }
            Scale::AtPole(scale) => (None, Some(scale)),
        };
        Self {
            hemisphere: projection.hemisphere,
            true_scale_latitude_deg,
            scale_at_pole,
            central_meridian_deg: projection.central_meridian_deg,
            ellipsoid: projection.ellipsoid,
            false_easting_m: projection.false_easting_m,
            false_northing_m: projection.false_northing_m,
        }
    }
}
