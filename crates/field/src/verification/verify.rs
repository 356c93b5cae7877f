//! An ensemble drawn at recorded hours, and scored.

use dipward_geodesy::Hemisphere;
use dipward_plugin::{Clock, Control, Disturbance, Error};
use rayon::prelude::*;

use super::{
    HourRow, Knowing, KpRow, MonthRow, PoleTold, Selection, StationTold, Verification,
    autocorrelation::{Lag, LagPairs, LagSums, correlations},
    climate_crps,
    ensemble::Draw,
    events::{Event, EventTally, add_starts},
    hours::{HourTallies, HourTally},
    intervals::{Interval, Intervals, Stretch},
};
use crate::{
    DipPole,
    observatory::StationRecord,
    plane_matrix::{Matrix, determinant},
};

/// With 159 members, shares of 50 and 95 % are ranks of whole members among 160.
pub const DEFAULT_MEMBERS: u32 = 159;
/// With fewer members than these there is no region that holds 95 %.
const FEWEST_MEMBERS: u32 = 39;
/// The longest event, h.
const LONGEST_EVENT_H: f64 = 720.0;
/// The memory is the same in all members; these are enough.
const CORRELATED_MEMBERS: usize = 40;
/// Intervals that are scored together: their members stay near the processor.
const BLOCK: usize = 512;
/// Seeds of successive stretches lie so far apart that those of neighbouring requests do not meet.
const SEED_STEP: u64 = 0x9E37_79B9_7F4A_7C15;

/// How a disturbance is verified.
#[derive(Debug, Clone, PartialEq)]
pub struct VerifySettings {
    /// Members of the ensemble.
    pub members: u32,
    /// Seed of all random draws.
    pub seed: u64,
    /// What the disturbance knows of Kp. Where it is the true Kp, hours outside the history are left out.
    pub knowing: Knowing,
    /// Distances of the events, km.
    pub within_km: Vec<f64>,
    /// Durations of the events, h: whole multiples of the record's cadence.
    pub for_h: Vec<f64>,
    /// Which hours and starts are scored.
    pub selection: Selection,
}

impl Default for VerifySettings {
    fn default() -> Self {
        Self {
            members: DEFAULT_MEMBERS,
            seed: 1,
            knowing: Knowing::Scenario,
            within_km: vec![5.0, 10.0, 20.0],
            for_h: vec![2.0, 6.0],
            selection: Selection::default(),
        }
    }
}

/// Holds a disturbance against the recorded hours of a station.
///
/// The disturbance is asked for its members at the station's place, at four instants an hour (once an
/// interval where the record is finer), and averaged over the record's intervals, so that model and record
/// are looked at with the same means. Vectors are compared as they are told, toward the station's north and
/// east; the pole's distance is |J^-1 b| with J the Jacobian of `pole`.
///
/// Long records are asked for in stretches of at most 40,000 intervals and 20 years, each with a seed of
/// its own; the same record and settings give the same bits on any number of threads.
///
/// # Errors
///
/// [`Error::Outside`] for settings or a record that cannot be scored, or hours that the disturbance does
/// not cover; [`Error::Contract`] where it returns what is not finite; [`Error::Cancelled`].
///
/// # Complexity
///
/// Proportional to recorded intervals times members: about a microsecond for each.
pub fn verify(
    record: &StationRecord,
    disturbance: &dyn Disturbance,
    pole: &DipPole,
    settings: &VerifySettings,
    control: &Control,
) -> Result<Verification, Error> {
    check(record, pole, settings)?;
    let events = events_of(record, settings)?;
    let reach = events.iter().map(|event| event.values).max().unwrap_or(1) - 1;
    let intervals = Intervals::of(record, &settings.selection, settings.knowing, reach);
    let scored = |one: &&Interval| one.scored;
    let (Some(first), Some(last)) =
        (intervals.asked.iter().find(scored), intervals.asked.iter().rev().find(scored))
    else {
        return Err(Error::Outside(nothing_to_score(record, &intervals)));
    };
    let stretches = intervals.stretches(record.cadence_h, reach);
    control.begin("verification", stretches.len() as u64 * u64::from(settings.members));
    let task = Task { record, disturbance, pole, settings, events: &events, reach };
    let lags = Lag::of_cadence(record.cadence_h);
    let mut tally = Tally::new(events.len(), lags.len());
    for (number, stretch) in stretches.iter().enumerate() {
        tally.add(&task.stretch(number, stretch, &lags, control)?);
    }
    let Some(all) = tally.hours.all.scores(record.cadence_h) else {
        return Err(Error::Outside(nothing_to_score(record, &intervals)));
    };
    let rows = |tallies: &[HourTally]| -> Vec<_> {
        let scores = tallies.iter().map(|tally| tally.scores(record.cadence_h));
        (0_u8..).zip(scores).filter_map(|(at, scores)| Some((at, scores?))).collect()
    };
    Ok(Verification {
        station: StationTold {
            name: record.name.clone(),
            latitude_deg: record.place.y(),
            longitude_deg: record.place.x(),
            cadence_h: record.cadence_h,
        },
        disturbance: disturbance.provenance().name,
        knowing: settings.knowing,
        pole: PoleTold {
            hemisphere: pole.hemisphere,
            latitude_deg: pole.position.y(),
            longitude_deg: pole.position.x(),
            decimal_year: pole.decimal_year,
            jacobian_nt_per_km: pole.jacobian_nt_per_km,
        },
        members: settings.members,
        seed: settings.seed,
        first: record.instant(first.index),
        last: record.instant(last.index),
        intervals: tally.hours.all.intervals,
        hours_without_kp: (intervals.without_kp as f64 * record.cadence_h).round() as u64,
        all,
        crps_climate_nt: climate_crps(&intervals.lengths).unwrap_or(f64::NAN),
        by_kp: rows(&tally.hours.by_kp)
            .into_iter()
            .map(|(kp, scores)| KpRow { kp, scores })
            .collect(),
        by_month: rows(&tally.hours.by_month)
            .into_iter()
            .map(|(before, scores)| MonthRow { month: before + 1, scores })
            .collect(),
        by_hour: rows(&tally.hours.by_hour)
            .into_iter()
            .map(|(hour, scores)| HourRow { hour, scores })
            .collect(),
        autocorrelation: correlations(&lags, &tally.record, &tally.model),
        events: events
            .iter()
            .zip(&tally.events)
            .map(|(event, tally)| tally.scores(event))
            .collect(),
        remarks: remarks(record, &intervals),
        assumptions: disturbance.assumptions(),
    })
}

