//! The hourly exchange format of the World Data Centres for Geomagnetism.
//!
//! A record of 120 characters holds a day of one element:
//!
//! ```text
//! columns  1-3   IAGA code of the station
//!          4-5   year, two digits
//!          6-7   month
//!          8     element: D I H X Y Z F
//!          9-10  day
//!         11-14  blank, or letters by which a sender marks his data; passed over
//!         15-16  century, 18 to 20; blank, or Q and D of an older form, mean 19
//!         17-20  tabular base: whole degrees for D and I, hundreds of nT for the others
//!         21-116 24 hourly values of 4 characters: tenths of minutes of arc, or nT; 9999 is missing
//!        117-120 daily mean
//! ```
//!
//! The element is base plus value, whatever their signs. The first value is the mean from 00 to 01 UT.
//! Files of the first half of the 20th century also hold values of one instant, or of hours of local
//! time; the format does not tell, and neither does this reader.
//!
//! Source: the description of the World Data Centres in Edinburgh and Kyoto, from memory; columns, base
//! and units agree with the readers of the Python packages geomagpy 2.0.2 and magpysv 1.0.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::rows::{GREATEST_FIELD_NT, Measure, Row, Rows, lines, minute_of};
use crate::ReadError;

const RECORD: usize = 120;
const HOURS: usize = 24;
const MISSING: i32 = 9999;
const ELEMENTS: &str = "DIHXYZF";
/// Farther than rounding (0.5 nT; 0.05 minutes of arc are 0.9 nT in 60,000 nT), X, Y and D, H of one
/// hour are not of one field.
const AGREE_NT: f64 = 5.0;

/// One element of one day, with the line it stands on.
#[derive(Debug, Clone, PartialEq)]
struct Day {
    line: usize,
    /// Degrees, or nT; NaN is missing.
    values: [f64; HOURS],
}

/// Whether a line begins as a record does: it may still be wrong farther on.
pub(super) fn begins_like_wdc(line: &str) -> bool {
    let bytes = line.as_bytes();
    let digit = |at: usize| bytes.get(at).is_some_and(|b| b.is_ascii_digit() || *b == b' ');
    bytes.len() > 20
        && bytes[..3].iter().all(u8::is_ascii_alphanumeric)
        && (3..7).all(digit)
        && ELEMENTS.as_bytes().contains(&bytes[7])
        && (8..10).all(digit)
}

/// Reads a file of hourly records.
pub(super) fn read_wdc(bytes: &[u8]) -> Result<Rows, ReadError> {
    let mut code: Option<String> = None;
    let mut days: BTreeMap<(Date, char), Day> = BTreeMap::new();
    let mut odd_means = 0_usize;
    for (line, text) in lines(bytes) {
        let text = text.as_ref();
        if text.trim().is_empty() {
            continue;
        }
        let record = Record::of(line, text)?;
        match &code {
            Some(code) if *code != record.code => {
                let message =
                    format!("the station is {}, and {code} before: give one station", record.code);
                return Err(ReadError::line(line, message));
            }
            Some(_) => {}
            None => code = Some(record.code),
        }
        odd_means += usize::from(record.odd_mean);
        let day = Day { line, values: record.values };
        let first = days.entry((record.date, record.element)).or_insert_with(|| day.clone());
        // NaN is not equal to itself.
        if first.values.map(f64::to_bits) != day.values.map(f64::to_bits) {
            let message = format!(
                "{} of {} differs from that of line {}",
                record.element, record.date, first.line
            );
            return Err(ReadError::line(line, message));
        }
    }
    let rows = horizontal(&days)?;
    let mut remarks = Vec::new();
    if odd_means > 0 {
        remarks.push(format!(
            "on {odd_means} whole days the daily mean of an element is not that of its 24 hours; the \
             hours are taken"
        ));
    }
    Ok(Rows { code, place: None, cadence_min: 60, measure: Measure::Field, rows, remarks })
}

#[derive(Debug)]
struct Record {
    code: String,
    date: Date,
    element: char,
    values: [f64; HOURS],
    /// Whether the daily mean is not that of the values.
    odd_mean: bool,
}

