//! Errors with a long tail: normal out to a limit, then falling as a power, so that an outlier loses
//! its pull the wilder it is (Huber's core with a tail like that of Student's distribution).

/// Where the tail begins, in sigmas. One normal error in 80 lies beyond.
const LIMIT: f64 = 2.5;

/// The weight of a residual told in sigmas.
pub(crate) fn weight(residual: f64) -> f64 {
    if residual.abs() <= LIMIT { 1.0 } else { (LIMIT / residual).powi(2) }
}

/// Minus the logarithm of the density but for a constant; its slope is `weight * residual`.
pub(crate) fn loss(residual: f64) -> f64 {
    let size = residual.abs();
    if size <= LIMIT { 0.5 * size * size } else { LIMIT * LIMIT * (0.5 + (size / LIMIT).ln()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slope_of_the_loss_is_the_weighted_residual() {
        for residual in [-30.0, -2.6, -1.0, 0.0, 0.3, 2.4, 3.0, 500.0] {
            let slope = (loss(residual + 1e-5) - loss(residual - 1e-5)) / 2e-5;
            assert!((slope - weight(residual) * residual).abs() < 1e-6);
        }
    }
}
