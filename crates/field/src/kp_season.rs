//! How often each Kp came about a day of the year.

use std::sync::LazyLock;

use jiff::civil::Date;

use crate::{KpHistory, SLOTS_A_DAY};

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
