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

/// e atanh(e x), for the eccentricity e.
pub(crate) fn eccentric_atanh(x: f64, eccentricity_squared: f64) -> f64 {
    let eccentricity = eccentricity_squared.sqrt();
    eccentricity * (eccentricity * x).atanh()
}

/// The tangent of the conformal latitude, from the tangent of the geodetic one.
pub(crate) fn conformal_tangent(tau: f64, eccentricity_squared: f64) -> f64 {
    if !tau.is_finite() {
        return tau;
    }
    let secant = tau.hypot(1.0);
    let sigma = eccentric_atanh(tau / secant, eccentricity_squared).sinh();
    sigma.hypot(1.0) * tau - sigma * secant
}

/// The tangent of the geodetic latitude, from the tangent of the conformal one.
///
/// Newton's method from a start that is right at the equator and at the pole: two steps reach the
/// last digit for an Earth-like figure. The number of steps is bounded, so a NaN ends it too.
pub(crate) fn geodetic_tangent(conformal: f64, eccentricity_squared: f64) -> f64 {
    /// Beyond this the two tangents are in the fixed ratio of the pole to the last digit.
    const POLE_TANGENT: f64 = 2.0 / 1.490_116_119_384_765_6e-8;
    const TOLERANCE: f64 = 1.490_116_119_384_765_6e-9;
    const MAX_STEPS: usize = 8;

    let complement = 1.0 - eccentricity_squared;
    let at_pole = conformal * eccentric_atanh(1.0, eccentricity_squared).exp();
    if at_pole.is_nan() || at_pole.abs() >= POLE_TANGENT {
        return at_pole;
    }
    let mut tau = if conformal.abs() > 70.0 { at_pole } else { conformal / complement };
    for _ in 0..MAX_STEPS {
        let estimate = conformal_tangent(tau, eccentricity_squared);
        let step = (conformal - estimate) * (1.0 + complement * tau * tau)
            / (complement * tau.hypot(1.0) * estimate.hypot(1.0));
        tau += step;
        // Convergence is quadratic: a step this small leaves an error below the rounding.
        if step.abs() < TOLERANCE * tau.abs().max(1.0) {
            break;
        }
    }
    tau
}
