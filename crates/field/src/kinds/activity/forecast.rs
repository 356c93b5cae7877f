use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Assumption, BuildContext, Clock, Error, Faults,
    KP_SLOT_H, Kp, Provenance, Spec,
};
use jiff::Timestamp;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ABOUT, HistorySpec};
use crate::{
    kinds::{
        ForecastError, ForecastKp, ForecastTable,
        forecast_table::{one_slot, persistence},
    },
    streams::{Draw, stream},
};

/// Time in which the error of a forecast loses its memory, to 1/e: as fast as the history's Kp does.
const ERROR_CORRELATION_H: f64 = 12.0;

/// Activity by a forecast of Kp, and by the history where the forecast says nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastSpec {
    /// When the forecast was issued, UTC.
    #[schemars(with = "String")]
    pub issued: Timestamp,
    /// The values, by increasing time.
    #[schemars(length(min = 1))]
    pub table: Vec<ForecastKp>,
    /// How long each value holds; less where the next one begins before.
    #[serde(default = "one_slot")]
    #[schemars(range(min = 0.5, max = 24.0))]
    pub interval_h: f64,
    /// How wrong the forecast is by lead. The default is the error of scaled persistence over the
    /// history: a forecast should do better, and its issuer may say by how much.
    #[serde(default = "persistence")]
    #[schemars(length(min = 1))]
    pub error: Vec<ForecastError>,
    /// What holds outside the forecast.
    #[serde(default)]
    pub otherwise: HistorySpec,
}

impl Spec for ForecastSpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "forecast";
    const SUMMARY: &'static str = "a forecast of Kp, then the history";
    const EXAMPLE: &'static str = "\
kind: forecast
issued: 2027-01-14T22:00Z
interval_h: 12
table:
  - {time: 2027-01-15T00:00Z, kp: 2.33}
  - {time: 2027-01-15T12:00Z, kp: 4}
  - {time: 2027-01-16T00:00Z, kp: 3}
";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        let Self { issued, table, interval_h, error, otherwise } = self;
        let table = ForecastTable { issued, table, interval_h, error };
        let faults = table.faults("");
        faults.into_result(Box::new(Forecast { table, otherwise }) as Box<dyn Activity>)
    }
}

#[derive(Debug)]
struct Forecast {
    table: ForecastTable,
    otherwise: HistorySpec,
}

impl Activity for Forecast {
    fn provenance(&self) -> Provenance {
        let Provenance { name, source, licence } = HistorySpec::origin();
        Provenance {
            name: format!("forecast of Kp issued {}; {name}", self.table.issued),
            source: format!("the scenario; {source}"),
            licence,
        }
    }

    fn member(&self, request: &ActivityRequest, member: u32) -> Result<Vec<Kp>, Error> {
        let ActivityRequest { clock, slots, seed } = *request;
        let mut values = self.otherwise.draw(request, member);
        let mut rng = stream(seed, member, Draw::ForecastError);
        let kept = (-KP_SLOT_H / ERROR_CORRELATION_H).exp();
        let fresh = (1.0 - kept * kept).sqrt();
        let mut error: Option<f64> = None;
        for (slot, kp) in values.iter_mut().enumerate() {
            let draw: f64 = StandardNormal.sample(&mut rng);
            let own = error.map_or(draw, |before| kept * before + fresh * draw);
            error = Some(own);
            let instant = clock.instant(slots.middle_h(slot));
            if let Some((forecast, sigma)) = self.table.at(instant) {
                *kp = Kp::nearest(forecast + own * sigma);
            }
        }
        Ok(values)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let text = format!("{}; outside it, {}", self.table.told(), self.otherwise.told());
        vec![Assumption::new(ABOUT, text)]
    }

    fn days_known_until_h(&self, clock: Clock) -> Option<f64> {
        self.table.ends().map(|instant| clock.hour(instant))
    }
}
