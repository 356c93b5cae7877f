//! Sites on WGS84 as unit normals, with the local axes that the field is told in.

use dipward_geodesy::Ellipsoid;
use dipward_plugin::{Error, FieldSample, Site};

/// Heights that the field of sources inside the Earth is given for, km. Below them a site may lie
/// among the sources; above them the powers of the radius leave the range of `f64`.
pub(crate) const HEIGHTS_KM: std::ops::RangeInclusive<f64> = -10.0..=60_000.0;

/// WGS84 in km, as its semi-major axis and first eccentricity squared.
fn wgs84() -> (f64, f64) {
    (Ellipsoid::WGS84.semi_major_m / 1000.0, Ellipsoid::WGS84.eccentricity_squared())
}

/// Radii of curvature of the ellipsoid at a sine of latitude: along the meridian and across it, km.
pub(crate) fn radii_km(sine_latitude: f64) -> [f64; 2] {
    let (a, e2) = wgs84();
    let w2 = 1.0 - e2 * sine_latitude * sine_latitude;
    [a * (1.0 - e2) / (w2 * w2.sqrt()), a / w2.sqrt()]
}

/// Refuses room for another number of samples than there are sites.
pub(crate) fn check_lengths(sites: &[Site], out: &[FieldSample]) -> Result<(), Error> {
    if sites.len() == out.len() {
        return Ok(());
    }
    let message = format!("was given {} sites and room for {} samples", sites.len(), out.len());
    Err(Error::Contract { kind: "main field".into(), message })
}

/// Refuses a site that no field can be given for.
pub(crate) fn check_site(site: &Site) -> Result<(), Error> {
    let Site { latitude_deg, longitude_deg, height_km } = *site;
    if !longitude_deg.is_finite() || !(-90.0..=90.0).contains(&latitude_deg) {
        return Err(Error::Outside(format!(
            "latitude {latitude_deg}, longitude {longitude_deg} is not a place on Earth"
        )));
    }
    if !HEIGHTS_KM.contains(&height_km) {
        let (low, high) = (HEIGHTS_KM.start(), HEIGHTS_KM.end());
        return Err(Error::Outside(format!(
            "the field is given for heights of {low} to {high} km, not {height_km} km"
        )));
    }
    Ok(())
}

/// A site in the plane of its meridian: x out from the Earth's axis, z along it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meridian {
    pub(crate) out_km: f64,
    pub(crate) up_km: f64,
    pub(crate) sin_lat: f64,
    pub(crate) cos_lat: f64,
    pub(crate) sin_lon: f64,
    pub(crate) cos_lon: f64,
}

impl Meridian {
    pub(crate) fn of(site: &Site) -> Self {
        let (sin_lat, cos_lat) = site.latitude_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = site.longitude_deg.to_radians().sin_cos();
        let (a, e2) = wgs84();
        let across = a / (1.0 - e2 * sin_lat * sin_lat).sqrt();
        Self {
            out_km: (across + site.height_km) * cos_lat,
            up_km: (across * (1.0 - e2) + site.height_km) * sin_lat,
            sin_lat,
            cos_lat,
            sin_lon,
            cos_lon,
        }
    }

    /// Distance from the Earth's centre.
    pub(crate) fn radius_km(&self) -> f64 {
        // The squares are far from the limits of `f64`, so the care of `hypot` is not needed.
        (self.out_km * self.out_km + self.up_km * self.up_km).sqrt()
    }
}