fn check(record: &StationRecord, pole: &DipPole, settings: &VerifySettings) -> Result<(), Error> {
    let wrong = |why: String| Err(Error::Outside(why));
    if !(record.cadence_h > 0.0 && record.cadence_h.is_finite()) {
        return wrong(format!("a record every {} hours cannot be scored", record.cadence_h));
    }
    if settings.members < FEWEST_MEMBERS {
        let members = settings.members;
        return wrong(format!(
            "{members} members are too few for 95 %: take {FEWEST_MEMBERS} or more"
        ));
    }
    if determinant(pole.jacobian_nt_per_km) == 0.0 {
        return wrong("the pole's Jacobian has no inverse, so nT are no km there".into());
    }
    let latitude_deg = record.place.y();
    let own = if latitude_deg >= 0.0 { Hemisphere::North } else { Hemisphere::South };
    if own != pole.hemisphere {
        return wrong(format!(
            "the station at latitude {latitude_deg} is not in the hemisphere of the {:?} pole: its season \
             and its local time are others",
            pole.hemisphere
        ));
    }
    if let Some(within_km) = settings.within_km.iter().find(|km| !(**km > 0.0 && km.is_finite())) {
        return wrong(format!(
            "the pole cannot stay within {within_km} km: give a distance above 0"
        ));
    }
    if let Some(month) = settings.selection.months.iter().find(|month| !(1..=12).contains(*month)) {
        return wrong(format!("{month} is no month: 1 to 12"));
    }
    Ok(())
}

fn events_of(record: &StationRecord, settings: &VerifySettings) -> Result<Vec<Event>, Error> {
    let cadence_h = record.cadence_h;
    let mut events = Vec::new();
    for &within_km in &settings.within_km {
        for &for_h in &settings.for_h {
            if !(0.0..=LONGEST_EVENT_H).contains(&for_h) {
                return Err(Error::Outside(format!(
                    "an event of {for_h} h is not within 0 to {LONGEST_EVENT_H} h"
                )));
            }
            let steps = (for_h / cadence_h).round();
            if (steps * cadence_h - for_h).abs() > 1e-6 {
                return Err(Error::Outside(format!(
                    "an event of {for_h} h is no whole number of the record's intervals of {cadence_h} h"
                )));
            }
            events.push(Event { within_km, for_h, values: steps as usize + 1 });
        }
    }
    Ok(events)
}

fn nothing_to_score(record: &StationRecord, intervals: &Intervals) -> String {
    let recorded = intervals.lengths.len();
    if recorded == 0 {
        return format!("the record of {} holds no value", record.name);
    }
    if intervals.without_kp > 0 {
        return format!(
            "no hour of {} is selected whose Kp is known (1957-10-01 to 2026-06-30)",
            record.name
        );
    }
    format!("none of the {recorded} recorded intervals of {} is selected", record.name)
}

