use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{lindqvist, riska};
use crate::{Error, IceStrength};

/// A ship's hull as the resistance formulas see it.
///
/// ```text
///        side                        from above
///   ___________                  ________________
///  |            \  /            |                 \   alpha
///  |_____________\/ phi         |                  > -----  centre line
///   ~~~~ keel ~~~~              |________________ /
///      L_par  | L_bow
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hull {
    /// Length on the waterline.
    #[schemars(range(min = 10.0, max = 450.0))]
    pub length_m: f64,
    /// Breadth on the waterline.
    #[schemars(range(min = 3.0, max = 80.0))]
    pub beam_m: f64,
    /// Draught.
    #[schemars(range(min = 0.5, max = 30.0))]
    pub draught_m: f64,
    /// Angle of the stem to the horizontal (phi).
    #[schemars(range(min = 5.0, max = 90.0))]
    pub stem_angle_deg: f64,
    /// Half angle of entrance of the waterline (alpha).
    #[schemars(range(min = 5.0, max = 89.0))]
    pub waterline_angle_deg: f64,
    /// Length of the parallel midbody.
    #[schemars(range(min = 0.0, max = 450.0))]
    pub parallel_midbody_m: f64,
    /// Length of the bow on the waterline.
    #[schemars(range(min = 0.1, max = 450.0))]
    pub bow_length_m: f64,
}

/// The resistance of level ice of one thickness, linear in speed in both published formulas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelIce {
    /// Resistance at creeping speed.
    pub at_rest_n: f64,
    /// What each metre a second adds.
    pub per_speed_n_s_per_m: f64,
}

impl LevelIce {
    /// The resistance at a speed.
    #[must_use]
    pub fn at_n(&self, speed_m_s: f64) -> f64 {
        self.at_rest_n + self.per_speed_n_s_per_m * speed_m_s
    }
}

/// A published formula for the resistance of level ice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ResistanceFormula {
    /// Riska, Wilhelmson, Englund and Leiviska 1997, Baltic merchant ships.
    #[default]
    Riska,
    /// Lindqvist 1989, conventional icebreaking bows.
    Lindqvist,
}

impl ResistanceFormula {
    /// The resistance of level ice of a thickness.
    ///
    /// # Arguments
    ///
    /// A negative thickness counts as none. `ice` serves Lindqvist's formula alone.
    #[must_use]
    pub fn level_ice(self, hull: &Hull, ice: &IceStrength, thickness_m: f64) -> LevelIce {
        let thickness_m = thickness_m.max(0.0);
        match self {
            Self::Riska => riska::level_ice(hull, thickness_m),
            Self::Lindqvist => lindqvist::level_ice(hull, ice, thickness_m),
        }
    }

    /// Whether the formula can be used for a hull at all.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] where it is singular or would let resistance fall with thickness.
    pub fn check(self, hull: &Hull, ice: &IceStrength) -> Result<(), Error> {
        match self {
            Self::Riska => Ok(()),
            Self::Lindqvist => lindqvist::check(hull, ice),
        }
    }

    /// Where the hull lies outside the ships that the formula was made from: sentences to be shown
    /// with every result. Empty within.
    ///
    /// The dimensions are the range of validity that the Finnish-Swedish Ice Class Rules state for
    /// the same family of formula (from memory). The stem angles of Lindqvist's "conventional
    /// icebreaking bows" are taken as 15 to 70 degrees, a choice.
    #[must_use]
    pub fn cautions(self, hull: &Hull) -> Vec<String> {
        let mut limits = vec![
            ("length", hull.length_m, 65.0, 250.0, "m"),
            ("beam", hull.beam_m, 11.0, 40.0, "m"),
            ("draught", hull.draught_m, 4.0, 15.0, "m"),
            ("waterline angle", hull.waterline_angle_deg, 15.0, 55.0, "degrees"),
        ];
        match self {
            Self::Riska => limits.extend([
                ("stem angle", hull.stem_angle_deg, 25.0, 90.0, "degrees"),
                ("bow length over length", hull.bow_length_m / hull.length_m, 0.15, 0.40, ""),
                ("midbody over length", hull.parallel_midbody_m / hull.length_m, 0.25, 0.75, ""),
            ]),
            Self::Lindqvist => {
                limits.push(("stem angle", hull.stem_angle_deg, 15.0, 70.0, "degrees"));
            }
        }
        limits
            .into_iter()
            .filter(|(_, value, low, high, _)| !(low..=high).contains(&value))
            .map(|(what, value, low, high, unit)| {
                let text = format!(
                    "{what} {value:.2} is outside the {low} to {high} {unit} of the ships \
                     behind the resistance formula"
                );
                text.replace("  ", " ")
            })
            .collect()
    }
}
