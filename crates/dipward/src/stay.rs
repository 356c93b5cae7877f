//! What becomes of a stay at the pole over the ensemble.

use std::ops::RangeInclusive;

use dipward_field::FARTHEST_KM;
use dipward_plugin::{Attainment, ClosestApproach, FirstAttained, MemberOutcome, StayOutcome};

use crate::tail::{expected_shortfall, quantile};

/// The outcome of a stay over the ensemble.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Chance and closest approach.
    pub attainment: Attainment,
    /// Distributions over the ensemble.
    pub outcome: StayOutcome,
    /// For each whole hour of the stay, the share of members that have attained by then.
    pub cumulative: Vec<(f64, f64)>,
}

/// What becomes of one member.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Outcome {
    pub(crate) attained_at: Option<usize>,
    /// [`FARTHEST_KM`] where the member has no pole within that distance.
    pub(crate) closest_km: f64,
    pub(crate) served_h: usize,
    pub(crate) within_h: usize,
}

impl Outcome {
    pub(crate) const fn new() -> Self {
        Self { attained_at: None, closest_km: FARTHEST_KM, served_h: 0, within_h: 0 }
    }
}

impl Stay {
    /// Gathers the outcomes of all members.
    ///
    /// # Arguments
    ///
    /// How many members attain if the craft keeps to the mean pole, and how many a craft could attain
    /// that knew the pole's track; the whole hours of the stay.
    pub(crate) fn of(
        outcomes: &[Outcome],
        (held, foreseen): (usize, usize),
        hours: RangeInclusive<usize>,
        within_km: f64,
    ) -> Self {
        let attained = || outcomes.iter().filter_map(|outcome| outcome.attained_at);
        let count = attained().count();
        let (low, high) = wilson_interval(count, outcomes.len());
        let share = |count: usize| count as f64 / outcomes.len().max(1) as f64;
        let outcome = summary(outcomes, *hours.start());
        Self {
            attainment: Attainment {
                probability: share(count),
                low,
                high,
                within_km,
                median_closest_km: outcome.closest_km.half,
                if_holding: share(held),
                if_clairvoyant: share(foreseen),
            },
            cumulative: hours
                .map(|hour| (hour as f64, share(attained().filter(|at| *at <= hour).count())))
                .collect(),
            outcome,
        }
    }
}

/// All that is known of a stay over the members.
fn summary(outcomes: &[Outcome], first: usize) -> StayOutcome {
    let count = outcomes.len().max(1) as f64;
    let mean =
        |figure: fn(&Outcome) -> usize| outcomes.iter().map(figure).sum::<usize>() as f64 / count;
    let members: Vec<MemberOutcome> = outcomes
        .iter()
        .map(|one| MemberOutcome {
            closest_km: one.closest_km,
            attained_after_h: one.attained_at.map(|hour| (hour - first) as f64),
        })
        .collect();
    let (closest_km, first_attained_d) = distributions(&members);
    StayOutcome {
        served_h: mean(|outcome| outcome.served_h),
        within_h: mean(|outcome| outcome.within_h),
        closest_km,
        first_attained_d,
        members,
    }
}

/// The distributions of the closest approach and of the first attainment over members.
pub(crate) fn distributions(members: &[MemberOutcome]) -> (ClosestApproach, FirstAttained) {
    let mut closest: Vec<f64> = members.iter().map(|member| member.closest_km).collect();
    closest.sort_by(f64::total_cmp);
    let mut attained_d: Vec<f64> = members.iter().map(attained_after_d).collect();
    attained_d.sort_by(f64::total_cmp);
    distributions_of(&closest, &attained_d)
}

/// Days to a member's first attainment; infinite where it never attains.
pub(crate) fn attained_after_d(member: &MemberOutcome) -> f64 {
    member.attained_after_h.map_or(f64::INFINITY, |hours| hours / 24.0)
}

/// The distributions of the closest approach, km, and of the first attainment, days, over sorted members.
pub(crate) fn distributions_of(
    closest: &[f64],
    attained_d: &[f64],
) -> (ClosestApproach, FirstAttained) {
    let closest_at = |share| quantile(closest, share).unwrap_or(FARTHEST_KM);
    let attained_at = |share| quantile(attained_d, share).filter(|days| days.is_finite());
    let closest_km = ClosestApproach {
        least: closest_at(0.0),
        tenth: closest_at(0.1),
        quarter: closest_at(0.25),
        half: closest_at(0.5),
        three_quarters: closest_at(0.75),
        nine_tenths: closest_at(0.9),
        most: closest_at(1.0),
        mean: expected_shortfall(closest, 0.0).unwrap_or(FARTHEST_KM),
        worst_tenth: expected_shortfall(closest, 0.9).unwrap_or(FARTHEST_KM),
    };
    let first_attained_d = FirstAttained {
        tenth: attained_at(0.1),
        quarter: attained_at(0.25),
        half: attained_at(0.5),
        three_quarters: attained_at(0.75),
        nine_tenths: attained_at(0.9),
    };
    (closest_km, first_attained_d)
}

/// The 95 % interval of a share by the score method.
///
/// # Source
///
/// E. B. Wilson, Probable inference, the law of succession, and statistical inference, J. Am. Stat.
/// Assoc. 22 (1927), 209-212.
#[must_use]
pub fn wilson_interval(successes: usize, trials: usize) -> (f64, f64) {
    if trials == 0 {
        return (0.0, 1.0);
    }
    const Z: f64 = 1.959_963_984_540_054;
    let n = trials as f64;
    let p = successes as f64 / n;
    let centre = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + Z * Z / n;
    let low = if successes == 0 { 0.0 } else { (centre - half) / scale };
    let high = if successes == trials { 1.0 } else { (centre + half) / scale };
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in
    /// Medicine 17 (1998), 857-872, Table I, method 3: 81/263, 15/148, 0/20, 1/29 (from memory).
    #[test]
    fn published_wilson_intervals() {
        for (successes, trials, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (a, b) = wilson_interval(successes, trials);
            assert!(
                (a - low).abs() < 5e-5 && (b - high).abs() < 5e-5,
                "{successes}/{trials} {a} {b}"
            );
        }
    }
}
