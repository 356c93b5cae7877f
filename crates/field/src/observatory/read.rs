use std::path::Path;

use dipward_geodesy::Position;

use super::{
    StationFileError, StationRecord,
    baseline::perturbation,
    iaga2002::{begins_like_iaga2002, read_iaga2002},
    inflate::inflated,
    joined::Joined,
    perturbation_csv::read_perturbation_csv,
    rows::{Measure, Row, Rows, instant_of, lines},
    wdc::{begins_like_wdc, read_wdc},
};
use crate::ReadError;

/// Reads the recorded hours or minutes of one station from one file or several.
///
/// # Arguments
///
/// * `files`: names, for the faults, and bytes, in any order. The format is known by the content, gzip by
///   its first bytes: hourly records of the World Data Centres, IAGA-2002 with hours or minutes, or
///   CSV of perturbations (`time_utc,north_nt,east_nt`).
/// * `place`: where the station stands; `None` where the files say it (IAGA-2002).
///
/// # Returns
///
/// The perturbation over all intervals from the first recorded to the last, NaN where nothing was
/// recorded. Of a field, the quiet level is taken away by the station's own quiet winter hours;
/// the record's remarks say how.
///
/// # Errors
///
/// [`StationFileError`] with the file and the line, or with both files where two do not fit: another
/// station, cadence or grid, other values for one instant, places more than 111 km apart.
///
/// # Example
///
/// ```
/// use dipward_field::observatory::read_station_files;
/// use dipward_geodesy::position;
///
/// let table = "time_utc,north_nt,east_nt\n2003-10-29T06:00Z,12.5,-40\n2003-10-29T08:00Z,300,NaN\n\
///              2003-10-29T09:00Z,280,-410\n";
/// let place = position(-66.7, 140.0);
/// let record = read_station_files(&[("invented.csv", table)], Some(place))?;
/// assert_eq!((record.perturbation_nt.len(), record.recorded()), (4, 2));
/// # Ok::<(), dipward_field::observatory::StationFileError>(())
/// ```
pub fn read_station_files<N: AsRef<str>, B: AsRef<[u8]>>(
    files: &[(N, B)],
    place: Option<Position>,
) -> Result<StationRecord, StationFileError> {
    let mut read = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        let name = name.as_ref().to_owned();
        match inflated(bytes.as_ref()).and_then(|bytes| read_one(&bytes)) {
            Ok(rows) => read.push((name, rows)),
            Err(error) => return Err(StationFileError::File { name, error }),
        }
    }
    let stem = read.first().map(|(name, _)| stem(name)).unwrap_or_default();
    let joined = Joined::of(read, place)?;
    let (rows, told) = match joined.measure {
        Measure::Field => perturbation(&joined)?,
        Measure::Perturbation => (joined.rows.clone(), Vec::new()),
    };
    let remarks = joined.remarks.iter().cloned().chain(told).collect();
    let name = joined.code.unwrap_or(stem);
    record(name, joined.place, joined.cadence_min, &rows, remarks)
}

/// Reads one file by its content.
fn read_one(bytes: &[u8]) -> Result<Rows, ReadError> {
    let Some((number, line)) = lines(bytes).find(|(_, line)| !line.trim().is_empty()) else {
        return Err(ReadError::Whole("the file is empty".into()));
    };
    // A minute's record of the WDC has 400 characters and begins with numbers of the place.
    let minutes = (390..=402).contains(&line.len()) && line.get(..12).is_some_and(numbers);
    match () {
        () if begins_like_iaga2002(&line) => read_iaga2002(bytes),
        () if begins_like_wdc(&line) => read_wdc(bytes),
        () if line.contains(',') => read_perturbation_csv(bytes),
        () if minutes => Err(ReadError::line(
            number,
            "this looks like WDC minutes, which are not read: take the station's minutes as IAGA-2002",
        )),
        () => Err(ReadError::line(
            number,
            "this is none of: hourly records of the WDC (120 characters), IAGA-2002 (first line \
             ` Format IAGA-2002 |`), CSV with the columns time_utc,north_nt,east_nt",
        )),
    }
}

fn numbers(text: &str) -> bool {
    text.bytes().all(|byte| byte.is_ascii_digit() || b" -".contains(&byte))
}

/// A record without gaps in time from rows by increasing time.
fn record(
    name: String,
    place: Position,
    cadence_min: i64,
    rows: &[Row],
    remarks: Vec<String>,
) -> Result<StationRecord, StationFileError> {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return Err(StationFileError::Whole(
            "no interval is left: all lie too far from the quiet hours of the record".into(),
        ));
    };
    let at = |row: &Row| ((row.minute - first.minute) / cadence_min) as usize;
    let mut perturbation_nt = vec![[f32::NAN; 2]; at(last) + 1];
    for row in rows {
        if let Some(slot) = perturbation_nt.get_mut(at(row)) {
            *slot = row.nt;
        }
    }
    let start = instant_of(first.minute);
    let cadence_h = cadence_min as f64 / 60.0;
    Ok(StationRecord { name, place, start, cadence_h, perturbation_nt, remarks })
}

/// A file's name without its folder and endings.
fn stem(name: &str) -> String {
    let file = Path::new(name).file_name().map_or(name.into(), |name| name.to_string_lossy());
    file.split('.').find(|part| !part.is_empty()).unwrap_or(name).to_owned()
}
