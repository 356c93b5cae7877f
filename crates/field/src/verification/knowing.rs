//! What the forecast is taken to know of geomagnetic activity.

use std::sync::Arc;

use dipward_plugin::{Activity, Disturbance, Error};
use serde::Serialize;

use crate::kinds::{HistorySpec, ObservedSpec};

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

/// A disturbance at the activity that is taken to be known; `None` for [`Knowing::Scenario`], where it
/// answers as it is.
///
/// # Errors
///
/// [`Error::Outside`] where the disturbance does not go by Kp, so that there is no activity to replace.
pub fn disturbance_knowing(
    knowing: Knowing,
    disturbance: &dyn Disturbance,
) -> Result<Option<Box<dyn Disturbance>>, Error> {
    let activity: Arc<dyn Activity> = match knowing {
        Knowing::Scenario => return Ok(None),
        Knowing::Kp => Arc::new(ObservedSpec {}),
        Knowing::Climate => Arc::new(HistorySpec::default()),
    };
    disturbance.with_activity(activity).map(Some).ok_or_else(|| {
        Error::Outside(format!(
            "the disturbance {} does not go by Kp, so that no other Kp can be put in its place; leave \
             --knowing out",
            disturbance.provenance().name
        ))
    })
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Hemisphere, position};
    use dipward_plugin::{Clock, Control, DisturbanceRequest, ExternalField};

    use super::*;
    use crate::kinds::house_disturbance;

    fn kp_told(start: &str, hours: &[f64]) -> Result<Vec<Option<u8>>, Error> {
        let house = house_disturbance().unwrap();
        let disturbance = disturbance_knowing(Knowing::Kp, &house).unwrap().unwrap();
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
