//! Instants moved by whole years and by days.

use jiff::{Timestamp, ToSpan, tz::Offset};
use serde_json::Value;

/// How far the instants of a part of a scenario are moved.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Shift {
    /// Whole years of the calendar; 29 February becomes the 28th where there is none.
    pub(super) years: i16,
    /// And days.
    pub(super) days: f64,
}

impl Shift {
    /// An instant moved; nothing where it leaves the calendar.
    pub(super) fn of(self, instant: Timestamp) -> Option<Timestamp> {
        let civil = Offset::UTC.to_datetime(instant).checked_add(self.years.years()).ok()?;
        let moved = Offset::UTC.to_timestamp(civil).ok()?;
        let milliseconds = (self.days * 86_400_000.0).round() as i64;
        Timestamp::from_millisecond(moved.as_millisecond().checked_add(milliseconds)?).ok()
    }

    /// Moves every instant within a value: every text that is an instant in full ("2027-01-04T00:00Z").
    /// Nothing where one leaves the calendar.
    pub(super) fn of_all(self, value: &mut Value) -> Option<()> {
        match value {
            Value::String(text) => {
                if let Ok(instant) = text.parse::<Timestamp>() {
                    *text = self.of(instant)?.to_string();
                }
                Some(())
            }
            Value::Array(items) => items.iter_mut().try_for_each(|item| self.of_all(item)),
            Value::Object(map) => map.values_mut().try_for_each(|item| self.of_all(item)),
            _ => Some(()),
        }
    }
}

/// The year of an instant.
pub(super) fn year_of(instant: Timestamp) -> i16 {
    Offset::UTC.to_datetime(instant).year()
}

/// "01-08", the day of an instant in any year; with the hour where it is not the first ("01-08 06h")
/// and the minute where it is not whole.
pub(super) fn day_of(instant: Timestamp) -> String {
    let civil = Offset::UTC.to_datetime(instant);
    let day = format!("{:02}-{:02}", civil.month(), civil.day());
    match (civil.hour(), civil.minute()) {
        (0, 0) => day,
        (hour, 0) => format!("{day} {hour:02}h"),
        (hour, minute) => format!("{day} {hour:02}:{minute:02}"),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn years_are_whole_and_days_come_on_top() {
        let moved = |years, days, text: &str| {
            Shift { years, days }.of(text.parse().unwrap()).unwrap().to_string()
        };
        assert_eq!(moved(1, 0.0, "2027-01-05T06:00Z"), "2028-01-05T06:00:00Z");
        assert_eq!(moved(-1, 0.0, "2028-02-29T12:00Z"), "2027-02-28T12:00:00Z");
        assert_eq!(moved(1, -8.5, "2027-01-05T00:00Z"), "2027-12-27T12:00:00Z");
        assert_eq!(Shift { years: 9000, days: 0.0 }.of("2027-01-05T00:00Z".parse().unwrap()), None);
    }

    #[test]
    fn instants_are_moved_wherever_they_stand_and_nothing_else_is() {
        let mut value = json!({
            "charts": [{"file": "ice-2027-01-04.geojson", "valid": "2027-01-04T00:00Z"}],
            "max_age_h": 240, "note": "2027", "day": "2027-01-04"
        });
        Shift { years: 2, days: 0.0 }.of_all(&mut value).unwrap();
        assert_eq!(
            value,
            json!({
                "charts": [{"file": "ice-2027-01-04.geojson", "valid": "2029-01-04T00:00:00Z"}],
                "max_age_h": 240, "note": "2027", "day": "2027-01-04"
            })
        );
    }

    #[test]
    fn days_are_named_as_short_as_they_are() {
        let named = |text: &str| day_of(text.parse().unwrap());
        assert_eq!(named("2027-01-08T00:00Z"), "01-08");
        assert_eq!(named("2027-01-08T06:00Z"), "01-08 06h");
        assert_eq!(named("2027-01-08T06:30Z"), "01-08 06:30");
    }
}
