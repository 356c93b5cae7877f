//! The scatter's motion in time: three random vectors with memories, and an amplitude.
//!
//! ```text
//!   fast    a vector u of correlation exp(-t / fast), smoothed over ten minutes
//!   slow    a vector of correlation exp(-t / slow)
//!   days    the same with days of memory, standing still on the Earth
//!   size    exp(s h), h of correlation exp(-t / size), s the spread of Student's t of six degrees
//! ```
//!
//! The law is fitted to hourly means, and this is the field at an instant: the fast part is made as
//! much larger as its hourly mean is smaller. Below the hour nothing was measured. The spectrum is
//! carried on as that of the fast part: it falls as the square of the frequency down to ten minutes,
//! and as the fourth power beyond, for magnetograms of the polar cap are smooth over a few minutes
//! (from memory; no source was read).

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Shares of the hourly scatter's variance and memories (to 1/e).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScatterMemory {
    /// Share of the part of substorms and pulsations.
    pub share_fast: f64,
    /// Share of the part of half a day.
    pub share_slow: f64,
    /// Share of the part of days.
    pub share_days: f64,
    /// Memory of the fast part, hours.
    pub memory_fast_h: f64,
    /// Memory of the slow part, hours.
    pub memory_slow_h: f64,
    /// Memory of the part of days, hours.
    pub memory_days_h: f64,
}

/// Time over which the fast part is smoothed, hours.
const SMOOTHING_H: f64 = 1.0 / 6.0;
/// Memory of the amplitude. Recorded hours show 0.7 at one to three hours, 0.5 at six, 0.4 at twelve.
const SIZE_MEMORY_H: f64 = 10.0;
/// The spread of the logarithm of the amplitude of Student's t of six degrees of freedom, half the
/// root of the trigamma function at 3, and its mean, (ln 6 - digamma(3) - ln 2) / 2.
const SIZE_SPREAD: f64 = 0.314_224;
const SIZE_MEAN: f64 = 0.087_914;

impl ScatterMemory {
    pub(crate) const UNREAD: Self = Self {
        share_fast: f64::NAN,
        share_slow: f64::NAN,
        share_days: f64::NAN,
        memory_fast_h: f64::NAN,
        memory_slow_h: f64::NAN,
        memory_days_h: f64::NAN,
    };

    pub(super) fn part_mut(&mut self, name: &str) -> Option<&mut f64> {
        match name {
            "share_fast" => Some(&mut self.share_fast),
            "share_slow" => Some(&mut self.share_slow),
            "share_days" => Some(&mut self.share_days),
            "memory_fast_h" => Some(&mut self.memory_fast_h),
            "memory_slow_h" => Some(&mut self.memory_slow_h),
            "memory_days_h" => Some(&mut self.memory_days_h),
            _ => None,
        }
    }

    /// Variance of the smoothed fast part's hourly mean, its own variance being 1.
    fn fast_hourly_variance(&self) -> f64 {
        let (long, short) = (self.memory_fast_h, SMOOTHING_H);
        (long * hourly_variance(long) - short * hourly_variance(short)) / (long - short)
    }
}

/// Variance of the mean over an hour of a process of variance 1 and correlation exp(-t / memory).
fn hourly_variance(memory_h: f64) -> f64 {
    let a = 1.0 / memory_h;
    2.0 / (a * a) * (a - 1.0 + (-a).exp())
}

/// The motion of one member, hour by hour.
#[derive(Debug)]
pub(crate) struct Motion<R> {
    memory: ScatterMemory,
    rng: R,
    before: Option<f64>,
    step: Step,
    /// For each component the fast vector before and after smoothing.
    fast: [[f64; 2]; 2],
    slow: [f64; 2],
    days: [f64; 2],
    size: f64,
}

/// The scatter at an instant in units of the law's sigmas, uncorrelated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scatter {
    /// The parts that go with the Sun, toward it and clockwise.
    pub(crate) with_sun: [f64; 2],
    /// The part that stands still on the Earth, toward north and east.
    pub(crate) on_earth: [f64; 2],
    /// Multiplies both.
    pub(crate) amplitude: f64,
}

/// What a step of a length keeps and adds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    length_h: f64,
    slow: [f64; 2],
    days: [f64; 2],
    size: [f64; 2],
    /// u is kept by `fast[0]`; the smoothed part takes `fast[1]` of u and keeps `fast[2]` of itself.
    fast: [f64; 3],
    /// The lower triangle of the root of what is added to both.
    fast_fresh: [f64; 3],
}

impl Step {
    /// Both kept whole or drawn anew, an infinite step being the start.
    fn new(length_h: f64, memory: &ScatterMemory) -> Self {
        let plain = |memory_h: f64| {
            let kept = (-length_h / memory_h).exp();
            [kept, (1.0 - kept * kept).max(0.0).sqrt()]
        };
        let (long, short) = (memory.memory_fast_h, SMOOTHING_H);
        let [kept, smooth] = [long, short].map(|memory_h| (-length_h / memory_h).exp());
        let taken = long / (long - short) * (kept - smooth);
        // What is added keeps the covariance of (u, x) as it is: 1 for u, p for x and between the two.
        let p = long / (long + short);
        let uu = 1.0 - kept * kept;
        let ux = p - kept * (taken + smooth * p);
        let xx = p - (taken * taken + 2.0 * taken * smooth * p + smooth * smooth * p);
        let first = uu.max(0.0).sqrt();
        let cross = if first > 0.0 { ux / first } else { 0.0 };
        let fast_fresh = [first, cross, (xx - cross * cross).max(0.0).sqrt()];
        Self {
            length_h,
            slow: plain(memory.memory_slow_h),
            days: plain(memory.memory_days_h),
            size: plain(SIZE_MEMORY_H),
            fast: [kept, taken, smooth],
            fast_fresh,
        }
    }
}

