//! What floating ice bears. The published conventions differ by a factor of two to three in load,
//! so that one is always chosen by name and its risk said.

use std::fmt;

use dipward_plugin::BuildContext;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{IceSeason, window_has_melt};

/// A published convention for the load on good floating freshwater ice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BearingConvention {
    /// Gold 1971 (Canadian Geotechnical Journal 8, 170): `P = A h^2`. The abstract, as seen, has
    /// good ice bearing up to 250 lb/in2 and failures from 50 lb/in2, which is A = 3.5 kg/cm2.
    Gold {
        /// A in kg/cm2: 3.5 to 4 low risk, 5 tolerable with controls, 6 moderate, 7 the upper bound
        /// (from memory of provincial guides).
        #[schemars(range(min = 1.0, max = 7.0))]
        a_kg_per_cm2: f64,
    },
    /// The rough guide of US TM 5-852-1 and UFC 3-130-01, as seen: `P = h^2 / 16` in short tons and
    /// inches, A = 8.8 kg/cm2. Unsafe for any load after some days above freezing.
    ArmyManual,
    /// NRC technical translation 863 from the Russian, as seen: `h = 10 sqrt(P)` in centimetres and
    /// tonnes, A = 10 kg/cm2. Not for standing loads.
    RussianRule,
}

/// The risk that goes with a convention.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BearingRisk {
    /// A to 4.
    Low,
    /// A to 5: tolerable with controls.
    Tolerable,
    /// A to 6.
    Moderate,
    /// A to 7: the upper bound of practice.
    UpperBound,
    /// A beyond the practice of provincial guides, as the military rules have it.
    BeyondPractice,
}

impl fmt::Display for BearingRisk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Low => "low risk",
            Self::Tolerable => "tolerable risk with controls",
            Self::Moderate => "moderate to substantial risk",
            Self::UpperBound => "the upper bound of practice",
            Self::BeyondPractice => "beyond civil practice",
        })
    }
}

const KG_PER_SHORT_TON: f64 = 907.184_74;
const CM_PER_INCH: f64 = 2.54;

impl BearingConvention {
    /// The convention's A: kilograms borne for a square centimetre of thickness squared.
    #[must_use]
    pub fn a_kg_per_cm2(&self) -> f64 {
        match self {
            Self::Gold { a_kg_per_cm2 } => *a_kg_per_cm2,
            Self::ArmyManual => KG_PER_SHORT_TON / (16.0 * CM_PER_INCH * CM_PER_INCH),
            Self::RussianRule => 10.0,
        }
    }

    /// The load that a thickness bears.
    #[must_use]
    pub fn load_t(&self, thickness_m: f64) -> f64 {
        let centimetres = 100.0 * thickness_m.max(0.0);
        self.a_kg_per_cm2() * centimetres * centimetres / 1000.0
    }

    /// The thickness that a load needs.
    #[must_use]
    pub fn thickness_m(&self, load_t: f64) -> f64 {
        (1000.0 * load_t.max(0.0) / self.a_kg_per_cm2()).sqrt() / 100.0
    }

    /// The thickness that a load needs where ice has so much less strength: infinite where it has none.
    #[must_use]
    pub fn weakened_thickness_m(&self, load_t: f64, strength: f64) -> f64 {
        // What weakens the ice by a factor is as if the load were greater by it.
        if strength > 0.0 { self.thickness_m(load_t / strength) } else { f64::INFINITY }
    }

    /// The risk that goes with the convention (from memory of provincial guides).
    #[must_use]
    pub fn risk(&self) -> BearingRisk {
        match self.a_kg_per_cm2() {
            a if a <= 4.0 => BearingRisk::Low,
            a if a <= 5.0 => BearingRisk::Tolerable,
            a if a <= 6.0 => BearingRisk::Moderate,
            a if a <= 7.0 => BearingRisk::UpperBound,
            _ => BearingRisk::BeyondPractice,
        }
    }
}

