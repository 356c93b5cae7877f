use dipward_plugin::{
    Assumption, BuildContext, Control, DisturbanceRequest, Error, ExternalField, Faults, KpSeries,
    Provenance, Response, ResponsePoint, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// No response at all: whatever Kp is, the pole stays where the main field has it. For comparisons and
/// tests.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NoResponseSpec {}

impl Spec for NoResponseSpec {
    type Point = ResponsePoint;
    const KIND: &'static str = "none";
    const SUMMARY: &'static str = "no disturbance at all, for comparison";
    const EXAMPLE: &'static str = "{kind: none}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Response>, Faults> {
        Ok(Box::new(self))
    }
}

impl Response for NoResponseSpec {
    fn provenance(&self) -> Provenance {
        Provenance { name: "no disturbance".into(), source: "none".into(), licence: None }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        kp: &KpSeries,
        _: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        for (&hour, out) in request.hours.iter().zip(out) {
            let kp_thirds = Some(kp.kp(hour).thirds());
            *out = ExternalField { north_nt: 0.0, east_nt: 0.0, kp_thirds };
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let text = "no currents above the pole disturb the field, which is never so for long";
        vec![Assumption::new("pole.disturbance.response", text)]
    }
}
