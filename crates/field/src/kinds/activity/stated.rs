use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Assumption, BuildContext, Clock, Error, Faults, Kp,
    Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ABOUT;

/// Activity of one stated Kp all the time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StatedSpec {
    /// Kp, 5- being 4.67; the nearest third counts.
    #[schemars(range(min = 0.0, max = 9.0))]
    pub kp: f64,
}

impl Spec for StatedSpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "stated";
    const SUMMARY: &'static str = "one Kp all the time, for comparison";
    const EXAMPLE: &'static str = "{kind: stated, kp: 2.33}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        Ok(Box::new(self))
    }
}

impl Activity for StatedSpec {
    fn provenance(&self) -> Provenance {
        Provenance {
            name: format!("Kp {} all the time", Kp::nearest(self.kp)),
            source: "the scenario".into(),
            licence: None,
        }
    }

    fn member(&self, request: &ActivityRequest, _: u32) -> Result<Vec<Kp>, Error> {
        Ok(vec![Kp::nearest(self.kp); request.slots.count])
    }

    fn days_known_until_h(&self, _: Clock) -> Option<f64> {
        Some(f64::INFINITY)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let text = format!("Kp is {} all the time", Kp::nearest(self.kp));
        vec![Assumption::new(ABOUT, text)]
    }
}
