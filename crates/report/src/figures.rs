//! Numbers, instants and places as text for people.

use dipward_plugin::{Approach, WayBound};
use jiff::Timestamp;

/// What stands where a number has no value.
pub(crate) const NONE: &str = "–";

/// A number with a fixed count of decimals. Never "-0.0", and [`NONE`] where it is not finite.
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return NONE.to_owned();
    }
    let text = format!("{value:.decimals$}");
    let is_zero = text.bytes().all(|byte| matches!(byte, b'-' | b'0' | b'.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// A number of unknown size to about four significant digits, without trailing zeros.
pub(crate) fn plain(value: f64) -> String {
    let magnitude = value.abs();
    if magnitude != 0.0 && !(1e-4..1e7).contains(&magnitude) && value.is_finite() {
        return format!("{value:.3e}");
    }
    let decimals = match magnitude {
        size if size >= 1000.0 => 0,
        size if size >= 100.0 => 1,
        size if size >= 10.0 => 2,
        size if size >= 0.1 => 3,
        _ => 5,
    };
    let text = fixed(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Joins a number and its unit, or the parts of a date, so that a line does not end between them.
pub(crate) const JOINT: char = '\u{a0}';

/// A share of 1 in whole hundredths. What is not quite none or all is not rounded to it.
pub(crate) fn percent(share: f64) -> String {
    let hundredths = share * 100.0;
    if hundredths > 0.0 && hundredths < 0.5 {
        format!("<1{JOINT}%")
    } else if (99.5..100.0).contains(&hundredths) {
        format!(">99{JOINT}%")
    } else if hundredths.is_finite() {
        format!("{}{JOINT}%", fixed(hundredths, 0))
    } else {
        NONE.to_owned()
    }
}

/// A share with the interval about it: "62 % (57 to 67 %)".
pub(crate) fn percent_within(share: f64, low: f64, high: f64) -> String {
    let end = |share: f64| fixed(share * 100.0, 0);
    format!("{} ({} to {}{JOINT}%)", percent(share), end(low), end(high))
}

/// The bound on the way out, if it has one; with a last leg, the ship's to her landing.
pub(crate) fn out_bound(approach: &Approach) -> Option<WayBound> {
    let Approach { lower_bound_h, lower_bound_t, gap_percent, .. } = *approach;
    let bounded = lower_bound_h.is_some() || lower_bound_t.is_some();
    bounded.then_some(WayBound { lower_bound_h, lower_bound_t, gap_percent })
}

/// How far a way lies above its bound, in percent.
pub(crate) fn gap(bound: Option<WayBound>) -> String {
    let percent = bound.and_then(|bound| bound.gap_percent);
    percent.map_or_else(|| "not proved".to_owned(), |percent| fixed(percent, 1))
}

/// "2027-01-12 06:00", in UTC.
pub(crate) fn instant(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

/// "12 Jan 2027, 06:00", in UTC, for a sentence.
pub(crate) fn instant_in_words(at: Timestamp) -> String {
    at.strftime("%-d\u{a0}%b\u{a0}%Y,\u{a0}%H:%M").to_string()
}

/// "12 Jan 06:00", in UTC.
pub(crate) fn short_instant(at: Timestamp) -> String {
    at.strftime("%-d %b %H:%M").to_string()
}

/// "12 Jan", in UTC.
pub(crate) fn day(at: Timestamp) -> String {
    at.strftime("%-d %b").to_string()
}

/// "12 Jan 2027", in UTC.
pub(crate) fn date(at: Timestamp) -> String {
    at.strftime("%-d %b %Y").to_string()
}

/// Hours from one instant to another.
pub(crate) fn hours_between(from: Timestamp, to: Timestamp) -> f64 {
    // Differences of instants in the calendar's range are exact in an f64.
    (to.as_millisecond() - from.as_millisecond()) as f64 / 3_600_000.0
}

/// "64.06° S".
pub(crate) fn latitude(latitude_deg: f64, decimals: usize) -> String {
    let side = if latitude_deg < 0.0 { "S" } else { "N" };
    format!("{}°{JOINT}{side}", fixed(latitude_deg.abs(), decimals))
}

/// "135.87° E"; the meridians of 0 and 180 have no side.
pub(crate) fn longitude(longitude_deg: f64, decimals: usize) -> String {
    if longitude_deg == 0.0 || longitude_deg.abs() == 180.0 {
        return format!("{}°", fixed(longitude_deg.abs(), decimals));
    }
    let side = if longitude_deg < 0.0 { "W" } else { "E" };
    format!("{}°{JOINT}{side}", fixed(longitude_deg.abs(), decimals))
}

/// "64.06° S, 135.87° E".
pub(crate) fn place(latitude_deg: f64, longitude_deg: f64) -> String {
    format!("{}, {}", latitude(latitude_deg, 2), longitude(longitude_deg, 2))
}

/// The point of the compass nearest to a bearing, of sixteen.
pub(crate) fn compass(bearing_deg: f64) -> &'static str {
    const POINTS: [&str; 16] = [
        "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW",
        "NW", "NNW",
    ];
    let sector = (bearing_deg.rem_euclid(360.0) / 22.5).round();
    // A cast of NaN is 0; sixteen sectors round to 16 at most, which is north again.
    POINTS.get(sector as usize % 16).copied().unwrap_or("N")
}

/// Text that XML 1.0 and a terminal can hold: control characters become a replacement mark, line
/// ends and tabs become spaces.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
            // Marks that turn the direction of writing can make a text read as another.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
            c if c.is_control() => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// The ticks of an axis: multiples of 1, 2 or 5 times a power of ten, at most `most` steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ticks {
    pub(crate) first: f64,
    pub(crate) step: f64,
    pub(crate) count: u32,
}

impl Ticks {
    /// Ticks from `low` to `high`, ends included where they are multiples of the step.
    pub(crate) fn new(low: f64, high: f64, most: u32) -> Self {
        let span = high - low;
        if !(span.is_finite() && span > 0.0) || most == 0 {
            return Self { first: low, step: 1.0, count: 1 };
        }
        let step = nice_at_least(span / f64::from(most));
        let first = (low / step - 1e-9).ceil() * step;
        let count = ((high - first) / step + 1e-9).floor().max(0.0) as u32 + 1;
        Self { first, step, count }
    }

    pub(crate) fn values(self) -> impl Iterator<Item = f64> {
        (0..self.count).map(move |index| self.first + f64::from(index) * self.step)
    }

    /// The tick's label with as many decimals as the step needs.
    pub(crate) fn label(self, value: f64) -> String {
        let decimals = (-self.step.log10().floor()).clamp(0.0, 9.0) as usize;
        fixed(value, decimals)
    }
}

/// The least of 1, 2 and 5 times a power of ten that is not below `value`.
pub(crate) fn nice_at_least(value: f64) -> f64 {
    if !(value.is_finite() && value > 0.0) {
        return 1.0;
    }
    let power = 10.0_f64.powf(value.log10().floor());
    let digit = [1.0, 2.0, 5.0].into_iter().find(|digit| digit * power >= value * (1.0 - 1e-9));
    digit.unwrap_or(10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_without_sense_are_not_dressed_up() {
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(f64::NAN, 1), NONE);
        assert_eq!(plain(1234.56), "1235");
        assert_eq!(plain(0.25), "0.25");
        assert_eq!(plain(-3.0), "-3");
        assert_eq!(plain(2.5e9), "2.500e9");
        assert_eq!(percent(0.001), "<1\u{a0}%");
        assert_eq!(percent(0.999), ">99\u{a0}%");
        assert_eq!(percent(1.0), "100\u{a0}%");
        assert_eq!(percent(0.0), "0\u{a0}%");
    }

    #[test]
    fn ticks_are_nice_and_inside() {
        let ticks = Ticks::new(-3.0, 47.0, 6);
        assert_eq!(ticks.values().collect::<Vec<_>>(), [0.0, 10.0, 20.0, 30.0, 40.0]);
        let small = Ticks::new(0.0, 0.5, 5);
        assert_eq!(
            small.values().map(|v| small.label(v)).collect::<Vec<_>>().join(" "),
            "0.0 0.1 0.2 0.3 0.4 0.5"
        );
        assert_eq!(Ticks::new(1.0, 1.0, 5).count, 1);
        assert_eq!(Ticks::new(f64::NAN, 1.0, 5).count, 1);
    }

    #[test]
    fn control_characters_do_not_reach_the_page() {
        assert_eq!(clean("a\u{1b}[31m\nb\u{202e}"), "a\u{fffd}[31m b\u{fffd}");
    }

    #[test]
    fn bearings_have_names() {
        assert_eq!(compass(359.0), "N");
        assert_eq!(compass(300.0), "WNW");
        assert_eq!(compass(-90.0), "W");
        assert_eq!(compass(f64::NAN), "N");
    }
}
