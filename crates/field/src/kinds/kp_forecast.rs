use dipward_plugin::{
    BuildContext, Disturbance, DisturbancePoint, DisturbanceRequest, Error, Faults, Provenance,
    Spec,
};
use jiff::Timestamp;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::by_kp::{ByKp, KpSource};
use crate::{
    Kp, PolarCapAmplitude,
    activity::{Activity, SLOT_H, Slots},
    kinds::{
        ForecastError, ForecastKp, ForecastTable, KpHistorySpec,
        forecast_table::{one_slot, persistence},
    },
    streams::{Draw, stream},
};

/// Time in which the error of a forecast loses its memory, to 1/e: as fast as the history's Kp does.
const ERROR_CORRELATION_H: f64 = 12.0;

/// Disturbance by a forecast of Kp, and by the history where the forecast says nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KpForecastSpec {
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
    pub otherwise: KpHistorySpec,
}

impl Spec for KpForecastSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_forecast";
    const SUMMARY: &'static str = "disturbance by a forecast of Kp, then by the history";
    const EXAMPLE: &'static str = "\
kind: kp_forecast
issued: 2027-01-14T22:00Z
interval_h: 12
table:
  - {time: 2027-01-15T00:00Z, kp: 2.33}
  - {time: 2027-01-15T12:00Z, kp: 4}
  - {time: 2027-01-16T00:00Z, kp: 3}
";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        let Self { issued, table, interval_h, error, otherwise } = self;
        let table = ForecastTable { issued, table, interval_h, error };
        let built = ByKp(KpForecast { table, otherwise });
        built.0.table.faults("").into_result(Box::new(built) as Box<dyn Disturbance>)
    }
}

#[derive(Debug)]
struct KpForecast {
    table: ForecastTable,
    otherwise: KpHistorySpec,
}

impl KpSource for KpForecast {
    fn provenance(&self) -> Provenance {
        let Provenance { name, source, licence } = KpHistorySpec::origin();
        Provenance {
            name: format!("forecast of Kp issued {}; {name}", self.table.issued),
            source: format!("the scenario; {source}"),
            licence,
        }
    }

    fn told(&self) -> String {
        format!("{}; outside it, {}", self.table.told(), self.otherwise.told())
    }

    fn amplitude(&self) -> &PolarCapAmplitude {
        &self.otherwise.amplitude
    }

    fn draw(
        &self,
        request: &DisturbanceRequest<'_>,
        slots: Slots,
        member: u32,
    ) -> Result<Activity, Error> {
        let clock = request.clock;
        let Activity { mut kp, .. } = self.otherwise.draw(request, slots, member)?;
        let mut rng = stream(request.seed, member, Draw::ForecastError);
        let kept = (-SLOT_H / ERROR_CORRELATION_H).exp();
        let fresh = (1.0 - kept * kept).sqrt();
        let mut error: Option<f64> = None;
        for (slot, kp) in kp.iter_mut().enumerate() {
            let draw: f64 = StandardNormal.sample(&mut rng);
            let own = error.map_or(draw, |before| kept * before + fresh * draw);
            error = Some(own);
            let instant = clock.instant(slots.middle_h(slot));
            if let Some((forecast, sigma)) = self.table.at(instant) {
                *kp = Kp::nearest(forecast + own * sigma);
            }
        }
        Ok(Activity { slots, kp })
    }
}
