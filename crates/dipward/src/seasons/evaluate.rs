//! Evaluates cases: one world for a year and a craft, then port by port and day by day.

use std::collections::BTreeMap;

use dipward_plugin::{Built, Control, Criterion, Error, PolicyPoint, SeasonCase, SeasonOutcome};
use rayon::prelude::*;

use super::{
    faults::StudyFaults,
    study::{CasePlace, Study},
};
use crate::{
    approach::Lines,
    homeward::{Homeward, homeward_from},
    order::rank,
    outward::{Outward, outward},
    plan::approaches_of,
    scenario::Scenario,
    station::Station,
    world::{Harbour, World},
};

/// What an evaluation has come to.
#[derive(Debug, Clone, PartialEq)]
pub enum Evaluated {
    /// A world was made: chart, paces and pole tracks of one year and craft.
    World,
    /// Cases are done, in their order.
    Cases(Vec<SeasonCase>),
}

/// By port and day of departure, the numbers of the cases, which differ in the policy.
type Voyages = BTreeMap<(usize, usize), Vec<u64>>;

/// Evaluates cases.
///
/// A few voyages are in hand at one time, one for each thread, and `done` is told when they are: that
/// is what a kill may lose.
///
/// # Arguments
///
/// * `cases`: the numbers, increasing.
/// * `done`: told of each world and of all cases in their order. What it fails with ends the
///   evaluation.
///
/// # Errors
///
/// [`StudyFaults::Faults`] where the chart shows that a case asks for the impossible (a port on land);
/// otherwise what plug-ins say, what `done` says, and when the run is cancelled.
pub fn evaluate(
    study: &Study<'_>,
    cases: &[u64],
    control: &Control,
    done: &mut dyn FnMut(Evaluated) -> Result<(), Error>,
) -> Result<(), StudyFaults> {
    let mut worlds: BTreeMap<(usize, usize), Voyages> = BTreeMap::new();
    for &case in cases {
        let Some(CasePlace { year, craft, port, day, .. }) = study.place(case) else {
            let message = format!("case {case} is none of the study's {}", study.len());
            return Err(Error::Outside(message).into());
        };
        worlds.entry((year, craft)).or_default().entry((port, day)).or_default().push(case);
    }
    for ((year, craft), voyages) in worlds {
        let voyages: Vec<_> = voyages.into_iter().collect();
        of_world(study, (year, craft), &voyages, control, done)?;
    }
    Ok(())
}

fn of_world(
    study: &Study<'_>,
    (year, craft): (usize, usize),
    voyages: &[((usize, usize), Vec<u64>)],
    control: &Control,
    done: &mut dyn FnMut(Evaluated) -> Result<(), Error>,
) -> Result<(), StudyFaults> {
    let quiet = control.unheard();
    let scenario = study.scenario(year, craft)?;
    let policies = study.policies(&scenario)?;
    let world = World::make(&scenario, &quiet)
        .map_err(|failure| study.found(year, craft).placed_failure(failure, &study.axes()))?;
    let lines = Lines::new(&world.table, &quiet)?;
    let moves = world.moves_on_station();
    let station = world.station(&moves);
    let criteria: Vec<_> = scenario.criteria.iter().map(|built| built.object.as_ref()).collect();
    let in_hand = InHand { study, world: &world, lines, station, policies: &policies, criteria };
    done(Evaluated::World)?;
    let search = scenario.search.object.as_ref();
    let mut homes: Homes = BTreeMap::new();
    for some in voyages.chunks(rayon::current_num_threads().max(1)) {
        quiet.check()?;
        let starts = some
            .iter()
            .map(|((port, day), _)| in_hand.start(*port, *day))
            .collect::<Result<Vec<_>, _>>()?;
        let ways = outward(&world, starts, false, search, &quiet)?;
        let missing: std::collections::BTreeSet<(Option<usize>, u32)> = ways
            .iter()
            .flat_map(|one| leaving_steps(&scenario, one).map(|step| (one.harbour.return_to, step)))
            .filter(|one| !homes.contains_key(one))
            .collect();
        let from_pole = |&(return_to, step): &(Option<usize>, u32)| {
            let hour = leaving_hour(&scenario, step);
            (return_to, (hour, world.mean_pole(hour)))
        };
        let starts: Vec<_> = missing.iter().map(from_pole).collect();
        let found = homeward_from(&world, &starts, search, &quiet)?;
        homes.extend(missing.into_iter().zip(found));
        let cases: Vec<Vec<SeasonCase>> = ways
            .par_iter()
            .zip(some)
            .map(|(one, (_, numbers))| in_hand.cases(one, &homes, numbers))
            .collect::<Result<_, Error>>()?;
        done(Evaluated::Cases(cases.into_iter().flatten().collect()))?;
    }
    Ok(())
}

