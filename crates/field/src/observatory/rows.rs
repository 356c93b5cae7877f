use dipward_geodesy::Position;
use jiff::{Timestamp, civil::DateTime, tz::Offset};

use crate::ReadError;

/// Observatories began in the 1830s (Goettingen); a year outside is a slip of the pen.
const YEARS: std::ops::RangeInclusive<i16> = 1830..=2100;
/// No part of the Earth's field is as large, nT.
pub(super) const GREATEST_FIELD_NT: f64 = 80_000.0;

/// What the numbers of a file stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Measure {
    /// The horizontal field.
    Field,
    /// The horizontal field less its quiet level.
    Perturbation,
}

/// A recorded interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    /// Its start, whole minutes from 1970-01-01T00:00Z.
    pub(super) minute: i64,
    /// Its mean toward true north and east.
    pub(super) nt: [f32; 2],
}

/// What one file holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rows {
    /// The station's IAGA code in capitals, where the format tells it.
    pub(super) code: Option<String>,
    /// Where the file says the station stands.
    pub(super) place: Option<Position>,
    /// Length of an interval, minutes.
    pub(super) cadence_min: i64,
    pub(super) measure: Measure,
    /// By increasing time; what is missing is left out.
    pub(super) rows: Vec<Row>,
    /// What the reader took for granted, in sentences.
    pub(super) remarks: Vec<String>,
}

/// Whole minutes from 1970 to an instant of UTC, with the milliseconds that are left over.
pub(super) fn minute_of(line: usize, instant: DateTime) -> Result<(i64, i64), ReadError> {
    if !YEARS.contains(&instant.year()) {
        let message = format!("the year {} is not within 1830 to 2100", instant.year());
        return Err(ReadError::line(line, message));
    }
    let whole = Offset::UTC
        .to_timestamp(instant)
        .map_err(|error| ReadError::line(line, error.to_string()))?
        .as_millisecond();
    Ok((whole.div_euclid(60_000), whole.rem_euclid(60_000)))
}

/// The instant of a minute counted from 1970.
pub(super) fn instant_of(minute: i64) -> Timestamp {
    // The readers let no minute pass that is not within 1830 to 2100.
    Timestamp::from_second(minute.saturating_mul(60)).unwrap_or(Timestamp::MAX)
}

/// The lines of a file with their numbers, counted from 1, without their ends, a byte order mark and the
/// mark by which old systems end a file; what is no UTF-8 is shown by a stand-in.
pub(super) fn lines(bytes: &[u8]) -> impl Iterator<Item = (usize, std::borrow::Cow<'_, str>)> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let bytes = bytes.strip_suffix(b"\x1a").unwrap_or(bytes);
    bytes.split(|&byte| byte == b'\n').enumerate().map(|(index, line)| {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        (index + 1, String::from_utf8_lossy(line))
    })
}
