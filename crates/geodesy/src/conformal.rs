//! Conformal latitude, forth and back, through the tangents of the latitudes.
//!
//! A conformal map of the ellipsoid is a conformal map of the sphere taken at the conformal latitude
//! chi. With tau = tan(phi) and tau' = tan(chi) the step is
//!
//! ```text
//!   sigma = sinh(e atanh(e sin phi))
//!   tau'  = tau sqrt(1 + sigma^2) - sigma sqrt(1 + tau^2)
//! ```
//!
//! The tangents lose nothing near a pole, where the latitude itself has no digits left to give.
//!
//! Source: C. F. F. Karney, Transverse Mercator with an accuracy of a few nanometers, Journal of
//! Geodesy 85, 475-485 (2011), equations (7) to (9) and (19) to (21), doi 10.1007/s00190-011-0445-3.

use crate::ellipsoid::Ellipsoid;

/// The conformal latitude of one ellipsoid, with the constants that every latitude shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Conformal {
    eccentricity: f64,
    /// 1 - e^2.
    complement: f64,
    /// exp(e atanh e): the ratio of tau to tau' at the pole.
    pole_ratio: f64,
}

impl Conformal {
    pub(crate) fn new(ellipsoid: Ellipsoid) -> Self {
        let eccentricity_squared = ellipsoid.eccentricity_squared();
        let eccentricity = eccentricity_squared.sqrt();
        Self {
            eccentricity,
            complement: 1.0 - eccentricity_squared,
            pole_ratio: (eccentricity * eccentricity.atanh()).exp(),
        }
    }

    /// exp(e atanh e), which is also sqrt((1 + e)^(1 + e) (1 - e)^(1 - e) / (1 - e^2)).
    pub(crate) fn pole_ratio(&self) -> f64 {
        self.pole_ratio
    }

    /// 1 - e^2.
    pub(crate) fn complement(&self) -> f64 {
        self.complement
    }

    /// The tangent of the conformal latitude, from the tangent of the geodetic one.
    pub(crate) fn conformal_tangent(&self, tau: f64) -> f64 {
        if tau.is_infinite() {
            return tau;
        }
        let secant = tau.hypot(1.0);
        let sigma = (self.eccentricity * (self.eccentricity * tau / secant).atanh()).sinh();
        sigma.hypot(1.0) * tau - sigma * secant
    }

    /// The tangent of the geodetic latitude, from the tangent of the conformal one.
    ///
    /// Newton's method from a start that is right at the equator or at the pole: two or three steps
    /// reach the last digit for an Earth-like figure. Their number is bounded, so a NaN ends too.
    pub(crate) fn geodetic_tangent(&self, conformal: f64) -> f64 {
        /// 2 / sqrt(epsilon): beyond it the tangents are in the ratio of the pole to the last digit.
        const NEARLY_POLE: f64 = 134_217_728.0;
        /// sqrt(epsilon) / 10: the steps shrink quadratically, so the next would be below rounding.
        const SMALL_STEP: f64 = 0.1 / 67_108_864.0;
        const MAX_STEPS: usize = 8;

        let at_pole = conformal * self.pole_ratio;
        if at_pole.abs() >= NEARLY_POLE {
            return at_pole;
        }
        let mut tau = if conformal.abs() > 70.0 { at_pole } else { conformal / self.complement };
        for _ in 0..MAX_STEPS {
            let estimate = self.conformal_tangent(tau);
            let step = (conformal - estimate) * (1.0 + self.complement * tau * tau)
                / (self.complement * tau.hypot(1.0) * estimate.hypot(1.0));
            tau += step;
            if step.abs() < SMALL_STEP * tau.abs().max(1.0) {
                break;
            }
        }
        tau
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tangents from the equator to as near the pole as a number gets.
    fn tangents() -> impl Iterator<Item = f64> {
        (-200..=160).map(|power| 10.0_f64.powf(f64::from(power) / 10.0)).chain([0.0, 1e300])
    }

    #[test]
    fn latitudes_come_back_on_every_figure_that_is_allowed() {
        for inverse_flattening in [0.0, 10.0, 150.0, 298.257_223_563, 1e9] {
            let figure = Ellipsoid { semi_major_m: 1e6, inverse_flattening };
            let conformal = Conformal::new(figure);
            for tau in tangents() {
                for tau in [tau, -tau] {
                    let back = conformal.geodetic_tangent(conformal.conformal_tangent(tau));
                    assert!(
                        (back - tau).abs() <= 2e-15 * tau.abs().max(1e-300),
                        "1/f {inverse_flattening}: {tau} came back as {back}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_sphere_is_its_own_conformal_sphere() {
        let sphere =
            Conformal::new(Ellipsoid { semi_major_m: 6_371_229.0, inverse_flattening: 0.0 });
        for tau in tangents() {
            assert_eq!(sphere.conformal_tangent(tau), tau);
        }
    }

    #[test]
    fn poles_and_nonsense_pass_through() {
        let conformal = Conformal::new(Ellipsoid::WGS84);
        assert_eq!(conformal.conformal_tangent(f64::INFINITY), f64::INFINITY);
        assert_eq!(conformal.geodetic_tangent(f64::NEG_INFINITY), f64::NEG_INFINITY);
        assert!(conformal.conformal_tangent(f64::NAN).is_nan());
        assert!(conformal.geodetic_tangent(f64::NAN).is_nan());
    }
}