impl<R: Rng> Motion<R> {
    pub(crate) fn new(memory: ScatterMemory, rng: R) -> Self {
        Self {
            memory,
            rng,
            before: None,
            step: Step::new(f64::INFINITY, &memory),
            fast: [[0.0; 2]; 2],
            slow: [0.0; 2],
            days: [0.0; 2],
            size: 0.0,
        }
    }

    /// The scatter at an hour, which is not before the last one asked for.
    pub(crate) fn at(&mut self, hour: f64) -> Scatter {
        let length_h = self.before.map_or(f64::INFINITY, |before| (hour - before).max(0.0));
        self.before = Some(hour);
        // Hours that are even in decimal fractions differ in their last bits.
        if (length_h - self.step.length_h).abs() > 1e-9 {
            self.step = Step::new(length_h, &self.memory);
        }
        let Step { slow, days, size, fast, fast_fresh, .. } = self.step;
        let rng = &mut self.rng;
        let mut draw = || -> f64 { StandardNormal.sample(&mut *rng) };
        for axis in 0..2 {
            let [u, x] = self.fast[axis];
            let (first, second) = (draw(), draw());
            self.fast[axis] = [
                fast[0] * u + fast_fresh[0] * first,
                fast[1] * u + fast[2] * x + fast_fresh[1] * first + fast_fresh[2] * second,
            ];
            self.slow[axis] = slow[0] * self.slow[axis] + slow[1] * draw();
            self.days[axis] = days[0] * self.days[axis] + days[1] * draw();
        }
        self.size = size[0] * self.size + size[1] * draw();
        let ScatterMemory { share_fast, share_slow, share_days, memory_fast_h, .. } = self.memory;
        let own = memory_fast_h / (memory_fast_h + SMOOTHING_H);
        let fast_nt = (share_fast / (own * self.memory.fast_hourly_variance())).sqrt();
        let (slow_nt, days_nt) = (share_slow.sqrt(), share_days.sqrt());
        Scatter {
            with_sun: [0, 1].map(|axis| fast_nt * self.fast[axis][1] + slow_nt * self.slow[axis]),
            on_earth: self.days.map(|part| days_nt * part),
            amplitude: (SIZE_SPREAD * self.size + SIZE_MEAN).exp(),
        }
    }
}

#[cfg(test)]
mod tests {
    use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

    use super::*;
    use crate::learnt::{Refit, law::LearntLaw};

    const PER_HOUR: usize = 6;

    /// Hourly means of the two parts along one axis over many hours, and the instants' variance.
    fn hourly(hours: usize, seed: u64) -> (Vec<[f64; 2]>, f64) {
        let memory = LearntLaw::embedded(Refit::All).memory;
        let mut motion = Motion::new(memory, ChaCha8Rng::seed_from_u64(seed));
        let mut squares = 0.0;
        let means = (0..hours)
            .map(|hour| {
                let mut sum = [0.0; 2];
                for part in 0..PER_HOUR {
                    let at = hour as f64 + (part as f64 + 0.5) / PER_HOUR as f64;
                    let Scatter { with_sun, on_earth, .. } = motion.at(at);
                    sum = [sum[0] + with_sun[0], sum[1] + on_earth[0]];
                    squares += with_sun[0] * with_sun[0];
                }
                sum.map(|sum| sum / PER_HOUR as f64)
            })
            .collect();
        (means, squares / (hours * PER_HOUR) as f64)
    }

    #[test]
    fn the_memories_come_back_from_simulated_hours() {
        let memory = LearntLaw::embedded(Refit::All).memory;
        let (hours, instants) = hourly(400_000, 3);
        let correlation = |part: usize, lag: usize| {
            let products = hours.windows(lag + 1).map(|pair| pair[0][part] * pair[lag][part]);
            products.sum::<f64>() / (hours.len() - lag) as f64
        };
        // The hourly variance is that of the shares, and an instant strays more.
        let with_sun = memory.share_fast + memory.share_slow;
        assert!((correlation(0, 0) / with_sun - 1.0).abs() < 0.03, "{}", correlation(0, 0));
        assert!(instants > 1.1 * with_sun, "{instants}");
        assert!((correlation(1, 0) / memory.share_days - 1.0).abs() < 0.1);
        // From six hours on the fast part is forgotten and the slow one remains.
        let slow_h = 6.0 / (correlation(0, 6) / correlation(0, 12)).ln();
        assert!((slow_h / memory.memory_slow_h - 1.0).abs() < 0.3, "{slow_h}");
        // What the slow part leaves of the first hours is the fast one.
        let fast = |lag: usize| {
            correlation(0, lag) - memory.share_slow * (-(lag as f64) / memory.memory_slow_h).exp()
        };
        let fast_h = 1.0 / (fast(1) / fast(2)).ln();
        assert!((fast_h / memory.memory_fast_h - 1.0).abs() < 0.15, "{fast_h}");
    }

    #[test]
    fn many_short_steps_are_as_one_long_one() {
        let memory = LearntLaw::embedded(Refit::All).memory;
        let spread = |steps: usize| {
            let count = 20_000;
            let products: f64 = (0..count)
                .map(|seed| {
                    let mut motion = Motion::new(memory, ChaCha8Rng::seed_from_u64(seed));
                    let first = motion.at(0.0).with_sun[1];
                    let last = (1..=steps)
                        .map(|step| motion.at(0.8 * step as f64 / steps as f64).with_sun[1])
                        .last();
                    first * last.unwrap()
                })
                .sum();
            products / count as f64
        };
        let (one, many) = (spread(1), spread(16));
        assert!((one - many).abs() < 0.03, "{one} {many}");
    }
}
