//! What is held of the state before any reading.

use super::{
    bias::{COMMON, State},
    cholesky::Cholesky,
    observation::Site,
    settings::FixSettings,
    tail::loss,
};

/// What is held of the state before any reading, as a mean and the inverse of a covariance.
pub(super) struct Belief {
    pub(super) mean: Vec<f64>,
    pub(super) precision: Vec<f64>,
}

impl Belief {
    pub(super) fn new(
        sites: &[Site<'_>],
        common_sigma: [f64; COMMON],
        disturbance_sigma: &[f64],
        settings: &FixSettings,
    ) -> Option<Self> {
        let count = sites.len();
        let size = COMMON + 2 * count;
        let mut mean = vec![0.0; size];
        let mut precision = vec![0.0; size * size];
        for (at, sigma) in common_sigma.into_iter().enumerate() {
            precision[at * size + at] = sigma.powi(-2);
        }
        let correlation_h = settings.disturbance_correlation_h.max(1e-3);
        let mut covariance = vec![0.0; count * count];
        for (i, one) in sites.iter().enumerate() {
            for (j, other) in sites.iter().enumerate() {
                let apart = one.reading.time.as_millisecond() - other.reading.time.as_millisecond();
                let hours = apart.abs() as f64 / 3_600_000.0;
                // Two readings of one moment would make the matrix singular; they differ a little.
                let kept = if i == j { 1.0 } else { 0.9999 * (-hours / correlation_h).exp() };
                covariance[i * count + j] = kept * disturbance_sigma[i] * disturbance_sigma[j];
            }
        }
        let inverse = Cholesky::of(count, covariance)?.inverse();
        for (i, site) in sites.iter().enumerate() {
            if let Some((base, _)) = site.base_nt() {
                mean[COMMON + 2 * i..COMMON + 2 * i + 2].copy_from_slice(&base);
            }
            for j in 0..count {
                for part in 0..2 {
                    let (row, column) = (COMMON + 2 * i + part, COMMON + 2 * j + part);
                    precision[row * size + column] = inverse[i * count + j];
                }
            }
        }
        Some(Self { mean, precision })
    }

    pub(super) fn loss(&self, sites: &[Site<'_>], state: &State) -> f64 {
        let off: Vec<f64> = state.0.iter().zip(&self.mean).map(|(a, b)| a - b).collect();
        let pull = self.pull(&off);
        let own: f64 = off.iter().zip(pull).map(|(a, b)| 0.5 * a * b).sum();
        let readings: f64 = sites
            .iter()
            .enumerate()
            .flat_map(|(index, site)| site.compare(state, index))
            .map(|one| loss(one.normalised))
            .sum();
        own + readings
    }

    pub(super) fn pull(&self, off: &[f64]) -> Vec<f64> {
        let rows = self.precision.chunks(off.len().max(1));
        rows.map(|row| row.iter().zip(off).map(|(a, b)| a * b).sum()).collect()
    }
}
