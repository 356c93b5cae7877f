//! How long the perturbation is remembered.

use serde::Serialize;

use super::intervals::Interval;

/// Lags that are told, hours; those that are whole multiples of the cadence.
const LAGS_H: [f64; 10] = [0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 9.0, 12.0, 24.0];
const CELLS: usize = 12 * 24;

/// The correlation of the perturbation with itself some hours later, about the mean of the month and the
/// hour of the day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LagCorrelation {
    /// The lag, h.
    pub lag_h: f64,
    /// Of the recorded component toward north; `None` where too little was recorded, or nothing varies.
    pub record_north: Option<f64>,
    /// Of the recorded component toward east.
    pub record_east: Option<f64>,
    /// Of the model's component toward north, over the same pairs of hours.
    pub model_north: Option<f64>,
    /// Of the model's component toward east.
    pub model_east: Option<f64>,
}

/// Sums over pairs of values.
#[derive(Debug, Clone, Copy, Default)]
struct PairSums {
    count: f64,
    first: f64,
    second: f64,
    first_squared: f64,
    second_squared: f64,
    product: f64,
}

impl PairSums {
    fn add_pair(&mut self, first: f64, second: f64) {
        self.count += 1.0;
        self.first += first;
        self.second += second;
        self.first_squared += first * first;
        self.second_squared += second * second;
        self.product += first * second;
    }

    fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.first += other.first;
        self.second += other.second;
        self.first_squared += other.first_squared;
        self.second_squared += other.second_squared;
        self.product += other.product;
    }

    /// Sums of squares and of products about the means.
    fn about_means(&self) -> [f64; 3] {
        let by = |sum: f64, a: f64, b: f64| sum - a * b / self.count.max(1.0);
        [
            by(self.first_squared, self.first, self.first),
            by(self.second_squared, self.second, self.second),
            by(self.product, self.first, self.second),
        ]
    }
}

/// Pairs of intervals a lag apart, by their places in a stretch, with the month and hour of the first.
#[derive(Debug)]
pub(super) struct LagPairs(Vec<(usize, usize, usize)>);

impl LagPairs {
    /// For each lag, the pairs whose first is scored and among the first `own`.
    pub(super) fn of(intervals: &[Interval], own: usize, lags: &[Lag]) -> Vec<Self> {
        lags.iter()
            .map(|lag| {
                let mut later = 0;
                let mut pairs = Vec::new();
                for (at, one) in intervals.iter().enumerate().take(own) {
                    let wanted = one.index + lag.intervals;
                    while intervals.get(later).is_some_and(|other| other.index < wanted) {
                        later += 1;
                    }
                    let met = intervals.get(later).is_some_and(|other| other.index == wanted);
                    if one.scored && met {
                        pairs.push((at, later, one.month_and_hour()));
                    }
                }
                Self(pairs)
            })
            .collect()
    }
}

/// A lag in hours and in intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lag {
    pub(super) hours: f64,
    intervals: usize,
}

impl Lag {
    /// The lags of a cadence.
    pub(super) fn of_cadence(cadence_h: f64) -> Vec<Self> {
        let lags = LAGS_H.iter().map(|hours| (*hours, (hours / cadence_h).round()));
        lags.filter(|(hours, count)| {
            *count >= 1.0 && (count * cadence_h - hours).abs() < 1e-6 * hours
        })
        .map(|(hours, count)| Self { hours, intervals: count as usize })
        .collect()
    }
}

/// Sums over pairs, by lag, month and hour, and component.
#[derive(Debug, Clone)]
pub(super) struct LagSums(Vec<Vec<[PairSums; 2]>>);

impl LagSums {
    pub(super) fn new(lags: usize) -> Self {
        Self(vec![vec![[PairSums::default(); 2]; CELLS]; lags])
    }

    pub(super) fn add_pairs(&mut self, pairs: &[LagPairs], vector: impl Fn(usize) -> [f64; 2]) {
        for (cells, pairs) in self.0.iter_mut().zip(pairs) {
            for &(at, later, cell) in &pairs.0 {
                let (first, second) = (vector(at), vector(later));
                if let Some(sums) = cells.get_mut(cell) {
                    for part in 0..2 {
                        sums[part].add_pair(first[part], second[part]);
                    }
                }
            }
        }
    }

    pub(super) fn add(&mut self, other: &Self) {
        for (own, its) in self.0.iter_mut().flatten().zip(other.0.iter().flatten()) {
            for (own, its) in own.iter_mut().zip(its) {
                own.add(its);
            }
        }
    }

    /// The correlation of a component at a lag, by their numbers.
    fn correlation(&self, lag: usize, part: usize) -> Option<f64> {
        let mut sums = [0.0; 3];
        for cell in self.0.get(lag)? {
            // A single pair has no spread about its own mean.
            if cell[part].count > 1.0 {
                for (sum, own) in sums.iter_mut().zip(cell[part].about_means()) {
                    *sum += own;
                }
            }
        }
        let [first, second, product] = sums;
        let correlation = product / (first * second).sqrt();
        correlation.is_finite().then_some(correlation)
    }
}

/// The correlations of record and model.
pub(super) fn correlations(lags: &[Lag], record: &LagSums, model: &LagSums) -> Vec<LagCorrelation> {
    lags.iter()
        .enumerate()
        .map(|(at, lag)| LagCorrelation {
            lag_h: lag.hours,
            record_north: record.correlation(at, 0),
            record_east: record.correlation(at, 1),
            model_north: model.correlation(at, 0),
            model_east: model.correlation(at, 1),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    #[test]
    fn a_markov_series_about_a_daily_path_has_powers_of_its_memory() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let (kept, mut value): (f64, f64) = (0.6, 0.0);
        let fresh = (1.0 - kept * kept).sqrt();
        let intervals: Vec<Interval> = (0..60_000)
            .filter(|index| index % 50 != 7)
            .map(|index| {
                let draw: f64 = StandardNormal.sample(&mut rng);
                value = kept * value + fresh * draw;
                let hour = (index % 24) as u8;
                let path = 9.0 * (f64::from(hour) / 24.0 * std::f64::consts::TAU).cos();
                let recorded_nt = [path + value, 3.0];
                Interval { index, month: 1, hour, kp: None, scored: true, recorded_nt }
            })
            .collect();
        let lags = Lag::of_cadence(1.0);
        assert_eq!(lags.len(), 8);
        let pairs = LagPairs::of(&intervals, intervals.len(), &lags);
        let mut sums = LagSums::new(lags.len());
        sums.add_pairs(&pairs, |at| intervals[at].recorded_nt);
        let all = correlations(&lags, &sums, &sums);
        for one in all.iter().take(4) {
            // Where an hour is missing the series goes on without it.
            let wanted = kept.powf(one.lag_h);
            assert!((one.record_north.unwrap() - wanted).abs() < 0.03, "{one:?}");
            assert_eq!(one.model_east, None);
        }
        assert_eq!(Lag::of_cadence(1.0 / 60.0).len(), 10);
        assert_eq!(Lag::of_cadence(5.0).len(), 0);
    }
}
