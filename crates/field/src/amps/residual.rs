//! What an average climatology leaves out.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Bursts about the average currents: a stationary random vector of correlation exp(-dt / tau). No
/// publication gives its size at the dip poles; the defaults are chosen, not found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Residual {
    /// Sigma of each component as a share of the average field's length at the hour.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub share: f64,
    /// Sigma of each component where there is no average field; the two add in squares.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub least_nt: f64,
    /// Time in which the correlation falls to 1/e.
    #[schemars(range(min = 0.01, max = 100.0))]
    pub correlation_h: f64,
}

impl Default for Residual {
    fn default() -> Self {
        Self { share: 0.5, least_nt: 6.0, correlation_h: 1.5 }
    }
}

/// The random vector on its way through the hours.
#[derive(Debug)]
pub(crate) struct Wandering<'a, R> {
    residual: &'a Residual,
    rng: R,
    /// In sigmas.
    at: [f64; 2],
    hour: Option<f64>,
}

impl Residual {
    pub(crate) fn wandering<R: Rng>(&self, rng: R) -> Wandering<'_, R> {
        Wandering { residual: self, rng, at: [0.0; 2], hour: None }
    }

    pub(crate) fn told(&self) -> String {
        let Self { share, least_nt, correlation_h } = self;
        format!(
            "what the average leaves out is random, with a sigma of each component of {share} of the \
             average field and {least_nt} nT, added in squares, and a correlation time of \
             {correlation_h} h: chosen, not found"
        )
    }
}

impl<R: Rng> Wandering<'_, R> {
    /// The residual at a later hour, where the average field is `mean_nt`.
    pub(crate) fn next_nt(&mut self, hour: f64, mean_nt: [f64; 2]) -> [f64; 2] {
        let Residual { share, least_nt, correlation_h } = *self.residual;
        let kept =
            self.hour.map_or(0.0, |before| (-(hour - before).max(0.0) / correlation_h).exp());
        self.hour = Some(hour);
        let fresh = (1.0 - kept * kept).max(0.0).sqrt();
        for part in &mut self.at {
            let draw: f64 = StandardNormal.sample(&mut self.rng);
            *part = kept * *part + fresh * draw;
        }
        let sigma = least_nt.hypot(share * mean_nt[0].hypot(mean_nt[1]));
        self.at.map(|part| sigma * part)
    }
}

#[cfg(test)]
mod tests {
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

    use super::*;

    #[test]
    fn it_has_the_stated_sigma_and_memory() {
        let residual = Residual { share: 0.5, least_nt: 3.0, correlation_h: 2.0 };
        let mut wandering = residual.wandering(ChaCha8Rng::seed_from_u64(1));
        let all: Vec<f64> =
            (0..40_000).map(|hour| wandering.next_nt(f64::from(hour), [8.0, 0.0])[0]).collect();
        let mean = |values: &mut dyn Iterator<Item = f64>| values.sum::<f64>() / all.len() as f64;
        let variance = mean(&mut all.iter().map(|x| x * x));
        assert!((variance.sqrt() / 5.0 - 1.0).abs() < 0.03, "{variance}");
        let next = mean(&mut all.windows(2).map(|pair| pair[0] * pair[1])) / variance;
        assert!((next - (-0.5_f64).exp()).abs() < 0.03, "{next}");
    }
}
