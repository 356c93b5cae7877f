//! Short forms of a disturbance: one word for an activity with a response.

use std::sync::Arc;

use dipward_plugin::{
    BuildContext, Disturbance, DisturbanceByKp, DisturbancePoint, Error, Faults, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{
    ForecastSpec, HistorySpec, LearntSpec, NoResponseSpec, OutlookSpec, StatedSpec, YearSpec,
};
use crate::{
    amps::{AmpsResponseSpec, DriversSource},
    learnt::Refit,
};

/// The disturbance that a scenario has where it names none: the climate of Kp and the learnt response.
///
/// # Errors
///
/// What the embedded models say of themselves; none in practice.
///
/// # Example
///
/// ```
/// use dipward_plugin::Disturbance;
///
/// let house = dipward_field::kinds::house_disturbance()?;
/// assert!(house.verified().is_some());
/// # Ok::<(), dipward_plugin::Error>(())
/// ```
pub fn house_disturbance() -> Result<DisturbanceByKp, Error> {
    let response = crate::learnt::response(Refit::All)?;
    Ok(DisturbanceByKp { activity: Arc::new(HistorySpec::default()), response })
}

/// Builds the pair that a short form stands for. What is wrong with the activity's keys is told at the
/// short form's own, which are the same.
fn pair<A, R>(
    activity: A,
    response: R,
    context: &BuildContext,
) -> Result<Box<dyn Disturbance>, Faults>
where
    A: Spec<Point = dipward_plugin::ActivityPoint>,
    R: Spec<Point = dipward_plugin::ResponsePoint>,
{
    let (activity, response) = (activity.build(context)?, response.build(context)?);
    Ok(Box::new(DisturbanceByKp { activity: activity.into(), response: response.into() }))
}

/// The pair as a scenario would write it.
fn written<A: Spec, R: Spec>(activity: &A, response: &R) -> Option<Value> {
    let with_kind = |kind: &str, keys: Result<Value, serde_json::Error>| {
        let mut map = serde_json::Map::from_iter([("kind".to_owned(), Value::from(kind))]);
        map.extend(keys.ok()?.as_object().cloned()?);
        Some(Value::Object(map))
    };
    Some(json!({
        "activity": with_kind(A::KIND, serde_json::to_value(activity))?,
        "response": with_kind(R::KIND, serde_json::to_value(response))?,
    }))
}

/// `kp_history` is the activity `history` with the response `learnt`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct KpHistorySpec(pub HistorySpec);

impl Spec for KpHistorySpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_history";
    const SUMMARY: &'static str = "short for the activity `history` with the response `learnt`";
    const EXAMPLE: &'static str = "{kind: kp_history, solar_cycle: same_phase}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        pair(self.0, LearntSpec::default(), context)
    }

    fn written_out(&self) -> Option<Value> {
        written(&self.0, &LearntSpec::default())
    }
}

/// `kp_year` is the activity `year` with the response `learnt`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct KpYearSpec(pub YearSpec);

impl Spec for KpYearSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_year";
    const SUMMARY: &'static str = "short for the activity `year` with the response `learnt`";
    const EXAMPLE: &'static str = "{kind: kp_year, year: 2003}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        pair(self.0, LearntSpec::default(), context)
    }

    fn written_out(&self) -> Option<Value> {
        written(&self.0, &LearntSpec::default())
    }
}

/// `kp_forecast` is the activity `forecast` with the response `learnt`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct KpForecastSpec(pub ForecastSpec);

impl Spec for KpForecastSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_forecast";
    const SUMMARY: &'static str = "short for the activity `forecast` with the response `learnt`";
    const EXAMPLE: &'static str = "\
kind: kp_forecast
issued: 2027-01-14T22:00Z
interval_h: 12
table:
  - {time: 2027-01-15T00:00Z, kp: 2.33}
  - {time: 2027-01-15T12:00Z, kp: 4}
  - {time: 2027-01-16T00:00Z, kp: 3}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        pair(self.0, LearntSpec::default(), context)
    }

    fn written_out(&self) -> Option<Value> {
        written(&self.0, &LearntSpec::default())
    }
}

/// `kp_outlook` is the activity `outlook` with the response `learnt`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct KpOutlookSpec {
    /// What is known.
    pub outlook: OutlookSpec,
}

impl Spec for KpOutlookSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_outlook";
    const SUMMARY: &'static str = "short for the activity `outlook` with the response `learnt`";
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
        pair(self.outlook, LearntSpec::default(), context)
            .map_err(|faults| faults.within("/outlook"))
    }

    fn written_out(&self) -> Option<Value> {
        written(&self.outlook, &LearntSpec::default())
    }
}

/// `amps` is the activity `history` with the response `amps`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AmpsSpec {
    /// Where the solar wind is taken from.
    pub drivers: DriversSource,
    /// Where Kp is taken from.
    pub history: HistorySpec,
}

impl AmpsSpec {
    fn response(&self) -> AmpsResponseSpec {
        AmpsResponseSpec { drivers: self.drivers.clone(), ..AmpsResponseSpec::default() }
    }
}

impl Spec for AmpsSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "amps";
    const SUMMARY: &'static str = "short for the activity `history` with the response `amps`";
    const EXAMPLE: &'static str = "\
kind: amps
drivers:
  stated: {solar_wind_km_per_s: 450, by_nt: 2, bz_nt: -3, f10_7: 140}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        let response = self.response();
        pair(self.history, response, context)
    }

    fn written_out(&self) -> Option<Value> {
        written(&self.history, &self.response())
    }
}

/// No disturbance at all: the pole stays where the main field has it. For comparisons and tests.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct QuietSpec {}

impl QuietSpec {
    const ACTIVITY: StatedSpec = StatedSpec { kp: 0.0 };
}

impl Spec for QuietSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "quiet";
    const SUMMARY: &'static str = "short for the activity `stated` with the response `none`";
    const EXAMPLE: &'static str = "{kind: quiet}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        pair(Self::ACTIVITY, NoResponseSpec {}, context)
    }

    fn written_out(&self) -> Option<Value> {
        written(&Self::ACTIVITY, &NoResponseSpec {})
    }
}
