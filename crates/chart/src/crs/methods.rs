//! Projections by the names of their methods and parameters, as well-known text, GeoTIFF keys and CF grid
//! mappings spell them.

use dipward_geodesy::Ellipsoid;

use super::{
    LambertConic, MapProjection,
    general::{GeneralMap, ellipsoid_terms},
    polar,
};

/// The parameters of a projection: angles in degrees, lengths in metres. What a file does not state is absent.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Parameters {
    pub(crate) latitude_deg: Option<f64>,
    pub(crate) longitude_deg: Option<f64>,
    /// The first standard parallel, or the latitude of true scale.
    pub(crate) parallel_deg: Option<f64>,
    pub(crate) second_parallel_deg: Option<f64>,
    pub(crate) scale: Option<f64>,
    pub(crate) false_origin_m: [f64; 2],
}

/// Methods of projection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Method {
    PolarStereographic,
    ObliqueStereographic,
    AzimuthalEqualArea,
    AzimuthalEquidistant,
    ConformalConic,
    EqualAreaConic,
    TransverseMercator,
    Mercator,
    CylindricalEqualArea,
}

impl Method {
    /// The method of a name in well-known text or CF; nothing for one that is not taken.
    pub(crate) fn of_name(name: &str) -> Option<Self> {
        let plain: String = name
            .to_ascii_lowercase()
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
            .collect();
        Some(match plain.trim_matches('_') {
            "polar_stereographic"
            | "stereographic_north_pole"
            | "stereographic_south_pole"
            | "polar_stereographic__variant_a"
            | "polar_stereographic__variant_b" => Self::PolarStereographic,
            // PROJ's and CF's plain stereographic; the double projection of EPSG is another.
            "stereographic" => Self::ObliqueStereographic,
            "lambert_azimuthal_equal_area" | "lambert_azimuthal_equal_area__spherical" => {
                Self::AzimuthalEqualArea
            }
            "azimuthal_equidistant" | "modified_azimuthal_equidistant" => {
                Self::AzimuthalEquidistant
            }
            "lambert_conformal_conic"
            | "lambert_conformal_conic_1sp"
            | "lambert_conformal_conic_2sp"
            | "lambert_conic_conformal__1sp"
            | "lambert_conic_conformal__2sp" => Self::ConformalConic,
            "albers"
            | "albers_conic_equal_area"
            | "albers_conical_equal_area"
            | "albers_equal_area" => Self::EqualAreaConic,
            "transverse_mercator" => Self::TransverseMercator,
            "mercator"
            | "mercator_1sp"
            | "mercator_2sp"
            | "mercator__variant_a"
            | "mercator__variant_b" => Self::Mercator,
            "cylindrical_equal_area" | "lambert_cylindrical_equal_area" => {
                Self::CylindricalEqualArea
            }
            _ => return None,
        })
    }

    /// The projection.
    ///
    /// # Errors
    ///
    /// A parameter that is missing or out of its range.
    pub(crate) fn map(
        self,
        ellipsoid: Ellipsoid,
        own: Parameters,
    ) -> Result<MapProjection, String> {
        let need = |value: Option<f64>, what: &str| {
            value.ok_or_else(|| format!("does not state the {what} of its projection"))
        };
        let longitude_deg = need(own.longitude_deg, "longitude of origin")?;
        let origin = || need(own.latitude_deg, "latitude of origin");
        let scale = own.scale.unwrap_or(1.0);
        let [x, y] = own.false_origin_m;
        let terms = match self {
            Self::PolarStereographic => {
                let latitude = own.parallel_deg.or(own.latitude_deg);
                let latitude = need(latitude, "latitude of true scale")?;
                return polar(ellipsoid, latitude, longitude_deg, scale, own.false_origin_m);
            }
            Self::ObliqueStereographic => {
                let latitude = origin()?;
                if latitude.abs() == 90.0 {
                    let latitude = own.parallel_deg.unwrap_or(latitude);
                    return polar(ellipsoid, latitude, longitude_deg, scale, own.false_origin_m);
                }
                format!("+proj=stere +lat_0={latitude} +k={scale}")
            }
            Self::AzimuthalEqualArea => format!("+proj=laea +lat_0={}", origin()?),
            Self::AzimuthalEquidistant => format!("+proj=aeqd +lat_0={}", origin()?),
            Self::ConformalConic => {
                // With one parallel the origin is on it.
                let first = need(own.parallel_deg.or(own.latitude_deg), "standard parallel")?;
                let second = own.second_parallel_deg.unwrap_or(first);
                if scale == 1.0 {
                    let origin_deg = [own.latitude_deg.unwrap_or(first), longitude_deg];
                    let parallels = [first, second];
                    return LambertConic::new(ellipsoid, parallels, origin_deg, own.false_origin_m)
                        .map(MapProjection::Conic);
                }
                let origin = own.latitude_deg.unwrap_or(first);
                format!("+proj=lcc +lat_0={origin} +lat_1={first} +lat_2={second} +k_0={scale}")
            }
            Self::EqualAreaConic => {
                let first = need(own.parallel_deg, "standard parallel")?;
                let second = own.second_parallel_deg.unwrap_or(first);
                format!("+proj=aea +lat_0={} +lat_1={first} +lat_2={second}", origin()?)
            }
            Self::TransverseMercator => {
                format!("+proj=etmerc +lat_0={} +k={scale}", origin()?)
            }
            Self::Mercator => match own.parallel_deg {
                Some(parallel) => format!("+proj=merc +lat_ts={parallel}"),
                None => format!("+proj=merc +k={scale}"),
            },
            Self::CylindricalEqualArea => {
                format!("+proj=cea +lat_ts={}", own.parallel_deg.unwrap_or(0.0))
            }
        };
        let ellipsoid = ellipsoid_terms(ellipsoid)?;
        let definition = format!(
            "{terms} +lon_0={longitude_deg} +x_0={x} +y_0={y} {ellipsoid} +units=m +no_defs"
        );
        GeneralMap::new(&definition).map(MapProjection::General)
    }
}
