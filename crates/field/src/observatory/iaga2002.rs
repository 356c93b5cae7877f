//! The IAGA-2002 exchange format, hours and minutes.
//!
//! Lines of a header that end in `|`, a line of titles (`DATE TIME DOY` and four elements, each the
//! station's code and a letter), and a row for each interval. Angles are minutes of arc, components nT;
//! 99999.00 is missing, 88888.00 was not recorded.
//!
//! Rows at hh:30 (or hh:29:30) stand for the hour from hh:00. Rows of hours at hh:00 stand for the hour
//! that begins there, unless the header says that the mean runs from half past to half past. A minute's
//! mean is centred on its stamp; it is taken to begin there, which is half a minute late.
//!
//! Source: the description of the format by the Division V of IAGA, from memory; it agrees with what the
//! Python package geomagpy 2.0.2 writes and reads.

use dipward_geodesy::{Position, position};
use jiff::civil::{Date, DateTime, Time};

use super::rows::{GREATEST_FIELD_NT, Measure, Row, Rows, lines, minute_of};
use crate::ReadError;

/// From here on a value is a mark: 88888.00 or 99999.00.
const MARKS: f64 = 88_888.0;
/// A turn, minutes of arc.
const TURN_MIN: f64 = 21_600.0;

/// Whether a line is the first of such a file.
pub(super) fn begins_like_iaga2002(line: &str) -> bool {
    let line = line.trim_start().to_ascii_lowercase();
    line.starts_with("format") && line.contains("iaga-2002")
}

/// Reads a file of hours or minutes.
pub(super) fn read_iaga2002(bytes: &[u8]) -> Result<Rows, ReadError> {
    let mut lines = lines(bytes).filter(|(_, line)| !line.trim().is_empty());
    let mut header = Header::default();
    let columns = loop {
        let Some((number, line)) = lines.next() else {
            let message = "the file ends before its line of titles (DATE TIME DOY ...)";
            return Err(ReadError::Whole(message.into()));
        };
        if line.starts_with("DATE") {
            break Columns::of(number, &line, &header)?;
        }
        header.take(number, &line)?;
    };
    let mut stamped: Vec<Stamped> = Vec::new();
    for (number, line) in lines {
        stamped.push(columns.row(number, &line)?);
    }
    stamped.sort_by_key(|row| row.at_ms);
    let (cadence_min, early_ms, remark) = header.cadence(&stamped)?;
    let mut remarks: Vec<String> = remark.into_iter().collect();
    if header.data_type.starts_with(['v', 'V']) {
        remarks.push(
            "the data are those of a variometer (Data Type), not brought to absolute baselines: the \
             direction of north may be off"
                .into(),
        );
    }
    let mut rows = Vec::with_capacity(stamped.len());
    for row in &stamped {
        let start_ms = row.at_ms - early_ms;
        if start_ms.rem_euclid(60_000) != 0 {
            return Err(ReadError::line(row.line, "the time is not on the grid of the others"));
        }
        if row.nt.iter().all(|part| part.is_finite()) {
            rows.push(Row { minute: start_ms.div_euclid(60_000), nt: row.nt });
        }
    }
    let code = Some(columns.code);
    Ok(Rows { code, place: header.place()?, cadence_min, measure: Measure::Field, rows, remarks })
}

/// A row with its stamp, milliseconds from 1970.
#[derive(Debug, Clone, Copy)]
struct Stamped {
    line: usize,
    at_ms: i64,
    nt: [f32; 2],
}

#[derive(Debug, Default)]
struct Header {
    code: String,
    reported: String,
    interval: String,
    data_type: String,
    latitude: Option<(usize, String)>,
    longitude: Option<(usize, String)>,
}

impl Header {
    /// Takes a line: a label in columns 2 to 24, and its text up to the bar.
    fn take(&mut self, number: usize, line: &str) -> Result<(), ReadError> {
        let Some(text) = line.trim_end().strip_suffix('|') else {
            let message =
                "a line of the header ends in `|`, and the line of titles begins with DATE";
            return Err(ReadError::line(number, message));
        };
        if text.trim_start().starts_with('#') {
            return Ok(());
        }
        let split = text.char_indices().nth(24).map_or(text.len(), |(at, _)| at);
        let (label, value) = text.split_at(split);
        let value = value.trim().to_owned();
        match label.trim().to_ascii_lowercase().as_str() {
            "iaga code" => self.code = value.to_ascii_uppercase(),
            "reported" => self.reported = value.to_ascii_uppercase(),
            "data interval type" => self.interval = value.to_ascii_lowercase(),
            "data type" => self.data_type = value,
            "geodetic latitude" => self.latitude = Some((number, value)),
            "geodetic longitude" => self.longitude = Some((number, value)),
            _ => {}
        }
        Ok(())
    }

