//! Which hours and starts are scored.

use std::str::FromStr;

use jiff::{Timestamp, civil::Date};

/// A stretch of days that comes back every year, both ends included: `01-05..03-15`. One that ends before
/// it begins goes over the end of the year.
///
/// ```
/// use dipward_field::verification::Season;
///
/// let season: Season = "11-20..02-10".parse()?;
/// assert!(season.holds(12, 31) && season.holds(2, 10) && !season.holds(2, 11));
/// # Ok::<(), String>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Season {
    from: (i8, i8),
    to: (i8, i8),
}

impl Season {
    /// Whether a day of a month belongs to it.
    #[must_use]
    pub fn holds(&self, month: i8, day: i8) -> bool {
        let (after, before) = ((month, day) >= self.from, (month, day) <= self.to);
        if self.from <= self.to { after && before } else { after || before }
    }
}

impl FromStr for Season {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let unfit = || "give two days of the year as month-day: 01-05..03-15".to_owned();
        let (from, to) = text.split_once("..").ok_or_else(unfit)?;
        let day_of_year = |text: &str| {
            let two = |digits: &str| -> Option<i8> {
                let fit = digits.len() == 2 && digits.bytes().all(|byte| byte.is_ascii_digit());
                fit.then(|| digits.parse().ok()).flatten()
            };
            let (month, day) = text.trim().split_once('-').ok_or_else(unfit)?;
            let (month, day) = two(month).zip(two(day)).ok_or_else(unfit)?;
            // A leap year has all days that there are.
            Date::new(2000, month, day).map_err(|_| format!("there is no day {text}"))?;
            Ok::<_, String>((month, day))
        };
        Ok(Self { from: day_of_year(from)?, to: day_of_year(to)? })
    }
}

impl std::fmt::Display for Season {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (from, to) = (self.from, self.to);
        write!(f, "{:02}-{:02}..{:02}-{:02}", from.0, from.1, to.0, to.1)
    }
}

/// Which of the recorded hours are scored; an event counts by the instant it starts at. What is given
/// must all hold.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Selection {
    /// Months, 1 to 12; all where there are none.
    pub months: Vec<u8>,
    /// Days of every year.
    pub season: Option<Season>,
    /// From this instant on.
    pub from: Option<Timestamp>,
    /// Before this instant.
    pub until: Option<Timestamp>,
}

impl Selection {
    /// Whether an interval that starts at an instant is scored; `date` is the instant's, UTC.
    pub(super) fn holds(&self, instant: Timestamp, date: Date) -> bool {
        (self.months.is_empty() || self.months.contains(&date.month().unsigned_abs()))
            && self.season.is_none_or(|season| season.holds(date.month(), date.day()))
            && self.from.is_none_or(|from| instant >= from)
            && self.until.is_none_or(|until| instant < until)
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::Offset;

    use super::*;

    #[test]
    fn seasons_are_days_of_every_year() {
        let season: Season = "01-05..03-15".parse().unwrap();
        assert_eq!(season.to_string(), "01-05..03-15");
        let inside = |month, day| season.holds(month, day);
        assert!(inside(1, 5) && inside(2, 29) && inside(3, 15));
        assert!(!inside(1, 4) && !inside(3, 16) && !inside(12, 1));
        for wrong in ["", "01-05", "1-5..3-15", "01-05..02-30", "13-01..01-01", "01-05..+3-15"] {
            assert!(wrong.parse::<Season>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn what_is_given_must_all_hold() {
        let instant = |text: &str| text.parse::<Timestamp>().unwrap();
        let selection = Selection {
            months: vec![1, 3],
            season: Some("01-05..03-15".parse().unwrap()),
            from: Some(instant("2001-01-01T00:00Z")),
            until: Some(instant("2003-03-10T06:00Z")),
        };
        let holds = |text: &str| {
            let at = instant(text);
            selection.holds(at, Offset::UTC.to_datetime(at).date())
        };
        assert!(holds("2001-01-05T00:00Z") && holds("2003-03-10T05:00Z"));
        for out in
            ["2001-01-04T23:00Z", "2001-02-10T00:00Z", "2000-03-01T00:00Z", "2003-03-10T06:00Z"]
        {
            assert!(!holds(out), "{out}");
        }
        assert!(Selection::default().holds(Timestamp::UNIX_EPOCH, Date::ZERO));
    }
}
