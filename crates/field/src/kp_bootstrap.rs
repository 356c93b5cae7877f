//! Kp of a season to come, put together from stretches of the observed history.

use dipward_plugin::{Clock, KpSlots};
use jiff::{Timestamp, ToSpan, civil::Date, tz::Offset};
use rand::{Rng, RngExt};

use crate::{
    Kp, KpHistory,
    kp_history::SLOTS_A_DAY,
    solar_cycle::{phase_distance, solar_cycle_phase},
};

/// How far from the wanted phase of the solar cycle a stretch may lie, as a share of the cycle.
const PHASE_WINDOW: f64 = 0.125;

/// A block bootstrap of the history: whole stretches keep the autocorrelation from one slot to the
/// next and the return of the Sun's face after 27 days, and each stretch is taken from the same time
/// of year, so that the season stays too.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct KpBootstrap {
    /// Length of a stretch.
    pub(crate) block_days: u16,
    /// How far from the same day of another year a stretch may begin.
    pub(crate) season_window_days: u16,
    /// Whether a stretch must come from the same phase of the solar cycle.
    pub(crate) match_solar_cycle: bool,
}

impl KpBootstrap {
    /// Kp over `slots`.
    pub(crate) fn draw(&self, clock: Clock, slots: KpSlots, rng: &mut impl Rng) -> Vec<Kp> {
        let history = KpHistory::embedded();
        let start = clock.instant(slots.start_h);
        let mut day = utc_date(start);
        let first_slot = usize::from(Offset::UTC.to_datetime(start).hour().unsigned_abs()) / 3;
        let wanted = slots.count + first_slot;
        let block = usize::from(self.block_days.max(1));
        // The first stretch is cut at random, so that the joints fall anywhere.
        let mut length = rng.random_range(1..=block);
        let mut kp: Vec<Kp> = Vec::with_capacity(wanted + block * SLOTS_A_DAY);
        while kp.len() < wanted {
            let from = self.source(history, day, length, rng) * SLOTS_A_DAY;
            let stretch = history.values().get(from..from + length * SLOTS_A_DAY);
            kp.extend_from_slice(stretch.unwrap_or(history.values()));
            day = day.saturating_add((length as i64).days());
            length = block;
        }
        kp.drain(..first_slot);
        kp.truncate(slots.count);
        kp
    }

    /// The first day of a stretch of `length` days that may stand in for those from `day` on.
    fn source(&self, history: &KpHistory, day: Date, length: usize, rng: &mut impl Rng) -> usize {
        let last = history.days().saturating_sub(length) as i64;
        let window = i64::from(self.season_window_days);
        let phase = solar_cycle_phase(middle(day, length));
        let first_year = history.first_day().year();
        let years = first_year..=first_year + (history.days() / 365) as i16 + 1;
        let spans = |match_phase: bool| -> Vec<(i64, i64)> {
            years
                .clone()
                .filter_map(|year| {
                    let same_day = same_day_of(day, year)?;
                    let centre = history.first_day().until(same_day).ok()?.get_days();
                    let near = !match_phase
                        || phase_distance(solar_cycle_phase(middle(same_day, length)), phase)
                            <= PHASE_WINDOW;
                    let low = (i64::from(centre) - window).max(0);
                    let high = (i64::from(centre) + window).min(last);
                    (near && low <= high).then_some((low, high))
                })
                .collect()
        };
        let mut from = spans(self.match_solar_cycle);
        if from.is_empty() {
            from = spans(false);
        }
        let total: i64 = from.iter().map(|(low, high)| high - low + 1).sum();
        if total <= 0 {
            return 0;
        }
        let mut pick = rng.random_range(0..total);
        for (low, high) in from {
            let count = high - low + 1;
            if pick < count {
                return usize::try_from(low + pick).unwrap_or(0);
            }
            pick -= count;
        }
        0
    }
}

pub(crate) fn utc_date(instant: Timestamp) -> Date {
    Offset::UTC.to_datetime(instant).date()
}

fn middle(day: Date, length: usize) -> Date {
    day.saturating_add((length as i64 / 2).days())
}

/// The same day and month of another year, 28 February for the 29th.
pub(crate) fn same_day_of(day: Date, year: i16) -> Option<Date> {
    Date::new(year, day.month(), day.day()).or_else(|_| Date::new(year, day.month(), 28)).ok()
}
