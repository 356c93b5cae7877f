//! What becomes of ice after its chart: it drifts, and what is known of it grows doubtful.
//!
//! Both show a chart anew from time to time, so that a layer of few instants becomes one of many:
//!
//! ```text
//!   charts    c0              c1                          (nothing after a drift's end)
//!   shown     c0  c0'  c0''   c1  c1'  c1''  c1'''  ...
//!   age, h    0   24   48     0   24   48    72
//! ```

use std::ops::Range;

use dipward_plugin::{
    Assumption, Beyond, BuildContext, Change, Control, Error, Fault, Faults, Ground, Laid, Outline,
    Quantity,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    drift::{Drift, FreeDrift, NOWHERE, Sources},
    schedule::{FADE_H, Schedule},
    scheduled::{Scheduled, Show},
};

/// One sigma of the ice concentration as charted.
pub(super) const CONCENTRATION_SIGMA: Quantity = Quantity::new("ice_concentration_sigma", "1");
/// One sigma of the ice thickness as charted.
pub(super) const THICKNESS_SIGMA: Quantity = Quantity::new("ice_thickness_sigma", "m");

/// How fast what is known of ice grows doubtful while nothing newer is charted.
///
/// One sigma grows with the square root of the age, as the error of a random walk does. No published
/// law was found: the rates are the planner's assumption.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GrowingDoubt {
    /// Sigma of the concentration after one day.
    #[serde(default = "five_hundredths")]
    #[schemars(range(min = 0.0, max = 1.0))]
    concentration_per_root_day: f32,
    /// Sigma of the thickness after one day, as a share of the thickness.
    #[serde(default = "tenth")]
    #[schemars(range(min = 0.0, max = 1.0))]
    thickness_share_per_root_day: f32,
    /// How many sigmas heavier than charted the craft is to find the ice: concentration and all its
    /// parts, and thickness. Where no ice is charted, none is made up.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 3.0))]
    cautious_sigmas: f32,
    /// Hours from one age to the next at which the doubt is reckoned anew.
    #[serde(default = "day")]
    #[schemars(range(min = 1.0, max = 240.0))]
    every_h: f64,
}

fn five_hundredths() -> f32 {
    0.05
}

fn tenth() -> f32 {
    0.1
}

fn day() -> f64 {
    24.0
}

impl GrowingDoubt {
    /// Sigma of the concentration, and that of the thickness as a share of it.
    fn sigmas(&self, age_h: f64) -> (f32, f32) {
        let root_days = (age_h.max(0.0) / 24.0).sqrt() as f32;
        (
            (self.concentration_per_root_day * root_days).min(1.0),
            self.thickness_share_per_root_day * root_days,
        )
    }

    fn assumption(&self) -> String {
        let cautious = match self.cautious_sigmas {
            0.0 => "the plan takes the ice as charted all the same".to_owned(),
            sigmas => format!("the plan takes the ice {sigmas} sigmas heavier than charted"),
        };
        format!(
            "what is known of the ice grows doubtful with the square root of its age: after a day one \
             sigma is {} of concentration and {} % of thickness; {cautious}",
            self.concentration_per_root_day,
            100.0 * self.thickness_share_per_root_day
        )
    }
}

/// What becomes of a layer's ice with age.
#[derive(Debug, Default)]
pub(super) struct Ageing {
    drift: Option<Drift>,
    doubt: Option<GrowingDoubt>,
    window_hours: f64,
}

impl Ageing {
    /// # Errors
    ///
    /// Faults of the keys `drift` and `doubt`.
    pub(super) fn build(
        drift: Option<FreeDrift>,
        doubt: Option<GrowingDoubt>,
        beyond: Beyond,
        context: &BuildContext,
    ) -> Result<Self, Faults> {
        if drift.is_some() && beyond != Beyond::Hold {
            return Err(Fault::at("/beyond", "the ice drifts on from the last chart")
                .help("leave `beyond` out, or write `hold`")
                .into());
        }
        let drift = drift.map(|drift| drift.build(context)).transpose()?;
        Ok(Self { drift, doubt, window_hours: context.window_hours() })
    }

    /// The quantities beyond those of the ice itself.
    pub(super) fn quantities(&self) -> Vec<Quantity> {
        match self.doubt {
            Some(_) => vec![CONCENTRATION_SIGMA, THICKNESS_SIGMA],
            None => Vec::new(),
        }
    }

