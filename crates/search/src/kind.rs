//! The kind that a scenario writes for the search.

use dipward_plugin::{BuildContext, Faults, Search, SearchPoint, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{alternatives::Distinct, grid_search::GridSearch, stencil::Headings};

/// The search over the chart's grid. Kind `grid`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GridSpec {
    /// How many headings the grid tells apart before routes are taken off it.
    pub headings: Headings,
    /// Whether routes are taken off the grid afterwards, which never makes one worse.
    pub smoothing: bool,
    /// What makes routes distinct.
    pub alternatives: AlternativesSpec,
}

impl Default for GridSpec {
    fn default() -> Self {
        Self {
            headings: Headings::default(),
            smoothing: true,
            alternatives: AlternativesSpec::default(),
        }
    }
}

/// What makes routes distinct, after I. Abraham, D. Delling, A. V. Goldberg and R. F. Werneck,
/// Alternative routes in road networks, ACM Journal of Experimental Algorithmics 18 (2013).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AlternativesSpec {
    /// Greatest share of a route's length that lies along better routes.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub sharing: f64,
    /// Greatest cost over that of the best route, as a share of it.
    #[schemars(range(min = 0.0, max = 10.0))]
    pub stretch: f64,
    /// Every part of a route as long as this share of it must be the best way between its ends.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub local: f64,
    /// How near routes run that count as running along each other, as a share of the best route's
    /// length.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub apart: f64,
}

impl Default for AlternativesSpec {
    fn default() -> Self {
        Self { sharing: 0.8, stretch: 0.25, local: 0.25, apart: 0.02 }
    }
}

impl Spec for GridSpec {
    type Point = SearchPoint;
    const KIND: &'static str = "grid";
    const SUMMARY: &'static str =
        "earliest or cheapest routes over the grid through time, smoothed off it, with bounds";
    const EXAMPLE: &'static str = "kind: grid
headings: 32
smoothing: true
alternatives: { sharing: 0.8, stretch: 0.25, local: 0.25, apart: 0.02 }
";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Search>, Faults> {
        let AlternativesSpec { sharing, stretch, local, apart } = self.alternatives;
        Ok(Box::new(GridSearch {
            headings: self.headings,
            smoothing: self.smoothing,
            distinct: Distinct { sharing, stretch, local, apart },
        }))
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        Clock,
        conformance::{check_example, check_search},
    };

    use super::*;

    #[test]
    fn the_kind_keeps_its_contract() {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
        let built = check_example::<GridSpec>(&context).unwrap();
        check_search(built.object.as_ref()).unwrap();
        for (headings, smoothing) in [(Headings::Sixteen, false), (Headings::Sixteen, true)] {
            let spec = GridSpec { headings, smoothing, ..GridSpec::default() };
            check_search(spec.build(&context).unwrap().as_ref()).unwrap();
        }
    }
}
