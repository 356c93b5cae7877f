//! Stage of development: the columns SA, SB, SC, CN and CD.

use std::fmt;

use dipward_plugin::ICE_STAGES;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How old and how thick ice is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Stage {
    /// New ice, under 10 cm: 81.
    New,
    /// Nilas and ice rind, under 10 cm: 82.
    Nilas,
    /// Young ice, 10 to 30 cm: 83.
    Young,
    /// Grey ice, 10 to 15 cm: 84.
    Grey,
    /// Grey-white ice, 15 to 30 cm: 85.
    GreyWhite,
    /// First-year ice, 30 to 200 cm: 86.
    FirstYear,
    /// Thin first-year ice, 30 to 70 cm: 87.
    ThinFirstYear,
    /// Thin first-year ice of the first stage, 30 to 50 cm: 88.
    ThinFirstYear1,
    /// Thin first-year ice of the second stage, 50 to 70 cm: 89.
    ThinFirstYear2,
    /// Medium first-year ice, 70 to 120 cm: 91.
    MediumFirstYear,
    /// Thick first-year ice, over 120 cm: 93.
    ThickFirstYear,
    /// Residual ice, first-year ice that outlasted the summer: 94.
    Residual,
    /// Old ice: 95.
    Old,
    /// Second-year ice: 96.
    SecondYear,
    /// Multi-year ice: 97.
    MultiYear,
    /// Glacier ice: 98. As a stage 98 is ice from land; as a concentration it is no ice.
    Glacier,
    /// Brash: 70.
    Brash,
    /// Ice of no stage of development: 80.
    NoStage,
    /// Undetermined or unknown: 99.
    Unknown,
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::New => "new ice",
            Self::Nilas => "nilas",
            Self::Young => "young ice",
            Self::Grey => "grey ice",
            Self::GreyWhite => "grey-white ice",
            Self::FirstYear => "first-year ice",
            Self::ThinFirstYear => "thin first-year ice",
            Self::ThinFirstYear1 => "thin first-year ice, first stage",
            Self::ThinFirstYear2 => "thin first-year ice, second stage",
            Self::MediumFirstYear => "medium first-year ice",
            Self::ThickFirstYear => "thick first-year ice",
            Self::Residual => "residual ice",
            Self::Old => "old ice",
            Self::SecondYear => "second-year ice",
            Self::MultiYear => "multi-year ice",
            Self::Glacier => "glacier ice",
            Self::Brash => "brash",
            Self::NoStage => "ice of no stage",
            Self::Unknown => "ice of unknown stage",
        })
    }
}

impl Stage {
    /// Every stage that says how thick ice is.
    pub const KNOWN: [Self; 17] = [
        Self::New,
        Self::Nilas,
        Self::Young,
        Self::Grey,
        Self::GreyWhite,
        Self::FirstYear,
        Self::ThinFirstYear,
        Self::ThinFirstYear1,
        Self::ThinFirstYear2,
        Self::MediumFirstYear,
        Self::ThickFirstYear,
        Self::Residual,
        Self::Old,
        Self::SecondYear,
        Self::MultiYear,
        Self::Glacier,
        Self::Brash,
    ];

    /// The stage of a code, or nothing for a code that the format has not.
    #[must_use]
    pub fn of_code(code: u8) -> Option<Self> {
        Some(match code {
            70 => Self::Brash,
            80 => Self::NoStage,
            81 => Self::New,
            82 => Self::Nilas,
            83 => Self::Young,
            84 => Self::Grey,
            85 => Self::GreyWhite,
            86 => Self::FirstYear,
            87 => Self::ThinFirstYear,
            88 => Self::ThinFirstYear1,
            89 => Self::ThinFirstYear2,
            91 => Self::MediumFirstYear,
            93 => Self::ThickFirstYear,
            94 => Self::Residual,
            95 => Self::Old,
            96 => Self::SecondYear,
            97 => Self::MultiYear,
            98 => Self::Glacier,
            99 => Self::Unknown,
            _ => return None,
        })
    }

    /// A thickness to plan with, in metres, by [`ICE_STAGES`]: the middle of the stage's range, and for
    /// old ice, residual ice (1.8 m), brash (1.2 m) and glacier ice (5 m) a cautious figure that nobody
    /// measured. Nothing for a stage that says nothing.
    #[must_use]
    pub fn thickness_m(self) -> Option<f32> {
        let [from, to] = match self {
            Self::New | Self::Nilas => [0, 0],
            Self::Grey => [1, 1],
            Self::Young => [1, 2],
            Self::GreyWhite => [2, 2],
            Self::ThinFirstYear1 => [3, 3],
            Self::ThinFirstYear => [3, 4],
            Self::ThinFirstYear2 => [4, 4],
            Self::MediumFirstYear => [5, 6],
            Self::FirstYear => [3, 7],
            Self::ThickFirstYear => [7, 7],
            Self::SecondYear => [8, 8],
            Self::Old | Self::MultiYear => [10, 10],
            Self::Brash => return Some(1.2),
            Self::Residual => return Some(1.8),
            Self::Glacier => return Some(5.0),
            Self::NoStage | Self::Unknown => return None,
        };
        let (thinnest, thickest) = (ICE_STAGES.get(from)?, ICE_STAGES.get(to)?);
        Some(if from == to {
            thinnest.thickness_m
        } else {
            // To the nearest millimetre, past the rounding of the edges.
            (500.0 * (thinnest.from_m + thickest.to_m)).round() / 1000.0
        })
    }

