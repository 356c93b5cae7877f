//! From a site along its field line to the line's highest point, the apex.
//!
//! ```text
//!                 . apex: highest above the ellipsoid
//!             .       .
//!          .             .
//!   site .  ->  ->  ->      ellipsoid
//! ```
//!
//! Fourth-order Runge-Kutta along the unit field, with steps that grow with the distance from the
//! Earth's centre, as the field's own scale does.

use dipward_geodesy::Ellipsoid;
use dipward_plugin::{Error, Site};

use crate::{
    amps::{
        far_field::FarField,
        vector::{Vector, dot, norm, plus, scaled},
    },
    ellipsoid_frame::Meridian,
};

/// Step as a part of the distance from the Earth's centre. Halving it moves the magnetic latitude
/// by less than 1e-6 degrees at the dip poles.
const STEP: f64 = 0.03;

/// When a line is given up. One from a dip pole takes about a hundred steps, and these are enough for
/// lines to thousands of Earth radii, from quasi-dipole latitudes of 89 degrees.
const MOST_STEPS: usize = 1000;

/// A site with its place in reference radii and its local axes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stand {
    pub(crate) place: Vector,
    pub(crate) north: Vector,
    pub(crate) east: Vector,
}

impl Stand {
    pub(crate) fn of(site: &Site) -> Self {
        let Meridian { out_km, up_km, sin_lat, cos_lat, sin_lon, cos_lon } = Meridian::of(site);
        Self {
            place: scaled([out_km * cos_lon, out_km * sin_lon, up_km], 1.0 / FarField::RADIUS_KM),
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            east: [-sin_lon, cos_lon, 0.0],
        }
    }
}

/// The highest point of a field line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Apex {
    /// Earth-fixed, reference radii.
    pub(crate) place: Vector,
    /// Above the ellipsoid.
    pub(crate) height_km: f64,
    /// Whether the line enters the Earth at the site, as it does in the north.
    pub(crate) northern: bool,
}

/// The apex of the field line through `start`, in reference radii.
///
/// # Errors
///
/// [`Error::Unsolved`] where the line does not turn back within reach.
pub(crate) fn apex(field: &FarField, start: Vector) -> Result<Apex, Error> {
    let northern = dot(field.at(start), upright(start).0) < 0.0;
    let sense = if northern { -1.0 } else { 1.0 };
    let along = |place: Vector| {
        let b = field.at(place);
        scaled(b, sense / norm(b))
    };
    let climb = |place: Vector| dot(along(place), upright(place).0);
    let (mut place, mut rise) = (start, climb(start));
    for _ in 0..MOST_STEPS {
        if rise <= 0.0 {
            return Ok(Apex { place, height_km: upright(place).1, northern });
        }
        let step = STEP * norm(place);
        let next = advanced(along, place, step);
        let next_rise = climb(next);
        if next_rise <= 0.0 {
            // The height is level at the apex, so that two secants are as good as more.
            let mut part = rise / (rise - next_rise);
            part *= rise / (rise - climb(advanced(along, place, part * step)));
            place = advanced(along, place, part * step);
            rise = 0.0;
        } else {
            (place, rise) = (next, next_rise);
        }
    }
    Err(Error::Unsolved(
        "the field line through the mean pole leaves for space: it has no magnetic longitude"
            .into(),
    ))
}

/// One Runge-Kutta step of a length in reference radii.
fn advanced(along: impl Fn(Vector) -> Vector, place: Vector, step: f64) -> Vector {
    let first = along(place);
    let second = along(plus(place, 0.5 * step, first));
    let third = along(plus(place, 0.5 * step, second));
    let fourth = along(plus(place, step, third));
    let sum = plus(plus(plus(first, 2.0, second), 2.0, third), 1.0, fourth);
    plus(place, step / 6.0, sum)
}

/// The ellipsoid's normal below a place in reference radii, and the height above it in km, by
/// B. R. Bowring's formula (Survey Review 23, 323, 1976), which needs no iteration here.
fn upright(place: Vector) -> (Vector, f64) {
    let a = Ellipsoid::WGS84.semi_major_m / 1000.0;
    let e2 = Ellipsoid::WGS84.eccentricity_squared();
    let b = a * (1.0 - e2).sqrt();
    let [x, y, z] = scaled(place, FarField::RADIUS_KM);
    let out = x.hypot(y);
    let (sin_beta, cos_beta) = (a * z).atan2(b * out).sin_cos();
    let up = z + e2 / (1.0 - e2) * b * sin_beta.powi(3);
    let (sin_lat, cos_lat) = up.atan2(out - e2 * a * cos_beta.powi(3)).sin_cos();
    let height_km = out * cos_lat + z * sin_lat - a * (1.0 - e2 * sin_lat * sin_lat).sqrt();
    let (sin_lon, cos_lon) = y.atan2(x).sin_cos();
    ([cos_lat * cos_lon, cos_lat * sin_lon, sin_lat], height_km)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::amps::vector::cross;

    #[test]
    fn the_normal_and_the_height_are_those_of_the_site() {
        for (latitude_deg, height_km) in [(85.4, 0.0), (-63.8, 110.0), (0.0, 400.0), (40.0, 2e5)] {
            let site = Site { latitude_deg, longitude_deg: -20.0, height_km };
            let stand = Stand::of(&site);
            let (up, height) = upright(stand.place);
            assert!((height - height_km).abs() < 1e-6, "{height}");
            assert!(norm(plus(up, -1.0, cross(stand.east, stand.north))) < 1e-7);
        }
    }
}
