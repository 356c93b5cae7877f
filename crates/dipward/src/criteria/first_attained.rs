//! `first_attained`: how soon the pole is attained.

use dipward_plugin::{Approach, BuildContext, Criterion, CriterionPoint, Direction, Faults, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Figure;

/// Criterion `first_attained`: mean days to the first attainment, for every leg from when the
/// ship's way out ends, at the pole or at a landing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct FirstAttainedSpec {
    /// The days that a member counts with that never attains; one that attains later counts with them
    /// too.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    pub never_d: f64,
    /// An approach within this of the best of those left is kept in its group, days.
    #[schemars(range(min = 0.0))]
    pub indifference: f64,
    /// Worth of one day where the order is weighted.
    #[schemars(range(min = 0.0))]
    pub weight: f64,
}

impl Default for FirstAttainedSpec {
    fn default() -> Self {
        Self { never_d: 30.0, indifference: 0.25, weight: 1.0 }
    }
}

impl Spec for FirstAttainedSpec {
    type Point = CriterionPoint;
    const KIND: &'static str = "first_attained";
    const SUMMARY: &'static str = "mean days from the end of the ship's way out, at the pole or at a landing, to the first attainment";
    const EXAMPLE: &'static str = "{kind: first_attained, never_d: 20}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Criterion>, Faults> {
        let never_d = self.never_d;
        Figure {
            name: "first_attained_d".to_owned(),
            unit: "d",
            direction: Direction::Less,
            indifference: self.indifference,
            weight: self.weight,
            merit: move |approach: &Approach| mean_days(approach, never_d),
        }
        .build()
    }
}

/// Of an approach without members, as read from a file, that of one that never attains.
fn mean_days(approach: &Approach, never_d: f64) -> f64 {
    let members = &approach.stay.members;
    let days = members
        .iter()
        .map(|member| member.attained_after_h.map_or(never_d, |hours| (hours / 24.0).min(never_d)));
    if members.is_empty() { never_d } else { days.sum::<f64>() / members.len() as f64 }
}

#[cfg(test)]
mod tests {
    use dipward_plugin::conformance::specimen;

    use super::*;

    #[test]
    fn members_that_never_attain_count_as_stated() {
        // Of the specimen's four members three attain, after 6, 3 and 18 hours.
        let merit = |never_d| mean_days(&specimen::approach(), never_d);
        assert_eq!(merit(10.0), (0.25 + 0.125 + 10.0 + 0.75) / 4.0);
        assert_eq!(merit(0.5), (0.25 + 0.125 + 0.5 + 0.5) / 4.0);
    }
}