impl Record {
    fn of(line: usize, text: &str) -> Result<Self, ReadError> {
        let fault = |message: String| ReadError::line(line, message);
        if !text.is_ascii() {
            return Err(fault("a record holds ASCII characters alone".into()));
        }
        let length = text.trim_end().len();
        if length > RECORD || text.len() < RECORD {
            let found = if text.len() < RECORD { text.len() } else { length };
            return Err(fault(format!(
                "a WDC record of hours has {RECORD} characters, not {found}"
            )));
        }
        let field = |from: usize, to: usize| &text[from - 1..to];
        let code = field(1, 3);
        if !code.bytes().all(|byte| byte.is_ascii_alphanumeric()) {
            return Err(fault(format!("`{code}` in columns 1-3 is no code of a station")));
        }
        let short = |from: usize, to: usize, what: &str| -> Result<i16, ReadError> {
            let text = field(from, to);
            right_justified(text)
                .filter(|&number: &i16| number >= 0)
                .ok_or_else(|| fault(format!("`{text}` in columns {from}-{to} is no {what}")))
        };
        let marks = field(11, 14);
        if !marks.bytes().all(|byte| byte == b' ' || byte.is_ascii_alphabetic()) {
            return Err(fault(format!("`{marks}` in columns 11-14 is neither blank nor letters")));
        }
        let century = match field(15, 16).trim() {
            "" => 19,
            mark if mark.starts_with(['Q', 'D']) => 19,
            digits if ["18", "19", "20"].contains(&digits) => short(15, 16, "century")?,
            other => {
                let message = format!("`{other}` in columns 15-16 is no century from 18 to 20");
                return Err(fault(message));
            }
        };
        let year = 100 * century + short(4, 5, "year")?;
        let (month, day) = (short(6, 7, "month")?, short(9, 10, "day")?);
        let date = Date::new(year, month as i8, day as i8)
            .map_err(|_| fault(format!("{year}-{month:02}-{day:02} is no date")))?;
        let element = char::from(text.as_bytes()[7]);
        if !ELEMENTS.contains(element) {
            return Err(fault(format!("`{element}` in column 8 is none of D I H X Y Z F")));
        }
        let mut raw = [MISSING; HOURS];
        for (hour, value) in raw.iter_mut().enumerate() {
            let from = 21 + 4 * hour;
            let text = field(from, from + 3);
            *value = right_justified(text).ok_or_else(|| {
                let to = from + 3;
                fault(format!(
                    "`{text}` in columns {from}-{to} is no whole number; 9999 is missing"
                ))
            })?;
        }
        let base = field(17, 20);
        let all_missing = raw.iter().all(|&value| value == MISSING);
        let base_value: Option<i32> = right_justified(base).filter(|&base| base != MISSING);
        let base = match base_value {
            Some(base) => f64::from(base),
            None if all_missing => 0.0,
            None => return Err(fault(format!("`{base}` in columns 17-20 is no tabular base"))),
        };
        let angle = matches!(element, 'D' | 'I');
        let value = |raw: i32| match raw {
            MISSING => f64::NAN,
            _ if angle => base + f64::from(raw) / 600.0,
            _ => 100.0 * base + f64::from(raw),
        };
        let values = raw.map(value);
        let greatest = if angle { 361.0 } else { GREATEST_FIELD_NT };
        if let Some(wrong) = values.iter().find(|value| value.abs() > greatest) {
            let unit = if angle { "degrees" } else { "nT" };
            return Err(fault(format!("{element} of {wrong:.1} {unit} cannot be")));
        }
        let mean = field(117, 120);
        let daily: Option<i32> = right_justified(mean);
        if daily.is_none() && !mean.trim().is_empty() {
            return Err(fault(format!("`{mean}` in columns 117-120 is no daily mean")));
        }
        let own = values.iter().sum::<f64>() / HOURS as f64;
        let step = if angle { 1.0 / 600.0 } else { 1.0 };
        let odd_mean = daily
            .filter(|&daily| daily != MISSING)
            .is_some_and(|daily| (value(daily) - own).abs() > 1.01 * step);
        Ok(Self { code: code.to_ascii_uppercase(), date, element, values, odd_mean })
    }
}

/// A whole number that ends where its field ends.
fn right_justified<T: std::str::FromStr>(field: &str) -> Option<T> {
    let number = field.trim_start_matches(' ');
    (!number.ends_with(' ')).then(|| number.parse().ok()).flatten()
}

/// The horizontal field of each hour: by X and Y where both are there, else by D and H.
fn horizontal(days: &BTreeMap<(Date, char), Day>) -> Result<Vec<Row>, ReadError> {
    let mut rows = Vec::new();
    let (mut squares, mut both, mut worst) = (0.0, 0_usize, (0.0, None));
    let mut dates: Vec<Date> = days.keys().map(|(date, _)| *date).collect();
    dates.dedup();
    for date in dates {
        let found = |element: char| days.get(&(date, element));
        let value = |element: char, hour: usize| {
            found(element).and_then(|day| day.values.get(hour)).copied().unwrap_or(f64::NAN)
        };
        let line = "XYDH".chars().find_map(found).map_or(1, |day| day.line);
        let (first, _) = minute_of(line, date.at(0, 0, 0, 0))?;
        for hour in 0..HOURS {
            let straight = [value('X', hour), value('Y', hour)];
            let (east, north) = value('D', hour).to_radians().sin_cos();
            let turned = [north, east].map(|part| part * value('H', hour));
            let apart = (straight[0] - turned[0]).hypot(straight[1] - turned[1]);
            if apart.is_finite() {
                squares += apart * apart;
                both += 1;
                if apart >= worst.0 {
                    worst = (apart, Some(date));
                }
            }
            let whole = |nt: &[f64; 2]| nt.iter().all(|part| part.is_finite());
            if let Some(nt) = [straight, turned].into_iter().find(whole) {
                let minute = first + 60 * hour as i64;
                rows.push(Row { minute, nt: nt.map(|part| part as f32) });
            }
        }
    }
    let rms = (squares / both.max(1) as f64).sqrt();
    if rms > AGREE_NT {
        let on = worst.1.map(|date| date.to_string()).unwrap_or_default();
        return Err(ReadError::Whole(format!(
            "X, Y and D, H of {both} hours disagree by {rms:.0} nT rms (most on {on}): leave the \
             records of one pair out"
        )));
    }
    if rows.is_empty() {
        let mut elements: Vec<char> = days.keys().map(|(_, element)| *element).collect();
        elements.sort_unstable();
        elements.dedup();
        let elements: Vec<String> = elements.iter().map(char::to_string).collect();
        return Err(ReadError::Whole(format!(
            "no hour has X and Y, or D and H; the file has {}",
            elements.join(", ")
        )));
    }
    Ok(rows)
}
