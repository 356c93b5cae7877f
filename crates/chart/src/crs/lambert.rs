//! The Lambert conformal conic projection, in which some services publish regional charts.
//!
//! Source: IOGP Publication 373-7-2, Geomatics Guidance Note 7, part 2, Lambert conic conformal (2SP),
//! EPSG method 9802.

use std::f64::consts::FRAC_PI_2;

use dipward_geodesy::{Ellipsoid, Position, position};

/// A Lambert conformal conic projection with two standard parallels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LambertConic {
    central_meridian_deg: f64,
    /// The cone's constant.
    n: f64,
    /// Metres on the map: semi-major axis times F.
    scale_m: f64,
    /// Distance of the origin from the apex.
    origin_radius_m: f64,
    eccentricity: f64,
    false_origin_m: [f64; 2],
}

impl LambertConic {
    /// A projection by its parameters, angles in degrees.
    ///
    /// # Errors
    ///
    /// When the parallels make no cone, or a parameter is not a number.
    pub(crate) fn new(
        ellipsoid: Ellipsoid,
        standard_parallels_deg: [f64; 2],
        origin_deg: [f64; 2],
        false_origin_m: [f64; 2],
    ) -> Result<Self, String> {
        let [first_deg, second_deg] = standard_parallels_deg;
        let [latitude_deg, longitude_deg] = origin_deg;
        let angles = [first_deg, second_deg, latitude_deg];
        let sound = angles.iter().all(|angle| angle.abs() < 89.9)
            && longitude_deg.abs() <= 360.0
            && false_origin_m.iter().all(|metres| metres.abs() <= 1e9)
            && (1e3..=1e9).contains(&ellipsoid.semi_major_m)
            && (first_deg + second_deg).abs() > 0.1;
        if !sound {
            return Err(
                "states parameters that make no Lambert conformal conic projection".to_owned()
            );
        }
        let eccentricity = ellipsoid.eccentricity_squared().max(0.0).sqrt();
        let m = |degrees: f64| {
            let (sine, cosine) = degrees.to_radians().sin_cos();
            cosine / (1.0 - (eccentricity * sine).powi(2)).sqrt()
        };
        let t = |degrees: f64| isometric(degrees.to_radians(), eccentricity);
        let n = if (first_deg - second_deg).abs() < 1e-9 {
            first_deg.to_radians().sin()
        } else {
            (m(first_deg).ln() - m(second_deg).ln()) / (t(first_deg).ln() - t(second_deg).ln())
        };
        let scale_m = ellipsoid.semi_major_m * m(first_deg) / (n * t(first_deg).powf(n));
        Ok(Self {
            central_meridian_deg: longitude_deg,
            n,
            scale_m,
            origin_radius_m: scale_m * t(latitude_deg).powf(n),
            eccentricity,
            false_origin_m,
        })
    }

    /// Metres on the map.
    pub(crate) fn forward(&self, at: Position) -> [f64; 2] {
        let radius_m =
            self.scale_m * isometric(at.y().to_radians(), self.eccentricity).powf(self.n);
        let turn_deg = (at.x() - self.central_meridian_deg + 180.0).rem_euclid(360.0) - 180.0;
        let (sine, cosine) = (self.n * turn_deg.to_radians()).sin_cos();
        [
            self.false_origin_m[0] + radius_m * sine,
            self.false_origin_m[1] + self.origin_radius_m - radius_m * cosine,
        ]
    }

    /// The position of metres on the map.
    pub(crate) fn inverse(&self, [x, y]: [f64; 2]) -> Position {
        let east_m = x - self.false_origin_m[0];
        let down_m = self.origin_radius_m - (y - self.false_origin_m[1]);
        let side = self.n.signum();
        let t = (side * east_m.hypot(down_m) / self.scale_m).powf(self.n.recip());
        let turn = (side * east_m).atan2(side * down_m) / self.n;
        let mut latitude = FRAC_PI_2 - 2.0 * t.atan();
        // Converges by a factor of e^2 a step.
        for _ in 0..10 {
            let sine = self.eccentricity * latitude.sin();
            let ratio = ((1.0 - sine) / (1.0 + sine)).powf(self.eccentricity / 2.0);
            latitude = FRAC_PI_2 - 2.0 * (t * ratio).atan();
        }
        position(latitude.to_degrees(), turn.to_degrees() + self.central_meridian_deg)
    }
}

/// tan(pi/4 - phi/2) corrected for the ellipsoid.
fn isometric(latitude: f64, eccentricity: f64) -> f64 {
    let sine = eccentricity * latitude.sin();
    (FRAC_PI_2 / 2.0 - latitude / 2.0).tan()
        / ((1.0 - sine) / (1.0 + sine)).powf(eccentricity / 2.0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn canada() -> LambertConic {
        LambertConic::new(Ellipsoid::WGS84, [49.0, 77.0], [40.0, -100.0], [0.0, 0.0]).unwrap()
    }

    #[test]
    fn agrees_with_proj() {
        // +proj=lcc +lat_0=40 +lon_0=-100 +lat_1=49 +lat_2=77 +datum=WGS84 by PROJ 9 through pyproj.
        for (latitude, longitude, x, y) in [PROJ_A, PROJ_B] {
            let [east, north] = canada().forward(position(latitude, longitude));
            assert!((east - x).abs() < 1e-3 && (north - y).abs() < 1e-3, "{east} {north}");
        }
    }

    const PROJ_A: (f64, f64, f64, f64) = (74.5, -80.25, 572_933.188_1, 3_889_515.885_2);
    const PROJ_B: (f64, f64, f64, f64) = (60.0, -140.0, -2_029_330.323_1, 2_885_103.579_6);

    proptest! {
        #[test]
        fn there_and_back(latitude in -60.0..89.0f64, longitude in -179.0..179.0f64) {
            let back = canada().inverse(canada().forward(position(latitude, longitude)));
            prop_assert!((back.y() - latitude).abs() < 1e-9);
            prop_assert!((back.x() - longitude).abs() < 1e-9 / (90.0 - latitude).to_radians().sin());
        }
    }

    #[test]
    fn no_cone_is_refused() {
        for parallels in [[30.0, -30.0], [f64::NAN, 60.0], [90.0, 60.0]] {
            let made = LambertConic::new(Ellipsoid::WGS84, parallels, [40.0, 0.0], [0.0, 0.0]);
            assert!(made.is_err());
        }
    }
}