/// The steps of the lattice of leaving hours among which a departure's approaches choose.
fn leaving_steps(scenario: &Scenario, outward: &Outward<'_>) -> std::ops::RangeInclusive<u32> {
    let keys = &scenario.keys.station;
    let step = keys.leave_every_h;
    // Those that land a party have their own ways home.
    let to_pole = outward.ways.iter().filter(|way| way.landed.is_none());
    let arrivals = to_pole.map(|way| way.route.arrive_hour());
    let (first, last) = arrivals.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), hour| {
        (first.min(hour), last.max(hour))
    });
    let from = ((first + keys.at_least_h) / step).floor().max(0.0);
    // One step more: the shortest stay is rounded up to the lattice even beyond the longest.
    let to = (((last + keys.at_most_h) / step).ceil() + 1.0)
        .min((scenario.window_hours / step).floor())
        .max(0.0);
    #[expect(clippy::reversed_empty_ranges, reason = "no way out, no way home")]
    if first.is_finite() { from as u32..=to as u32 } else { 1..=0 }
}

fn leaving_hour(scenario: &Scenario, step: u32) -> f64 {
    f64::from(step) * scenario.keys.station.leave_every_h
}

/// Ways home from the pole, by where they lead and by the steps of the lattice of leaving hours.
type Homes = BTreeMap<(Option<usize>, u32), Homeward>;

/// What the cases of one world share.
struct InHand<'a> {
    study: &'a Study<'a>,
    world: &'a World<'a>,
    lines: Lines<'a>,
    station: Station<'a>,
    policies: &'a [Built<PolicyPoint>],
    criteria: Vec<&'a dyn Criterion>,
}

impl InHand<'_> {
    fn start(&self, port: usize, day: usize) -> Result<(&Harbour, f64), Error> {
        let axes = self.study.axes();
        let harbour = axes
            .ports
            .get(port)
            .and_then(|name| self.world.harbours.iter().find(|harbour| harbour.name == *name));
        let first = self.world.departures.first();
        harbour
            .zip(first)
            .map(|(harbour, first)| (harbour, first + self.study.since_first_h(day)))
            .ok_or_else(|| Error::Unsolved(format!("port {port} is not in the chart")))
    }

    /// The cases of one port and day.
    fn cases(
        &self,
        outward: &Outward<'_>,
        homes: &Homes,
        numbers: &[u64],
    ) -> Result<Vec<SeasonCase>, Error> {
        // The cases of a departure see the hours that it would see alone.
        let steps = leaving_steps(self.world.scenario, outward);
        let return_to = outward.harbour.return_to;
        let homes: Vec<Homeward> =
            steps.filter_map(|step| homes.get(&(return_to, step)).cloned()).collect();
        numbers.iter().map(|&number| self.case(outward, &homes, number)).collect()
    }

    fn case(
        &self,
        outward: &Outward<'_>,
        homes: &[Homeward],
        number: u64,
    ) -> Result<SeasonCase, Error> {
        let nowhere = || Error::Outside(format!("there is no case {number}"));
        let place = self.study.place(number).ok_or_else(nowhere)?;
        let policy = self.policies.get(place.policy).ok_or_else(nowhere)?;
        let axes = self.study.axes();
        let name = |names: &[String], at: usize| names.get(at).cloned().unwrap_or_default();
        let station = Station { policy: policy.object.as_ref(), ..self.station };
        let (outcome, reason) =
            match approaches_of(self.world, outward, homes, &self.lines, &station) {
                Ok(found) => {
                    (self.best(found.planned.into_iter().map(|one| one.approach).collect())?, None)
                }
                Err(reason) => (None, Some(reason)),
            };
        Ok(SeasonCase {
            case: number,
            year: name(&axes.years, place.year),
            craft: name(&axes.crafts, place.craft),
            port: name(&axes.ports, place.port),
            day: name(&axes.days, place.day),
            policy: name(&axes.policies, place.policy),
            depart: self.world.scenario.clock.instant(outward.hour),
            seed: self.study.seed_of(place.year),
            outcome,
            reason,
        })
    }

    /// The first of the approaches by the scenario's own ranking.
    fn best(
        &self,
        mut approaches: Vec<dipward_plugin::Approach>,
    ) -> Result<Option<SeasonOutcome>, Error> {
        rank(&mut approaches, &self.criteria, (&self.world.scenario.keys).into())?;
        Ok(approaches.into_iter().next().map(|best| SeasonOutcome {
            sought: best.sought,
            home_to: best.home_to,
            arrive: best.arrive,
            leave: best.leave,
            back: best.back,
            distance_km: best.distance_km,
            duration_h: best.duration_h,
            out_t: best.fuel_t.out,
            station_t: best.fuel_t.station,
            home_t: best.fuel_t.home,
            margin_t: best.fuel_t.margin,
            attainment: best.attainment.probability,
            attainment_low: best.attainment.low,
            attainment_high: best.attainment.high,
            if_holding: best.attainment.if_holding,
            if_clairvoyant: best.attainment.if_clairvoyant,
            expected_closest_km: best.stay.closest_km.mean,
            worst_tenth_closest_km: best.stay.closest_km.worst_tenth,
            half_attained_d: best.stay.first_attained_d.half,
            minimum_rio: best.risk.minimum_rio,
            hours_elevated: best.risk.hours_elevated,
        }))
    }
}
