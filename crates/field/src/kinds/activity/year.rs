use dipward_plugin::{
    Activity, ActivityPoint, ActivityRequest, Assumption, BuildContext, Clock, Error, Fault,
    Faults, Kp, KpSlots, Provenance, Spec,
};
use jiff::{Timestamp, ToSpan, civil::Date, tz::Offset};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ABOUT, HistorySpec};
use crate::{
    KpHistory, SLOTS_A_DAY,
    kp_bootstrap::{same_day_of, utc_date},
};

/// Activity as the Kp that was observed in one past year, from the same day on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct YearSpec {
    /// The past year in which the window would begin; its days are counted on from there, over the end of
    /// the year too. Kp is known from 1 October 1957 to 30 June 2026.
    #[schemars(range(min = 1957, max = 2026))]
    pub year: i16,
}

impl Spec for YearSpec {
    type Point = ActivityPoint;
    const KIND: &'static str = "year";
    const SUMMARY: &'static str = "the Kp that was observed in one past year, on the same days";
    const EXAMPLE: &'static str = "{kind: year, year: 2003}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Activity>, Faults> {
        let window = [0.0, context.window_hours()];
        let seen = KpSlots::covering(context.clock(), &window)
            .and_then(|slots| self.observed(context.clock(), slots));
        match seen {
            Ok(_) => Ok(Box::new(self)),
            Err(Error::Outside(why)) => Err(Fault::at("/year", why)
                .help("take a year with all days of the window, or the kind history")
                .into()),
            Err(other) => Err(Fault::at("", other.to_string()).into()),
        }
    }
}

impl YearSpec {
    /// Kp over slots, as it was observed when the window would have begun in that year.
    fn observed(&self, clock: Clock, slots: KpSlots) -> Result<Vec<Kp>, Error> {
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
        let values = history.values().get(from..from + slots.count);
        values.map(<[Kp]>::to_vec).ok_or_else(outside)
    }
}

impl Activity for YearSpec {
    fn provenance(&self) -> Provenance {
        Provenance { name: format!("Kp observed from {} on", self.year), ..HistorySpec::origin() }
    }

    fn member(&self, request: &ActivityRequest, _: u32) -> Result<Vec<Kp>, Error> {
        self.observed(request.clock, request.slots)
    }

    fn days_known_until_h(&self, _: Clock) -> Option<f64> {
        Some(f64::INFINITY)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let year = self.year;
        let text = format!(
            "geomagnetic activity will be that of the same days from {year} on, in every member: the \
             chances are those of such a year, and their spread is narrower than that of all years"
        );
        vec![Assumption::new(ABOUT, text)]
    }
}
