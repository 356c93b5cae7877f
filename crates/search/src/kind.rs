//! The kind that a scenario writes for the search.

use dipward_plugin::{BuildContext, Faults, Search, SearchPoint, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{GridSearch, Headings};

/// The search over the chart's grid. Kind `grid`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GridSpec {
    /// Headings told apart on the grid: 8, 16 or 32.
    pub headings: Headings,
    /// Whether routes are taken off the grid afterwards, which never makes one worse.
    pub smoothing: bool,
}

impl Default for GridSpec {
    fn default() -> Self {
        let GridSearch { headings, smoothing } = GridSearch::default();
        Self { headings, smoothing }
    }
}

impl Spec for GridSpec {
    type Point = SearchPoint;
    const KIND: &'static str = "grid";
    const SUMMARY: &'static str =
        "time-dependent search over the grid, then taken off it, with bounds";
    const EXAMPLE: &'static str = "{kind: grid, headings: 32}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Search>, Faults> {
        Ok(Box::new(GridSearch { headings: self.headings, smoothing: self.smoothing }))
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{Clock, conformance::check_example};

    use super::*;

    #[test]
    fn the_example_builds() {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
        check_example::<GridSpec>(&context).unwrap();
    }
}
