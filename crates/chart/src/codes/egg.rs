//! The egg: total and partial concentrations with their stages, and what they come to.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Concentration, Form, Stage};

/// What a chart says of one area, the oldest ice first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Egg {
    /// Total concentration, CT.
    pub total: Concentration,
    /// The ice types that are stated, at most three: CA SA FA, CB SB FB, CC SC FC.
    pub parts: Vec<EggPart>,
    /// Stage of the ice that the parts leave over, CD.
    pub rest: Option<Stage>,
    /// Stage of a trace of thicker ice, under a tenth, CN.
    pub trace: Option<Stage>,
    /// Predominant and secondary form, CF.
    pub forms: Vec<Form>,
}

/// One ice type of an egg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EggPart {
    /// Its concentration, if stated.
    pub concentration: Option<Concentration>,
    /// Its stage of development, if stated.
    pub stage: Option<Stage>,
    /// Its form, if stated.
    pub form: Option<Form>,
}

impl EggPart {
    /// Whether it is ice of land origin, by its stage or its form.
    #[must_use]
    pub fn is_of_land(&self) -> bool {
        self.stage == Some(Stage::Glacier) || self.form.is_some_and(Form::is_of_land)
    }

    /// Its stage: icebergs, and growlers of no known stage, are glacier ice.
    fn known_stage(&self) -> Option<Stage> {
        match (self.form, self.stage) {
            (Some(Form::Icebergs), _)
            | (Some(Form::Growlers), None | Some(Stage::Unknown | Stage::NoStage)) => {
                Some(Stage::Glacier)
            }
            (_, stage) => stage,
        }
    }
}

/// Which concentration a range stands for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RangeReading {
    /// The highest of the range: the cautious reading.
    #[default]
    Highest,
    /// The middle of the range.
    Middle,
}

/// How eggs are read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading {
    /// Which concentration a range stands for.
    pub ranges: RangeReading,
    /// Thicknesses in metres that the user states for stages.
    pub thickness_m: BTreeMap<Stage, f32>,
    /// The stage that ice of no stated stage is taken for; without one it is unknown.
    pub unknown_stage: Option<Stage>,
}

/// What ice an area has, in numbers; not a number where it is unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IceRegime {
    /// Total concentration, 0 to 1.
    pub concentration: f32,
    /// Mean thickness of the ice in metres; 0 where there is none.
    pub thickness_m: f32,
    /// Partial concentrations in the order of
    /// [`Quantity::ICE_PARTIALS`](dipward_plugin::Quantity::ICE_PARTIALS), adding to the total.
    pub partials: [f32; 11],
    /// Concentration of ice of land origin, 0 to 1; [`IceRegime::TRACE`] where a chart tells of it and
    /// not how much.
    pub land_ice: f32,
}

impl IceRegime {
    /// No ice.
    pub const ICE_FREE: Self =
        Self { concentration: 0.0, thickness_m: 0.0, partials: [0.0; 11], land_ice: 0.0 };

    /// Nothing known.
    pub const UNKNOWN: Self = Self {
        concentration: f32::NAN,
        thickness_m: f32::NAN,
        partials: [f32::NAN; 11],
        land_ice: f32::NAN,
    };

    /// What stands for ice of land origin under a tenth, as in bergy water: the middle.
    pub const TRACE: f32 = 0.05;

    /// Ice of one stage.
    ///
    /// # Arguments
    ///
    /// `concentration` is 0 to 1; `thickness_m` is the thickness if one is stated.
    #[must_use]
    pub fn of_one_stage(concentration: f32, stage: Stage, thickness_m: Option<f32>) -> Self {
        if concentration == 0.0 {
            return Self::ICE_FREE;
        }
        let land_ice = if stage == Stage::Glacier { concentration } else { 0.0 };
        let mut regime = Self { concentration, land_ice, ..Self::UNKNOWN };
        if let (Some(column), Some(thickness_m)) =
            (stage.column(thickness_m), thickness_m.or_else(|| stage.thickness_m()))
        {
            regime.thickness_m = thickness_m;
            regime.partials = [0.0; 11];
            if let Some(partial) = regime.partials.get_mut(column) {
                *partial = concentration;
            }
        }
        regime
    }
}

