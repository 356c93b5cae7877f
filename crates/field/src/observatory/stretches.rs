//! Whole stretches of a record, found by season and read at instants.

use dipward_geodesy::Position;
use jiff::{Timestamp, ToSpan, tz::Offset};

use super::StationRecord;
use crate::kp_bootstrap::{same_day_of, utc_date};

/// Gaps up to this long are filled straight.
pub(crate) const FILLED_GAP_H: f64 = 3.0;
const HOUR_MS: f64 = 3_600_000.0;

/// A record with its short gaps filled.
#[derive(Debug)]
pub(crate) struct Stretches {
    record: StationRecord,
    /// For each interval the first one from it on that is missing.
    whole_until: Vec<usize>,
    cadence_ms: i64,
    /// The middle of the first interval, milliseconds from 1970.
    first_middle_ms: i64,
    /// How many intervals were filled.
    filled: usize,
}

/// What a stretch must be like.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wanted {
    /// The instant of the voyage at which it begins.
    pub(crate) begin: Timestamp,
    pub(crate) length_h: f64,
    /// How much later by the clock the same local time comes at the station, hours.
    pub(crate) later_h: f64,
    /// How many days from the same day of another year it may begin.
    pub(crate) window_days: u16,
}

impl Stretches {
    pub(crate) fn of(mut record: StationRecord) -> Self {
        let filled = fill(&mut record);
        let missing = |nt: &[f32; 2]| nt.iter().any(|part| !part.is_finite());
        let mut next = record.perturbation_nt.len();
        let mut whole_until = vec![0; next];
        for (index, nt) in record.perturbation_nt.iter().enumerate().rev() {
            if missing(nt) {
                next = index;
            }
            if let Some(until) = whole_until.get_mut(index) {
                *until = next;
            }
        }
        let cadence_ms = ((record.cadence_h * HOUR_MS).round() as i64).max(1);
        let first_middle_ms = record.start.as_millisecond() + cadence_ms / 2;
        Self { record, whole_until, cadence_ms, first_middle_ms, filled }
    }

    pub(crate) const fn record(&self) -> &StationRecord {
        &self.record
    }

    pub(crate) const fn place(&self) -> Position {
        self.record.place
    }

    pub(crate) const fn filled(&self) -> usize {
        self.filled
    }

    /// All begins that a stretch may have by its season, each at the middle of an interval and with the
    /// hours that are whole from there on; years in order, and days within them.
    pub(crate) fn begins(&self, wanted: Wanted) -> impl Iterator<Item = (Timestamp, f64)> + '_ {
        let day = utc_date(wanted.begin);
        let year_of = |instant| Offset::UTC.to_datetime(instant).year();
        let last = self.record.perturbation_nt.len().saturating_sub(1);
        let years = year_of(self.record.start) - 1..=year_of(self.record.instant(last)) + 1;
        let window = i64::from(wanted.window_days);
        let later_ms = (wanted.later_h * HOUR_MS).round() as i64;
        years.flat_map(move |year| {
            let same_day = same_day_of(day, year);
            (-window..=window).filter_map(move |days| {
                let from = same_day?.checked_add(days.days()).ok()?;
                // Days of UTC have no steps: the same time of day is a whole number of days away.
                let away = day.until(from).ok()?.get_days();
                let begin_ms = wanted.begin.as_millisecond() + i64::from(away) * 86_400_000;
                self.whole_from(begin_ms + later_ms)
            })
        })
    }

    /// The begins from which a stretch is whole over the wanted length.
    pub(crate) fn whole_begins(&self, wanted: Wanted) -> impl Iterator<Item = Timestamp> + '_ {
        self.begins(wanted)
            .filter(move |(_, hours)| *hours >= wanted.length_h)
            .map(|(begin, _)| begin)
    }

    /// The middle of an interval nearest to an instant, and how many hours are whole from there on.
    fn whole_from(&self, ms: i64) -> Option<(Timestamp, f64)> {
        let index = (ms - self.first_middle_ms + self.cadence_ms / 2).div_euclid(self.cadence_ms);
        let at = usize::try_from(index).ok()?;
        let until = self.whole_until.get(at).copied()?;
        // Between the middles of the first interval and of the last that is whole.
        let steps = until.checked_sub(at + 1)?;
        let begin = Timestamp::from_millisecond(self.first_middle_ms + index * self.cadence_ms);
        Some((begin.ok()?, steps as f64 * self.record.cadence_h))
    }

    /// The perturbation at an instant toward north and east, straight between the middles of the
    /// intervals; `None` outside the record and where it is missing.
    pub(crate) fn at(&self, instant: Timestamp) -> Option<[f64; 2]> {
        let from = instant.as_millisecond() - self.first_middle_ms;
        let index = usize::try_from(from.div_euclid(self.cadence_ms)).ok()?;
        let share = from.rem_euclid(self.cadence_ms) as f64 / self.cadence_ms as f64;
        let early = self.record.perturbation_nt.get(index)?.map(f64::from);
        let between = if share > 0.0 {
            let late = self.record.perturbation_nt.get(index + 1)?.map(f64::from);
            [0, 1].map(|part| early[part] + share * (late[part] - early[part]))
        } else {
            early
        };
        between.iter().all(|part| part.is_finite()).then_some(between)
    }
}

