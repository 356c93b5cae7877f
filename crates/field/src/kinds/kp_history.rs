use dipward_plugin::{
    BuildContext, Disturbance, DisturbancePoint, DisturbanceRequest, Error, Faults, Provenance,
    Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::by_kp::{ByKp, KpSource};
use crate::{
    PolarCapAmplitude,
    activity::{Activity, Slots},
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

/// Disturbance as the observed Kp of past years would make it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct KpHistorySpec {
    /// Length of the stretches that are taken from the history. Five turns of the Sun keep four
    /// fifths of the 27-day return.
    #[schemars(range(min = 1, max = 365))]
    pub block_days: u16,
    /// How far from the same day of another year a stretch may begin.
    #[schemars(range(min = 0, max = 183))]
    pub season_window_days: u16,
    /// Which part of the solar cycle the stretches are taken from.
    pub solar_cycle: SolarCycle,
    /// How strong the disturbance is for a Kp.
    pub amplitude: PolarCapAmplitude,
}

impl Default for KpHistorySpec {
    fn default() -> Self {
        Self {
            block_days: 135,
            season_window_days: 45,
            solar_cycle: SolarCycle::Any,
            amplitude: PolarCapAmplitude::default(),
        }
    }
}

impl KpHistorySpec {
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
}

impl Spec for KpHistorySpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_history";
    const SUMMARY: &'static str = "disturbance by the observed Kp of past years, same season";
    const EXAMPLE: &'static str =
        "{kind: kp_history, solar_cycle: same_phase, amplitude: {quiet_nt: 20}}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        Ok(Box::new(ByKp(self)))
    }
}

impl KpSource for KpHistorySpec {
    fn provenance(&self) -> Provenance {
        Self::origin()
    }

    fn told(&self) -> String {
        let Self { block_days, season_window_days, solar_cycle, .. } = self;
        let cycle = match solar_cycle {
            SolarCycle::Any => "",
            SolarCycle::SamePhase => " and the same phase of the solar cycle",
        };
        format!(
            "geomagnetic activity will be like that of 1957 to 2026 within {season_window_days} days \
             of the same season{cycle}, in stretches of {block_days} days"
        )
    }

    fn amplitude(&self) -> &PolarCapAmplitude {
        &self.amplitude
    }

    fn draw(
        &self,
        request: &DisturbanceRequest<'_>,
        slots: Slots,
        member: u32,
    ) -> Result<Activity, Error> {
        let mut rng = stream(request.seed, member, Draw::Activity);
        Ok(self.bootstrap().draw(request.clock, slots, &mut rng))
    }
}
