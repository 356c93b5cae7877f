//! `closest_approach_cvar`: how far off the pole stays in the worst of the ensemble.

use dipward_plugin::{
    Approach, BuildContext, Criterion, CriterionPoint, Direction, Fault, Faults, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Figure;
use crate::tail::expected_shortfall;

/// Criterion `closest_approach_cvar`: the mean closest approach over the worst members.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ClosestApproachCvarSpec {
    /// The share of the members that does not count: 0.9 leaves the worst tenth, 0 is the mean of all.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub alpha: f64,
    /// An approach within this of the best of those left is kept in its group, km.
    #[schemars(range(min = 0.0))]
    pub indifference: f64,
    /// Worth of one km where the order is weighted.
    #[schemars(range(min = 0.0))]
    pub weight: f64,
}

impl Default for ClosestApproachCvarSpec {
    fn default() -> Self {
        Self { alpha: 0.9, indifference: 0.5, weight: 1.0 }
    }
}

impl Spec for ClosestApproachCvarSpec {
    type Point = CriterionPoint;
    const KIND: &'static str = "closest_approach_cvar";
    const SUMMARY: &'static str =
        "mean closest approach over the worst members (CVaR), by default the worst tenth, km";
    const EXAMPLE: &'static str = "{kind: closest_approach_cvar, alpha: 0.8}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Criterion>, Faults> {
        let alpha = self.alpha;
        if !alpha.is_finite() {
            return Err(Fault::at("/alpha", "a share must be finite").into());
        }
        let hundredths = format!("{:.3}", alpha * 100.0);
        let hundredths = hundredths.trim_end_matches('0').trim_end_matches('.').replace('.', "_");
        Figure {
            name: format!("closest_approach_cvar{hundredths}_km"),
            unit: "km",
            direction: Direction::Less,
            indifference: self.indifference,
            weight: self.weight,
            merit: move |approach: &Approach| worst_mean_km(approach, alpha),
        }
        .build()
    }
}

/// Of an approach without members, as read from a file, the farthest of all: no tail lies above it.
fn worst_mean_km(approach: &Approach, alpha: f64) -> f64 {
    let members = &approach.stay.members;
    let mut closest_km: Vec<f64> = members.iter().map(|member| member.closest_km).collect();
    closest_km.sort_by(f64::total_cmp);
    expected_shortfall(&closest_km, alpha).unwrap_or(approach.stay.closest_km.most)
}

#[cfg(test)]
mod tests {
    use dipward_plugin::{MemberOutcome, conformance::specimen};

    use super::{super::tests::context, *};

    /// Rockafellar and Uryasev (2000, 2002) for ten equally likely losses 1 to 10.
    #[test]
    fn published_values_through_the_criterion() {
        let mut approach = specimen::approach();
        approach.stay.members = [7, 3, 10, 1, 9, 4, 2, 8, 6, 5]
            .map(|km| MemberOutcome { closest_km: f64::from(km), attained_after_h: None })
            .to_vec();
        for (alpha, expected, name) in [
            (0.0, 5.5, "closest_approach_cvar0_km"),
            (0.5, 8.0, "closest_approach_cvar50_km"),
            (0.8, 9.5, "closest_approach_cvar80_km"),
            (0.85, 29.0 / 3.0, "closest_approach_cvar85_km"),
            (0.9, 10.0, "closest_approach_cvar90_km"),
            (0.975, 10.0, "closest_approach_cvar97_5_km"),
        ] {
            let spec = ClosestApproachCvarSpec { alpha, ..Default::default() };
            let criterion = spec.build(&context()).unwrap();
            assert!((criterion.merit(&approach) - expected).abs() < 1e-12, "{alpha}");
            assert_eq!(criterion.name(), name);
        }
    }
}
