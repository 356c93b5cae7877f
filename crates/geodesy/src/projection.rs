//! The polar stereographic projection of the ellipsoid.
//!
//! ```text
//!   North, seen from above:  y               South, seen from above:  y
//!                            |  meridian                              |  central meridian
//!                            |  L0 + 180                              |  L0
//!                 L0 - 90 ---+--- L0 + 90 -- x             L0 - 90 ---+--- L0 + 90 -- x
//!                            |                                        |
//!                            |  central meridian L0                   |  L0 + 180
//! ```
//!
//! Angles are kept everywhere and lengths are stretched by the point scale, which depends on the
//! latitude only. Both ways go through the conformal latitude in closed form and by Newton's method,
//! not by a series, so a position comes back to the last digit or two, from either pole to the
//! neighbourhood of the other.
//!
//! Source: IOGP Publication 373-7-2, Geomatics Guidance Note 7, part 2, polar stereographic variants
//! A and B; C. F. F. Karney, doi 10.1007/s00190-011-0445-3, for the latitudes.

mod hemisphere;
mod parameters;

pub use hemisphere::Hemisphere;

use geo::Coord;
use serde::{Deserialize, Serialize};

use crate::angle::{normalise_longitude_deg, sin_cos_deg};
use crate::conformal::Conformal;
use crate::ellipsoid::Ellipsoid;
use crate::error::{Error, check};
use crate::position::{Position, position};
use parameters::Parameters;

/// How the scale of a projection was stated.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Scale {
    /// Variant A: the scale at the pole.
    AtPole(f64),
    /// Variant B: the latitude of true scale, degrees, without its sign.
    TrueAtDeg(f64),
}

/// A polar stereographic projection.
///
/// It is read and written as its parameters: `hemisphere`, one of `true_scale_latitude_deg` and
/// `scale_at_pole`, `central_meridian_deg`, `ellipsoid`, `false_easting_m`, `false_northing_m`; what
/// is read is checked as the constructors check it.
///
/// ```
/// use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, position};
///
/// # fn main() -> Result<(), dipward_geodesy::Error> {
/// // EPSG:3031, the Antarctic polar stereographic.
/// let antarctic = PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84)?;
/// let there = position(-64.0, 136.0);
/// let on_map = antarctic.forward(there);
/// assert!((on_map.x - 1_995_406.887).abs() < 1e-3);
/// assert!((on_map.y + 2_066_304.320).abs() < 1e-3);
///
/// let back = antarctic.inverse(on_map);
/// assert!((back.x() - there.x()).abs() < 1e-9 && (back.y() - there.y()).abs() < 1e-9);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Parameters", into = "Parameters")]
pub struct PolarStereographic {
    hemisphere: Hemisphere,
    scale: Scale,
    central_meridian_deg: f64,
    ellipsoid: Ellipsoid,
    false_easting_m: f64,
    false_northing_m: f64,
    conformal: Conformal,
    /// Scale at the pole, given or derived.
    scale_at_pole: f64,
    /// Radius on the map of the parallel whose conformal latitude is 0.
    equator_radius_m: f64,
}

impl PolarStereographic {
    /// A projection given by its latitude of true scale (EPSG method 9829).
    ///
    /// # Arguments
    ///
    /// * `true_scale_latitude_deg`: where lengths are true, on the projection's own hemisphere; in
    ///   the south the minus sign may be left out.
    /// * `central_meridian_deg`: the longitude that runs down the map in the north, up in the south.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] when a parameter is not finite, when the latitude lies on the other
    /// hemisphere, or when the ellipsoid is not Earth-like.
    pub fn variant_b(
        hemisphere: Hemisphere,
        true_scale_latitude_deg: f64,
        central_meridian_deg: f64,
        ellipsoid: Ellipsoid,
    ) -> Result<Self, Error> {
        let allowed = match hemisphere {
            Hemisphere::North => "from 0 to 90",
            Hemisphere::South => "from -90 to 0, or the same without its sign",
        };
        check("the latitude of true scale (deg)", true_scale_latitude_deg, allowed, |value| {
            value.abs() <= 90.0 && (value >= 0.0 || hemisphere == Hemisphere::South)
        })?;
        let scale = Scale::TrueAtDeg(true_scale_latitude_deg.abs());
        Self::build(hemisphere, scale, central_meridian_deg, ellipsoid)
    }

