//! The continuous ranked probability score.

/// The continuous ranked probability score of an ensemble, in the units of its values; the smaller the
/// better, and the distance to what was observed where all members agree.
///
/// The fair estimator: on average over ensembles it is the score of the distribution that the members are
/// drawn from, however few they are.
///
/// ```text
///   CRPS = mean |x_i - y| - sum_{i<j} |x_i - x_j| / (n (n - 1))
/// ```
///
/// # Arguments
///
/// `sorted`: the members, increasing; two or more (with fewer there is no spread, and the first part
/// alone is returned; NaN without any).
///
/// # Source
///
/// Ferro 2014, doi 10.1002/qj.2270 (from memory).
///
/// # Example
///
/// ```
/// let score = dipward_field::verification::fair_crps(&[1.0, 2.0], 4.0);
/// assert_eq!(score, 2.5 - 0.5);
/// ```
#[must_use]
pub fn fair_crps(sorted: &[f64], observed: f64) -> f64 {
    debug_assert!(sorted.is_sorted(), "the members must be sorted");
    let count = sorted.len() as f64;
    let away = sorted.iter().map(|value| (value - observed).abs()).sum::<f64>() / count;
    away - 0.5 * mean_difference(sorted)
}

/// The mean distance of two different members of a sorted sample; 0 for a single one.
pub(super) fn mean_difference(sorted: &[f64]) -> f64 {
    let count = sorted.len() as f64;
    if sorted.len() < 2 {
        return 0.0;
    }
    // The i-th of n sorted values, counted from 0, is the larger of i pairs and the smaller of n - 1 - i.
    let weighted: f64 = sorted
        .iter()
        .enumerate()
        .map(|(rank, value)| (2.0 * rank as f64 + 1.0 - count) * value)
        .sum();
    2.0 * weighted / (count * (count - 1.0))
}

#[cfg(test)]
mod tests {
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
    use rand_distr::{Distribution, Exp1, StandardNormal};

    use super::*;

    fn mean_score(members: usize, observed: f64, mut draw: impl FnMut() -> f64) -> f64 {
        let rounds = 200_000 / members;
        let sum: f64 = (0..rounds)
            .map(|_| {
                let mut sample: Vec<f64> = (0..members).map(|_| draw()).collect();
                sample.sort_by(f64::total_cmp);
                fair_crps(&sample, observed)
            })
            .sum();
        sum / rounds as f64
    }

    #[test]
    fn a_normal_ensemble_of_any_size_has_the_closed_form_on_average() {
        // Gneiting and Raftery 2007: z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi); Phi(1) = 0.841345,
        // phi(1) = 0.241971.
        let closed = 2.0 * 0.841_345 - 1.0 + 2.0 * 0.241_971 - 1.0 / std::f64::consts::PI.sqrt();
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        for members in [2, 10, 239] {
            let mean = mean_score(members, 1.0, || StandardNormal.sample(&mut rng));
            assert!((mean - closed).abs() < 0.01, "{members}: {mean}, not {closed}");
        }
    }

    #[test]
    fn an_exponential_ensemble_has_the_closed_form_on_average() {
        // Of the integral of (F - 1{y <= x})^2: y + 2 exp(-y) - 3/2.
        let closed = 2.0 + 2.0 * (-2.0_f64).exp() - 1.5;
        let mut rng = ChaCha8Rng::seed_from_u64(2);
        for members in [3, 50] {
            let mean = mean_score(members, 2.0, || Exp1.sample(&mut rng));
            assert!((mean - closed).abs() < 0.01, "{members}: {mean}, not {closed}");
        }
    }

    #[test]
    fn small_samples_are_scored_by_hand() {
        assert_eq!(fair_crps(&[3.0], 5.0), 2.0);
        // Pairs 1, 3 and 2 apart: a mean of 2.
        assert_eq!(mean_difference(&[0.0, 1.0, 3.0]), 2.0);
        assert_eq!(fair_crps(&[0.0, 1.0, 3.0], 1.0), 1.0 - 1.0);
        assert!(fair_crps(&[], 1.0).is_nan());
    }
}
