use dipward_plugin::{
    Assumption, BuildContext, Control, Disturbance, DisturbancePoint, DisturbanceRequest, Error,
    ExternalField, Faults, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// No disturbance at all: the pole stays where the main field has it. For comparisons and tests.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct QuietSpec {}

impl Spec for QuietSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "quiet";
    const SUMMARY: &'static str = "no disturbance at all, for comparison";
    const EXAMPLE: &'static str = "{kind: quiet}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        Ok(Box::new(Quiet))
    }
}

#[derive(Debug)]
struct Quiet;

impl Disturbance for Quiet {
    fn provenance(&self) -> Provenance {
        Provenance { name: "no disturbance".into(), source: "none".into(), licence: None }
    }

    fn member(
        &self,
        _: &DisturbanceRequest<'_>,
        _: u32,
        _: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        out.fill(ExternalField::default());
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let text = "no currents above the pole disturb the field, which is never so for long";
        vec![Assumption::new("pole.disturbance", text)]
    }
}
