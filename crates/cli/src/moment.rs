//! Instants and steps of time as people write them.

use std::str::FromStr;

use dipward_plugin::Clock;
use jiff::{Span, Timestamp, civil, tz::Offset};

/// An instant, given as a UTC time, a day or a decimal year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Moment {
    pub(crate) instant: Timestamp,
    pub(crate) decimal_year: f64,
}

impl From<Timestamp> for Moment {
    fn from(instant: Timestamp) -> Self {
        Self { instant, decimal_year: Clock::decimal_year_of(instant) }
    }
}

impl FromStr for Moment {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if let Ok(instant) = text.parse::<Timestamp>() {
            return Ok(instant.into());
        }
        if let Ok(decimal_year) = text.parse::<f64>() {
            return Clock::instant_of_decimal_year(decimal_year)
                .map(|instant| Self { instant, decimal_year })
                .ok_or_else(|| format!("{text} is no year"));
        }
        // A time without a zone parses as a day as well; it must not lose its hours in silence.
        let day = (text.len() == "2027-01-15".len()).then(|| text.parse::<civil::Date>().ok());
        day.flatten()
            .and_then(|day| Offset::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok())
            .map(Self::from)
            .ok_or_else(|| {
                "give a time in UTC (2027-01-15T00:00Z), a day (2027-01-15) or a decimal year \
                 (2027.5)"
                    .to_owned()
            })
    }
}

/// A step of time; months and years have the lengths of the calendar.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step(Span);

impl FromStr for Step {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let unfit = || "give a positive step: 6h, 30d, 1mo, 1y".to_owned();
        let span: Span = text.parse().map_err(|_| unfit())?;
        if span.is_positive() { Ok(Self(span)) } else { Err(unfit()) }
    }
}

/// The instants from `from` to `to`, both included where the step meets them, `step` apart.
///
/// Each instant is counted from the first, so that a step of one month does not creep from the 31st
/// to the 28th.
pub(crate) fn moments(from: Moment, to: Moment, step: Step) -> impl Iterator<Item = Moment> {
    let first = Offset::UTC.to_datetime(from.instant);
    (0_i64..)
        .map_while(move |count| {
            let span = step.0.checked_mul(count).ok()?;
            Offset::UTC.to_timestamp(first.checked_add(span).ok()?).ok().map(Moment::from)
        })
        .take_while(move |moment| moment.instant <= to.instant)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn instants_have_three_forms() {
        let year = |text: &str| text.parse::<Moment>().map(|moment| moment.decimal_year);
        assert_eq!(year("2027-07-02T12:00Z"), Ok(2027.5));
        assert_eq!(year("2027-07-02T12:00:00+00:00"), Ok(2027.5));
        assert_eq!(year("2027.5"), Ok(2027.5));
        assert_eq!(year("2027-01-01"), Ok(2027.0));
        for wrong in ["", "soon", "2027-13-01", "2027-01-01T06:00", "inf", "nan", "1e9", "2027-1-1"]
        {
            assert!(year(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn steps_follow_the_calendar() {
        let table = |from: &str, to: &str, step: &str| -> Vec<String> {
            moments(from.parse().unwrap(), to.parse().unwrap(), step.parse().unwrap())
                .map(|moment| moment.instant.to_string())
                .collect()
        };
        assert_eq!(
            table("2027-01-31", "2027-04-01", "1mo"),
            ["2027-01-31T00:00:00Z", "2027-02-28T00:00:00Z", "2027-03-31T00:00:00Z"]
        );
        assert_eq!(table("2027", "2030", "1y").len(), 4);
        assert_eq!(table("2028", "2027", "1y").len(), 0);
        assert!("-1d".parse::<Step>().is_err() && "0h".parse::<Step>().is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn no_text_panics(text in "[-+0-9TZPymdhs:., e]{0,24}|\\PC{0,12}") {
            if let Ok(moment) = text.parse::<Moment>() {
                prop_assert!(moment.decimal_year.is_finite());
            }
            if let Ok(step) = text.parse::<Step>() {
                let [first, last] = ["-9997", "9997"].map(|year| year.parse().unwrap());
                let rows: Vec<Moment> = moments(first, last, step).take(9).collect();
                prop_assert!(rows.is_sorted_by(|a, b| a.instant < b.instant));
            }
        }
    }
}