impl Egg {
    /// The ice regime that the egg states.
    ///
    /// The partial concentrations are brought to the total: they are ranges of whole tenths each, and
    /// seldom add up. A part without a concentration takes what the others leave (with one ice type,
    /// all), shared evenly if there are several; what is still left goes to the stage of CD, and
    /// without one all parts grow alike. A trace of thicker sea ice in CN, under a tenth, is not counted.
    ///
    /// Partials and thickness are unknown where any part of the ice has no known stage.
    ///
    /// Ice of land origin is that of the stage glacier ice and of the forms icebergs and growlers. Where
    /// it is told and has no tenth of its own (bergy water, CN, CF, a part of open water) it is a trace.
    #[must_use]
    pub fn regime(&self, reading: &Reading) -> IceRegime {
        let mut regime = self.ice(reading);
        if self.tells_land_ice() {
            // `max` passes over what is not a number.
            regime.land_ice = regime.land_ice.max(IceRegime::TRACE);
        }
        regime
    }

    /// Whether any of it is of land origin.
    fn tells_land_ice(&self) -> bool {
        self.total == Concentration::BergyWater
            || self.trace == Some(Stage::Glacier)
            || self.rest == Some(Stage::Glacier)
            || self.parts.iter().any(EggPart::is_of_land)
            || self.forms.iter().any(|form| form.is_of_land())
    }

    fn ice(&self, reading: &Reading) -> IceRegime {
        let Some(total) = reading.fraction(self.total) else { return IceRegime::UNKNOWN };
        if total == 0.0 {
            return IceRegime::ICE_FREE;
        }
        let unknown = IceRegime { concentration: total as f32, ..IceRegime::UNKNOWN };
        let Some(shares) = self.shares(total, reading) else { return unknown };
        let of_land: f64 = shares.iter().filter(|one| one.of_land).map(|one| one.share).sum();
        let unknown = IceRegime { land_ice: of_land as f32, ..unknown };
        let mut regime = IceRegime { thickness_m: 0.0, partials: [0.0; 11], ..unknown };
        for Share { share, stage, .. } in shares {
            let stage = match stage {
                None | Some(Stage::Unknown | Stage::NoStage) => reading.unknown_stage,
                known => known,
            };
            let Some(stage) = stage else { return unknown };
            let stated = reading.thickness_m.get(&stage).copied();
            let (Some(column), Some(thickness_m)) =
                (stage.column(stated), stated.or_else(|| stage.thickness_m()))
            else {
                return unknown;
            };
            if let Some(partial) = regime.partials.get_mut(column) {
                *partial += share as f32;
            }
            regime.thickness_m += (share / total) as f32 * thickness_m;
        }
        regime
    }

    /// The share of the area that each stage takes, adding to the total; nothing where a partial
    /// concentration is stated as unknown.
    fn shares(&self, total: f64, reading: &Reading) -> Option<Vec<Share>> {
        let mut shares = Vec::with_capacity(self.parts.len() + 1);
        let mut stated = 0.0;
        let mut open = 0;
        for part in &self.parts {
            let share = match part.concentration {
                None => {
                    open += 1;
                    None
                }
                Some(concentration) => Some(reading.fraction(concentration)?),
            };
            stated += share.unwrap_or(0.0);
            shares.push((share, part));
        }
        let left = (total - stated).max(0.0);
        let mut shares: Vec<Share> = shares
            .into_iter()
            .map(|(share, part)| Share {
                share: share.unwrap_or(left / f64::from(open.max(1))),
                stage: part.known_stage(),
                of_land: part.is_of_land(),
            })
            .collect();
        // A rounding is no ice of its own.
        if open == 0 && left > 1e-6 && (self.rest.is_some() || shares.is_empty()) {
            let of_land = self.rest == Some(Stage::Glacier);
            shares.push(Share { share: left, stage: self.rest, of_land });
        }
        let sum: f64 = shares.iter().map(|one| one.share).sum();
        if sum <= 0.0 {
            // Ice types whose own concentrations say that there is none of them.
            return Some(vec![Share { share: total, stage: None, of_land: false }]);
        }
        for one in &mut shares {
            one.share *= total / sum;
        }
        shares.retain(|one| one.share > 0.0);
        Some(shares)
    }
}

