use std::fmt;

use dipward_plugin::ICE_STAGES;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Stage of development of sea ice, as the POLARIS table divides it.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum StageOfDevelopment {
    /// New ice, under 10 cm.
    New,
    /// Grey ice, 10 to 15 cm.
    Grey,
    /// Grey-white ice, 15 to 30 cm.
    GreyWhite,
    /// Thin first-year ice, first stage, 30 to 50 cm.
    #[serde(rename = "thin_first_year_1")]
    ThinFirstYear1,
    /// Thin first-year ice, second stage, 50 to 70 cm.
    #[serde(rename = "thin_first_year_2")]
    ThinFirstYear2,
    /// Medium first-year ice under 1 m.
    #[serde(rename = "medium_first_year_under_1m")]
    MediumFirstYearUnder1m,
    /// Medium first-year ice, to 120 cm.
    MediumFirstYear,
    /// Thick first-year ice, over 120 cm.
    ThickFirstYear,
    /// Second-year ice.
    SecondYear,
    /// Light multi-year ice, under 2.5 m.
    LightMultiYear,
    /// Heavy multi-year ice.
    HeavyMultiYear,
}

impl fmt::Display for StageOfDevelopment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::New => "new ice",
            Self::Grey => "grey ice",
            Self::GreyWhite => "grey-white ice",
            Self::ThinFirstYear1 => "thin first-year ice, first stage,",
            Self::ThinFirstYear2 => "thin first-year ice, second stage,",
            Self::MediumFirstYearUnder1m | Self::MediumFirstYear => "medium first-year ice",
            Self::ThickFirstYear => "thick first-year ice",
            Self::SecondYear => "second-year ice",
            Self::LightMultiYear => "light multi-year ice",
            Self::HeavyMultiYear => "heavy multi-year ice",
        })
    }
}

impl StageOfDevelopment {
    /// Every stage, thinnest first: the order of
    /// [`Quantity::ICE_PARTIALS`](dipward_plugin::Quantity::ICE_PARTIALS).
    pub const ALL: [Self; 11] = [
        Self::New,
        Self::Grey,
        Self::GreyWhite,
        Self::ThinFirstYear1,
        Self::ThinFirstYear2,
        Self::MediumFirstYearUnder1m,
        Self::MediumFirstYear,
        Self::ThickFirstYear,
        Self::SecondYear,
        Self::LightMultiYear,
        Self::HeavyMultiYear,
    ];

    /// Where the stage stands in [`StageOfDevelopment::ALL`].
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The thickness to plan with where the stage alone is known, by [`ICE_STAGES`].
    #[must_use]
    pub fn thickness_m(self) -> f64 {
        // The table has a row for each stage.
        ICE_STAGES.get(self.index()).map_or(f64::NAN, |row| f64::from(row.thickness_m))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn indices_follow_the_order_of_the_table() {
        for (index, stage) in StageOfDevelopment::ALL.into_iter().enumerate() {
            assert_eq!(stage.index(), index);
        }
        let thicknesses = StageOfDevelopment::ALL.map(StageOfDevelopment::thickness_m);
        assert!(thicknesses.is_sorted() && thicknesses.iter().all(|own| own.is_finite()));
    }
}
