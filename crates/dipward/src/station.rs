//! The stay at the pole: does the instantaneous pole come to the craft?

use dipward_field::PoleTracks;
use dipward_plugin::Attainment;

/// What counts as standing on the pole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// The pole must come within this distance.
    pub within_km: f64,
    /// And stay for this many hours on end.
    pub for_h: f64,
}

/// The outcome of a stay at the mean pole over the ensemble.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Chance and closest approach.
    pub attainment: Attainment,
    /// For each whole hour of the stay, the share of members that have attained by then.
    pub cumulative: Vec<(f64, f64)>,
}

/// Follows every member of the ensemble while the craft keeps to the mean pole.
///
/// The pole's position is known hourly; it counts as within reach for an hour when it is so at the
/// whole hour, so that `for_h` hours on end take `ceil(for_h) + 1` whole hours (one where it is 0).
#[must_use]
pub fn stay(tracks: &PoleTracks, measure: Measure, arrive_hour: f64, leave_hour: f64) -> Stay {
    let last = tracks.mean_positions().len().saturating_sub(1);
    let first = (arrive_hour.max(0.0).ceil() as usize).min(last);
    let end = (leave_hour.max(0.0).floor() as usize).clamp(first, last);
    let members = tracks.members();
    let mut attained_at: Vec<Option<usize>> = Vec::with_capacity(members);
    let mut closest: Vec<f64> = Vec::with_capacity(members);
    for member in 0..members {
        let distance = |hour: usize| tracks.distance_from_mean_km(member, hour);
        closest.push((first..=end).map(distance).fold(f64::INFINITY, f64::min));
        attained_at.push(first_attained(first..=end, measure, distance));
    }
    closest.sort_by(f64::total_cmp);
    let count = attained_at.iter().flatten().count();
    let (low, high) = wilson_interval(count, members);
    let share = |count: usize| count as f64 / members.max(1) as f64;
    let cumulative = (first..=end)
        .map(|hour| {
            let by_then = attained_at.iter().flatten().filter(|at| **at <= hour).count();
            (hour as f64, share(by_then))
        })
        .collect();
    Stay {
        attainment: Attainment {
            probability: share(count),
            low,
            high,
            within_km: measure.within_km,
            median_closest_km: closest.get(members / 2).copied().unwrap_or(f64::INFINITY),
        },
        cumulative,
    }
}

/// The hour at which the pole has been within reach for long enough, if it ever is.
fn first_attained(
    mut hours: impl Iterator<Item = usize>,
    measure: Measure,
    distance_km: impl Fn(usize) -> f64,
) -> Option<usize> {
    let needed = measure.for_h.ceil() as usize + 1;
    let needed = if measure.for_h == 0.0 { 1 } else { needed };
    let mut run = 0;
    hours.find(|&hour| {
        run = if distance_km(hour) <= measure.within_km { run + 1 } else { 0 };
        run >= needed
    })
}

/// For each whole day of the window, the chance that the pole is attained on that day by a craft at
/// the mean pole.
#[must_use]
pub fn chance_by_day(tracks: &PoleTracks, measure: Measure) -> Vec<(f64, f64)> {
    let hours = tracks.mean_positions().len().saturating_sub(1);
    let members = tracks.members();
    (0..hours / 24)
        .map(|day| {
            let attained = (0..members)
                .filter(|&member| {
                    let distance = |hour: usize| tracks.distance_from_mean_km(member, hour);
                    first_attained(day * 24..=day * 24 + 24, measure, distance).is_some()
                })
                .count();
            (day as f64 * 24.0, attained as f64 / members.max(1) as f64)
        })
        .collect()
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
            assert!((a - low).abs() < 5e-5 && (b - high).abs() < 5e-5, "{successes}/{trials} {a} {b}");
        }
    }

    #[test]
    fn hours_on_end_are_counted_without_gaps() {
        let distances = [9.0, 3.0, 9.0, 3.0, 3.0, 3.0, 9.0];
        let at = |for_h| {
            first_attained(0..7, Measure { within_km: 5.0, for_h }, |hour| distances[hour])
        };
        assert_eq!(at(0.0), Some(1));
        assert_eq!(at(1.0), Some(4));
        assert_eq!(at(2.0), Some(5));
        assert_eq!(at(3.0), None);
    }
}