/// Fills short gaps straight from the interval before to the one after; says how many intervals.
fn fill(record: &mut StationRecord) -> usize {
    let longest = (FILLED_GAP_H / record.cadence_h).round() as usize;
    let values = &mut record.perturbation_nt;
    let (mut before, mut filled): (Option<usize>, usize) = (None, 0);
    for at in 0..values.len() {
        if !values[at].iter().all(|part| part.is_finite()) {
            continue;
        }
        if let Some(before) = before {
            let gap = at - before - 1;
            if (1..=longest).contains(&gap) {
                let (early, late) = (values[before], values[at]);
                for step in 1..=gap {
                    let share = step as f32 / (gap + 1) as f32;
                    values[before + step] =
                        [0, 1].map(|part| early[part] + share * (late[part] - early[part]));
                }
                filled += gap;
            }
        }
        before = Some(at);
    }
    filled
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use proptest::prelude::*;

    use super::*;

    fn record(perturbation_nt: Vec<[f32; 2]>) -> StationRecord {
        StationRecord {
            name: "invented".into(),
            place: position(-70.0, 140.0),
            start: "2001-01-01T00:00Z".parse().unwrap(),
            cadence_h: 1.0,
            perturbation_nt,
            remarks: Vec::new(),
        }
    }

    #[test]
    fn short_gaps_are_filled_and_long_ones_end_a_stretch() {
        let mut hours: Vec<[f32; 2]> = (0..48).map(|hour| [hour as f32, -(hour as f32)]).collect();
        for at in [0, 5, 6, 7, 20, 21, 22, 23] {
            hours[at] = [f32::NAN, 1.0];
        }
        let stretches = Stretches::of(record(hours));
        assert_eq!(stretches.filled(), 3);
        let at = |text: &str| stretches.at(text.parse().unwrap());
        assert_eq!(at("2001-01-01T06:30Z"), Some([6.0, -6.0]));
        assert_eq!(at("2001-01-01T08:45Z"), Some([8.25, -8.25]));
        assert_eq!(at("2001-01-01T00:30Z"), None);
        assert_eq!(at("2001-01-01T20:10Z"), None);
        assert_eq!(at("2000-12-31T20:10Z"), None);
        assert_eq!(at("2001-01-02T23:30Z"), Some([47.0, -47.0]));
        assert_eq!(at("2001-01-02T23:31Z"), None);
        let wanted = |begin: &str, length_h| Wanted {
            begin: begin.parse().unwrap(),
            length_h,
            later_h: 3.0,
            window_days: 1,
        };
        let begins: Vec<(String, f64)> = stretches
            .begins(wanted("2027-01-01T00:00Z", 0.0))
            .map(|(begin, hours)| (begin.to_string(), hours))
            .collect();
        let [first, second] = ["2001-01-01T03:30:00Z", "2001-01-02T03:30:00Z"];
        assert_eq!(begins, [(first.into(), 16.0), (second.into(), 20.0)]);
        assert_eq!(stretches.whole_begins(wanted("2027-01-01T00:00Z", 18.0)).count(), 1);
        assert_eq!(stretches.whole_begins(wanted("2027-03-01T00:00Z", 1.0)).count(), 0);
    }

    proptest! {
        #[test]
        fn what_is_called_whole_is(
            missing in proptest::collection::vec(0_usize..2000, 0..40),
            later_h in -12.0..12.0_f64,
            length_h in 0.0..300.0_f64,
            minute in 0_i64..1440,
        ) {
            let mut hours = vec![[1.0_f32, 2.0]; 2000];
            for at in missing {
                let to = (at + 5).min(2000);
                hours[at..to].fill([f32::NAN; 2]);
            }
            let stretches = Stretches::of(record(hours));
            let begin: Timestamp = "2028-02-29T00:00Z".parse().unwrap();
            let begin = begin.checked_add(minute.minutes()).unwrap();
            let wanted = Wanted { begin, length_h, later_h, window_days: 60 };
            for real in stretches.whole_begins(wanted) {
                let off = real.as_millisecond() - begin.as_millisecond();
                let off_h = (off as f64 / HOUR_MS - later_h).rem_euclid(24.0);
                prop_assert!(off_h.min(24.0 - off_h) <= 0.5 + 1e-6, "{off_h}");
                let steps = (length_h * 4.0) as i64;
                for quarter in 0..=steps {
                    let at = real.checked_add((15 * quarter).minutes()).unwrap();
                    prop_assert_eq!(stretches.at(at), Some([1.0, 2.0]));
                }
            }
        }
    }
}
