//! When fields are valid.

use jiff::{Timestamp, civil::DateTime, tz::TimeZone};
use netcdf_reader::{NcFile, NcVariable};

use super::{Role, axes::role_of, text, values, variables};
use crate::image::{
    field::{Validity, chart_instant},
    units,
};

/// The most times that a file may have.
const MAX_TIMES: u64 = 1_000_000;

/// The instants of a time coordinate.
///
/// # Errors
///
/// When its unit, calendar or numbers cannot be read, or lie outside what a chart may have.
pub(crate) fn instants(file: &NcFile, variable: &NcVariable) -> Result<Vec<Timestamp>, String> {
    let units = text(variable, "units").unwrap_or_default();
    let calendar = text(variable, "calendar").unwrap_or_default();
    let scale = TimeScale::read(&units, &calendar)?;
    values(file, variable, MAX_TIMES)?.iter().map(|value| scale.instant(*value)).collect()
}

/// The validities of a time coordinate: intervals where it has bounds.
///
/// # Errors
///
/// As [`instants`], and for a climatology, whose times are of no year.
pub(crate) fn validities(file: &NcFile, variable: &NcVariable) -> Result<Vec<Validity>, String> {
    let name = variable.name();
    if text(variable, "climatology").is_some() {
        return Err(format!(
            "is a climatology: its `{name}` is of no one year: cut out a month, and write `valid`"
        ));
    }
    let own = instants(file, variable)?;
    let Some(bounds) = text(variable, "bounds")
        .and_then(|bounds| variables(file).iter().find(|own| own.name() == bounds))
    else {
        return Ok(own.into_iter().map(Validity::Instant).collect());
    };
    // Bounds have the unit and the calendar of what they bound.
    let units = text(bounds, "units").or_else(|| text(variable, "units")).unwrap_or_default();
    let calendar =
        text(bounds, "calendar").or_else(|| text(variable, "calendar")).unwrap_or_default();
    let scale = TimeScale::read(&units, &calendar)?;
    let ends = values(file, bounds, 2 * MAX_TIMES)?;
    if ends.len() != 2 * own.len() {
        return Err(format!("has bounds of `{name}` that are not two to a time"));
    }
    own.into_iter()
        .zip(ends.chunks_exact(2))
        .map(|(at, ends)| {
            let (from, until) = (scale.instant(ends[0])?, scale.instant(ends[1])?);
            let (from, until) = (from.min(until), from.max(until));
            if from == until {
                return Ok(Validity::Instant(at));
            }
            if !(from..=until).contains(&at) {
                return Err(format!("has the time {at} outside its own bounds {from} to {until}"));
            }
            Ok(Validity::Interval(from, until))
        })
        .collect()
}

/// The instant at which a file's only run began, if it says so.
pub(crate) fn reference(file: &NcFile) -> Result<Option<Timestamp>, String> {
    let mut runs = variables(file).iter().filter(|own| {
        matches!(role_of(own), Ok(Some(Role::Run))) && own.num_elements().is_ok_and(|n| n == 1)
    });
    match (runs.next(), runs.next()) {
        (Some(only), None) => Ok(instants(file, only)?.first().copied()),
        _ => Ok(None),
    }
}

/// The unit and origin of a time axis.
struct TimeScale {
    units: String,
    /// Seconds since 1970 of the number 0.
    origin_s: f64,
    step_s: f64,
}

impl TimeScale {
    fn read(units: &str, calendar: &str) -> Result<Self, String> {
        let unreadable = || format!("has times in the unit `{units}`, which cannot be read");
        let (unit, origin) = units.split_once(" since ").ok_or_else(unreadable)?;
        let calendar = calendar.to_ascii_lowercase();
        let julian_before_1582 = match calendar.as_str() {
            "" | "standard" | "gregorian" | "none" => true,
            "proleptic_gregorian" => false,
            _ => {
                return Err(format!("has times in the calendar `{calendar}`, which is not ours"));
            }
        };
        let step_s = units::seconds(unit).ok_or_else(|| {
            format!(
                "has times in the unit `{units}`, of which `{}` is no fixed length of time",
                unit.trim()
            )
        })?;
        let origin_s = origin_seconds(origin, julian_before_1582).ok_or_else(unreadable)?;
        Ok(Self { units: units.to_owned(), origin_s, step_s })
    }

