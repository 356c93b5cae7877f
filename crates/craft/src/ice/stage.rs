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

    /// The stage of ice whose thickness alone is known; `None` for less than half a centimetre and
    /// for what is not a number.
    ///
    /// Thickness does not tell old ice from first-year ice. The edges are those of MPAS-Analysis
    /// (`climatology_map_risk_index_outcome.py`), a choice of that code and not of the circular.
    #[must_use]
    pub fn of_thickness(thickness_m: f64) -> Option<Self> {
        const UPPER_EDGES_M: [f64; 10] =
            [0.10, 0.15, 0.30, 0.50, 0.70, 1.00, 1.20, 1.70, 2.00, 2.50];
        if thickness_m.is_nan() || thickness_m < 0.005 {
            return None;
        }
        let index = UPPER_EDGES_M.iter().take_while(|&&edge| thickness_m >= edge).count();
        Self::ALL.get(index).copied()
    }

    /// The thickness to reckon with where the stage alone is known: the upper edge of the stage in
    /// the WMO nomenclature, and for the open-ended stages a stated figure (thick first-year and
    /// second-year 2.0 m and 2.5 m, heavy multi-year 4 m).
    #[must_use]
    pub const fn cautious_thickness_m(self) -> f64 {
        match self {
            Self::New => 0.10,
            Self::Grey => 0.15,
            Self::GreyWhite => 0.30,
            Self::ThinFirstYear1 => 0.50,
            Self::ThinFirstYear2 => 0.70,
            Self::MediumFirstYearUnder1m => 1.00,
            Self::MediumFirstYear => 1.20,
            Self::ThickFirstYear => 2.00,
            Self::SecondYear | Self::LightMultiYear => 2.50,
            Self::HeavyMultiYear => 4.00,
        }
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
        let thicknesses = StageOfDevelopment::ALL.map(StageOfDevelopment::cautious_thickness_m);
        assert!(thicknesses.is_sorted());
    }

    #[test]
    fn thickness_tells_the_stage() {
        use StageOfDevelopment as S;
        for (thickness_m, stage) in [
            (0.0, None),
            (f64::NAN, None),
            (-1.0, None),
            (0.05, Some(S::New)),
            (0.10, Some(S::Grey)),
            (0.49, Some(S::ThinFirstYear1)),
            (0.99, Some(S::MediumFirstYearUnder1m)),
            (1.0, Some(S::MediumFirstYear)),
            (1.3, Some(S::ThickFirstYear)),
            (2.5, Some(S::HeavyMultiYear)),
            (f64::INFINITY, Some(S::HeavyMultiYear)),
        ] {
            assert_eq!(S::of_thickness(thickness_m), stage, "{thickness_m} m");
        }
    }
}