    /// The place in [`Quantity::ICE_PARTIALS`](dipward_plugin::Quantity::ICE_PARTIALS) that ice of
    /// this stage counts in. Nothing for a stage that says nothing.
    ///
    /// A stage that spans several columns counts in the heaviest: first-year ice as thick first-year,
    /// old and multi-year ice as heavy multi-year, medium first-year ice as the heavier of its two,
    /// residual ice as second-year. Glacier ice, of which POLARIS says only "avoid", counts as heavy
    /// multi-year, and brash as thick first-year.
    ///
    /// # Arguments
    ///
    /// `thickness_m` is the thickness if the user states one: it tells the two columns of medium
    /// first-year ice (1 m) and of multi-year ice (2.5 m) apart, and places ice that is first-year,
    /// thin first-year or young and no more.
    #[must_use]
    pub fn column(self, thickness_m: Option<f32>) -> Option<usize> {
        const NEW: usize = 0;
        const GREY: usize = 1;
        const GREY_WHITE: usize = 2;
        const THIN_1: usize = 3;
        const THIN_2: usize = 4;
        const MEDIUM_UNDER_1M: usize = 5;
        const MEDIUM: usize = 6;
        const THICK: usize = 7;
        const SECOND_YEAR: usize = 8;
        const LIGHT_MULTI_YEAR: usize = 9;
        const HEAVY_MULTI_YEAR: usize = 10;

        let thickness = thickness_m.unwrap_or(f32::INFINITY);
        Some(match self {
            Self::New | Self::Nilas => NEW,
            Self::Grey => GREY,
            Self::Young if thickness < 0.15 => GREY,
            Self::Young | Self::GreyWhite => GREY_WHITE,
            Self::ThinFirstYear1 => THIN_1,
            Self::ThinFirstYear if thickness < 0.5 => THIN_1,
            Self::ThinFirstYear | Self::ThinFirstYear2 => THIN_2,
            Self::FirstYear if thickness < 0.5 => THIN_1,
            Self::FirstYear if thickness < 0.7 => THIN_2,
            Self::FirstYear | Self::MediumFirstYear if thickness < 1.0 => MEDIUM_UNDER_1M,
            Self::FirstYear if thickness < 1.2 => MEDIUM,
            Self::MediumFirstYear => MEDIUM,
            Self::FirstYear | Self::ThickFirstYear | Self::Brash => THICK,
            Self::SecondYear | Self::Residual => SECOND_YEAR,
            Self::Old | Self::MultiYear if thickness < 2.5 => LIGHT_MULTI_YEAR,
            Self::Old | Self::MultiYear | Self::Glacier => HEAVY_MULTI_YEAR,
            Self::NoStage | Self::Unknown => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use dipward_plugin::Quantity;

    use super::*;

    #[test]
    fn published_stage_codes() {
        // JCOMM TR-23, table of stages of development.
        for (code, stage) in [
            (70, Stage::Brash),
            (80, Stage::NoStage),
            (81, Stage::New),
            (82, Stage::Nilas),
            (83, Stage::Young),
            (84, Stage::Grey),
            (85, Stage::GreyWhite),
            (86, Stage::FirstYear),
            (87, Stage::ThinFirstYear),
            (88, Stage::ThinFirstYear1),
            (89, Stage::ThinFirstYear2),
            (91, Stage::MediumFirstYear),
            (93, Stage::ThickFirstYear),
            (94, Stage::Residual),
            (95, Stage::Old),
            (96, Stage::SecondYear),
            (97, Stage::MultiYear),
            (98, Stage::Glacier),
            (99, Stage::Unknown),
        ] {
            assert_eq!(Stage::of_code(code), Some(stage));
        }
        for code in [0, 1, 69, 71, 90, 92, 100] {
            assert_eq!(Stage::of_code(code), None, "{code}");
        }
    }

    /// The figures that the charts had before the table was shared.
    #[test]
    fn one_table_of_thickness_serves_chart_and_craft() {
        for (stage, thickness_m) in [
            (Stage::New, 0.05),
            (Stage::Grey, 0.125),
            (Stage::Young, 0.2),
            (Stage::GreyWhite, 0.225),
            (Stage::ThinFirstYear1, 0.4),
            (Stage::ThinFirstYear, 0.5),
            (Stage::ThinFirstYear2, 0.6),
            (Stage::MediumFirstYear, 0.95),
            (Stage::FirstYear, 1.15),
            (Stage::ThickFirstYear, 1.6),
            (Stage::SecondYear, 2.0),
            (Stage::MultiYear, 3.0),
        ] {
            assert_eq!(stage.thickness_m(), Some(thickness_m), "{stage}");
        }
    }

    #[test]
    fn every_known_stage_has_a_thickness_and_a_column() {
        for stage in Stage::KNOWN {
            let thickness = stage.thickness_m().unwrap();
            let cautious = stage.column(None).unwrap();
            let placed = stage.column(Some(thickness)).unwrap();
            // To state a thickness never makes ice heavier than not to.
            assert!(placed <= cautious && cautious < Quantity::ICE_PARTIALS.len(), "{stage:?}");
        }
        assert_eq!(Stage::Unknown.column(Some(1.0)), None);
        assert_eq!(Stage::NoStage.thickness_m(), None);
        assert_eq!(Stage::MediumFirstYear.column(Some(0.8)), Some(5));
        assert_eq!(Stage::MediumFirstYear.column(None), Some(6));
        assert_eq!(Stage::MultiYear.column(Some(2.0)), Some(9));
        assert_eq!(Stage::FirstYear.column(Some(0.6)), Some(4));
    }
}
