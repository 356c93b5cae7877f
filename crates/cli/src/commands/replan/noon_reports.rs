//! Noon reports: where the craft was and what fuel remained on board, day by day, in a CSV file.
//!
//! | column | what |
//! |---|---|
//! | `time` | UTC, RFC 3339 |
//! | `latitude_deg`, `longitude_deg` | south and west negative |
//! | `rob_t` | usable fuel remaining on board, t |
//!
//! All other columns are for people.

use std::path::Path;

use csv::StringRecord;
use dipward_geodesy::position;
use jiff::Timestamp;

use super::standing::Fix;
use crate::exit::Failure;

/// One report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct NoonReport {
    pub(super) fix: Fix,
    pub(super) rob_t: f64,
}

/// Reads noon reports, at least one, by increasing time.
///
/// # Errors
///
/// What is wrong, with its line.
pub(super) fn noon_reports(path: &Path, bytes: &[u8]) -> Result<Vec<NoonReport>, Failure> {
    reports(bytes).map_err(|(line, message)| {
        Failure::request(format_args!("{}:{line}: {message}", path.display()))
    })
}

type Refused = (u64, String);

fn reports(bytes: &[u8]) -> Result<Vec<NoonReport>, Refused> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes);
    let broken = |error: csv::Error| {
        let line = error.position().map_or(1, csv::Position::line);
        (line, format!("not a table: {error}"))
    };
    let headings = reader.headers().map_err(broken)?.clone();
    let column = |name: &str| {
        headings.iter().position(|heading| heading.trim_start_matches('\u{feff}') == name).ok_or_else(|| {
            let message = format!(
                "the column `{name}` is missing; noon reports have time, latitude_deg, longitude_deg and \
                 rob_t"
            );
            (1, message)
        })
    };
    let (time, latitude, longitude, rob) =
        (column("time")?, column("latitude_deg")?, column("longitude_deg")?, column("rob_t")?);
    let mut reports: Vec<NoonReport> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(0, csv::Position::line);
        let refuse = |message: String| (line, message);
        let text = record.get(time).unwrap_or_default();
        let time: Timestamp = text
            .parse()
            .map_err(|_| refuse(format!("`{text}` is no time in UTC such as 2027-01-15T00:00Z")))?;
        let latitude_deg = number(&record, latitude, -90.0, 90.0, "latitude").map_err(refuse)?;
        let longitude_deg =
            number(&record, longitude, -180.0, 360.0, "longitude").map_err(refuse)?;
        let rob_t = number(&record, rob, 0.0, 1e6, "fuel remaining on board").map_err(refuse)?;
        if reports.last().is_some_and(|last| last.fix.time >= time) {
            return Err(refuse(format!("{time} is not later than the report before")));
        }
        let fix = Fix { time, position: position(latitude_deg, longitude_deg) };
        reports.push(NoonReport { fix, rob_t });
    }
    if reports.is_empty() { Err((1, "there is no report".to_owned())) } else { Ok(reports) }
}

fn number(
    record: &StringRecord,
    column: usize,
    least: f64,
    most: f64,
    what: &str,
) -> Result<f64, String> {
    let text = record.get(column).unwrap_or_default();
    let value = text.parse::<f64>().ok().filter(|value| (least..=most).contains(value));
    value.ok_or_else(|| format!("`{text}` is no {what}: {least} to {most}"))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const REPORTS: &str = "\
time,latitude_deg,longitude_deg,distance_nm,rob_t,remarks
2027-01-10T02:00Z,-45.5,146.8,182,1432.5,\"fresh gale, rolling\"
2027-01-11T02:00Z,-50.1,145.2,281,1398,
";

    #[test]
    fn reports_are_read_and_other_columns_are_for_people() {
        let found = reports(REPORTS.as_bytes()).unwrap();
        assert_eq!(found.len(), 2);
        assert_eq!(found[1].rob_t, 1398.0);
        assert_eq!(found[0].fix.position, position(-45.5, 146.8));
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        for (from, to, line, told) in [
            ("-50.1", "-95", 3, "latitude"),
            ("145.2", "east", 3, "longitude"),
            ("1398", "", 3, "fuel remaining on board"),
            ("1432.5", "-1", 2, "fuel remaining on board"),
            ("2027-01-11T02:00Z", "11 Jan", 3, "no time in UTC"),
            ("2027-01-11", "2027-01-09", 3, "not later"),
            ("rob_t", "fuel", 1, "`rob_t` is missing"),
            ("281,1398,", "281,1398,,,", 3, "not a table"),
        ] {
            let (at, message) = reports(REPORTS.replace(from, to).as_bytes()).unwrap_err();
            assert!(at == line && message.contains(told), "{from}: {at} {message}");
        }
        assert!(reports(b"time,latitude_deg,longitude_deg,rob_t\n").is_err());
        assert!(reports(b"").is_err());
    }

    proptest! {
        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = reports(&bytes);
        }
    }
}
