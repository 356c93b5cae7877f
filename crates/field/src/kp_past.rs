//! What has been observed of Kp: the history that the library carries and what came after it.

use std::{ops::Range, sync::LazyLock};

use jiff::{Timestamp, ToSpan, tz::Offset};

use crate::{Kp, KpHistory, ReadError, SLOTS_A_DAY, solar_cycle_phase};

/// Parts of the solar cycle that the climate tells apart.
const PHASES: usize = 4;
/// How many climates there are: one for each month in each part of the cycle.
pub(crate) const CLIMATES: usize = 12 * PHASES;
/// Observations further than this beyond the history are a slip of the pen: 100 years.
const MOST_SLOTS_BEYOND: usize = 36_525 * SLOTS_A_DAY;

/// Kp by three-hour slots from the first of the history on, with gaps, made ready for means over
/// stretches of it.
#[derive(Debug, Clone)]
pub struct KpPast {
    values: Vec<Option<Kp>>,
    /// Sum and number of the values before each slot.
    before: Vec<(f64, u32)>,
    /// The climate of each day that has values.
    climates: Vec<usize>,
}

static EMBEDDED: LazyLock<KpPast> = LazyLock::new(|| {
    KpPast::of(KpHistory::embedded().values().iter().copied().map(Some).collect())
});

impl KpPast {
    fn of(values: Vec<Option<Kp>>) -> Self {
        let mut before = vec![(0.0, 0)];
        let (mut sum, mut count) = (0.0, 0);
        for kp in &values {
            if let Some(kp) = kp {
                sum += kp.value();
                count += 1;
            }
            before.push((sum, count));
        }
        let climates = (0..values.len().div_ceil(SLOTS_A_DAY)).map(climate_of_day).collect();
        Self { values, before, climates }
    }

    /// The history that the library carries.
    #[must_use]
    pub fn embedded() -> &'static Self {
        &EMBEDDED
    }

    /// The history with later observations: a CSV file with a line of titles, `time` (UTC, RFC 3339,
    /// within the three hours that the value stands for; by increasing slots) and `kp` (0 to 9, 5-
    /// being 4.67). Slots that nobody observed stay unknown; where the history has a value already
    /// the file's holds. Other columns are passed over.
    ///
    /// # Errors
    ///
    /// [`ReadError`] with the line: a column that is missing, a time or a number that is none, out
    /// of order or out of range.
    pub fn with_observed(bytes: &[u8]) -> Result<Self, ReadError> {
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(bytes);
        let titles = reader.headers().map_err(|error| ReadError::of_csv(&error))?.clone();
        let column = |title: &str| {
            let at = titles.iter().position(|found| found == title);
            at.ok_or_else(|| ReadError::Whole(format!("the column {title} is missing")))
        };
        let (time_at, kp_at) = (column("time")?, column("kp")?);
        let mut values = Self::embedded().values.clone();
        let most = values.len() + MOST_SLOTS_BEYOND;
        let mut next = 0;
        for record in reader.records() {
            let record = record.map_err(|error| ReadError::of_csv(&error))?;
            let line = record.position().map_or(0, csv::Position::line) as usize;
            let time = record.get(time_at).unwrap_or_default();
            let kp = record.get(kp_at).unwrap_or_default();
            let instant: Timestamp = time.parse().map_err(|_| {
                let message =
                    format!("time `{time}` is no time in UTC; write it as 2027-01-15T03:00Z");
                ReadError::line(line, message)
            })?;
            let kp: f64 =
                kp.parse().ok().filter(|kp| (0.0..=9.0).contains(kp)).ok_or_else(|| {
                    ReadError::line(line, format!("kp `{kp}` is no number within 0 to 9"))
                })?;
            let slot = slot_of(instant).filter(|slot| *slot < most).ok_or_else(|| {
                ReadError::line(line, format!("time `{time}` is not within 1957 to 2126"))
            })?;
            if slot < next {
                let message = format!("time `{time}` is not in a later three hours than the last");
                return Err(ReadError::line(line, message));
            }
            next = slot + 1;
            if values.len() < next {
                values.resize(next, None);
            }
            if let Some(value) = values.get_mut(slot) {
                *value = Some(Kp::nearest(kp));
            }
        }
        Ok(Self::of(values))
    }

    /// The number of slots up to the last one observed.
    #[must_use]
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Whether nothing was observed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// What was observed in a slot.
    #[must_use]
    pub fn get(&self, slot: usize) -> Option<Kp> {
        self.values.get(slot).copied().flatten()
    }

    /// The climate of a slot, past or to come.
    pub(crate) fn climate(&self, slot: usize) -> usize {
        let day = slot / SLOTS_A_DAY;
        self.climates.get(day).copied().unwrap_or_else(|| climate_of_day(day))
    }

    /// The mean of what is known, where that is half of the slots or more.
    pub(crate) fn mean(&self, range: Range<usize>) -> Option<f64> {
        let (end, start) = (self.before.get(range.end)?, self.before.get(range.start)?);
        let count = end.1 - start.1;
        let enough = 2 * count as usize >= range.len() && count > 0;
        enough.then(|| (end.0 - start.0) / f64::from(count))
    }
}