    /// A projection given by its scale at the pole (EPSG method 9810).
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] when a parameter is not finite, when the scale is not between 0.1 and
    /// 10, or when the ellipsoid is not Earth-like.
    pub fn variant_a(
        hemisphere: Hemisphere,
        scale_at_pole: f64,
        central_meridian_deg: f64,
        ellipsoid: Ellipsoid,
    ) -> Result<Self, Error> {
        check("the scale at the pole", scale_at_pole, "from 0.1 to 10", |value| {
            (0.1..=10.0).contains(&value)
        })?;
        Self::build(hemisphere, Scale::AtPole(scale_at_pole), central_meridian_deg, ellipsoid)
    }

    /// The same projection with other coordinates at the pole than zero.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] when a coordinate is not finite or beyond 1e9 m.
    pub fn with_false_origin(self, easting_m: f64, northing_m: f64) -> Result<Self, Error> {
        let allowed = "from -1e9 to 1e9";
        check("the false easting (m)", easting_m, allowed, |value| value.abs() <= 1e9)?;
        check("the false northing (m)", northing_m, allowed, |value| value.abs() <= 1e9)?;
        Ok(Self { false_easting_m: easting_m, false_northing_m: northing_m, ..self })
    }

    fn build(
        hemisphere: Hemisphere,
        scale: Scale,
        central_meridian_deg: f64,
        ellipsoid: Ellipsoid,
    ) -> Result<Self, Error> {
        let ellipsoid = ellipsoid.checked()?;
        let allowed = "from -360 to 360";
        check("the central meridian (deg)", central_meridian_deg, allowed, |value| {
            value.abs() <= 360.0
        })?;
        let conformal = Conformal::new(ellipsoid);
        let scale_at_pole = match scale {
            Scale::AtPole(scale_at_pole) => scale_at_pole,
            Scale::TrueAtDeg(latitude_deg) => {
                let tangent = tangent_deg(latitude_deg);
                scale_over_pole(conformal, tangent, radius_ratio(conformal, tangent)).recip()
            }
        };
        Ok(Self {
            hemisphere,
            scale,
            central_meridian_deg: normalise_longitude_deg(central_meridian_deg),
            ellipsoid,
            false_easting_m: 0.0,
            false_northing_m: 0.0,
            conformal,
            scale_at_pole,
            equator_radius_m: ellipsoid.semi_major_m * scale_at_pole * equator_ratio(conformal),
        })
    }

    /// The hemisphere whose pole is in the middle.
    #[must_use]
    pub fn hemisphere(&self) -> Hemisphere {
        self.hemisphere
    }

    /// The central meridian in degrees, -180 to 180.
    #[must_use]
    pub fn central_meridian_deg(&self) -> f64 {
        self.central_meridian_deg
    }

    /// The figure of the Earth that is projected.
    #[must_use]
    pub fn ellipsoid(&self) -> Ellipsoid {
        self.ellipsoid
    }

    /// The scale at the pole, given or derived from the latitude of true scale.
    #[must_use]
    pub fn scale_at_pole(&self) -> f64 {
        self.scale_at_pole
    }

    /// The coordinates of the pole in metres.
    #[must_use]
    pub fn false_origin(&self) -> Coord<f64> {
        Coord { x: self.false_easting_m, y: self.false_northing_m }
    }

    /// Puts a position on the map.
    ///
    /// # Returns
    ///
    /// Easting and northing in metres. They are not finite at the opposite pole, which is infinitely
    /// far away, and for a position that is not on Earth.
    #[must_use]
    pub fn forward(&self, position: Position) -> Coord<f64> {
        let sign = self.hemisphere.sign();
        let radius_m =
            self.equator_radius_m * radius_ratio(self.conformal, tangent_deg(sign * position.y()));
        let (sine, cosine) = sin_cos_deg(self.longitude_on_map_deg(position));
        Coord {
            x: self.false_easting_m + radius_m * sine,
            y: self.false_northing_m - sign * radius_m * cosine,
        }
    }

    /// Takes a place on the map back to its position.
    ///
    /// The pole itself comes back with the longitude of the central meridian. The latitude is right to
    /// 1e-13 degrees, and so is the longitude unless a false origin has taken its digits close to the
    /// pole. Infinite coordinates give the opposite pole, and those that are not numbers NaN.
    #[must_use]
    pub fn inverse(&self, coord: Coord<f64>) -> Position {
        let sign = self.hemisphere.sign();
        let east_m = coord.x - self.false_easting_m;
        let north_m = coord.y - self.false_northing_m;
        let radius_m = east_m.hypot(north_m);
        if radius_m == 0.0 {
            return position(sign * 90.0, self.central_meridian_deg);
        }
        let tangent = self.tangent_at_radius(radius_m);
        // The angle to the pole has all its digits where the latitude has few.
        let polar_distance_deg = 1.0_f64.atan2(tangent).to_degrees();
        let longitude_deg = east_m.atan2(-sign * north_m).to_degrees() + self.central_meridian_deg;
        position(sign * (90.0 - polar_distance_deg), longitude_deg)
    }

    /// The point scale at a position: metres on the map for a metre on the ellipsoid.
    #[must_use]
    pub fn point_scale(&self, position: Position) -> f64 {
        let tangent = tangent_deg(self.hemisphere.sign() * position.y());
        self.scale_at_pole
            * scale_over_pole(self.conformal, tangent, radius_ratio(self.conformal, tangent))
    }

    /// The point scale at a place on the map: metres on the map for a metre on the ellipsoid.
    #[must_use]
    pub fn point_scale_at(&self, coord: Coord<f64>) -> f64 {
        let radius_m = (coord.x - self.false_easting_m).hypot(coord.y - self.false_northing_m);
        let tangent = self.tangent_at_radius(radius_m);
        let ratio = radius_m / self.equator_radius_m;
        self.scale_at_pole * scale_over_pole(self.conformal, tangent, ratio)
    }

    /// The convergence at a position: the angle on the map from grid north (+y) to true north, in
    /// degrees, clockwise positive, -180 to 180.
    ///
    /// A true course is a grid course less the convergence. In the north it is the central meridian
    /// less the longitude, in the south the longitude less the central meridian. At the pole it is
    /// that of the longitude given with the pole, as courses there are.
    ///
    /// ```
    /// use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, position};
    ///
    /// # fn main() -> Result<(), dipward_geodesy::Error> {
    /// let arctic = PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84)?;
    /// // Right of the pole, at 45E, true north is to the left on the map.
    /// assert_eq!(arctic.convergence_deg(position(80.0, 45.0)), -90.0);
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn convergence_deg(&self, position: Position) -> f64 {
        normalise_longitude_deg(-self.hemisphere.sign() * self.longitude_on_map_deg(position))
    }

    /// Longitude reckoned from the central meridian, degrees.
    fn longitude_on_map_deg(&self, position: Position) -> f64 {
        normalise_longitude_deg(position.x() - self.central_meridian_deg)
    }

    /// Tangent of the latitude, positive on the own hemisphere, at a distance from the pole.
    fn tangent_at_radius(&self, radius_m: f64) -> f64 {
        let ratio = radius_m / self.equator_radius_m;
        self.conformal.geodetic_tangent((ratio.recip() - ratio) / 2.0)
    }

    /// Radius on the map of the parallel whose conformal latitude is 0, next to the equator's.
    pub(crate) fn equator_radius_m(&self) -> f64 {
        self.equator_radius_m
    }
}

