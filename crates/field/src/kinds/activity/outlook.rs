use std::{path::PathBuf, sync::Arc};

use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Alternative, Assumption, BuildContext, Clock, Error,
    Faults, Kp, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ABOUT, HistorySpec};
use crate::{
    kinds::ForecastTable,
    kp_blend::KpBlend,
    streams::{Draw, stream},
};

/// Activity by all that is known of Kp: a forecast, what was observed lately, the 27-day return and the
/// climate of the month and the phase of the solar cycle.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct OutlookSpec {
    /// A CSV file of later observations, relative to the scenario: `time` (UTC, within the three
    /// hours), `kp`. The last day, the last 27 days and the last year of it count.
    pub observed: Option<PathBuf>,
    /// A forecast.
    pub forecast: Option<ForecastTable>,
}

impl OutlookSpec {
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

impl Spec for OutlookSpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "outlook";
    const SUMMARY: &'static str = "forecast, recent Kp, 27-day return and climate, blended";
    const EXAMPLE: &'static str = "\
kind: outlook
forecast:
  issued: 2027-01-14T22:00Z
  interval_h: 12
  table:
    - {time: 2027-01-15T00:00Z, kp: 2.33}
    - {time: 2027-01-15T12:00Z, kp: 4}
  error: [{lead_h: 12, sigma_kp: 0.8}, {lead_h: 72, sigma_kp: 1.2}]
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        Ok(Box::new(Outlook(KpBlend::of(&self, context, "")?)))
    }
}

#[derive(Debug)]
pub(super) struct Outlook(pub(super) KpBlend);

impl Activity for Outlook {
    fn provenance(&self) -> Provenance {
        Provenance { name: "outlook of Kp".into(), ..HistorySpec::origin() }
    }

    fn member(&self, request: &ActivityRequest, member: u32) -> Result<Vec<Kp>, Error> {
        let mut history = stream(request.seed, member, Draw::Activity);
        let mut within = stream(request.seed, member, Draw::ForecastError);
        Ok(self.0.draw(request.clock, request.slots, &mut history, &mut within))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(ABOUT, self.0.told().to_owned())]
    }

    fn alternatives(&self) -> Vec<Alternative<Arc<dyn Activity>>> {
        let history: Arc<dyn Activity> = Arc::new(HistorySpec::default());
        vec![Alternative { name: "Kp of any year".into(), object: history }]
    }

    fn days_known_until_h(&self, clock: Clock) -> Option<f64> {
        self.0.days_known_until().map(|instant| clock.hour(instant))
    }
}