    fn instant(&self, value: f64) -> Result<Timestamp, String> {
        chart_instant(self.origin_s + value * self.step_s).ok_or_else(|| {
            format!(
                "has the time {value} {}, which is no instant of a chart (1850 to 2200)",
                self.units
            )
        })
    }
}

/// Seconds since 1970 of an origin as UDUNITS writes it: a date, with or without the time of day, and with
/// or without a zone: `1978-01-01 00:00:00 -6:00`, `1970-1-1T0:0:0Z`, `1900-01-01 00:00:0.0 +0100`.
fn origin_seconds(text: &str, julian_before_1582: bool) -> Option<f64> {
    let text = text.trim();
    let (date, rest) = match text.find([' ', 'T', 't']) {
        Some(at) => (text.get(..at)?, text.get(at + 1..)?),
        None => (text, ""),
    };
    let (date, before) = match date.strip_prefix('-') {
        Some(date) => (date, -1),
        None => (date, 1),
    };
    let mut parts = date.split('-').map(|part| part.parse::<i64>().ok());
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    if parts.next().is_some() || !(1..=12).contains(&month) || year > 9999 {
        return None;
    }
    let (clock_s, zone_s) = clock_and_zone(rest.trim())?;
    let days = day_number(year * before, month, day, julian_before_1582)?;
    Some(days as f64 * 86_400.0 + clock_s - zone_s)
}

/// Days since 1970-01-01 of a date; in the mixed calendar, dates before 1582-10-15 are Julian.
///
/// Source: the algorithms for Julian day numbers, E. G. Richards, in: Explanatory Supplement to the
/// Astronomical Almanac, third edition (2013), chapter 15.
fn day_number(year: i64, month: i64, day: i64, julian_before_1582: bool) -> Option<i64> {
    let julian = julian_before_1582 && (year, month, day) < (1582, 10, 15);
    let leap = if julian {
        year.rem_euclid(4) == 0
    } else {
        year.rem_euclid(4) == 0 && (year.rem_euclid(100) != 0 || year.rem_euclid(400) == 0)
    };
    let length = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    if !(1..=length).contains(&day) {
        return None;
    }
    let (from_march_year, from_march) =
        if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let days =
        365 * from_march_year + from_march_year.div_euclid(4) + (153 * from_march + 2) / 5 + day;
    // 1970-01-01 in either count.
    Some(if julian {
        days - 719_471
    } else {
        days - from_march_year.div_euclid(100) + from_march_year.div_euclid(400) - 719_469
    })
}

/// Seconds of a time of day, and of its zone east of Greenwich.
fn clock_and_zone(text: &str) -> Option<(f64, f64)> {
    let zone_at = text
        .char_indices()
        .find(|(at, c)| c.is_ascii_alphabetic() || (*at > 0 && "+- ".contains(*c)))
        .map_or(text.len(), |(at, _)| at);
    let (clock, zone) = (text.get(..zone_at)?, text.get(zone_at..)?.trim());
    let mut clock_s = 0.0;
    if !clock.is_empty() {
        let parts: Option<Vec<f64>> = clock.split(':').map(|part| part.parse().ok()).collect();
        let parts = parts.filter(|parts| parts.iter().all(|part| (0.0..=60.0).contains(part)))?;
        clock_s = match parts.as_slice() {
            [hours] => hours * 3600.0,
            [hours, minutes] => hours * 3600.0 + minutes * 60.0,
            [hours, minutes, seconds] => hours * 3600.0 + minutes * 60.0 + seconds,
            _ => return None,
        };
        if clock_s > 86_400.0 {
            return None;
        }
    }
    let zone_s = match zone {
        "" | "Z" | "z" | "UTC" | "utc" | "GMT" | "gmt" => 0.0,
        _ => {
            let zone = zone.trim_start_matches("UTC").trim_start_matches("GMT").trim();
            let (east, digits) = match (zone.strip_prefix('-'), zone.strip_prefix('+')) {
                (Some(digits), _) => (-1.0, digits),
                (_, Some(digits)) => (1.0, digits),
                _ => (1.0, zone),
            };
            let (hours, minutes) = match digits.split_once(':') {
                Some((hours, minutes)) => (hours, minutes),
                None if digits.len() > 2 => digits.split_at_checked(digits.len() - 2)?,
                None => (digits, "0"),
            };
            let (hours, minutes): (f64, f64) = (hours.parse().ok()?, minutes.parse().ok()?);
            if !((0.0..=14.0).contains(&hours) && (0.0..60.0).contains(&minutes)) {
                return None;
            }
            east * (hours * 3600.0 + minutes * 60.0)
        }
    };
    Some((clock_s, zone_s))
}

