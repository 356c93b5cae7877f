//! The scenario's clock: UTC instants outside, hours from the start inside.

use jiff::{Timestamp, civil::date, tz::Offset};
use serde::{Deserialize, Serialize};

/// Converts between UTC instants and hours from a scenario's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Clock {
    start: Timestamp,
}

const MILLISECONDS_PER_HOUR: f64 = 3_600_000.0;

impl Clock {
    /// A clock whose hour zero is `start`.
    #[must_use]
    pub const fn new(start: Timestamp) -> Self {
        Self { start }
    }

    /// The instant of hour zero.
    #[must_use]
    pub const fn start(&self) -> Timestamp {
        self.start
    }

    /// Hours from the start to `instant`, negative before it.
    #[must_use]
    pub fn hour(&self, instant: Timestamp) -> f64 {
        let whole = instant.as_millisecond() - self.start.as_millisecond();
        whole as f64 / MILLISECONDS_PER_HOUR
    }

    /// The instant at `hour`, to the nearest millisecond; clamped to the representable range
    /// (years -9999 to 9999), and the start itself where `hour` is not a number.
    #[must_use]
    pub fn instant(&self, hour: f64) -> Timestamp {
        let offset = if hour.is_nan() { 0 } else { (hour * MILLISECONDS_PER_HOUR).round() as i64 };
        let at = self.start.as_millisecond().saturating_add(offset);
        Timestamp::from_millisecond(at).unwrap_or(if offset < 0 {
            Timestamp::MIN
        } else {
            Timestamp::MAX
        })
    }

    /// The decimal year at `hour`.
    #[must_use]
    pub fn decimal_year(&self, hour: f64) -> f64 {
        // The fraction is taken from the start's year, so that it does not lose the milliseconds
        // that `instant` rounds away: a fast target in a test moves by metres in that time.
        let (year, length_h, from_new_year_h) = year_parts(self.start);
        let within = from_new_year_h + hour;
        if (0.0..length_h).contains(&within) {
            return f64::from(year) + within / length_h;
        }
        Self::decimal_year_of(self.instant(hour))
    }

    /// Year plus the elapsed fraction of that calendar year, in UTC.
    #[must_use]
    pub fn decimal_year_of(instant: Timestamp) -> f64 {
        let (year, length_h, from_new_year_h) = year_parts(instant);
        f64::from(year) + from_new_year_h / length_h
    }

    /// The instant of a decimal year, the inverse of [`Clock::decimal_year_of`] to the millisecond.
    /// `None` outside the years -9998 to 9998.
    #[must_use]
    pub fn instant_of_decimal_year(decimal_year: f64) -> Option<Timestamp> {
        if !(-9998.0..9998.0).contains(&decimal_year) {
            return None;
        }
        let year = decimal_year.floor();
        let noon = Offset::UTC.to_timestamp(date(year as i16, 7, 1).at(0, 0, 0, 0)).ok()?;
        let (_, length_h, from_new_year_h) = year_parts(noon);
        Some(Self::new(noon).instant((decimal_year - year) * length_h - from_new_year_h))
    }
}

/// Calendar year of `instant`, that year's length, and the hours elapsed since its first moment.
fn year_parts(instant: Timestamp) -> (i16, f64, f64) {
    let here = Offset::UTC.to_datetime(instant);
    let milliseconds = i64::from(here.time().hour()) * 3_600_000
        + i64::from(here.time().minute()) * 60_000
        + i64::from(here.time().second()) * 1000
        + i64::from(here.time().millisecond());
    let day = f64::from(here.date().day_of_year() - 1);
    let length_h = f64::from(here.date().days_in_year()) * 24.0;
    (here.date().year(), length_h, day * 24.0 + milliseconds as f64 / MILLISECONDS_PER_HOUR)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_years_are_linear_within_a_year_and_leap_years_are_longer() {
        let at = |text: &str| Clock::decimal_year_of(text.parse().unwrap());
        assert_eq!(at("2027-01-01T00:00Z"), 2027.0);
        assert_eq!(at("2027-07-02T12:00Z"), 2027.5);
        assert_eq!(at("2028-07-02T00:00Z"), 2028.5);
    }

    #[test]
    fn hours_and_instants_are_inverse() {
        let clock = Clock::new("2027-12-30T06:00Z".parse().unwrap());
        for hour in [-800.25, 0.0, 0.5, 47.0, 9000.125] {
            assert_eq!(clock.hour(clock.instant(hour)), hour);
        }
        assert!((clock.decimal_year(42.0) - 2028.0).abs() < 1e-12);
        let back = Clock::instant_of_decimal_year(2027.5).unwrap();
        assert_eq!(back, "2027-07-02T12:00Z".parse().unwrap());
    }
}
