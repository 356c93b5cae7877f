use dipward_plugin::{
    Assumption, BuildContext, Control, Disturbance, DisturbancePoint, DisturbanceRequest, Error,
    ExternalField, Fault, Faults, Provenance, Spec,
};
use jiff::Timestamp;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{
    Kp,
    activity::{Activity, SLOT_H, Slots},
    kinds::KpHistorySpec,
    streams::{Draw, stream},
};

/// Time in which the error of a forecast loses its memory, to 1/e: as fast as the history's Kp does.
const ERROR_CORRELATION_H: f64 = 12.0;

/// One value of a forecast.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastKp {
    /// When it begins to hold, UTC.
    #[schemars(with = "String")]
    pub time: Timestamp,
    /// Kp, 5- being 4.67.
    #[schemars(range(min = 0.0, max = 9.0))]
    pub kp: f64,
}

/// How wrong a forecast is so many hours ahead.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastError {
    /// Hours from the issue of the forecast.
    #[schemars(range(min = 0.0, max = 10_000.0))]
    pub lead_h: f64,
    /// One sigma of Kp; straight lines in between, the ends hold outside.
    #[schemars(range(min = 0.0, max = 9.0))]
    pub sigma_kp: f64,
}

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

fn one_slot() -> f64 {
    SLOT_H
}

fn persistence() -> Vec<ForecastError> {
    [(3.0, 0.85), (24.0, 1.31), (72.0, 1.41)]
        .map(|(lead_h, sigma_kp)| ForecastError { lead_h, sigma_kp })
        .to_vec()
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
        let mut faults = Faults::default();
        for (at, pair) in self.table.windows(2).enumerate() {
            if pair[1].time <= pair[0].time {
                let message = "the times of a forecast must increase";
                faults.push(Fault::at(format!("/table/{}/time", at + 1), message));
            }
        }
        for (at, pair) in self.error.windows(2).enumerate() {
            if pair[1].lead_h <= pair[0].lead_h {
                let message = "the leads must increase";
                faults.push(Fault::at(format!("/error/{}/lead_h", at + 1), message));
            }
        }
        faults.into_result(Box::new(KpForecast(self)) as Box<dyn Disturbance>)
    }
}

#[derive(Debug)]
struct KpForecast(KpForecastSpec);

impl KpForecast {
    /// The forecast in force at an instant.
    fn forecast(&self, instant: Timestamp) -> Option<f64> {
        let table = &self.0.table;
        let entry =
            table.get(table.partition_point(|entry| entry.time <= instant).checked_sub(1)?)?;
        (hours_between(entry.time, instant) < self.0.interval_h).then_some(entry.kp)
    }

    /// The sigma of the forecast at a lead.
    fn sigma(&self, lead_h: f64) -> f64 {
        let errors = &self.0.error;
        let after = errors.partition_point(|error| error.lead_h <= lead_h);
        let before = after.checked_sub(1).and_then(|before| errors.get(before));
        match (before, errors.get(after)) {
            (Some(before), Some(after)) => {
                let share = (lead_h - before.lead_h) / (after.lead_h - before.lead_h);
                before.sigma_kp + share * (after.sigma_kp - before.sigma_kp)
            }
            (Some(only), None) | (None, Some(only)) => only.sigma_kp,
            (None, None) => 0.0,
        }
    }
}

fn hours_between(early: Timestamp, late: Timestamp) -> f64 {
    (late.as_millisecond() - early.as_millisecond()) as f64 / 3_600_000.0
}

impl Disturbance for KpForecast {
    fn provenance(&self) -> Provenance {
        let Provenance { name, source, licence } = KpHistorySpec::provenance();
        Provenance {
            name: format!("forecast of Kp issued {}; {name}", self.0.issued),
            source: format!("the scenario; {source}"),
            licence,
        }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        control.check()?;
        let clock = request.clock;
        let slots = Slots::covering(clock, request.hours)?;
        let mut rng = stream(request.seed, member, Draw::Activity);
        let Activity { mut kp, .. } = self.0.otherwise.bootstrap().draw(clock, slots, &mut rng);
        let mut rng = stream(request.seed, member, Draw::ForecastError);
        let kept = (-SLOT_H / ERROR_CORRELATION_H).exp();
        let fresh = (1.0 - kept * kept).sqrt();
        let mut error: Option<f64> = None;
        for (slot, kp) in kp.iter_mut().enumerate() {
            let draw: f64 = StandardNormal.sample(&mut rng);
            let own = error.map_or(draw, |before| kept * before + fresh * draw);
            error = Some(own);
            let instant = clock.instant(slots.middle_h(slot));
            if let Some(forecast) = self.forecast(instant) {
                let lead_h = hours_between(self.0.issued, instant);
                *kp = Kp::nearest(forecast + own * self.sigma(lead_h));
            }
        }
        let activity = Activity { slots, kp };
        let mut rng = stream(request.seed, member, Draw::Residual);
        self.0.otherwise.amplitude.fill(request, &activity, &mut rng, out);
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let errors: Vec<String> = self
            .0
            .error
            .iter()
            .map(|error| format!("{} at {} h", error.sigma_kp, error.lead_h))
            .collect();
        let forecast = format!(
            "the forecast of Kp issued {} errs with a sigma of {}; outside it, {}",
            self.0.issued,
            errors.join(", "),
            self.0.otherwise.told()
        );
        std::iter::once(forecast)
            .chain(self.0.otherwise.amplitude.told())
            .map(|text| Assumption::new("pole.disturbance", text))
            .collect()
    }
}
