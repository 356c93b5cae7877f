//! How old ice may be: knowledge of its own, which thickness does not replace.

use std::fmt;

use dipward_plugin::ICE_STAGES;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::StageOfDevelopment;

/// The oldest ice of the waters, for ice that the chart gives no stage of development.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum IceAge {
    /// Nobody knows: from 30 cm on it may be multi-year ice, and counts as that.
    #[default]
    Unknown,
    /// All ice is of this winter.
    FirstYear,
    /// Ice from 30 cm on may have outlasted one summer, and counts as that.
    SecondYear,
    /// Ice from 30 cm on may be multi-year ice, and counts as that.
    MultiYear,
}

impl fmt::Display for IceAge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Unknown | Self::MultiYear => {
                "multi-year ice from 30 cm on, light below 2.5 m and heavy from there"
            }
            Self::FirstYear => "first-year ice",
            Self::SecondYear => "second-year ice from 30 cm on",
        })
    }
}

/// Where the stages of old ice begin in [`ICE_STAGES`].
const OLD: usize = 8;

impl IceAge {
    /// The heaviest stage that ice of a thickness may be; `None` for less than half a centimetre and for
    /// what is not a number.
    ///
    /// Ice under 30 cm is young by definition (WMO-No. 259). What is thicker can be of any age that the
    /// waters have: old ice in the Arctic is 1.5 to 2.5 m in August, as thick as first-year ice.
    ///
    /// # Example
    ///
    /// ```
    /// use dipward_craft::{IceAge, StageOfDevelopment};
    ///
    /// let [known, unknown] = [IceAge::FirstYear, IceAge::Unknown].map(|age| age.stage(1.5));
    /// assert_eq!(known, Some(StageOfDevelopment::ThickFirstYear));
    /// assert_eq!(unknown, Some(StageOfDevelopment::LightMultiYear));
    /// ```
    #[must_use]
    pub fn stage(self, thickness_m: f64) -> Option<StageOfDevelopment> {
        use StageOfDevelopment as S;

        if thickness_m.is_nan() || thickness_m < 0.005 {
            return None;
        }
        // The table has single precision; what comes from a chart has too.
        let thickness_m = thickness_m as f32;
        let young = ICE_STAGES.iter().take(OLD).position(|stage| thickness_m < stage.to_m);
        let first_year =
            young.and_then(|place| S::ALL.get(place).copied()).unwrap_or(S::ThickFirstYear);
        Some(match self {
            _ if first_year <= S::GreyWhite => first_year,
            Self::FirstYear => first_year,
            Self::SecondYear => S::SecondYear,
            Self::Unknown | Self::MultiYear if thickness_m < 2.5 => S::LightMultiYear,
            Self::Unknown | Self::MultiYear => S::HeavyMultiYear,
        })
    }
}

#[cfg(test)]
mod tests {
    use StageOfDevelopment as S;

    use super::*;

    #[test]
    fn thickness_alone_does_not_make_old_ice_young() {
        for (thickness_m, first_year, unknown) in [
            (0.0, None, None),
            (f64::NAN, None, None),
            (-1.0, None, None),
            (0.05, Some(S::New), Some(S::New)),
            (0.10, Some(S::Grey), Some(S::Grey)),
            (0.29, Some(S::GreyWhite), Some(S::GreyWhite)),
            (0.49, Some(S::ThinFirstYear1), Some(S::LightMultiYear)),
            (0.99, Some(S::MediumFirstYearUnder1m), Some(S::LightMultiYear)),
            (1.0, Some(S::MediumFirstYear), Some(S::LightMultiYear)),
            (1.5, Some(S::ThickFirstYear), Some(S::LightMultiYear)),
            (2.5, Some(S::ThickFirstYear), Some(S::HeavyMultiYear)),
            (f64::INFINITY, Some(S::ThickFirstYear), Some(S::HeavyMultiYear)),
        ] {
            assert_eq!(IceAge::FirstYear.stage(thickness_m), first_year, "{thickness_m} m");
            assert_eq!(IceAge::Unknown.stage(thickness_m), unknown, "{thickness_m} m");
            assert_eq!(IceAge::MultiYear.stage(thickness_m), unknown, "{thickness_m} m");
        }
        assert_eq!(IceAge::SecondYear.stage(1.5), Some(S::SecondYear));
        assert_eq!(IceAge::SecondYear.stage(0.2), Some(S::GreyWhite));
    }
}