/// Radius of the parallel of conformal latitude 0 on a map with scale 1 at the pole, over the
/// semi-major axis: 2 / sqrt((1 + e)^(1 + e) (1 - e)^(1 - e)).
fn equator_ratio(conformal: Conformal) -> f64 {
    2.0 / (conformal.complement().sqrt() * conformal.pole_ratio())
}

/// Radius of a parallel on the map over that of conformal latitude 0: tan(pi/4 - chi/2).
fn radius_ratio(conformal: Conformal, tangent: f64) -> f64 {
    let conformal_tangent = conformal.conformal_tangent(tangent);
    let secant = conformal_tangent.hypot(1.0);
    // Written so that nothing cancels on either hemisphere.
    if conformal_tangent >= 0.0 {
        (secant + conformal_tangent).recip()
    } else {
        secant - conformal_tangent
    }
}

/// Point scale over that of the pole: the radius of the parallel on the map, over its radius on the
/// ellipsoid, a / sqrt(1 + (1 - e^2) tan^2 phi).
fn scale_over_pole(conformal: Conformal, tangent: f64, radius_ratio: f64) -> f64 {
    // At the pole both radii vanish, and the square would overflow.
    if tangent > 1e150 {
        return 1.0;
    }
    equator_ratio(conformal)
        * radius_ratio
        * (1.0 + conformal.complement() * tangent * tangent).sqrt()
}

/// Tangent of a latitude in degrees: infinite at the poles, NaN beyond them.
fn tangent_deg(latitude_deg: f64) -> f64 {
    if latitude_deg.abs() > 90.0 {
        return f64::NAN;
    }
    let (sine, cosine) = sin_cos_deg(latitude_deg);
    sine / cosine.abs()
}