/// An instant of an attribute such as `time_coverage_start`.
pub(crate) fn instant_of_attribute(text: &str) -> Option<Timestamp> {
    let text = text.trim();
    if let Ok(at) = text.parse::<Timestamp>() {
        return chart_instant(at.as_second() as f64);
    }
    if text.len() == 8 && text.bytes().all(|byte| byte.is_ascii_digit()) {
        let date: DateTime =
            format!("{}-{}-{}T00:00:00", &text[..4], &text[4..6], &text[6..]).parse().ok()?;
        return TimeZone::UTC.to_timestamp(date).ok();
    }
    chart_instant(origin_seconds(text, false)?)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn origins_of_time_come_in_many_forms() {
        let new_year = 252_460_800.0; // 1978-01-01 00:00 UTC
        for (text, hours) in [
            ("1978-01-01", 0.0),
            ("1978-01-01 00:00:00", 0.0),
            ("1978-1-1 0:0:0", 0.0),
            ("1978-01-01T00:00:00Z", 0.0),
            ("1978-01-01 00:00:00.0", 0.0),
            ("1978-01-01 00:00:00 UTC", 0.0),
            ("1978-01-01 00:00", 0.0),
            ("1978-01-01 12", 12.0),
            ("1978-01-01 00:00:00 -6:00", 6.0),
            ("1978-01-01 00:00:00 -06:00", 6.0),
            ("1978-01-01 00:00:00 -0600", 6.0),
            ("1978-01-01 00:00:00 +1:30", -1.5),
            ("1978-01-01 00:00:00-6", 6.0),
            ("1978-01-01T00:00:00+01:00", -1.0),
            ("1978-01-01 00:00:00 UTC+1", -1.0),
        ] {
            assert_eq!(origin_seconds(text, true), Some(new_year + hours * 3600.0), "{text}");
        }
        for text in [
            "1978-13-01",
            "1978-02-30",
            "yesterday",
            "",
            "1978",
            "1978-01-01 25:00:00",
            "1978-01-01 00:00:00 CET",
            "1978-01-01 00:00:00 -25:00",
        ] {
            assert_eq!(origin_seconds(text, true), None, "{text}");
        }
    }

    #[test]
    fn the_mixed_calendar_is_julian_before_1582() {
        // By cftime 1.6.6: date2num(2027-01-01, "days since 1-1-1") is 739983 in the standard calendar and
        // 739981 in the proleptic Gregorian.
        let days = |text: &str, mixed: bool| origin_seconds(text, mixed).map(|s| s / 86_400.0);
        let new_year_2027 = 20_819.0;
        assert_eq!(days("0001-01-01", true), Some(new_year_2027 - 739_983.0));
        assert_eq!(days("1-1-1 00:00:0.0", false), Some(new_year_2027 - 739_981.0));
        assert_eq!(days("1582-10-15", true), days("1582-10-15", false));
        assert_eq!(days("1582-10-04", true), days("1582-10-14", false));
    }

    #[test]
    fn units_of_no_fixed_length_are_refused() {
        for units in
            ["months since 1970-01-01", "years since 1970-01-01", "fortnights since 1970-1-1"]
        {
            assert!(TimeScale::read(units, "").is_err(), "{units}");
        }
        assert!(TimeScale::read("days since 1970-01-01", "360_day").is_err());
        let scale = TimeScale::read("days since 1970-01-01", "").unwrap();
        for value in [1e12, f64::NAN, f64::INFINITY, -1e9] {
            assert!(scale.instant(value).is_err(), "{value}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_an_origin_or_none(text in "[0-9TZ:+. -]{0,24}") {
            let _ = origin_seconds(&text, true);
            let _ = instant_of_attribute(&text);
        }

        #[test]
        fn day_numbers_are_those_of_jiff(year in 1600i16..2300, month in 1i8..=12, day in 1i8..=28) {
            let date = jiff::civil::date(year, month, day);
            let epoch = jiff::civil::date(1970, 1, 1);
            let own = day_number(year.into(), month.into(), day.into(), true);
            prop_assert_eq!(own, Some(i64::from((date - epoch).get_days())));
        }
    }
}
