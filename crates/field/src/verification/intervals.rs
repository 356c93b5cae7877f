//! The intervals of a record that the model is asked for.

use jiff::tz::Offset;

use super::{Knowing, RecordedLength, Selection};
use crate::{Kp, KpHistory, observatory::StationRecord};

/// At most so many intervals are asked for at once: with all members they take some 80 MB.
const MOST_INTERVALS: usize = 40_000;
/// At most so much time lies between the first and the last of them; a disturbance need not answer for
/// longer than 50 years.
const LONGEST_H: f64 = 20.0 * 8766.0;

/// A recorded interval that is scored, or that an event which starts in a scored one may last into.
#[derive(Debug, Clone, Copy)]
pub(super) struct Interval {
    /// Its place in the record.
    pub(super) index: usize,
    pub(super) month: u8,
    pub(super) hour: u8,
    pub(super) kp: Option<Kp>,
    pub(super) scored: bool,
    pub(super) recorded_nt: [f64; 2],
}

impl Interval {
    /// Its month and hour of the day as one number.
    pub(super) fn month_and_hour(&self) -> usize {
        usize::from(self.month.saturating_sub(1)) * 24 + usize::from(self.hour)
    }
}

/// What of a record is asked for.
#[derive(Debug, Default)]
pub(super) struct Intervals {
    /// In the order of time.
    pub(super) asked: Vec<Interval>,
    /// Every recorded length, for the table of month and hour.
    pub(super) lengths: Vec<RecordedLength>,
    /// Recorded and selected, but without a known Kp.
    pub(super) without_kp: u64,
}

impl Intervals {
    /// `reach`: how many intervals after its start an event lasts, at most.
    pub(super) fn of(
        record: &StationRecord,
        selection: &Selection,
        knowing: Knowing,
        reach: usize,
    ) -> Self {
        let history = KpHistory::embedded();
        let mut all = Self::default();
        let mut last_scored: Option<usize> = None;
        for (index, vector) in record.perturbation_nt.iter().enumerate() {
            let recorded_nt = vector.map(f64::from);
            if !recorded_nt.iter().all(|part| part.is_finite()) {
                continue;
            }
            let instant = record.instant(index);
            let civil = Offset::UTC.to_datetime(instant);
            let kp = history.at(instant);
            let selected = selection.holds(instant, civil.date());
            all.without_kp += u64::from(selected && kp.is_none());
            let usable = kp.is_some() || knowing != Knowing::Kp;
            let scored = selected && usable;
            let (month, hour) = (civil.month().unsigned_abs(), civil.hour().unsigned_abs());
            all.lengths.push(RecordedLength {
                year: civil.year(),
                month,
                hour,
                length_nt: recorded_nt[0].hypot(recorded_nt[1]),
                scored,
            });
            if scored {
                last_scored = Some(index);
            }
            let needed = usable && last_scored.is_some_and(|last| index - last <= reach);
            if needed {
                all.asked.push(Interval { index, month, hour, kp, scored, recorded_nt });
            }
        }
        all
    }

    /// The intervals in stretches that are asked for one at a time. A stretch ends with those that the
    /// events of its last ones may last into, which the next begins with again.
    pub(super) fn stretches(&self, cadence_h: f64, reach: usize) -> Vec<Stretch<'_>> {
        let mut stretches = Vec::new();
        let mut rest = self.asked.as_slice();
        while let Some(first) = rest.first() {
            let near = |one: &Interval| (one.index - first.index) as f64 * cadence_h <= LONGEST_H;
            let own = rest.partition_point(near).min(MOST_INTERVALS);
            let last = rest.get(own - 1).unwrap_or(first).index;
            let to = rest.partition_point(|one| one.index <= last + reach);
            stretches.push(Stretch { intervals: &rest[..to], own });
            rest = &rest[own..];
        }
        stretches
    }
}

/// Intervals that are asked for at once.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch<'a> {
    pub(super) intervals: &'a [Interval],
    /// The first so many are its own; what follows belongs to the next.
    pub(super) own: usize,
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;

    use super::*;

    fn record(hours: usize, missing: impl Fn(usize) -> bool) -> StationRecord {
        StationRecord {
            name: "invented".into(),
            place: position(-66.0, 140.0),
            start: "2026-06-30T00:00Z".parse().unwrap(),
            cadence_h: 1.0,
            perturbation_nt: (0..hours)
                .map(|hour| if missing(hour) { [f32::NAN; 2] } else { [3.0, 4.0] })
                .collect(),
            remarks: Vec::new(),
        }
    }

    #[test]
    fn what_was_not_recorded_selected_or_known_is_not_asked_for() {
        let record = record(72, |hour| hour == 3);
        let until = Some("2026-06-30T20:00Z".parse().unwrap());
        let selection = Selection { until, ..Selection::default() };
        let asked = |knowing, reach| Intervals::of(&record, &selection, knowing, reach);
        // 0 to 19 without hour 3, and 20, 21 that an event of two hours may last into.
        let some = asked(Knowing::Climate, 2);
        assert_eq!(some.asked.len(), 21);
        assert_eq!(some.asked.iter().filter(|one| one.scored).count(), 19);
        assert_eq!((some.lengths.len(), some.without_kp), (71, 0));
        // Kp ends with 30 June.
        let all = Selection::default();
        let known = Intervals::of(&record, &all, Knowing::Kp, 2);
        assert_eq!((known.asked.len(), known.without_kp), (23, 48));
        assert_eq!(Intervals::of(&record, &all, Knowing::Scenario, 2).asked.len(), 71);
    }

    #[test]
    fn stretches_hold_every_interval_once_as_their_own() {
        let record = record(100_000, |hour| hour % 7 == 0);
        let all = Intervals::of(&record, &Selection::default(), Knowing::Climate, 6);
        let stretches = all.stretches(1.0, 6);
        let own: Vec<usize> = stretches
            .iter()
            .flat_map(|stretch| &stretch.intervals[..stretch.own])
            .map(|one| one.index)
            .collect();
        assert!(own.is_sorted_by(|a, b| a < b));
        assert_eq!(own.len(), all.asked.len());
        let first = stretches[0];
        let last_own = first.intervals[first.own - 1].index;
        assert!(first.intervals.last().unwrap().index >= last_own + 5 && stretches.len() == 3);
        // Two hours 60 years apart.
        let apart = self::record(60 * 8766, |hour| hour > 0 && hour < 60 * 8766 - 1);
        let all = Intervals::of(&apart, &Selection::default(), Knowing::Climate, 6);
        assert_eq!(all.stretches(1.0, 6).len(), 2);
    }
}
