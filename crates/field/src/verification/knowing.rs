//! What the forecast is taken to know of geomagnetic activity.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, Clock, Disturbance, DisturbanceRequest, Error, Provenance, Spec,
};
use jiff::Timestamp;
use serde::Serialize;

use crate::{
    Kp, KpHistory, PolarCapAmplitude,
    activity::{Activity, Slots},
    kinds::{ByKp, KpHistorySpec, KpSource},
};

/// What the forecast is taken to know of the Kp of the hours it is held against.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Knowing {
    /// What the scenario's disturbance knows.
    #[default]
    Scenario,
    /// The Kp that was observed.
    Kp,
    /// What past years held in the same season.
    Climate,
}

/// The disturbance of an amplitude for a Kp, with the activity that is taken to be known; `None` for
/// [`Knowing::Scenario`], where the scenario's own disturbance answers.
#[must_use]
pub fn disturbance_knowing(
    knowing: Knowing,
    amplitude: &PolarCapAmplitude,
) -> Option<Box<dyn Disturbance>> {
    match knowing {
        Knowing::Scenario => None,
        Knowing::Kp => Some(Box::new(ByKp(ObservedKp { amplitude: amplitude.clone() }))),
        Knowing::Climate => {
            let spec = KpHistorySpec { amplitude: amplitude.clone(), ..KpHistorySpec::default() };
            let context =
                BuildContext::new(".", Hemisphere::South, Clock::new(Timestamp::UNIX_EPOCH), 1.0);
            spec.build(&context).ok()
        }
    }
}

/// The Kp that was observed at the very hours.
#[derive(Debug)]
struct ObservedKp {
    amplitude: PolarCapAmplitude,
}

impl KpSource for ObservedKp {
    fn provenance(&self) -> Provenance {
        Provenance { name: "Kp as it was observed".into(), ..KpHistorySpec::origin() }
    }

    fn told(&self) -> String {
        "the Kp of the hours is known: what is wrong is the field for a Kp alone".into()
    }

    fn amplitude(&self) -> &PolarCapAmplitude {
        &self.amplitude
    }

    fn draw(
        &self,
        request: &DisturbanceRequest<'_>,
        slots: Slots,
        _: u32,
    ) -> Result<Activity, Error> {
        let history = KpHistory::embedded();
        let outside =
            || Error::Outside("Kp is known from 1957-10-01 to 2026-06-30, not at all hours".into());
        let at = |hour: f64| history.at(request.clock.instant(hour));
        for hour in [request.hours.first(), request.hours.last()].into_iter().flatten() {
            at(*hour).ok_or_else(outside)?;
        }
        // Only the slots beyond the first and the last hour can lie outside the history; the value next
        // to them goes on.
        let known: Vec<Option<Kp>> =
            (0..slots.count).map(|slot| at(slots.middle_h(slot))).collect();
        let first = known.iter().flatten().next().copied().unwrap_or_default();
        let mut before = first;
        let kp = known
            .into_iter()
            .map(|kp| {
                before = kp.unwrap_or(before);
                before
            })
            .collect();
        Ok(Activity { slots, kp })
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use dipward_plugin::{Control, ExternalField};

    use super::*;

    fn kp_told(start: &str, hours: &[f64]) -> Result<Vec<Option<u8>>, Error> {
        let disturbance = disturbance_knowing(Knowing::Kp, &PolarCapAmplitude::default()).unwrap();
        let mean_pole = vec![position(-66.0, 140.0); hours.len()];
        let request = DisturbanceRequest {
            clock: Clock::new(start.parse().unwrap()),
            hours,
            mean_pole: &mean_pole,
            hemisphere: Hemisphere::South,
            seed: 1,
        };
        let mut out = vec![ExternalField::default(); hours.len()];
        disturbance.member(&request, 0, &Control::default(), &mut out)?;
        Ok(out.iter().map(|field| field.kp_thirds).collect())
    }

    #[test]
    fn the_observed_kp_is_in_force_up_to_the_ends_of_the_history() {
        // The first and the last day: 13 12 9 ... and ... 14 14 10.
        let first = kp_told("1957-10-01T00:00Z", &[0.5, 3.5, 6.5]).unwrap();
        assert_eq!(first, [Some(13), Some(12), Some(9)]);
        let last = kp_told("2026-06-30T18:00Z", &[0.0, 5.9]).unwrap();
        assert_eq!(last, [Some(14), Some(10)]);
        assert!(kp_told("2026-06-30T18:00Z", &[0.0, 6.0]).is_err());
        assert!(kp_told("1957-09-30T18:00Z", &[0.0, 7.0]).is_err());
    }
}