    pub(super) fn assumptions(&self) -> Vec<Assumption> {
        let drift = self.drift.as_ref().map(Drift::assumption);
        let doubt = self.doubt.as_ref().map(GrowingDoubt::assumption);
        drift.into_iter().chain(doubt).map(|text| Assumption::new("chart", text)).collect()
    }

    /// Whether the last chart's ice stays where it was charted.
    pub(super) fn stays(&self) -> bool {
        self.drift.is_none()
    }

    /// Lays ice that shows its charts by a schedule.
    ///
    /// # Errors
    ///
    /// What the winds of the drift say; [`Error::Cancelled`].
    pub(super) fn lay<S: Show + 'static>(
        &self,
        schedule: Schedule,
        show: S,
        ground: Ground<'_>,
        control: &Control,
    ) -> Result<Box<dyn Laid>, Error> {
        if self.drift.is_none() && self.doubt.is_none() {
            return Ok(Box::new(Scheduled { schedule, show }));
        }
        let (hours, shown) = self.aged(&schedule);
        let ages = shown.iter().map(|one| one.map_or(0.0, |one| one.age_h));
        let data_hours = hours.iter().zip(ages).map(|(hour, age_h)| hour - age_h).collect();
        let mut sources = Vec::new();
        let ages: Vec<f64> =
            shown.iter().flatten().filter(|one| one.drifted).map(|one| one.age_h).collect();
        let charted_at = spans(&schedule).iter().rfind(|span| span.chart.is_some()).copied();
        if let (Some(drift), Some(Span { from, .. }), false) =
            (&self.drift, charted_at, ages.is_empty())
        {
            sources = drift.sources(ground.grid, ground.clock, from, &ages, control)?;
        }
        let mut drifts = sources.into_iter();
        let mut states = Vec::new();
        let shows = shown
            .into_iter()
            .map(|one| {
                let one = one?;
                let sources = if one.drifted { drifts.next() } else { None };
                states.push(Aged { chart: one.chart, age_h: one.age_h, sources });
                Some(states.len() - 1)
            })
            .collect();
        let schedule = Schedule::of_states(hours, shows, schedule.change(), schedule.beyond())
            .with_data_hours(data_hours);
        Ok(Box::new(Scheduled { schedule, show: AgedIce { show, states, doubt: self.doubt } }))
    }

    /// The instants at which charts are shown, those between included, and what each shows.
    fn aged(&self, schedule: &Schedule) -> (Vec<f64>, Vec<Option<Shown>>) {
        let spans = spans(schedule);
        let last = spans.iter().rposition(|span| span.chart.is_some());
        let mut all: Vec<(f64, Option<Shown>)> = Vec::new();
        for (index, span) in spans.iter().enumerate() {
            let from = span.from;
            let show = |age_h: f64, drifted: bool| {
                (from + age_h, span.chart.map(|chart| Shown { chart, age_h, drifted }))
            };
            all.push(show(0.0, false));
            let next = spans.get(index + 1);
            let holds = match next {
                // Towards another chart ice that changes linearly does not grow old.
                Some(next) => next.chart.is_none() || schedule.change() == Change::Step,
                None => schedule.beyond() == Beyond::Hold,
            };
            if span.chart.is_none() || !holds {
                continue;
            }
            let drift = self.drift.as_ref().filter(|_| Some(index) == last);
            let (every_h, trusted_h) = match (drift, self.doubt) {
                (Some(drift), _) => (drift.every_h(), drift.at_most_h()),
                (None, Some(doubt)) => (doubt.every_h, f64::INFINITY),
                (None, None) => continue,
            };
            let until = |end: f64| end - from;
            let ends_h = next
                .filter(|next| next.chart.is_none())
                .map_or(f64::INFINITY, |next| until(next.from) - FADE_H);
            let limit_h = trusted_h.min(ends_h);
            let before_h = limit_h.min(next.map_or(f64::INFINITY, |next| until(next.from)));
            let steps = (before_h.min(until(self.window_hours)) / every_h).floor().max(0.0) as u32;
            let ages = (1..=steps).map(|step| f64::from(step) * every_h);
            // What is passed before the window begins need not be shown.
            let ages = ages.filter(|age_h| *age_h < before_h && from + age_h > -every_h);
            all.extend(ages.map(|age_h| show(age_h, drift.is_some())));
            if until(self.window_hours) > limit_h {
                // The last of it is shown once more, so that it does not fade out before its time.
                all.push(show(limit_h, drift.is_some()));
                all.push((from + limit_h + FADE_H, None));
                break;
            }
        }
        all.into_iter().unzip()
    }
}

