//! A table of the perturbation itself: `time_utc,north_nt,east_nt`.
//!
//! `time_utc` is the start of the interval, ISO 8601 with or without `Z`, minutes and seconds;
//! `north_nt` and `east_nt` are the mean over it of the horizontal field less its quiet level, toward
//! true north and east. Blank or `NaN` is missing; times that are left out are missing too. The length
//! of an interval is the smallest step from one time to the next.

use csv::{ByteRecord, ReaderBuilder, Trim};
use jiff::civil::DateTime;

use super::rows::{Measure, Row, Rows, instant_of, minute_of};
use crate::ReadError;

const COLUMNS: [&str; 3] = ["time_utc", "north_nt", "east_nt"];
/// The greatest storm on record did not move the field by as much; a table of the whole field does.
const GREATEST_NT: f64 = 20_000.0;

/// A row of the table with its line.
#[derive(Debug, Clone, Copy)]
struct Told {
    line: usize,
    row: Row,
}

/// Reads a table of perturbations.
pub(super) fn read_perturbation_csv(bytes: &[u8]) -> Result<Rows, ReadError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new().trim(Trim::All).from_reader(bytes);
    let titles = reader.headers().map_err(|error| ReadError::of_csv(&error))?;
    if titles.iter().ne(COLUMNS) {
        let found: Vec<&str> = titles.iter().collect();
        return Err(ReadError::line(
            1,
            format!("the columns are `{}`, not `{}`", found.join(","), COLUMNS.join(",")),
        ));
    }
    let mut told: Vec<Told> = Vec::new();
    let mut record = ByteRecord::new();
    while reader.read_byte_record(&mut record).map_err(|error| ReadError::of_csv(&error))? {
        let line = record.position().map_or(0, csv::Position::line) as usize;
        let field = |at: usize| {
            std::str::from_utf8(record.get(at).unwrap_or_default())
                .map_err(|_| ReadError::line(line, "this is not a text file"))
        };
        let minute = start(line, field(0)?)?;
        let nt = [component(line, COLUMNS[1], field(1)?)?, component(line, COLUMNS[2], field(2)?)?];
        told.push(Told { line, row: Row { minute, nt } });
    }
    told.sort_by_key(|told| told.row.minute);
    let cadence_min = cadence(&told)?;
    let mut remarks = Vec::new();
    let half =
        told.iter().filter(|told| told.row.nt[0].is_nan() != told.row.nt[1].is_nan()).count();
    if half > 0 {
        remarks.push(format!("{half} intervals have one component of two and count as missing"));
    }
    let whole = |row: &Row| row.nt.iter().all(|part| part.is_finite());
    let rows = told.iter().map(|told| told.row).filter(whole).collect();
    Ok(Rows { code: None, place: None, cadence_min, measure: Measure::Perturbation, rows, remarks })
}

/// The start of an interval, minutes from 1970.
fn start(line: usize, text: &str) -> Result<i64, ReadError> {
    let fault = |what: &str| {
        ReadError::line(line, format!("`{text}` {what}: write it like 2003-10-29T06:00Z"))
    };
    let bare = text.strip_suffix(['Z', 'z']).unwrap_or(text);
    // An offset would be passed over by the parser.
    let clock = bare.get(10..).ok_or_else(|| fault("is no time"))?;
    if clock.is_empty() || clock.contains(['+', '-', '[', '\u{2212}']) {
        return Err(fault("is no time of UTC"));
    }
    let instant: DateTime = bare.parse().map_err(|_| fault("is no time"))?;
    match minute_of(line, instant)? {
        (minute, 0) => Ok(minute),
        _ => Err(fault("is no whole minute")),
    }
}

fn component(line: usize, title: &str, text: &str) -> Result<f32, ReadError> {
    if text.is_empty() || text.eq_ignore_ascii_case("nan") {
        return Ok(f32::NAN);
    }
    let number: f64 = text
        .parse()
        .map_err(|_| ReadError::line(line, format!("{title} `{text}` is no number")))?;
    if number.abs() <= GREATEST_NT {
        return Ok(number as f32);
    }
    Err(ReadError::line(
        line,
        format!(
            "{title} `{text}` is beyond {GREATEST_NT} nT: give nanotesla, the field less its quiet level"
        ),
    ))
}

/// The length of an interval, minutes.
fn cadence(told: &[Told]) -> Result<i64, ReadError> {
    let steps = || told.windows(2).map(|pair| (pair[1].row.minute - pair[0].row.minute, pair));
    let Some((smallest, pair)) = steps().min_by_key(|(step, _)| *step) else {
        return Err(ReadError::Whole("the table has fewer than two times".into()));
    };
    let time = |told: &Told| instant_of(told.row.minute);
    if smallest == 0 {
        let (line, first) = (pair[0].line.max(pair[1].line), pair[0].line.min(pair[1].line));
        let message = format!("the time {} stands on line {first} too", time(&pair[0]));
        return Err(ReadError::line(line, message));
    }
    if smallest > 60 || 60 % smallest != 0 {
        let message = format!(
            "the smallest step between two times is {smallest} minutes (before {}): an hour must be a \
             whole number of steps",
            time(&pair[1])
        );
        return Err(ReadError::line(pair[1].line, message));
    }
    match steps().find(|(step, _)| step % smallest != 0) {
        Some((_, pair)) => Err(ReadError::line(
            pair[1].line,
            format!(
                "the time {} is no whole number of steps of {smallest} minutes after {}",
                time(&pair[1]),
                time(&pair[0])
            ),
        )),
        None => Ok(smallest),
    }
}
