use dipward_plugin::{Fault, Faults};
use jiff::{SignedDuration, Timestamp};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use dipward_plugin::KP_SLOT_H;

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

/// A forecast of Kp as it was issued.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastTable {
    /// When it was issued, UTC.
    #[schemars(with = "String")]
    pub issued: Timestamp,
    /// The values, by increasing time.
    #[schemars(length(min = 1))]
    pub table: Vec<ForecastKp>,
    /// How long each value holds; less where the next one begins before.
    #[serde(default = "one_slot")]
    #[schemars(range(min = 0.5, max = 24.0))]
    pub interval_h: f64,
    /// How wrong it is by lead. The default is the error of scaled persistence over the history: a
    /// forecast should do better, and its issuer may say by how much.
    #[serde(default = "persistence")]
    #[schemars(length(min = 1))]
    pub error: Vec<ForecastError>,
}

pub(super) fn one_slot() -> f64 {
    KP_SLOT_H
}

pub(super) fn persistence() -> Vec<ForecastError> {
    [(3.0, 0.85), (24.0, 1.31), (72.0, 1.41)]
        .map(|(lead_h, sigma_kp)| ForecastError { lead_h, sigma_kp })
        .to_vec()
}

impl ForecastTable {
    /// What is wrong with it; `pointer` is where it stands among the keys.
    pub(crate) fn faults(&self, pointer: &str) -> Faults {
        let mut faults = Faults::default();
        for (at, pair) in self.table.windows(2).enumerate() {
            if pair[1].time <= pair[0].time {
                let message = "the times of a forecast must increase";
                faults.push(Fault::at(format!("{pointer}/table/{}/time", at + 1), message));
            }
        }
        for (at, pair) in self.error.windows(2).enumerate() {
            if pair[1].lead_h <= pair[0].lead_h {
                let message = "the leads must increase";
                faults.push(Fault::at(format!("{pointer}/error/{}/lead_h", at + 1), message));
            }
        }
        faults
    }

    /// The forecast in force at an instant with its sigma.
    pub(crate) fn at(&self, instant: Timestamp) -> Option<(f64, f64)> {
        let after = self.table.partition_point(|entry| entry.time <= instant);
        let entry = self.table.get(after.checked_sub(1)?)?;
        let holds = hours_between(entry.time, instant) < self.interval_h;
        holds.then(|| (entry.kp, self.sigma(hours_between(self.issued, instant))))
    }

    /// When its last value ceases to hold.
    pub(crate) fn ends(&self) -> Option<Timestamp> {
        let minutes = (60.0 * self.interval_h).round() as i64;
        self.table.last()?.time.saturating_add(SignedDuration::from_mins(minutes)).ok()
    }

    /// The sigma at a lead.
    fn sigma(&self, lead_h: f64) -> f64 {
        let after = self.error.partition_point(|error| error.lead_h <= lead_h);
        let before = after.checked_sub(1).and_then(|before| self.error.get(before));
        match (before, self.error.get(after)) {
            (Some(before), Some(after)) => {
                let share = (lead_h - before.lead_h) / (after.lead_h - before.lead_h);
                before.sigma_kp + share * (after.sigma_kp - before.sigma_kp)
            }
            (Some(only), None) | (None, Some(only)) => only.sigma_kp,
            (None, None) => 0.0,
        }
    }

    /// What is taken for granted of it, without the end of the sentence.
    pub(crate) fn told(&self) -> String {
        let errors: Vec<String> = self
            .error
            .iter()
            .map(|error| format!("{} at {} h", error.sigma_kp, error.lead_h))
            .collect();
        format!(
            "the forecast of Kp issued {} errs with a sigma of {}",
            self.issued,
            errors.join(", ")
        )
    }
}

fn hours_between(early: Timestamp, late: Timestamp) -> f64 {
    (late.as_millisecond() - early.as_millisecond()) as f64 / 3_600_000.0
}