    fn place(&self) -> Result<Option<Position>, ReadError> {
        let (Some((line, latitude)), Some((_, longitude))) = (&self.latitude, &self.longitude)
        else {
            return Ok(None);
        };
        let degrees =
            |text: &str, most: f64| text.parse().ok().filter(|degrees: &f64| degrees.abs() <= most);
        match (degrees(latitude, 90.0), degrees(longitude, 360.0)) {
            (Some(latitude), Some(longitude)) => Ok(Some(position(latitude, longitude))),
            _ => Err(ReadError::line(
                *line,
                format!("`{latitude}`, `{longitude}` is no place in degrees north and east"),
            )),
        }
    }

    /// The length of an interval in minutes, how long before its stamp it begins in milliseconds, and
    /// what was taken for granted.
    fn cadence(&self, rows: &[Stamped]) -> Result<(i64, i64, Option<String>), ReadError> {
        const MINUTE: i64 = 60_000;
        const HOUR: i64 = 60 * MINUTE;
        let told = |word: &str| self.interval.contains(word);
        // "1-minute (00:30-01:29)" may name its seconds, but only a file of seconds begins with them.
        let told_ms = match () {
            () if told("hour") => Some(HOUR),
            () if told("minute") || told("1-min") => Some(MINUTE),
            () => None,
        };
        let steps = || rows.windows(2).map(|pair| (pair[1].at_ms - pair[0].at_ms, pair));
        let smallest = steps().min_by_key(|(step, _)| *step);
        let step_ms = match (smallest, told_ms) {
            (Some((0, pair)), _) => {
                let (line, first) =
                    (pair[0].line.max(pair[1].line), pair[0].line.min(pair[1].line));
                return Err(ReadError::line(line, format!("the time stands on line {first} too")));
            }
            (Some((step, pair)), told) => {
                if step != told.unwrap_or(step) {
                    return Err(ReadError::line(
                        pair[1].line,
                        format!(
                            "the row comes {} s after the one before, but the header's Data Interval \
                             Type is `{}`",
                            step / 1000,
                            self.interval
                        ),
                    ));
                }
                step
            }
            (None, Some(told)) => told,
            (None, None) => {
                let message = "the file has fewer than two rows, and no Data Interval Type that says \
                               hours or minutes";
                return Err(ReadError::Whole(message.into()));
            }
        };
        if ![MINUTE, HOUR].contains(&step_ms) {
            return Err(ReadError::Whole(format!(
                "rows come every {} s, and hours and minutes are read: average them to minutes, or give \
                 the observatory's own minutes",
                step_ms as f64 / 1000.0
            )));
        }
        let into = |row: &Stamped| row.at_ms.rem_euclid(step_ms);
        let first = rows.first().map_or(0, into);
        if let Some(odd) = rows.iter().find(|row| into(row) != first) {
            return Err(ReadError::line(odd.line, "the time is not on the grid of the others"));
        }
        if step_ms == MINUTE {
            return Ok((1, first, None));
        }
        let half = HOUR / 2;
        match first {
            0 if self.interval.contains("00:30") && self.interval.contains("01:29") => {
                Ok((60, half, None))
            }
            0 => Ok((
                60,
                0,
                Some("an hour's mean with the stamp hh:00 is taken to begin there".into()),
            )),
            into if into == half || into == half - MINUTE / 2 => Ok((60, into, None)),
            into => Err(ReadError::Whole(format!(
                "hours have their stamps {} minutes past, and hh:00, hh:29:30 and hh:30 are understood",
                into as f64 / MINUTE as f64
            ))),
        }
    }
}

/// How the horizontal field is had from the four columns; the numbers are their places.
#[derive(Debug, Clone, Copy)]
enum Horizontal {
    /// X and Y.
    Straight(usize, usize),
    /// D and H.
    Turned(usize, usize),
    /// D, I and F.
    Dipping(usize, usize, usize),
}

#[derive(Debug)]
struct Columns {
    code: String,
    horizontal: Horizontal,
}

