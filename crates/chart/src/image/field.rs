//! A field: one quantity on one map at one validity, whichever format it was read from.
//!
//! The readers of GRIB, NetCDF and GeoTIFF all come to this. What the values are made of (packing, fill
//! values, masks) and how the axes lie is settled in the reader; what the file says of time, run and member
//! is kept, so that a layer can choose, and refuse where nothing chooses.

use jiff::Timestamp;

use super::Image;

/// One quantity on one map at one validity.
#[derive(Debug, Clone)]
pub(crate) struct Field {
    /// Where it lies and its values. Not a number where the file has none: fill values, masks, flags.
    pub(crate) image: Image,
    /// When it is valid, if the file says so.
    pub(crate) validity: Option<Validity>,
}

/// When a field is valid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Validity {
    /// At an instant.
    Instant(Timestamp),
    /// A mean, a sum or an extreme over an interval.
    Interval(Timestamp, Timestamp),
}

impl Validity {
    /// The instant that stands for the field: of an interval the middle.
    pub(crate) fn instant(self) -> Timestamp {
        match self {
            Self::Instant(at) => at,
            Self::Interval(from, until) => {
                // Half the sum of two instants that a chart may have overflows nothing.
                let middle = from.as_second().midpoint(until.as_second());
                Timestamp::from_second(middle).unwrap_or(from)
            }
        }
    }

    /// Whether a scenario's instant agrees: an instant within a day, since a day's field is stamped at its
    /// beginning, its middle or its end; an interval where it lies within it or a day beside it.
    pub(crate) fn agrees(self, with: Timestamp) -> bool {
        const DAY_S: i64 = 86_400;

        let (from, until) = match self {
            Self::Instant(at) => (at, at),
            Self::Interval(from, until) => (from, until),
        };
        (from.as_second() - DAY_S..=until.as_second() + DAY_S).contains(&with.as_second())
    }
}

impl std::fmt::Display for Validity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Instant(at) => write!(f, "{at}"),
            Self::Interval(from, until) => write!(f, "{from} to {until}"),
        }
    }
}

/// The instants that a chart may have: outside them a file is damaged, or its times mean something else.
const YEARS: std::ops::RangeInclusive<i64> = 1850..=2200;

/// An instant by its seconds since 1970, if a chart may have it.
pub(crate) fn chart_instant(seconds: f64) -> Option<Timestamp> {
    let year = 1970.0 + seconds / (365.2425 * 86_400.0);
    if !(*YEARS.start() as f64..=*YEARS.end() as f64).contains(&year) {
        return None;
    }
    Timestamp::from_millisecond((seconds * 1000.0).round() as i64).ok()
}

/// Which of several fields in a file is meant. What is left open is refused where the file has several.
#[derive(Debug, Clone, Default)]
pub(crate) struct Choice {
    /// The member of an ensemble, by the number that the file gives it.
    pub(crate) member: Option<i64>,
    /// The run, by the instant at which it began.
    pub(crate) run: Option<Timestamp>,
    /// The level, by the number that the file gives it.
    pub(crate) level: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_stands_for_an_interval() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let day = Validity::Interval(at("2027-01-01T00:00Z"), at("2027-01-02T00:00Z"));
        assert_eq!(day.instant(), at("2027-01-01T12:00Z"));
        assert!(day.agrees(at("2027-01-02T12:00Z")) && !day.agrees(at("2027-01-04T00:00Z")));
        let instant = Validity::Instant(at("2027-01-01T00:00Z"));
        assert!(
            instant.agrees(at("2027-01-01T12:00Z")) && !instant.agrees(at("2028-01-01T00:00Z"))
        );
    }

    #[test]
    fn absurd_instants_are_none() {
        assert_eq!(chart_instant(0.0).map(Timestamp::as_second), Some(0));
        for seconds in [f64::NAN, f64::INFINITY, -1e11, 1e10, 1e300] {
            assert_eq!(chart_instant(seconds), None, "{seconds}");
        }
    }
}
