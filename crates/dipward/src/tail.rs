//! Quantiles and tails of samples.

/// The smallest value that at least a share of the values do not exceed; nothing of an empty sample.
///
/// # Arguments
///
/// `sorted`: the sample, increasing. `share`: 0 to 1; 0 gives the least value.
pub(crate) fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let rank = (share * sorted.len() as f64 - 1e-9).ceil().max(1.0) as usize;
    sorted.get(rank - 1).copied()
}

/// The conditional value at risk at level `alpha` of losses: the mean of the worst `1 - alpha` of the
/// sample, in which the loss at the edge counts in part. At 0 it is the mean; at 1 the greatest loss.
/// Nothing of an empty sample.
///
/// # Arguments
///
/// `sorted`: the losses, increasing. `alpha`: 0 to 1.
///
/// # Source
///
/// R. T. Rockafellar and S. Uryasev, Conditional value-at-risk for general loss distributions, J.
/// Banking & Finance 26 (2002), 1443-1471, proposition 8 (scenario models).
pub(crate) fn expected_shortfall(sorted: &[f64], alpha: f64) -> Option<f64> {
    let greatest = *sorted.last()?;
    let wanted = (1.0 - alpha) * sorted.len() as f64;
    // Less than one value: that value is the tail.
    if wanted <= 1.0 {
        return Some(greatest);
    }
    let mut left = wanted;
    let mut sum = 0.0;
    for loss in sorted.iter().rev() {
        let part = left.min(1.0);
        sum += part * loss;
        left -= part;
        if left <= 0.0 {
            break;
        }
    }
    Some(sum / (wanted - left.max(0.0)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Ten equally likely losses 1 to 10, by the definition of Rockafellar and Uryasev (2000, 2002):
    /// the atom at the edge of the tail is split.
    #[test]
    fn published_conditional_values_at_risk() {
        let losses: Vec<f64> = (1..=10).map(f64::from).collect();
        for (alpha, expected) in
            [(0.0, 5.5), (0.5, 8.0), (0.8, 9.5), (0.85, 29.0 / 3.0), (0.9, 10.0), (1.0, 10.0)]
        {
            let found = expected_shortfall(&losses, alpha).unwrap();
            assert!((found - expected).abs() < 1e-12, "{alpha}: {found}");
        }
        assert_eq!(expected_shortfall(&[], 0.5), None);
    }

    #[test]
    fn quantiles_are_values_of_the_sample() {
        let sample: Vec<f64> = (1..=10).map(f64::from).collect();
        for (share, expected) in [(0.0, 1.0), (0.1, 1.0), (0.11, 2.0), (0.5, 5.0), (1.0, 10.0)] {
            assert_eq!(quantile(&sample, share), Some(expected), "{share}");
        }
        assert_eq!(quantile(&[], 0.5), None);
    }

    proptest! {
        /// The definition as a minimum: CVaR is the least over c of c + E[(loss - c)+] / (1 - alpha),
        /// and the least is met at one of the losses.
        #[test]
        fn the_tail_is_the_least_of_the_minimum_formula(
            mut losses in proptest::collection::vec(-100.0..100.0_f64, 1..40),
            alpha in 0.0..0.98_f64,
        ) {
            losses.sort_by(f64::total_cmp);
            let n = losses.len() as f64;
            let least = losses
                .iter()
                .map(|c| {
                    let excess: f64 = losses.iter().map(|loss| (loss - c).max(0.0)).sum();
                    c + excess / n / (1.0 - alpha)
                })
                .fold(f64::INFINITY, f64::min);
            let found = expected_shortfall(&losses, alpha).unwrap();
            prop_assert!((found - least).abs() < 1e-9 * (1.0 + least.abs()), "{found} {least}");
        }
    }
}