/// What melting leaves of the strength of ice. The conventions are for cold ice: after some days above
/// freezing the army manual holds ice unsafe for any load, and no rule bears.
///
/// That thick ice bears something all summer is known, and how much is not: who counts on it states it.
/// First-year sea ice has kept a tenth to a fifth of its winter strength by August, old ice more (from
/// memory of Canadian borehole work).
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Melt {
    /// The season of the ice, where the chart's `ice_melting` does not tell it; without it, ice melts if
    /// any day of the window lies in the months of melt (June to September in the north, December to
    /// March in the south, from memory).
    pub season: IceSeason,
    /// Strength of melting ice over that of cold ice; 0, the default, bears nothing.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub strength: f64,
}

impl Melt {
    /// The same with its season known, by the dates of the window where nobody states it.
    #[must_use]
    pub fn in_window(self, context: &BuildContext) -> Self {
        let season = match self.season {
            IceSeason::Unknown if window_has_melt(context) => IceSeason::Melting,
            IceSeason::Unknown => IceSeason::Cold,
            stated => stated,
        };
        Self { season, ..self }
    }

    /// The strength left, by the chart's `ice_melting` where that is a number. An unknown season is one of
    /// melt.
    #[must_use]
    pub fn strength_left(&self, charted: f32) -> f64 {
        if self.season.melts(charted).unwrap_or(true) { self.strength } else { 1.0 }
    }

    /// What is taken for granted.
    ///
    /// # Arguments
    ///
    /// `stated` is the season as the scenario has it, `needed_m` the thickness that melting ice must have.
    #[must_use]
    pub fn assumption(&self, stated: IceSeason, needed_m: f32) -> String {
        let season = if self.season == IceSeason::Cold { "cold" } else { "melting" };
        let source = match stated {
            IceSeason::Unknown => "by the dates of the window",
            _ => "as stated",
        };
        let left = if self.strength > 0.0 {
            format!(
                "keeps {:.0} % of its strength, as stated, and bears from {needed_m:.2} m",
                100.0 * self.strength
            )
        } else {
            "bears nothing, for no rule is made for it (`melt.strength`)".to_owned()
        };
        format!(
            "sea ice is {season} {source}, where the chart's `ice_melting` does not tell; melting ice \
             {left}"
        )
    }
}

