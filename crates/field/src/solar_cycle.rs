//! Where in the cycle of solar activity a day lies.

use jiff::civil::Date;

/// Minima of the smoothed sunspot number, decimal years: the starts of cycles 19 to 25.
///
/// Source: SILSO, Royal Observatory of Belgium; from memory, to the nearest month or so.
const MINIMA: [f64; 7] = [1954.3, 1964.8, 1976.2, 1986.7, 1996.6, 2008.9, 2019.9];
/// Assumed for the present cycle and those after it.
const USUAL_LENGTH_YEARS: f64 = 11.0;

/// The share of its cycle that has gone by on a day, from 0 at one minimum to 1 at the next; 0.3 to
/// 0.5 is about the maximum.
#[must_use]
pub fn solar_cycle_phase(day: Date) -> f64 {
    let year =
        f64::from(day.year()) + f64::from(day.day_of_year() - 1) / f64::from(day.days_in_year());
    let after = MINIMA.partition_point(|&minimum| minimum <= year);
    match (after.checked_sub(1).and_then(|before| MINIMA.get(before)), MINIMA.get(after)) {
        (Some(start), Some(end)) => (year - start) / (end - start),
        (Some(start), None) => ((year - start) / USUAL_LENGTH_YEARS).rem_euclid(1.0),
        (None, _) => ((year - MINIMA[0]) / USUAL_LENGTH_YEARS).rem_euclid(1.0),
    }
}

/// How far apart two phases are, at most one half.
pub(crate) fn phase_distance(a: f64, b: f64) -> f64 {
    let apart = (a - b).rem_euclid(1.0);
    apart.min(1.0 - apart)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn phases_run_from_minimum_to_minimum() {
        assert!((solar_cycle_phase(date(2014, 4, 1)) - 0.486).abs() < 1e-3);
        assert!((solar_cycle_phase(date(2027, 1, 15)) - 0.649).abs() < 1e-3);
        assert!((solar_cycle_phase(date(1950, 1, 1)) - 0.609).abs() < 1e-3);
        assert!((phase_distance(0.95, 0.1) - 0.15).abs() < 1e-12);
    }
}
