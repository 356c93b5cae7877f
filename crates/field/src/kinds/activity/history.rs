use std::sync::Arc;

use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Alternative, Assumption, BuildContext, Error, Faults,
    Kp, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ABOUT;
use crate::{
    kp_blend::KpBlend,
    kp_bootstrap::KpBootstrap,
    streams::{Draw, stream},
};

/// Which part of the solar cycle past activity is taken from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SolarCycle {
    /// From all of it.
    #[default]
    Any,
    /// From the same phase, within an eighth of a cycle; cycles are assumed to go on every 11 years.
    SamePhase,
}

/// Activity as the observed Kp of past years, the same season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct HistorySpec {
    /// Length of the stretches that are taken from the history. Five turns of the Sun keep four
    /// fifths of the 27-day return.
    #[schemars(range(min = 1, max = 365))]
    pub block_days: u16,
    /// How far from the same day of another year a stretch may begin.
    #[schemars(range(min = 0, max = 183))]
    pub season_window_days: u16,
    /// Which part of the solar cycle the stretches are taken from.
    pub solar_cycle: SolarCycle,
}

impl Default for HistorySpec {
    fn default() -> Self {
        Self { block_days: 135, season_window_days: 45, solar_cycle: SolarCycle::Any }
    }
}

impl HistorySpec {
    pub(crate) fn bootstrap(&self) -> KpBootstrap {
        KpBootstrap {
            block_days: self.block_days,
            season_window_days: self.season_window_days,
            match_solar_cycle: self.solar_cycle == SolarCycle::SamePhase,
        }
    }

    /// Where the history comes from.
    pub(crate) fn origin() -> Provenance {
        Provenance {
            name: "Kp of 1957 to 2026, resampled".into(),
            source: "GFZ Helmholtz Centre for Geosciences, doi 10.5880/Kp.0001".into(),
            licence: Some("CC BY 4.0".into()),
        }
    }

    pub(crate) fn draw(&self, request: &ActivityRequest, member: u32) -> Vec<Kp> {
        let mut rng = stream(request.seed, member, Draw::Activity);
        self.bootstrap().draw(request.clock, request.slots, &mut rng)
    }

    /// What is taken for granted, without the end of the sentence.
    pub(crate) fn told(&self) -> String {
        let Self { block_days, season_window_days, solar_cycle } = self;
        let cycle = match solar_cycle {
            SolarCycle::Any => "",
            SolarCycle::SamePhase => " and the same phase of the solar cycle",
        };
        format!(
            "geomagnetic activity will be like that of 1957 to 2026 within {season_window_days} days \
             of the same season{cycle}, in stretches of {block_days} days"
        )
    }
}

impl Spec for HistorySpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "history";
    const SUMMARY: &'static str = "the observed Kp of past years, same season";
    const EXAMPLE: &'static str = "{kind: history, solar_cycle: same_phase}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        Ok(Box::new(self))
    }
}

impl Activity for HistorySpec {
    fn provenance(&self) -> Provenance {
        Self::origin()
    }

    fn member(&self, request: &ActivityRequest, member: u32) -> Result<Vec<Kp>, Error> {
        Ok(self.draw(request, member))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(ABOUT, self.told())]
    }

    /// The other choice of the phase of the solar cycle, and the outlook from the observed history.
    fn alternatives(&self) -> Vec<Alternative<Arc<dyn Activity>>> {
        let (solar_cycle, name) = match self.solar_cycle {
            SolarCycle::Any => (SolarCycle::SamePhase, "Kp of the same phase of the solar cycle"),
            SolarCycle::SamePhase => (SolarCycle::Any, "Kp of any phase of the solar cycle"),
        };
        let other: Arc<dyn Activity> = Arc::new(Self { solar_cycle, ..self.clone() });
        let outlook: Arc<dyn Activity> = Arc::new(super::outlook::Outlook(KpBlend::of_history()));
        vec![
            Alternative { name: name.into(), object: other },
            Alternative { name: "the outlook of Kp".into(), object: outlook },
        ]
    }
}