/// The speed at which a vehicle rides on the wave that it makes under the ice in shallow water:
/// `sqrt(g depth)` (from memory). Keep below it; near shore it is 10 to 15 km/h.
#[must_use]
pub fn critical_speed_km_h(water_depth_m: f64) -> f64 {
    3.6 * (9.81 * water_depth_m.max(0.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn gold(a_kg_per_cm2: f64) -> BearingConvention {
        BearingConvention::Gold { a_kg_per_cm2 }
    }

    /// Thickness in centimetres for 2.5, 10, 20 and 30 t, recomputed.
    #[test]
    fn published_gold_thicknesses_recomputed() {
        for (a, thicknesses) in [
            (3.5, [26.7, 53.5, 75.6, 92.6]),
            (4.0, [25.0, 50.0, 70.7, 86.6]),
            (5.0, [22.4, 44.7, 63.2, 77.5]),
            (6.0, [20.4, 40.8, 57.7, 70.7]),
            (7.0, [18.9, 37.8, 53.5, 65.5]),
        ] {
            for (load_t, thickness_cm) in [2.5, 10.0, 20.0, 30.0].into_iter().zip(thicknesses) {
                assert!((100.0 * gold(a).thickness_m(load_t) - thickness_cm).abs() < 0.06);
            }
        }
        // Gold's 50 and 250 lb/in2.
        for (pounds, a) in [(50.0, 3.515), (250.0, 17.58)] {
            assert!((pounds * 0.453_592_37 / (CM_PER_INCH * CM_PER_INCH) - a).abs() < 0.005);
        }
    }

    /// The army's rule as seen, its A recomputed; and its table for tracked vehicles as seen (short
    /// tons and inches at 32 to 20 F and at 15 F and lower), whose A lies between 8.4 and 11.7.
    #[test]
    fn published_army_manual() {
        assert!((BearingConvention::ArmyManual.a_kg_per_cm2() - 8.79).abs() < 0.005);
        for (tons, warm, cold) in [
            (6.0, 10.0, 9.0),
            (10.0, 12.0, 11.0),
            (16.0, 16.0, 14.0),
            (20.0, 18.0, 16.0),
            (25.0, 20.0, 18.0),
            (30.0, 22.0, 19.0),
            (40.0, 25.0, 22.0),
            (50.0, 27.0, 25.0),
            (60.0, 30.0, 28.0),
        ] {
            let a = |inches: f64| tons * KG_PER_SHORT_TON / (inches * CM_PER_INCH).powi(2);
            assert!((8.4..9.85).contains(&a(warm)), "{tons} t: {}", a(warm));
            assert!((10.35..11.75).contains(&a(cold)), "{tons} t: {}", a(cold));
            let rule_inches = 100.0
                * BearingConvention::ArmyManual.thickness_m(tons * KG_PER_SHORT_TON / 1000.0)
                / CM_PER_INCH;
            assert!((rule_inches / warm - 1.0).abs() < 0.06, "{tons} t: {rule_inches} in");
        }
        assert!((BearingConvention::RussianRule.thickness_m(9.0) - 0.30).abs() < 1e-12);
    }

    /// Floors for people and light vehicles as seen in a water authority's advice (Saskatchewan): a
    /// snowmobile on 20 cm, a car on 30. Gold at 4 kg/cm2 asks no more for 0.4 and 2.5 t.
    #[test]
    fn published_recreational_floors() {
        assert!(gold(4.0).thickness_m(0.4) <= 0.20);
        assert!(gold(4.0).thickness_m(2.5) <= 0.30);
    }

    /// The army manual: unsafe for any load after some days at 32 F and above.
    #[test]
    fn published_melting_ice_bears_nothing_by_any_rule() {
        let summer = Melt { season: IceSeason::Melting, ..Melt::default() };
        let stated = Melt { strength: 0.25, ..summer };
        for convention in
            [gold(3.5), gold(7.0), BearingConvention::ArmyManual, BearingConvention::RussianRule]
        {
            let needs = |melt: &Melt, charted| {
                convention.weakened_thickness_m(10.0, melt.strength_left(charted))
            };
            assert_eq!(needs(&summer, f32::NAN), f64::INFINITY);
            assert_eq!(needs(&summer, 0.0), convention.thickness_m(10.0));
            // A quarter of the strength wants twice the thickness.
            assert!((needs(&stated, f32::NAN) / convention.thickness_m(10.0) - 2.0).abs() < 1e-12);
            assert_eq!(needs(&stated, 1.0), needs(&stated, f32::NAN));
        }
        assert_eq!(Melt::default().strength_left(f32::NAN), 0.0);
    }

    #[test]
    fn risk_goes_with_the_convention() {
        assert_eq!(gold(3.5).risk(), BearingRisk::Low);
        assert_eq!(gold(5.0).risk(), BearingRisk::Tolerable);
        assert_eq!(gold(6.0).risk(), BearingRisk::Moderate);
        assert_eq!(gold(7.0).risk(), BearingRisk::UpperBound);
        assert_eq!(BearingConvention::ArmyManual.risk(), BearingRisk::BeyondPractice);
        for load_t in [0.0, 0.5, 3.0, 40.0] {
            let back = gold(4.0).load_t(gold(4.0).thickness_m(load_t));
            assert!((back - load_t).abs() < 1e-9);
        }
        assert!((critical_speed_km_h(1.0) - 11.3).abs() < 0.05);
    }
}
