use dipward_plugin::{BuildContext, Fault, Faults, MainField, MainFieldPoint, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::wmm2025;

/// WMM2025, 2025 to 2030, degree 12.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Wmm2025Spec {
    /// Whether to carry the model in straight lines up to 25 years beyond 2025 and 2030.
    pub extrapolate: bool,
}

impl Spec for Wmm2025Spec {
    type Point = MainFieldPoint;
    const KIND: &'static str = "wmm2025";
    const SUMMARY: &'static str = "World Magnetic Model 2025, 2025 to 2030, degree 12";
    const EXAMPLE: &'static str = "{kind: wmm2025}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn MainField>, Faults> {
        let model = wmm2025().map_err(|error| Fault::at("", error.to_string()))?;
        Ok(Box::new(if self.extrapolate { model.extrapolated() } else { model }))
    }
}
