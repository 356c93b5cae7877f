use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Assumption, BuildContext, Clock, Error, Faults, Kp,
    Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ABOUT, HistorySpec};
use crate::KpHistory;

/// Activity as it was: the Kp observed in the very hours that are asked for. For a past season, and to
/// hold a response to recorded hours.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ObservedSpec {}

impl Spec for ObservedSpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "observed";
    const SUMMARY: &'static str = "the Kp that was observed in the very hours, for a past season";
    const EXAMPLE: &'static str = "{kind: observed}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        Ok(Box::new(self))
    }
}

impl Activity for ObservedSpec {
    fn provenance(&self) -> Provenance {
        Provenance { name: "Kp as observed".into(), ..HistorySpec::origin() }
    }

    /// The slots before the first and after the last hour may lie outside the history: the nearest
    /// observed value then stands there, which no hour asked for rests on by more than half.
    fn member(&self, request: &ActivityRequest, _: u32) -> Result<Vec<Kp>, Error> {
        let ActivityRequest { clock, slots, .. } = *request;
        let history = KpHistory::embedded();
        let seen: Vec<Option<Kp>> =
            (0..slots.count).map(|slot| history.at(clock.instant(slots.middle_h(slot)))).collect();
        let last = slots.count.saturating_sub(1);
        seen.iter()
            .enumerate()
            .map(|(slot, kp)| {
                let neighbour = match slot {
                    0 => seen.get(1),
                    slot if slot == last => seen.get(last.saturating_sub(1)),
                    _ => None,
                };
                kp.or(neighbour.copied().flatten()).ok_or_else(|| {
                    Error::Outside(format!(
                        "Kp was observed from 1957-10-01 to 2026-06-30, not at {}",
                        clock.instant(slots.middle_h(slot))
                    ))
                })
            })
            .collect()
    }

    fn days_known_until_h(&self, _: Clock) -> Option<f64> {
        Some(f64::INFINITY)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(
            ABOUT,
            "Kp is known as it was observed, which nobody knows beforehand",
        )]
    }
}

#[cfg(test)]
mod tests {
    use dipward_plugin::KpSlots;

    use super::*;

    #[test]
    fn slots_hold_what_was_observed() {
        let clock = Clock::new("2003-10-29T06:00Z".parse().unwrap());
        let slots = KpSlots::covering(clock, &[0.0, 5.0]).unwrap();
        let seen = ObservedSpec {}.member(&ActivityRequest { clock, slots, seed: 1 }, 0).unwrap();
        let day = KpHistory::embedded().on("2003-10-29".parse().unwrap()).unwrap();
        assert_eq!(seen, day[1..=4]);
        let clock = Clock::new("2026-06-30T21:00Z".parse().unwrap());
        let slots = KpSlots::covering(clock, &[0.0, 2.9]).unwrap();
        assert!(ObservedSpec {}.member(&ActivityRequest { clock, slots, seed: 1 }, 0).is_ok());
        let slots = KpSlots::covering(clock, &[0.0, 6.0]).unwrap();
        assert!(ObservedSpec {}.member(&ActivityRequest { clock, slots, seed: 1 }, 0).is_err());
    }
}
