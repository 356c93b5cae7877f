use std::path::PathBuf;

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
    kinds::{ForecastTable, KpHistorySpec},
    kp_blend::KpBlend,
    streams::{Draw, stream},
};

/// What is known of Kp besides the history that the library carries.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct KpOutlookKeys {
    /// A CSV file of later observations, relative to the scenario: `time` (UTC, within the three
    /// hours), `kp`. The last day, the last 27 days and the last year of it count.
    pub observed: Option<PathBuf>,
    /// A forecast.
    pub forecast: Option<ForecastTable>,
}

impl KpOutlookKeys {
    pub(crate) fn told(&self) -> String {
        let observed = match &self.observed {
            Some(file) => format!("what was observed up to the end of {}", file.display()),
            None => "the observed history to 30 June 2026".to_owned(),
        };
        let forecast = match &self.forecast {
            Some(forecast) => format!("; {}", forecast.told()),
            None => String::new(),
        };
        format!(
            "Kp will come as often as it did from 1957 to 2026 when {observed} led one to expect as much \
             (last day, 27-day return, last year, month and phase of the solar cycle){forecast}"
        )
    }
}

/// Disturbance by all that is known of Kp: a forecast, what was observed lately, the 27-day return and
/// the climate of the month and the phase of the solar cycle.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct KpOutlookSpec {
    /// What is known.
    pub outlook: KpOutlookKeys,
    /// How strong the disturbance is for a Kp.
    pub amplitude: PolarCapAmplitude,
}

impl Spec for KpOutlookSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_outlook";
    const SUMMARY: &'static str =
        "disturbance by forecast, recent Kp, 27-day return and climate, blended";
    const EXAMPLE: &'static str = "\
kind: kp_outlook
outlook:
  forecast:
    issued: 2027-01-14T22:00Z
    interval_h: 12
    table:
      - {time: 2027-01-15T00:00Z, kp: 2.33}
      - {time: 2027-01-15T12:00Z, kp: 4}
    error: [{lead_h: 12, sigma_kp: 0.8}, {lead_h: 72, sigma_kp: 1.2}]
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        let blend = KpBlend::of(&self.outlook, context, "/outlook")?;
        Ok(Box::new(ByKp(Outlook { amplitude: self.amplitude, blend })))
    }
}

#[derive(Debug)]
struct Outlook {
    amplitude: PolarCapAmplitude,
    blend: KpBlend,
}

impl KpSource for Outlook {
    fn provenance(&self) -> Provenance {
        Provenance { name: "outlook of Kp".into(), ..KpHistorySpec::origin() }
    }

    fn told(&self) -> String {
        self.blend.told().to_owned()
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
        let mut history = stream(request.seed, member, Draw::Activity);
        let mut within = stream(request.seed, member, Draw::ForecastError);
        Ok(self.blend.draw(request.clock, slots, &mut history, &mut within))
    }
}
