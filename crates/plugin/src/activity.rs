use std::{fmt::Debug, sync::Arc};

use crate::{Alternative, Assumption, Clock, Error, Kp, Provenance};

/// Hours that a value of Kp stands for.
pub const KP_SLOT_H: f64 = 3.0;
/// Longer spans are refused rather than filled with millions of values.
const LONGEST_H: f64 = 50.0 * 8766.0;

/// The three-hour slots of universal time that cover a span of hours, with one more at either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KpSlots {
    /// The hour at which the first slot begins.
    pub start_h: f64,
    /// How many there are.
    pub count: usize,
}

impl KpSlots {
    /// The slots that cover some hours.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for hours that are not finite, do not increase, or span more than 50 years.
    pub fn covering(clock: Clock, hours: &[f64]) -> Result<Self, Error> {
        let (Some(&first), Some(&last)) = (hours.first(), hours.last()) else {
            return Ok(Self { start_h: 0.0, count: 0 });
        };
        let span = last - first;
        if !(0.0..=LONGEST_H).contains(&span) || !first.is_finite() {
            return Err(Error::Outside(format!(
                "geomagnetic activity is given for at most 50 years, not from hour {first} to {last}"
            )));
        }
        let into_slot = clock.instant(first).as_millisecond().rem_euclid(3 * 3_600_000);
        let start_h = first - into_slot as f64 / 3_600_000.0 - KP_SLOT_H;
        Ok(Self { start_h, count: ((last - start_h) / KP_SLOT_H) as usize + 2 })
    }

    /// The hour at the middle of a slot.
    #[must_use]
    pub fn middle_h(&self, slot: usize) -> f64 {
        self.start_h + KP_SLOT_H * (slot as f64 + 0.5)
    }
}

/// Kp over slots.
#[derive(Debug, Clone, PartialEq)]
pub struct KpSeries {
    /// The slots.
    pub slots: KpSlots,
    /// A value for each of them.
    pub values: Vec<Kp>,
}

impl KpSeries {
    /// Kp in force at an hour.
    #[must_use]
    pub fn kp(&self, hour: f64) -> Kp {
        self.value_of((hour - self.slots.start_h) / KP_SLOT_H)
    }

    /// Kp as a number at an hour, straight from the middle of one slot to the middle of the next, so
    /// that nothing jumps between slots.
    #[must_use]
    pub fn smooth(&self, hour: f64) -> f64 {
        let place = (hour - self.slots.start_h) / KP_SLOT_H - 0.5;
        let share = place - place.floor();
        (1.0 - share) * self.value_of(place).value() + share * self.value_of(place + 1.0).value()
    }

    fn value_of(&self, slot: f64) -> Kp {
        debug_assert_eq!(self.values.len(), self.slots.count, "a value for each slot");
        // A cast of what is negative or no number is 0.
        let last = self.values.len().saturating_sub(1);
        self.values.get((slot as usize).min(last)).copied().unwrap_or_default()
    }
}

/// What an ensemble member of the activity is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActivityRequest {
    /// The scenario's clock.
    pub clock: Clock,
    /// The slots to answer for.
    pub slots: KpSlots,
    /// The scenario's seed. A member draws from a stream of this seed and its own number, so that
    /// members can be made in any order and on any thread.
    pub seed: u64,
}

/// Answers how active the magnetosphere is, as the Kp index, per ensemble member.
///
/// YAML slot `pole.disturbance.activity`.
pub trait Activity: Debug + Send + Sync {
    /// Name and source.
    fn provenance(&self) -> Provenance;

    /// One member's Kp, a value for each slot of the request.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] where the source does not cover the slots.
    fn member(&self, request: &ActivityRequest, member: u32) -> Result<Vec<Kp>, Error>;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption>;

    /// Other activities that might as well be believed.
    fn alternatives(&self) -> Vec<Alternative<Arc<dyn Activity>>> {
        Vec::new()
    }

    /// The hour up to which something is known of single days beyond their season; `None` where nothing
    /// is, and infinite where all of them are stated.
    fn days_known_until_h(&self, _clock: Clock) -> Option<f64> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slots_begin_at_whole_thirds_of_a_quarter_day() {
        let clock = Clock::new("2027-01-15T05:30Z".parse().unwrap());
        let slots = KpSlots::covering(clock, &[0.0, 1.0, 10.0]).unwrap();
        // 00 UT to 18 UT: the slots of the first and last hour are 03-06 and 15-18.
        assert_eq!(slots, KpSlots { start_h: -5.5, count: 7 });
        let values = (0..7).map(|slot| Kp::from_thirds(3 * slot).unwrap()).collect();
        let series = KpSeries { slots, values };
        assert_eq!(series.kp(0.0).value(), 1.0);
        assert_eq!(series.kp(0.5).value(), 2.0);
        assert_eq!(series.kp(10.0).value(), 5.0);
        // From 04:30 to 07:30 UT, where the values are 1 and 2; 06:30 UT is two thirds of the way.
        assert!((series.smooth(1.0) - (1.0 + 2.0 / 3.0)).abs() < 1e-12);
        assert!(KpSlots::covering(clock, &[0.0, 1e9]).is_err());
        assert!(KpSlots::covering(clock, &[f64::NAN]).is_err());
    }
}
