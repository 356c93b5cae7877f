use dipward_plugin::{BuildContext, Fault, Faults, MainField, MainFieldPoint, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::igrf14;

/// IGRF-14, 1900 to 2030, degree 13.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Igrf14Spec {
    /// Whether to carry the model in straight lines up to 25 years beyond 1900 and 2030.
    pub extrapolate: bool,
}

impl Spec for Igrf14Spec {
    type Point = MainFieldPoint;
    const KIND: &'static str = "igrf14";
    const SUMMARY: &'static str =
        "International Geomagnetic Reference Field, 14th generation, 1900 to 2030, degree 13";
    const EXAMPLE: &'static str = "{kind: igrf14}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn MainField>, Faults> {
        let model = igrf14().map_err(|error| Fault::at("", error.to_string()))?;
        Ok(Box::new(if self.extrapolate { model.extrapolated() } else { model }))
    }
}