/// The slot of an instant, counted from the first of the history; `None` before it.
pub(crate) fn slot_of(instant: Timestamp) -> Option<usize> {
    let first = Offset::UTC.to_timestamp(KpHistory::embedded().first_day().at(0, 0, 0, 0)).ok()?;
    let milliseconds = instant.as_millisecond() - first.as_millisecond();
    usize::try_from(milliseconds.div_euclid(3 * 3_600_000)).ok()
}

/// When a slot begins.
pub(crate) fn instant_of(slot: usize) -> Option<Timestamp> {
    let days = i32::try_from(slot / SLOTS_A_DAY).ok()?;
    let day = KpHistory::embedded().first_day().checked_add(days.days()).ok()?;
    let hour = i8::try_from(3 * (slot % SLOTS_A_DAY)).ok()?;
    Offset::UTC.to_timestamp(day.at(hour, 0, 0, 0)).ok()
}

fn climate_of_day(day: usize) -> usize {
    let first = KpHistory::embedded().first_day();
    let date = first.saturating_add((day as i64).days());
    let phase = (solar_cycle_phase(date) * PHASES as f64) as usize;
    let month = usize::from(date.month().unsigned_abs()).saturating_sub(1);
    month * PHASES + phase.min(PHASES - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slots_are_those_of_the_history() {
        let past = KpPast::embedded();
        assert_eq!(past.len(), KpHistory::embedded().values().len());
        let slot = slot_of("2024-05-11T02:59:59Z".parse().unwrap()).unwrap();
        let history = KpHistory::embedded().at("2024-05-11T01:00Z".parse().unwrap());
        assert_eq!(past.get(slot), history);
        assert_eq!(slot_of("1957-10-01T00:00Z".parse().unwrap()), Some(0));
        assert_eq!(slot_of("1957-09-30T23:59Z".parse().unwrap()), None);
        assert!((past.mean(0..8).unwrap() - 82.0 / 24.0).abs() < 1e-12);
        assert_eq!(past.mean(0..10_000_000), None);
        // 1 January 2027 lies in the third quarter of its cycle.
        assert_eq!(past.climate(slot_of("2027-01-01T00:00Z".parse().unwrap()).unwrap()), 2);
    }

    #[test]
    fn later_observations_leave_gaps_and_faults_have_lines() {
        let read = |rows: &str| KpPast::with_observed(format!("time,kp\n{rows}").as_bytes());
        let past = read("2026-12-01T00:00Z,5.33\n2026-12-01T04:00Z,2\n").unwrap();
        let slot = slot_of("2026-12-01T00:00Z".parse().unwrap()).unwrap();
        assert_eq!(past.get(slot), Some(Kp::nearest(5.33)));
        assert_eq!(past.get(slot - 1), None);
        assert_eq!(past.len(), slot + 2);
        let mean = past.mean(slot - 2..slot + 2).unwrap();
        assert!((mean - (16.0 / 3.0 + 2.0) / 2.0).abs() < 1e-9);
        assert_eq!(past.mean(slot - 3..slot + 2), None);
        for (rows, told) in [
            ("2026-12-01T00:00Z,9.5", "line 2: kp"),
            ("2026-12-01T00:00Z,nan", "line 2: kp"),
            ("soon,1", "no time in UTC"),
            ("2026-12-01T00:00Z,1\n2026-12-01T02:00Z,1", "line 3"),
            ("1900-12-01T00:00Z,1", "not within"),
            ("9000-12-01T00:00Z,1", "not within"),
            ("2026-12-01T00:00Z", "line 2"),
        ] {
            let error = read(rows).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
        assert!(KpPast::with_observed(b"time,ap\n").unwrap_err().to_string().contains("column kp"));
    }
}
