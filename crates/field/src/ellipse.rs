//! Ellipses of doubt about a pole.

use serde::{Deserialize, Serialize};

/// An ellipse about a position, in the plane that touches the Earth there.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Ellipse {
    /// Half of the long axis.
    pub semi_major_km: f64,
    /// Half of the short axis.
    pub semi_minor_km: f64,
    /// True bearing of the long axis, 0 to 180 degrees.
    pub bearing_deg: f64,
}

impl Ellipse {
    /// The one-sigma ellipse of a covariance matrix over north and east, km squared.
    #[must_use]
    pub fn of_covariance([[nn, ne], [_, ee]]: [[f64; 2]; 2]) -> Self {
        let (mean, half) = (0.5 * (nn + ee), 0.5 * (nn - ee));
        let apart = half.hypot(ne);
        let bearing_deg = (0.5 * ne.atan2(half)).to_degrees();
        Self {
            semi_major_km: (mean + apart).max(0.0).sqrt(),
            semi_minor_km: (mean - apart).max(0.0).sqrt(),
            bearing_deg: if bearing_deg < 0.0 { bearing_deg + 180.0 } else { bearing_deg },
        }
    }

    /// The covariance over north and east of which this is the one-sigma ellipse, km squared.
    #[must_use]
    pub fn covariance_km2(&self) -> [[f64; 2]; 2] {
        let (sine, cosine) = self.bearing_deg.to_radians().sin_cos();
        let (major, minor) = (self.semi_major_km.powi(2), self.semi_minor_km.powi(2));
        let ne = (major - minor) * sine * cosine;
        [
            [major * cosine * cosine + minor * sine * sine, ne],
            [ne, major * sine * sine + minor * cosine * cosine],
        ]
    }

    /// The ellipse with both axes times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            semi_major_km: self.semi_major_km * factor,
            semi_minor_km: self.semi_minor_km * factor,
            ..*self
        }
    }

    /// The ellipse that holds a share of a normal distribution of which this is the one-sigma
    /// ellipse: 1.177 times it for one half, 2.448 times for 95 in 100. The share is brought into
    /// the range 0 to 0.999999.
    #[must_use]
    pub fn holding(&self, probability: f64) -> Self {
        self.scaled((-2.0 * (1.0 - probability.clamp(0.0, 0.999_999)).ln()).sqrt())
    }

    /// Root-mean-square distance from the centre, where this is the one-sigma ellipse.
    #[must_use]
    pub fn rms_km(&self) -> f64 {
        self.semi_major_km.hypot(self.semi_minor_km)
    }

    /// How many times the ellipse must be scaled to pass through an offset of north and east, km.
    /// Infinite off a degenerate ellipse.
    #[must_use]
    pub fn radius_of(&self, [north_km, east_km]: [f64; 2]) -> f64 {
        let (sine, cosine) = self.bearing_deg.to_radians().sin_cos();
        let along = north_km * cosine + east_km * sine;
        let across = east_km * cosine - north_km * sine;
        let part = |length: f64, axis: f64| if length == 0.0 { 0.0 } else { length / axis };
        part(along, self.semi_major_km).hypot(part(across, self.semi_minor_km))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_and_bearing_come_back_from_the_covariance() {
        for bearing_deg in [0.0, 30.0, 90.0, 135.0, 179.0] {
            let ellipse = Ellipse { semi_major_km: 5.0, semi_minor_km: 2.0, bearing_deg };
            let back = Ellipse::of_covariance(ellipse.covariance_km2());
            assert!((back.semi_major_km - 5.0).abs() < 1e-12);
            assert!((back.semi_minor_km - 2.0).abs() < 1e-12);
            assert!((back.bearing_deg - bearing_deg).abs() < 1e-9);
            let (sine, cosine) = bearing_deg.to_radians().sin_cos();
            assert!((ellipse.radius_of([10.0 * cosine, 10.0 * sine]) - 2.0).abs() < 1e-12);
        }
    }

    #[test]
    fn shares_of_a_normal_distribution() {
        let one = Ellipse { semi_major_km: 1.0, semi_minor_km: 1.0, bearing_deg: 0.0 };
        assert!((one.holding(0.5).semi_major_km - 1.177_410).abs() < 1e-6);
        assert!((one.holding(0.95).semi_major_km - 2.447_747).abs() < 1e-6);
        assert_eq!(Ellipse::default().radius_of([0.0, 0.0]), 0.0);
        assert_eq!(Ellipse::default().radius_of([1.0, 0.0]), f64::INFINITY);
    }
}
