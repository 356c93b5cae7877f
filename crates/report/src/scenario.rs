//! `scenario.resolved.yaml`.

use dipward_plugin::{BuildContext, Error, Faults, OutputFile, Report, Spec, Writer, WriterPoint};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Keys of the kind `resolved_scenario`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ResolvedScenarioSpec {}

/// Writes the scenario with every default written out, `scenario.resolved.yaml`.
#[derive(Debug, Clone, Copy, Default)]
pub struct ResolvedScenario;

impl Spec for ResolvedScenarioSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "resolved_scenario";
    const SUMMARY: &'static str =
        "the scenario with every default written out, scenario.resolved.yaml";
    const EXAMPLE: &'static str = "{kind: resolved_scenario}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(ResolvedScenario))
    }
}

impl Writer for ResolvedScenario {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let mut text = report.resolved_scenario.clone();
        if !text.ends_with('\n') {
            text.push('\n');
        }
        Ok(vec![OutputFile { name: "scenario.resolved.yaml".to_owned(), bytes: text.into_bytes() }])
    }
}