fn remarks(record: &StationRecord, intervals: &Intervals) -> Vec<String> {
    let mut remarks = record.remarks.clone();
    remarks.push(
        "vectors are compared as they are told, toward the station's north and east, and turned to km by \
         the pole's Jacobian without turning them to the pole's own local time"
            .into(),
    );
    let mut years: Vec<i16> = intervals.lengths.iter().map(|one| one.year).collect();
    years.dedup();
    if years.len() < 2 {
        remarks.push(
            "the record holds one calendar year: its table of month and hour knows the hours it is scored \
             by, and is harder to beat"
                .into(),
        );
    }
    remarks
}

/// What is done to each stretch.
struct Task<'a> {
    record: &'a StationRecord,
    disturbance: &'a dyn Disturbance,
    pole: &'a DipPole,
    settings: &'a VerifySettings,
    events: &'a [Event],
    reach: usize,
}

impl Task<'_> {
    fn stretch(
        &self,
        number: usize,
        stretch: &Stretch<'_>,
        lags: &[Lag],
        control: &Control,
    ) -> Result<Tally, Error> {
        let Stretch { intervals, own } = *stretch;
        let first = intervals.first().map_or(0, |interval| interval.index);
        let draw = Draw {
            disturbance: self.disturbance,
            place: self.record.place,
            hemisphere: self.pole.hemisphere,
            clock: Clock::new(self.record.instant(first)),
            cadence_h: self.record.cadence_h,
            members: self.settings.members,
            seed: self.settings.seed.wrapping_add(SEED_STEP.wrapping_mul(number as u64)),
        };
        let members = draw.members(intervals, control)?;
        let mut tally = Tally::new(self.events.len(), lags.len());
        let pairs = LagPairs::of(intervals, own, lags);
        tally.record.add_pairs(&pairs, |at| intervals[at].recorded_nt);
        let memories: Vec<LagSums> = members
            .par_iter()
            .take(CORRELATED_MEMBERS)
            .map(|member| {
                let mut sums = LagSums::new(lags.len());
                sums.add_pairs(&pairs, |at| member[at].map(f64::from));
                sums
            })
            .collect();
        memories.iter().for_each(|sums| tally.model.add(sums));
        let starts: Vec<usize> = (0..own).step_by(BLOCK).collect();
        let blocks: Vec<(HourTallies, Vec<EventTally>)> = starts
            .par_iter()
            .map(|&from| {
                control.check()?;
                let own = (own - from).min(BLOCK);
                let to = (from + own + self.reach).min(intervals.len());
                let members: Vec<&[[f32; 2]]> =
                    members.iter().map(|member| &member[from..to]).collect();
                let intervals = &intervals[from..to];
                let mut events = vec![EventTally::default(); self.events.len()];
                let jacobian: Matrix = self.pole.jacobian_nt_per_km;
                add_starts(&mut events, self.events, jacobian, intervals, own, &members);
                Ok((score_hours(&intervals[..own], &members), events))
            })
            .collect::<Result<_, Error>>()?;
        for (hours, events) in &blocks {
            tally.hours.add(hours);
            for (own, its) in tally.events.iter_mut().zip(events) {
                own.add(its);
            }
        }
        Ok(tally)
    }
}

fn score_hours(intervals: &[Interval], members_nt: &[&[[f32; 2]]]) -> HourTallies {
    let mut tallies = HourTallies::default();
    let mut members = vec![[0.0; 2]; members_nt.len()];
    let mut room = Vec::with_capacity(members.len());
    for (at, interval) in intervals.iter().enumerate().filter(|(_, interval)| interval.scored) {
        for (vector, member) in members.iter_mut().zip(members_nt) {
            *vector = member[at].map(f64::from);
        }
        let one = HourTally::of(interval.recorded_nt, &members, &mut room);
        tallies.all.add(&one);
        let month = usize::from(interval.month.saturating_sub(1));
        let own = [
            interval.kp.and_then(|kp| tallies.by_kp.get_mut(usize::from(kp.class()))),
            tallies.by_month.get_mut(month),
            tallies.by_hour.get_mut(usize::from(interval.hour)),
        ];
        own.into_iter().flatten().for_each(|tally| tally.add(&one));
    }
    tallies
}

/// Sums over stretches.
struct Tally {
    hours: HourTallies,
    events: Vec<EventTally>,
    record: LagSums,
    model: LagSums,
}

impl Tally {
    fn new(events: usize, lags: usize) -> Self {
        Self {
            hours: HourTallies::default(),
            events: vec![EventTally::default(); events],
            record: LagSums::new(lags),
            model: LagSums::new(lags),
        }
    }

    fn add(&mut self, other: &Self) {
        self.hours.add(&other.hours);
        for (own, its) in self.events.iter_mut().zip(&other.events) {
            own.add(its);
        }
        self.record.add(&other.record);
        self.model.add(&other.model);
    }
}

#[cfg(test)]
#[path = "verify_tests.rs"]
mod tests;
