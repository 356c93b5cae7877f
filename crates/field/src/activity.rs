//! Geomagnetic activity over the hours of a voyage.

use dipward_plugin::{Clock, Error};

use crate::Kp;

/// Hours that a value of Kp stands for.
pub(crate) const SLOT_H: f64 = 3.0;
/// Longer spans are refused rather than filled with millions of values.
const LONGEST_H: f64 = 50.0 * 8766.0;

/// The three-hour slots of universal time that cover a span of hours, with one more at either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Slots {
    /// The hour at which the first slot begins.
    pub(crate) start_h: f64,
    pub(crate) count: usize,
}

impl Slots {
    pub(crate) fn covering(clock: Clock, hours: &[f64]) -> Result<Self, Error> {
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
        let start_h = first - into_slot as f64 / 3_600_000.0 - SLOT_H;
        Ok(Self { start_h, count: ((last - start_h) / SLOT_H) as usize + 2 })
    }

    /// The hour at the middle of a slot.
    pub(crate) fn middle_h(&self, slot: usize) -> f64 {
        self.start_h + SLOT_H * (slot as f64 + 0.5)
    }
}

/// Kp over slots.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Activity {
    pub(crate) slots: Slots,
    pub(crate) kp: Vec<Kp>,
}

impl Activity {
    /// Kp in force at an hour.
    pub(crate) fn kp(&self, hour: f64) -> Kp {
        self.value_of((hour - self.slots.start_h) / SLOT_H)
    }

    /// The amplitude ap at an hour, straight from the middle of one slot to the middle of the next,
    /// so that nothing jumps between slots.
    pub(crate) fn ap(&self, hour: f64) -> f64 {
        let place = (hour - self.slots.start_h) / SLOT_H - 0.5;
        let share = place - place.floor();
        (1.0 - share) * self.value_of(place).ap() + share * self.value_of(place + 1.0).ap()
    }

    fn value_of(&self, slot: f64) -> Kp {
        // A cast of what is negative or no number is 0.
        let last = self.kp.len().saturating_sub(1);
        self.kp.get((slot as usize).min(last)).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slots_begin_at_whole_thirds_of_a_quarter_day() {
        let clock = Clock::new("2027-01-15T05:30Z".parse().unwrap());
        let slots = Slots::covering(clock, &[0.0, 1.0, 10.0]).unwrap();
        // 00 UT to 18 UT: the slots of the first and last hour are 03-06 and 15-18.
        assert_eq!(slots, Slots { start_h: -5.5, count: 7 });
        let kp = (0..7).map(|slot| Kp::from_thirds(3 * slot).unwrap()).collect();
        let activity = Activity { slots, kp };
        assert_eq!(activity.kp(0.0).value(), 1.0);
        assert_eq!(activity.kp(0.5).value(), 2.0);
        assert_eq!(activity.kp(10.0).value(), 5.0);
        // Half-way from 05:30 to 07:30 UT: the mean of ap at 04:30 and 07:30 weighted 1 to 2.
        assert!((activity.ap(1.0) - (4.0 + 2.0 * 7.0) / 3.0).abs() < 1e-12);
        assert!(Slots::covering(clock, &[0.0, 1e9]).is_err());
        assert!(Slots::covering(clock, &[f64::NAN]).is_err());
    }
}
