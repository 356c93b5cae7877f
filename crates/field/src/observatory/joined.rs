//! Several files of one station as one.

use dipward_geodesy::{Position, distance_km};

use super::{
    StationFileError,
    rows::{Measure, Row, Rows, instant_of},
};

/// Farther apart, two places are not of one station: about a degree of latitude.
const SAME_PLACE_KM: f64 = 111.0;
/// The files round to 0.01 nT or 1 nT; what they hold of one interval twice must be the same.
const SAME_NT: f32 = 0.05;
/// 114 years of minutes: half a gigabyte.
const MOST_INTERVALS: i64 = 60_000_000;

/// Rows of all files, by increasing time, each interval once.
#[derive(Debug)]
pub(super) struct Joined {
    pub(super) code: Option<String>,
    /// By the given place, or the files'.
    pub(super) place: Position,
    pub(super) cadence_min: i64,
    pub(super) measure: Measure,
    pub(super) rows: Vec<Row>,
    pub(super) remarks: Vec<String>,
}

impl Joined {
    /// Joins files that were read, in any order.
    pub(super) fn of(
        files: Vec<(String, Rows)>,
        given: Option<Position>,
    ) -> Result<Self, StationFileError> {
        let whole = |message: &str| StationFileError::Whole(message.into());
        let Some((_, first)) = files.first() else {
            return Err(whole("no file of a station is given"));
        };
        let (cadence_min, measure) = (first.cadence_min, first.measure);
        one_station(&files)?;
        let place = one_place(&files, given)?;
        let code = files.iter().find_map(|(_, rows)| rows.code.clone());
        let mut remarks: Vec<String> = Vec::new();
        for (name, rows) in &files {
            remarks.extend(rows.remarks.iter().map(|remark| format!("{name}: {remark}")));
        }
        let mut numbered: Vec<(Row, usize)> = Vec::new();
        let mut names = Vec::new();
        for (at, (name, file)) in files.into_iter().enumerate() {
            numbered.extend(file.rows.into_iter().map(|row| (row, at)));
            names.push(name);
        }
        // Stable, so that the same files in the same order give the same bytes.
        numbered.sort_by_key(|(row, _)| row.minute);
        let name_of = |at: usize| names.get(at).cloned().unwrap_or_default();
        for pair in numbered.windows(2) {
            let [(early, first), (late, second)] = pair else { continue };
            let apart = [0, 1].map(|part| (early.nt[part] - late.nt[part]).abs());
            let same = early.minute == late.minute;
            if same && apart.iter().any(|apart| *apart > SAME_NT) {
                let message = format!(
                    "they disagree at {}: north {} and {}, east {} and {} nT; give one of them",
                    instant_of(early.minute),
                    early.nt[0],
                    late.nt[0],
                    early.nt[1],
                    late.nt[1]
                );
                return Err(StationFileError::Pair {
                    names: [name_of(*first), name_of(*second)],
                    message,
                });
            }
            if !same && (late.minute - early.minute) % cadence_min != 0 {
                let message = format!(
                    "their intervals do not lie on one grid: {} and {}",
                    instant_of(early.minute),
                    instant_of(late.minute)
                );
                return Err(StationFileError::Pair {
                    names: [name_of(*first), name_of(*second)],
                    message,
                });
            }
        }
        let mut rows: Vec<Row> = numbered.into_iter().map(|(row, _)| row).collect();
        rows.dedup_by_key(|row| row.minute);
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
            return Err(whole("the files hold no recorded interval: all are missing"));
        };
        if (last.minute - first.minute) / cadence_min >= MOST_INTERVALS {
            return Err(StationFileError::Whole(format!(
                "the files reach from {} to {}, more than {MOST_INTERVALS} intervals: give fewer years",
                instant_of(first.minute),
                instant_of(last.minute)
            )));
        }
        Ok(Self { code, place, cadence_min, measure, rows, remarks })
    }
}

/// Holds the files to one code, one cadence and one measure.
fn one_station(files: &[(String, Rows)]) -> Result<(), StationFileError> {
    let mut coded: Option<(&String, &String)> = None;
    let Some((first_name, first)) = files.first() else { return Ok(()) };
    for (name, rows) in files {
        let pair = |other: &String, message: String| StationFileError::Pair {
            names: [other.clone(), name.clone()],
            message,
        };
        if rows.cadence_min != first.cadence_min {
            let message = format!(
                "one has an interval of {} minutes, the other of {}: give files of one cadence",
                first.cadence_min, rows.cadence_min
            );
            return Err(pair(first_name, message));
        }
        if rows.measure != first.measure {
            let message = "one holds the field, the other the perturbation: give one sort";
            return Err(pair(first_name, message.into()));
        }
        match (coded, &rows.code) {
            (Some((other, before)), Some(code)) if before != code => {
                let message = format!("one is of {before}, the other of {code}: give one station");
                return Err(pair(other, message));
            }
            (None, Some(code)) => coded = Some((name, code)),
            _ => {}
        }
    }
    Ok(())
}

/// The station's place: the given one, held to those of the files.
fn one_place(
    files: &[(String, Rows)],
    given: Option<Position>,
) -> Result<Position, StationFileError> {
    let mut known: Option<(String, Position)> =
        given.map(|place| ("the given place".into(), place));
    for (name, rows) in files {
        let Some(place) = rows.place else { continue };
        let Some((other, before)) = &known else {
            known = Some((name.clone(), place));
            continue;
        };
        let apart_km = distance_km(*before, place);
        if apart_km > SAME_PLACE_KM {
            let told = |place: Position| format!("{:.2}, {:.2}", place.y(), place.x());
            let message = format!(
                "the station stands at {} by the one and at {} by the other, {apart_km:.0} km apart",
                told(*before),
                told(place)
            );
            return Err(StationFileError::Pair { names: [other.clone(), name.clone()], message });
        }
    }
    known.map(|(_, place)| place).ok_or_else(|| {
        StationFileError::Whole(
            "the files do not say where the station stands: give its place".into(),
        )
    })
}
