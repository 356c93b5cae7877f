//! The built-in figures of merit.

mod closest_approach_cvar;
mod daylight;
mod first_attained;

pub use closest_approach_cvar::ClosestApproachCvarSpec;
pub use daylight::DaylightSpec;
pub use first_attained::FirstAttainedSpec;

use std::fmt;

use dipward_plugin::{
    Approach, BuildContext, Criterion, CriterionPoint, Direction, Fault, Faults, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A figure of merit that is read off an approach.
struct Figure<M> {
    name: String,
    unit: &'static str,
    direction: Direction,
    indifference: f64,
    weight: f64,
    merit: M,
}

impl<M: Fn(&Approach) -> f64 + Send + Sync + 'static> Figure<M> {
    /// The figure as a criterion.
    ///
    /// # Errors
    ///
    /// A number that is none.
    fn build(self) -> Result<Box<dyn Criterion>, Faults> {
        if self.indifference.is_finite() && self.weight.is_finite() {
            Ok(Box::new(self))
        } else {
            Err(Fault::at("", "the numbers of a criterion must be finite").into())
        }
    }
}

impl<M> fmt::Debug for Figure<M> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Figure").field(&self.name).finish()
    }
}

impl<M: Fn(&Approach) -> f64 + Send + Sync> Criterion for Figure<M> {
    fn name(&self) -> String {
        self.name.clone()
    }

    fn unit(&self) -> String {
        self.unit.to_owned()
    }

    fn direction(&self) -> Direction {
        self.direction
    }

    fn merit(&self, approach: &Approach) -> f64 {
        (self.merit)(approach)
    }

    fn indifference(&self) -> f64 {
        self.indifference
    }

    fn weight(&self) -> f64 {
        self.weight
    }
}

macro_rules! figures {
    ($($spec:ident, $kind:literal, $summary:literal, $name:literal, $unit:literal,
        $direction:ident, $indifference:literal, $weight:literal, $merit:expr;)*) => {$(
        #[doc = concat!("Criterion `", $kind, "`: ", $summary, ".")]
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields, default)]
        pub struct $spec {
            /// An approach within this of the best of those left is kept in its group; in the criterion's
            /// unit.
            #[schemars(range(min = 0.0))]
            pub indifference: f64,
            /// Worth of one unit where the order is weighted; a negative worth is refused.
            #[schemars(range(min = 0.0))]
            pub weight: f64,
        }

        impl Default for $spec {
            fn default() -> Self {
                Self { indifference: $indifference, weight: $weight }
            }
        }

        impl Spec for $spec {
            type Point = CriterionPoint;
            const KIND: &'static str = $kind;
            const SUMMARY: &'static str = $summary;
            const EXAMPLE: &'static str = concat!("{kind: ", $kind, ", weight: 2.0}");

            fn build(self, _: &BuildContext) -> Result<Box<dyn Criterion>, Faults> {
                Figure {
                    name: $name.to_owned(),
                    unit: $unit,
                    direction: Direction::$direction,
                    indifference: self.indifference,
                    weight: self.weight,
                    merit: $merit,
                }
                .build()
            }
        }
    )*};
}

figures! {
    AttainmentSpec, "attainment",
        "chance that the pole comes within the stated distance while on station",
        "attainment", "1", Greater, 0.01, 100.0, |approach: &Approach| approach.attainment.probability;
    ClosestApproachSpec, "closest_approach",
        "median over the ensemble of the closest approach, km",
        "closest_approach_km", "km", Less, 0.5, 1.0,
        |approach: &Approach| approach.attainment.median_closest_km;
    ExpectedClosestApproachSpec, "expected_closest_approach",
        "mean over the ensemble of the closest approach, km",
        "expected_closest_approach_km", "km", Less, 0.5, 1.0,
        |approach: &Approach| approach.stay.closest_km.mean;
    ArrivalSpec, "arrival",
        "day of the arrival at the mean pole, counted from 2000-01-01; earlier is better",
        "arrival_day", "d", Less, 0.02, 1.0,
        |approach: &Approach| (approach.arrive.as_millisecond() - MILLENNIUM_MS) as f64 / 86_400_000.0;
    PassageSpec, "passage",
        "hours from port to the mean pole",
        "passage_h", "h", Less, 0.5, 0.1, |approach: &Approach| approach.duration_h;
    FuelMarginSpec, "fuel_margin",
        "fuel left on return beyond the reserve, t",
        "fuel_margin_t", "t", Greater, 1.0, 0.1, |approach: &Approach| approach.fuel_t.margin;
    FuelUsedSpec, "fuel_used",
        "fuel burnt out, on station and home, t; its weight is the price of a tonne",
        "fuel_used_t", "t", Less, 1.0, 0.1,
        |approach: &Approach| approach.fuel_t.out + approach.fuel_t.station + approach.fuel_t.home;
    HoursElevatedSpec, "hours_elevated",
        "hours of the whole voyage where operation is subject to elevated risk",
        "hours_elevated_h", "h", Less, 0.5, 0.5, |approach: &Approach| approach.risk.hours_elevated;
    MinimumRioSpec, "minimum_rio",
        "the lowest risk index met; a craft without one counts as ice-free water",
        "minimum_rio", "1", Greater, 0.5, 1.0, |approach: &Approach| approach.risk.minimum_rio.unwrap_or(30.0);
}

/// 2000-01-01T00:00Z in milliseconds of the Unix epoch.
const MILLENNIUM_MS: i64 = 946_684_800_000;

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        Clock,
        conformance::{check_criterion, check_example},
    };

    use super::*;

    pub(super) fn context() -> BuildContext {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        BuildContext::new(".", Hemisphere::South, clock, 240.0)
    }

    #[test]
    fn all_criteria_keep_their_contract() {
        let context = context();
        for built in [
            check_example::<AttainmentSpec>(&context).unwrap(),
            check_example::<ClosestApproachSpec>(&context).unwrap(),
            check_example::<ArrivalSpec>(&context).unwrap(),
            check_example::<PassageSpec>(&context).unwrap(),
            check_example::<FuelMarginSpec>(&context).unwrap(),
            check_example::<FuelUsedSpec>(&context).unwrap(),
            check_example::<HoursElevatedSpec>(&context).unwrap(),
            check_example::<MinimumRioSpec>(&context).unwrap(),
            check_example::<ExpectedClosestApproachSpec>(&context).unwrap(),
            check_example::<ClosestApproachCvarSpec>(&context).unwrap(),
            check_example::<DaylightSpec>(&context).unwrap(),
            check_example::<FirstAttainedSpec>(&context).unwrap(),
        ] {
            check_criterion(built.object.as_ref()).unwrap();
        }
    }
}
