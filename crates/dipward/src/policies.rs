//! The built-in ways to behave on station.

use dipward_plugin::{
    Action, Assumption, BuildContext, Faults, Knowledge, OffsetKm, Policy, PolicyPoint, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Keeps to the mean pole.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldSpec {}

impl Spec for HoldSpec {
    type Point = PolicyPoint;
    const KIND: &'static str = "hold";
    const SUMMARY: &'static str = "keeps to the mean pole and lets the pole come";
    const EXAMPLE: &'static str = "{kind: hold}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Policy>, Faults> {
        Ok(Box::new(Hold))
    }
}

/// Keeps to the mean pole.
#[derive(Debug)]
pub(crate) struct Hold;

impl Policy for Hold {
    fn describe(&self) -> String {
        "keeps to the mean pole".to_owned()
    }

    fn act(&self, _: &Knowledge) -> Action {
        Action::MakeFor([0.0; 2])
    }
}

/// Waits where the pole is found most often.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmbushSpec {}

impl Spec for AmbushSpec {
    type Point = PolicyPoint;
    const KIND: &'static str = "ambush";
    const SUMMARY: &'static str = "waits where the ensemble has the pole most often";
    const EXAMPLE: &'static str = "{kind: ambush}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Policy>, Faults> {
        Ok(Box::new(Ambush))
    }
}

#[derive(Debug)]
struct Ambush;

impl Policy for Ambush {
    fn describe(&self) -> String {
        "waits where the pole is found most often".to_owned()
    }

    fn act(&self, known: &Knowledge) -> Action {
        Action::MakeFor(known.haunt_km)
    }
}

/// Lies in the drifting ice up its drift from the pole and lets it carry it across.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct DriftAcrossSpec {
    /// How far up the drift from the pole the craft goes when it has been carried past it, km.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub lead_km: f64,
}

impl Default for DriftAcrossSpec {
    fn default() -> Self {
        Self { lead_km: 10.0 }
    }
}

impl Spec for DriftAcrossSpec {
    type Point = PolicyPoint;
    const KIND: &'static str = "drift_across";
    const SUMMARY: &'static str =
        "lets the drifting ice carry it across the pole, and goes back up the drift";
    const EXAMPLE: &'static str = "{kind: drift_across, lead_km: 15}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Policy>, Faults> {
        Ok(Box::new(DriftAcross(self)))
    }
}

#[derive(Debug)]
struct DriftAcross(DriftAcrossSpec);

impl Policy for DriftAcross {
    fn describe(&self) -> String {
        format!(
            "drifts with the ice across the pole, and each time goes back to {} km up the drift from it",
            self.0.lead_km
        )
    }

    fn act(&self, known: &Knowledge) -> Action {
        let pole_km = known.reading_km.unwrap_or(known.haunt_km);
        let drift = known.drift_km.map(|[north, east]| (north, east, north.hypot(east)));
        let Some((north, east, length_km)) = drift.filter(|drift| drift.2 > 0.0) else {
            return Action::MakeFor(pole_km);
        };
        let (north, east) = (north / length_km, east / length_km);
        let [to_north, to_east] = [pole_km[0] - known.craft_km[0], pole_km[1] - known.craft_km[1]];
        let ahead_km = to_north * north + to_east * east;
        let aside_km = (to_north * east - to_east * north).abs();
        if ahead_km >= 0.0 && aside_km <= self.0.lead_km {
            return Action::Drift;
        }
        let lead_km = self.0.lead_km;
        Action::MakeFor([pole_km[0] - lead_km * north, pole_km[1] - lead_km * east])
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(
            "station.policy",
            "the ice about the mean pole drifts as one, as the chart has it at the mean pole; where none is known to \
             drift, the craft makes for the pole",
        )]
    }
}

/// Makes for the pole as its own readings have it while it is quiet, else waits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PursueSpec {
    /// The farthest from the mean pole that the craft lets itself be drawn, km.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub leash_km: f64,
    /// Kp from which on the craft waits for the storm to pass, 0 to 9.
    #[schemars(range(min = 0.0, max = 9.0))]
    pub break_off_kp: f64,
}