/// The part of the area that ice of one kind takes.
#[derive(Debug, Clone, Copy)]
struct Share {
    share: f64,
    stage: Option<Stage>,
    of_land: bool,
}

impl Reading {
    /// The fraction that a concentration stands for; nothing where it is unknown.
    #[must_use]
    pub fn fraction(&self, concentration: Concentration) -> Option<f64> {
        let (lowest, highest) = concentration.fractions()?;
        Some(match self.ranges {
            RangeReading::Highest => highest,
            RangeReading::Middle => f64::midpoint(lowest, highest),
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn egg(total: u8, parts: &[(Option<u8>, Option<u8>)], rest: Option<u8>) -> Egg {
        Egg {
            total: Concentration::of_code(total).unwrap(),
            parts: parts
                .iter()
                .map(|&(concentration, stage)| EggPart {
                    concentration: concentration.and_then(Concentration::of_code),
                    stage: stage.and_then(Stage::of_code),
                    form: None,
                })
                .collect(),
            rest: rest.and_then(Stage::of_code),
            trace: None,
            forms: Vec::new(),
        }
    }

    fn partials(regime: &IceRegime) -> Vec<(usize, i32)> {
        let hundredths = regime.partials.iter().map(|partial| (partial * 100.0).round() as i32);
        hundredths.enumerate().filter(|(_, partial)| *partial != 0).collect()
    }

    #[test]
    fn three_types_that_add_up_stand_as_they_are() {
        let egg =
            egg(90, &[(Some(40), Some(97)), (Some(30), Some(93)), (Some(20), Some(84))], None);
        let regime = egg.regime(&Reading::default());
        assert_eq!(partials(&regime), [(1, 20), (7, 30), (10, 40)]);
        let mean = (0.4 * 3.0 + 0.3 * 1.6 + 0.2 * 0.125) / 0.9;
        assert!((regime.thickness_m - mean).abs() < 1e-6);
    }

    #[test]
    fn one_type_takes_the_total() {
        let regime = egg(91, &[(None, Some(87))], None).regime(&Reading::default());
        assert_eq!((regime.concentration, partials(&regime)), (1.0, vec![(4, 100)]));
        let middle = Reading { ranges: RangeReading::Middle, ..Reading::default() };
        assert_eq!(egg(46, &[(None, Some(87))], None).regime(&middle).concentration, 0.5);
    }

    #[test]
    fn what_is_left_over_goes_to_the_stage_of_cd() {
        let egg = egg(90, &[(Some(50), Some(96))], Some(81));
        assert_eq!(partials(&egg.regime(&Reading::default())), [(0, 40), (8, 50)]);
    }

    #[test]
    fn ice_of_no_known_stage_is_not_open_water() {
        for (total, parts, rest) in [
            (50, vec![], None),
            (50, vec![(None, Some(99))], None),
            (50, vec![(Some(20), Some(93)), (Some(30), None)], None),
            (50, vec![(None, Some(80))], None),
            (50, vec![(Some(99), Some(93))], None),
        ] {
            let regime = egg(total, &parts, rest).regime(&Reading::default());
            assert_eq!(regime.concentration, 0.5);
            assert!(regime.partials.iter().all(|partial| partial.is_nan()), "{parts:?}");
            assert!(regime.thickness_m.is_nan());
        }
        let all = egg(99, &[(None, Some(93))], None).regime(&Reading::default());
        assert!(all.concentration.is_nan());
        let reading = Reading { unknown_stage: Some(Stage::ThickFirstYear), ..Reading::default() };
        assert_eq!(partials(&egg(50, &[], None).regime(&reading)), [(7, 50)]);
    }

    #[test]
    fn glacier_ice_is_not_ice_free() {
        let regime = egg(92, &[(None, Some(98))], None).regime(&Reading::default());
        assert_eq!(partials(&regime), [(10, 100)]);
        assert_eq!(egg(98, &[], None).regime(&Reading::default()), IceRegime::ICE_FREE);
    }

    /// Polar Code I-A 1.2: bergy water has ice of land origin in concentrations under a tenth.
    #[test]
    fn bergy_water_is_not_open_water() {
        let read = |egg: &Egg| egg.regime(&Reading::default());
        let bergy = read(&egg(2, &[], None));
        assert_eq!((bergy.concentration, bergy.land_ice), (0.0, IceRegime::TRACE));
        for clear in [egg(0, &[], None), egg(1, &[], None), egg(90, &[(None, Some(93))], None)] {
            assert_eq!(read(&clear).land_ice, 0.0);
        }
        assert!(read(&egg(99, &[], None)).land_ice.is_nan());
    }

    #[test]
    fn every_code_of_ice_of_land_origin_is_read() {
        let plain = egg(50, &[(Some(30), Some(93)), (Some(20), Some(91))], None);
        let of_form = |form: Form| {
            let mut egg = plain.clone();
            egg.parts[0].form = Some(form);
            egg.regime(&Reading::default())
        };
        // Icebergs are glacier ice whatever stage is told; growlers keep that of a floeberg.
        let bergs = of_form(Form::Icebergs);
        assert!((bergs.land_ice - 0.3).abs() < 1e-6);
        assert_eq!(partials(&bergs), [(6, 20), (10, 30)]);
        let growlers = of_form(Form::Growlers);
        assert!((growlers.land_ice - 0.3).abs() < 1e-6);
        assert_eq!(partials(&growlers), [(6, 20), (7, 30)]);
        assert_eq!(of_form(Form::BigFloe).land_ice, 0.0);
        // As a stage, with its share; in CN, CF or CT alone, a trace.
        let stage = egg(50, &[(Some(40), Some(93)), (Some(10), Some(98))], None);
        assert!((stage.regime(&Reading::default()).land_ice - 0.1).abs() < 1e-6);
        let traces = [
            Egg { trace: Some(Stage::Glacier), ..plain.clone() },
            Egg { forms: vec![Form::BigFloe, Form::Icebergs], ..plain.clone() },
            egg(1, &[(None, Some(98))], None),
            egg(99, &[(None, Some(98))], None),
        ];
        for egg in traces {
            assert_eq!(egg.regime(&Reading::default()).land_ice, IceRegime::TRACE, "{egg:?}");
        }
        let old = Egg { trace: Some(Stage::MultiYear), ..plain };
        assert_eq!(old.regime(&Reading::default()).land_ice, 0.0);
    }

    #[test]
    fn a_stated_thickness_places_the_ice() {
        let thickness_m = BTreeMap::from([(Stage::MultiYear, 2.0)]);
        let reading = Reading { thickness_m, ..Reading::default() };
        let regime = egg(92, &[(None, Some(97))], None).regime(&reading);
        assert_eq!((partials(&regime), regime.thickness_m), (vec![(9, 100)], 2.0));
    }

    proptest! {
        #[test]
        fn partials_are_all_known_and_add_to_the_total_or_are_all_unknown(
            total in 0u8..100,
            parts in prop::collection::vec(
                (prop::option::of(0u8..100), prop::option::of(70u8..100)), 0..4),
            rest in prop::option::of(70u8..100),
        ) {
            prop_assume!(Concentration::of_code(total).is_some());
            let regime = egg(total, &parts, rest).regime(&Reading::default());
            let sum: f32 = regime.partials.iter().sum();
            if sum.is_nan() {
                prop_assert!(regime.partials.iter().all(|partial| partial.is_nan()));
                prop_assert!(regime.thickness_m.is_nan());
            } else {
                prop_assert!((sum - regime.concentration).abs() < 1e-5);
                prop_assert!(regime.partials.iter().all(|partial| (0.0..=1.0001).contains(partial)));
                prop_assert!((0.0..=5.001).contains(&regime.thickness_m));
            }
        }
    }
}
