use dipward_plugin::{
    BuildContext, Clock, Disturbance, DisturbancePoint, DisturbanceRequest, Error, Fault, Faults,
    Provenance, Spec,
};
use jiff::{Timestamp, ToSpan, civil::Date, tz::Offset};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    KpHistorySpec,
    by_kp::{ByKp, KpSource},
};
use crate::{
    Kp, KpHistory, PolarCapAmplitude, SLOTS_A_DAY,
    activity::{Activity, Slots},
    kp_bootstrap::{same_day_of, utc_date},
};

/// Disturbance by the Kp that was observed in one past year, from the same day on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KpYearSpec {
    /// The past year in which the window would begin; its days are counted on from there, over the end of
    /// the year too. Kp is known from 1 October 1957 to 30 June 2026.
    #[schemars(range(min = 1957, max = 2026))]
    pub year: i16,
    /// How strong the disturbance is for a Kp.
    #[serde(default)]
    pub amplitude: PolarCapAmplitude,
}

impl Spec for KpYearSpec {
    type Point = DisturbancePoint;
    const KIND: &'static str = "kp_year";
    const SUMMARY: &'static str =
        "disturbance by the Kp that was observed in one past year, on the same days";
    const EXAMPLE: &'static str = "{kind: kp_year, year: 2003, amplitude: {quiet_nt: 20}}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Disturbance>, Faults> {
        let window = [0.0, context.window_hours()];
        let seen = Slots::covering(context.clock(), &window)
            .and_then(|slots| self.observed(context.clock(), slots));
        match seen {
            Ok(_) => Ok(Box::new(ByKp(self))),
            Err(Error::Outside(why)) => Err(Fault::at("/year", why)
                .help("take a year with all days of the window, or the kind kp_history")
                .into()),
            Err(other) => Err(Fault::at("", other.to_string()).into()),
        }
    }
}

impl KpYearSpec {
    /// Kp over slots, as it was observed when the window would have begun in that year.
    fn observed(&self, clock: Clock, slots: Slots) -> Result<Activity, Error> {
        let history = KpHistory::embedded();
        let outside = || {
            Error::Outside(format!(
                "Kp is known from 1957-10-01 to 2026-06-30, not on all days of the window in {}",
                self.year
            ))
        };
        let begin = utc_date(clock.start());
        let begin_then = same_day_of(begin, self.year).ok_or_else(outside)?;
        let start: Timestamp = clock.instant(slots.start_h);
        let days = begin.until(utc_date(start)).map_err(|_| outside())?.get_days();
        let day: Date = begin_then.checked_add(days.days()).map_err(|_| outside())?;
        let slot = usize::from(Offset::UTC.to_datetime(start).hour().unsigned_abs()) / 3;
        let from = history.index_of(day).ok_or_else(outside)? * SLOTS_A_DAY + slot;
        let kp: Vec<Kp> =
            history.values().get(from..from + slots.count).ok_or_else(outside)?.to_vec();
        Ok(Activity { slots, kp })
    }
}

impl KpSource for KpYearSpec {
    fn provenance(&self) -> Provenance {
        Provenance { name: format!("Kp observed from {} on", self.year), ..KpHistorySpec::origin() }
    }

    fn told(&self) -> String {
        let year = self.year;
        format!(
            "geomagnetic activity will be that of the same days from {year} on, in every member: the \
             chances are those of such a year, and their spread is narrower than that of all years"
        )
    }

    fn amplitude(&self) -> &PolarCapAmplitude {
        &self.amplitude
    }

    fn draw(
        &self,
        request: &DisturbanceRequest<'_>,
        slots: Slots,
        _: u32,
    ) -> Result<Activity, Error> {
        self.observed(request.clock, slots)
    }
}