impl Default for PursueSpec {
    fn default() -> Self {
        Self { leash_km: 40.0, break_off_kp: 5.0 }
    }
}

impl Spec for PursueSpec {
    type Point = PolicyPoint;
    const KIND: &'static str = "pursue";
    const SUMMARY: &'static str =
        "makes for the pole that its own readings show, but not in a storm";
    const EXAMPLE: &'static str = "{kind: pursue, leash_km: 30, break_off_kp: 4}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Policy>, Faults> {
        Ok(Box::new(Pursue(self)))
    }
}

#[derive(Debug)]
struct Pursue(PursueSpec);

impl Policy for Pursue {
    fn describe(&self) -> String {
        format!(
            "pursues the pole by its own readings up to {} km from the mean pole and waits from Kp {} on",
            self.0.leash_km, self.0.break_off_kp
        )
    }

    fn act(&self, known: &Knowledge) -> Action {
        let stormy = known.kp_thirds.is_some_and(|kp| f64::from(kp) / 3.0 >= self.0.break_off_kp);
        match known.reading_km {
            Some(pole) if !stormy => Action::MakeFor(leashed(pole, self.0.leash_km)),
            _ => Action::MakeFor(known.haunt_km),
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(
            "station.policy",
            "within its reading range the party fixes the instantaneous pole once an hour, and the \
             fix is taken as exact",
        )]
    }
}

/// The offset, drawn in to a distance from the mean pole.
fn leashed([north, east]: OffsetKm, leash_km: f64) -> OffsetKm {
    let away = north.hypot(east);
    let factor = if away > leash_km { leash_km / away } else { 1.0 };
    [north * factor, east * factor]
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        Clock,
        conformance::{check_example, check_policy},
    };

    use super::*;

    fn known(reading_km: Option<OffsetKm>, kp_thirds: u8) -> Knowledge {
        Knowledge {
            hour: 10.0,
            since_arrival_h: 3.0,
            left_h: 40.0,
            craft_km: [0.0, 0.0],
            oval_km: [1.0, 0.0],
            haunt_km: [0.0, 2.0],
            reading_km,
            kp_thirds: Some(kp_thirds),
            reach_km: 6.0,
            drift_km: None,
        }
    }

    #[test]
    fn all_policies_keep_their_contract() {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
        for built in [
            check_example::<HoldSpec>(&context).unwrap(),
            check_example::<AmbushSpec>(&context).unwrap(),
            check_example::<DriftAcrossSpec>(&context).unwrap(),
            check_example::<PursueSpec>(&context).unwrap(),
        ] {
            check_policy(built.object.as_ref()).unwrap();
        }
    }

    #[test]
    fn who_drifts_lets_the_pole_come_and_goes_back_up_the_drift() {
        let drifter = DriftAcross(DriftAcrossSpec { lead_km: 10.0 });
        let at = |reading_km, drift_km| Knowledge { drift_km, ..known(Some(reading_km), 0) };
        let to_the_east = Some([0.0, 0.5]);
        assert_eq!(drifter.act(&at([0.0, 8.0], to_the_east)), Action::Drift);
        assert_eq!(drifter.act(&at([0.0, -1.0], to_the_east)), Action::MakeFor([0.0, -11.0]));
        // Too far aside for the ice to bring it there.
        assert_eq!(drifter.act(&at([12.0, 8.0], to_the_east)), Action::MakeFor([12.0, -2.0]));
        for still in [None, Some([0.0, 0.0])] {
            assert_eq!(drifter.act(&at([3.0, 4.0], still)), Action::MakeFor([3.0, 4.0]));
        }
    }

    #[test]
    fn pursuit_keeps_to_its_leash_and_waits_out_storms() {
        let pursue = Pursue(PursueSpec { leash_km: 10.0, break_off_kp: 5.0 });
        let far = pursue.act(&known(Some([30.0, 40.0]), 6));
        assert_eq!(far, Action::MakeFor([6.0, 8.0]));
        assert_eq!(pursue.act(&known(Some([3.0, 4.0]), 15)), Action::MakeFor([0.0, 2.0]));
        assert_eq!(pursue.act(&known(None, 0)), Action::MakeFor([0.0, 2.0]));
    }
}