impl Columns {
    fn of(number: usize, line: &str, header: &Header) -> Result<Self, ReadError> {
        let fault = |message: String| ReadError::line(number, message);
        let titles: Vec<&str> = line.trim_end().trim_end_matches('|').split_whitespace().collect();
        let ["DATE", "TIME", "DOY", elements @ ..] = titles.as_slice() else {
            return Err(fault("the titles are not DATE TIME DOY and four elements".into()));
        };
        if elements.len() != 4 {
            return Err(fault(format!("{} elements have titles, not four", elements.len())));
        }
        let code = header.code.clone();
        if code.is_empty() {
            return Err(ReadError::Whole("the header has no IAGA CODE".into()));
        }
        let mut letters = String::new();
        for title in elements {
            let title = title.to_ascii_uppercase();
            match title.strip_prefix(&code) {
                Some(letter) if letter.chars().count() == 1 => letters.push_str(letter),
                _ => {
                    return Err(fault(format!(
                        "the title {title} is not the IAGA CODE {code} and a letter"
                    )));
                }
            }
        }
        if !header.reported.is_empty() && header.reported.get(..3) != letters.get(..3) {
            return Err(fault(format!(
                "the columns are {letters}, but the header's Reported is {}",
                header.reported
            )));
        }
        let at = |letter: char| letters.find(letter);
        let horizontal = match (at('X'), at('Y'), at('D'), at('H'), at('I'), at('F')) {
            (Some(x), Some(y), ..) => Horizontal::Straight(x, y),
            (_, _, Some(d), Some(h), ..) => Horizontal::Turned(d, h),
            (_, _, Some(d), _, Some(i), Some(f)) => Horizontal::Dipping(d, i, f),
            _ => {
                let message = format!(
                    "{letters} does not say where true north is (H, E and the like are a variometer's \
                     own axes): give data reported as XYZ, HDZ or DIF"
                );
                return Err(fault(message));
            }
        };
        Ok(Self { code, horizontal })
    }

    fn row(&self, line: usize, text: &str) -> Result<Stamped, ReadError> {
        let fault = |message: String| ReadError::line(line, message);
        let mut fields = text.split_whitespace();
        let mut next = || fields.next().unwrap_or_default();
        let (date, time, day_of_year) = (next(), next(), next());
        let stamp = |what: &str| fault(format!("`{date} {time}` is {what}"));
        let day: Date = date.parse().map_err(|_| stamp("no date and time"))?;
        let clock: Time = time.parse().map_err(|_| stamp("no date and time"))?;
        // Both parsers take more than the format has.
        if date.len() != 10 || time.len() < 8 || !time.bytes().all(|b| b"0123456789:.".contains(&b))
        {
            return Err(stamp("not of the form 2003-10-29 06:00:00.000"));
        }
        if day_of_year.parse() != Ok(day.day_of_year()) {
            return Err(fault(format!(
                "{date} is day {} of its year, not `{day_of_year}`",
                day.day_of_year()
            )));
        }
        let mut values = [f64::NAN; 4];
        for value in &mut values {
            let field = next();
            *value =
                field.parse().ok().filter(|value: &f64| value.is_finite()).ok_or_else(|| {
                    fault(format!(
                        "`{field}` is no number; a row has four, and 99999.00 is missing"
                    ))
                })?;
        }
        if let Some(more) = fields.next() {
            return Err(fault(format!("`{more}` stands after the fourth element")));
        }
        let (minute, rest_ms) = minute_of(line, DateTime::from_parts(day, clock))?;
        let value = |at: usize, most: f64| -> Result<f64, ReadError> {
            let value = values.get(at).copied().unwrap_or(f64::NAN);
            match value {
                _ if value >= MARKS => Ok(f64::NAN),
                _ if value.abs() <= most => Ok(value),
                _ => Err(fault(format!("`{value}` is too large for its element"))),
            }
        };
        let angle = |at: usize| value(at, TURN_MIN).map(|minutes| (minutes / 60.0).to_radians());
        let strength = |at: usize| value(at, GREATEST_FIELD_NT);
        let turned = |angle: f64, length: f64| [length * angle.cos(), length * angle.sin()];
        let nt = match self.horizontal {
            Horizontal::Straight(x, y) => [strength(x)?, strength(y)?],
            Horizontal::Turned(d, h) => turned(angle(d)?, strength(h)?),
            Horizontal::Dipping(d, i, f) => turned(angle(d)?, strength(f)? * angle(i)?.cos()),
        };
        let at_ms = minute * 60_000 + rest_ms;
        Ok(Stamped { line, at_ms, nt: nt.map(|part| part as f32) })
    }
}