/// A chart, or nothing, from an hour until the next span.
#[derive(Debug, Clone, Copy)]
struct Span {
    from: f64,
    chart: Option<usize>,
}

/// A schedule without instants that show the same as the one before.
fn spans(schedule: &Schedule) -> Vec<Span> {
    let each = schedule.hours().iter().enumerate();
    let mut spans: Vec<Span> =
        each.map(|(index, &from)| Span { from, chart: schedule.shows(index) }).collect();
    spans.dedup_by_key(|span| span.chart);
    spans
}

/// What an instant shows.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Shown {
    chart: usize,
    age_h: f64,
    drifted: bool,
}

/// A chart of some age.
#[derive(Debug)]
struct Aged {
    chart: usize,
    age_h: f64,
    /// The cell that each cell's ice comes from, where it has drifted.
    sources: Option<Sources>,
}

/// Memory: 4 bytes a cell for each drifted chart, beside what the charts take.
#[derive(Debug)]
struct AgedIce<S> {
    show: S,
    states: Vec<Aged>,
    doubt: Option<GrowingDoubt>,
}

impl<S: Show> Show for AgedIce<S> {
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let Some(aged) = self.states.get(state) else { return };
        let Some(doubt) = self.doubt else {
            return self.charted(aged, quantity, cells, out);
        };
        let (concentration_sigma, thickness_share) = doubt.sigmas(aged.age_h);
        if quantity == CONCENTRATION_SIGMA || quantity == THICKNESS_SIGMA {
            let of_concentration = quantity == CONCENTRATION_SIGMA;
            let charted = if of_concentration {
                Quantity::ICE_CONCENTRATION
            } else {
                Quantity::ICE_THICKNESS
            };
            self.charted(aged, charted, cells, out);
            for value in out.iter_mut().filter(|value| !value.is_nan()) {
                *value =
                    if of_concentration { concentration_sigma } else { *value * thickness_share };
            }
            return;
        }
        self.charted(aged, quantity, cells.clone(), out);
        // That there are bergs does not grow with the doubt of the pack.
        if doubt.cautious_sigmas == 0.0 || aged.age_h <= 0.0 || quantity == Quantity::LAND_ICE {
            return;
        }
        if quantity == Quantity::ICE_THICKNESS {
            let factor = 1.0 + doubt.cautious_sigmas * thickness_share;
            out.iter_mut().for_each(|value| *value *= factor);
            return;
        }
        // All parts grow alike, so that with open water they still add to one.
        let mut concentration = vec![f32::NAN; out.len()];
        self.charted(aged, Quantity::ICE_CONCENTRATION, cells, &mut concentration);
        for (value, charted) in out.iter_mut().zip(concentration).filter(|(_, c)| *c > 0.0) {
            let heavier = (charted + doubt.cautious_sigmas * concentration_sigma).min(1.0);
            *value *= heavier / charted;
        }
    }

    fn outlines(&self, first: Option<usize>) -> Vec<Outline> {
        let chart = first.and_then(|first| self.states.get(first)).map(|aged| aged.chart);
        self.show.outlines(chart)
    }
}

impl<S: Show> AgedIce<S> {
    /// What was charted, where it has drifted to.
    fn charted(&self, aged: &Aged, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let Some(sources) = &aged.sources else {
            return self.show.show(aged.chart, quantity, cells, out);
        };
        let run = sources.get(cells.start as usize..cells.end as usize).unwrap_or_default();
        let known = || run.iter().copied().filter(|cell| *cell != NOWHERE);
        let (Some(first), Some(last)) = (known().min(), known().max()) else { return };
        let mut charted = vec![f32::NAN; (last - first) as usize + 1];
        self.show.show(aged.chart, quantity, first..last + 1, &mut charted);
        for (out, source) in out.iter_mut().zip(run) {
            // The difference of a cell that is nowhere lies beyond the run.
            let place = source.wrapping_sub(first) as usize;
            *out = charted.get(place).copied().unwrap_or(f32::NAN);
        }
    }
}

#[cfg(test)]
mod tests;
