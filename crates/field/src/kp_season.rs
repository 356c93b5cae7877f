//! How often each Kp came about a day of the year.

use std::sync::LazyLock;

use jiff::{Timestamp, civil::Date, tz::Offset};

use crate::{Kp, KpHistory, SLOTS_A_DAY};

/// Values of Kp in thirds.
pub(crate) const VALUES: usize = 28;
/// Days about the same day of other years that count as its season.
const SEASON_DAYS: usize = 45;
const DAYS_OF_YEAR: usize = 366;

/// By day of the year, from 0.
static SEASONS: LazyLock<Vec<[f64; VALUES]>> = LazyLock::new(|| {
    let history = KpHistory::embedded();
    let mut counts = vec![[0.0; VALUES]; DAYS_OF_YEAR];
    for (index, values) in history.values().chunks(SLOTS_A_DAY).enumerate() {
        let day = history.day(index).map_or(0, day_of_year);
        for kp in values {
            let of_day = counts.get_mut(day);
            if let Some(count) = of_day.and_then(|day| day.get_mut(usize::from(kp.thirds()))) {
                *count += 1.0;
            }
        }
    }
    (0..DAYS_OF_YEAR)
        .map(|today| {
            let mut sum = [0.0; VALUES];
            for step in 0..=2 * SEASON_DAYS {
                let day = (today + DAYS_OF_YEAR + step - SEASON_DAYS) % DAYS_OF_YEAR;
                for (sum, more) in sum.iter_mut().zip(counts[day]) {
                    *sum += more;
                }
            }
            sum
        })
        .collect()
});

fn day_of_year(day: Date) -> usize {
    usize::from(day.day_of_year().unsigned_abs()).saturating_sub(1)
}

/// How often the history has each Kp, in thirds, within 45 days of the same day of any year.
pub(crate) fn counts_of_season(day: Date) -> &'static [f64; VALUES] {
    // A year has at most as many days as the table.
    &SEASONS[day_of_year(day).min(DAYS_OF_YEAR - 1)]
}

/// The Kp that is not exceeded half of the time about a day of the year: the median of the history
/// within 45 days of the same day of any year.
#[must_use]
pub fn median_kp_of_season(instant: Timestamp) -> Kp {
    let counts = counts_of_season(Offset::UTC.to_datetime(instant).date());
    let total: f64 = counts.iter().sum();
    let mut sum = 0.0;
    for (thirds, count) in (0_u8..).zip(counts) {
        sum += count;
        if 2.0 * sum >= total {
            return Kp::from_thirds(thirds).unwrap_or(Kp::GREATEST);
        }
    }
    Kp::GREATEST
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_of_a_season_is_that_of_sorting_it() {
        let history = KpHistory::embedded();
        // 15 June, day 166: no leap day is near, so days of the year are days of the month.
        let mut all: Vec<Kp> = (0..history.days())
            .filter(|&day| {
                let day = history.day(day).unwrap();
                let leap = i16::from(day.in_leap_year() && day.day_of_year() > 59);
                (day.day_of_year() - leap - 166).abs() <= 45
                    || (leap == 1 && day.day_of_year() == 121)
            })
            .flat_map(|day| history.on(history.day(day).unwrap()).unwrap())
            .copied()
            .collect();
        all.sort_unstable();
        let median = median_kp_of_season("2027-06-15T00:00Z".parse().unwrap());
        assert_eq!(median, all[all.len() / 2]);
        assert!((1.3..2.4).contains(&median.value()));
    }
}
