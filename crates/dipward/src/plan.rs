//! The plan: from a scenario to a ranking, with everything that a report shows.

use std::{collections::BTreeMap, fmt, time::Instant};

use dipward_plugin::{
    Approach, Assumption, CAUTION, Control, Error, Faults, PoleSummary, Ranking, Rejected, Report,
    RunRecord, SCHEMA_VERSION,
};
use rayon::prelude::*;

use crate::{
    VERSION,
    approach::{Lines, Planned, plan_way, profile},
    approach_ids::{departure_id, letters},
    coast_check::Coast,
    crust::crust_sensitivity,
    homeward::{FromPole, Homeward},
    land_ice::land_ice_warnings,
    model_spread::widen_by_models,
    order::rank,
    outward::{Outward, departures, outward},
    picture::{layer_records, map_picture, pole_picture},
    proofs::prove,
    reasons::reasons,
    scenario::Scenario,
    stages::plan_landed,
    station::Station,
    trade::trade,
    turning::turning,
    warnings::warnings,
    world::World,
};

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum PlanError {
    /// The scenario is at fault.
    Faults(Faults),
    /// Something failed on the way, or the run was cancelled.
    Error(Error),
}

impl From<Faults> for PlanError {
    fn from(faults: Faults) -> Self {
        Self::Faults(faults)
    }
}

impl From<Error> for PlanError {
    fn from(error: Error) -> Self {
        Self::Error(error)
    }
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Faults(faults) => faults.fmt(f),
            Self::Error(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for PlanError {}

/// Plans a scenario.
///
/// # Returns
///
/// A report whose ranking may hold no approach: then its `rejected` say why.
///
/// # Errors
///
/// [`PlanError::Faults`] where the chart shows that the scenario asks for the impossible (a port on
/// land); [`PlanError::Error`] for what plug-ins say, and when the run is cancelled.
pub fn plan(scenario: &Scenario, control: &Control) -> Result<Report, PlanError> {
    let mut watch = Watch::start();
    let world = World::make(scenario, control)?;
    watch.lap("pole tracks, chart and paces");
    Ok(plan_in(&world, TURNED, watch, control)?.0)
}

/// Approaches whose way out is scanned for turning back: as many as a page shows.
const TURNED: usize = 5;

/// Plans in a world that is made.
///
/// # Arguments
///
/// `turned`: how many of the first approaches are scanned for turning back.
///
/// # Returns
///
/// The report, and the ways home from the pole that the approaches chose among.
///
/// # Errors
///
/// As [`plan`].
pub(crate) fn plan_in(
    world: &World<'_>,
    turned: usize,
    mut watch: Watch,
    control: &Control,
) -> Result<(Report, FromPole), PlanError> {
    let scenario = world.scenario;
    let search = scenario.search.object.as_ref();
    let outward = outward(world, departures(world), true, search, control)?;
    watch.lap("ways out");
    let homes = FromPole::solve(world, &leaving_hours(world, &outward), search, control)?;
    watch.lap("ways home");
    let (mut planned, rejected) = approaches(world, &outward, &homes, control)?;
    let criteria: Vec<_> = scenario.criteria.iter().map(|built| built.object.as_ref()).collect();
    let mut ranked: Vec<Approach> = planned.values().map(|one| one.approach.clone()).collect();
    let rule = (&scenario.keys).into();
    let partings = rank(&mut ranked, &criteria, rule)?;
    let why = reasons(&ranked, &criteria, rule, &partings);
    ranked.truncate(scenario.keys.voyage.keep);
    planned.retain(|id, _| ranked.iter().any(|approach| approach.id == *id));
    watch.lap("approaches");
    widen_by_models(world, &planned, &mut ranked, control)?;
    watch.lap("spread between models");
    let mut kept: Vec<_> = ranked
        .iter_mut()
        .filter_map(|approach| {
            let claims = planned.get(&approach.id)?.claims.as_slice();
            Some((approach, claims))
        })
        .collect();
    prove(world, &mut kept, search, control)?;
    watch.lap("bounds of the ways kept");
    for approach in ranked.iter_mut().take(turned) {
        if let Some(one) = planned.get(&approach.id)
            && scenario.keys.voyage.turning_points > 0
        {
            let homes = homes.of(one.return_to);
            approach.turning = Some(turning(world, one, homes, search, control)?);
        }
    }
    watch.lap("turning back");
    let coast = Coast::of(world);
    for approach in &mut ranked {
        approach.warnings = warnings(world, approach)?;
        approach.warnings.extend(coast.warning(approach));
        approach.warnings.extend(land_ice_warnings(world, approach)?);
    }
    let first = ranked.first().and_then(|approach| planned.get(&approach.id));
    let crust_sensitivity = first.map(|one| crust_sensitivity(world, one, control)).transpose()?;
    watch.lap("half and twice the crust");

    let (mut profiles, mut voyages) = (BTreeMap::new(), BTreeMap::new());
    let mut attainment_on_station = BTreeMap::new();
    for (id, one) in &planned {
        profiles.insert(id.clone(), profile(one));
        voyages.insert(id.clone(), one.log.clone());
        let instants =
            one.stay.cumulative.iter().map(|(hour, p)| (scenario.clock.instant(*hour), *p));
        attainment_on_station.insert(id.clone(), instants.collect());
    }
    let pole = pole_picture(world);
    let at_hour =
        ranked.first().map_or(world.window_hours / 2.0, |first| scenario.clock.hour(first.arrive));
    let map = map_picture(world, at_hour, control)?;
    let layers = layer_records(world, control)?;
    let assumptions = assumptions(world);
    watch.lap("report");
    let counts = BTreeMap::from([
        ("cells".to_owned(), world.table.grid.len() as u64),
        ("frames".to_owned(), world.table.hours.len() as u64),
        ("members".to_owned(), world.tracks.members() as u64),
        ("ways_out".to_owned(), outward.iter().map(|one| one.ways.len() as u64).sum()),
        ("ways_home".to_owned(), homes.count() as u64 * 2),
    ]);
    let report = Report {
        ranking: Ranking {
            schema_version: SCHEMA_VERSION,
            dipward_version: VERSION.to_owned(),
            scenario: scenario.keys.title.clone(),
            seed: scenario.keys.seed,
            caution: CAUTION.to_owned(),
            assumptions,
            pole: pole_summary(world)?,
            why,
            crust_sensitivity,
            approaches: ranked,
            rejected,
        },
        profiles,
        voyages,
        attainment_on_station,
        pole,
        map,
        layers,
        resolved_scenario: serde_yaml::to_string(&scenario.resolved())
            .map_err(|error| Error::Unsolved(format!("the scenario cannot be written: {error}")))?,
        run: RunRecord {
            dipward_version: VERSION.to_owned(),
            seed: scenario.keys.seed,
            inputs_sha256: scenario.context.inputs(),
            timings_s: watch.laps,
            counts,
        },
        notes: scenario.keys.notes.clone(),
    };
    Ok((report, homes))
}

/// The instants at which leaving the pole is considered: from the first arrival to the window's end.
fn leaving_hours(world: &World<'_>, outward: &[Outward<'_>]) -> Vec<f64> {
    let to_pole = outward.iter().flat_map(|one| &one.ways).filter(|way| way.landed.is_none());
    let arrivals = to_pole.map(|way| way.route.arrive_hour());
    let first = arrivals.fold(f64::INFINITY, f64::min);
    let keys = &world.scenario.keys.station;
    if !first.is_finite() {
        return Vec::new();
    }
    let step = keys.leave_every_h;
    let from = ((first + keys.at_least_h) / step).floor().max(0.0) as u32;
    let to = (world.window_hours / step).floor() as u32;
    (from..=to).map(|index| f64::from(index) * step).collect()
}

/// All approaches by id, and the departures that have none.
fn approaches(
    world: &World<'_>,
    outward: &[Outward<'_>],
    homes: &FromPole,
    control: &Control,
) -> Result<(BTreeMap<String, Planned>, Vec<Rejected>), Error> {
    let mut planned = BTreeMap::new();
    let mut rejected = Vec::new();
    let lines = Lines::new(&world.table, control)?;
    let moves = world.moves_on_station();
    let station = world.station(&moves);
    control.begin("approaches", outward.len() as u64);
    let found: Vec<_> = outward
        .par_iter()
        .map(|one| {
            control.check()?;
            let from_pole = homes.of(one.harbour.return_to);
            let found = approaches_of(world, one, from_pole, &lines, &station);
            control.advance(1);
            Ok(found)
        })
        .collect::<Result<_, Error>>()?;
    for (one, found) in outward.iter().zip(found) {
        let reject = |reason| Rejected {
            from: one.harbour.name.clone(),
            depart: world.scenario.clock.instant(one.hour),
            reason,
        };
        match found {
            Ok(found) => {
                rejected.extend(found.failed.iter().map(|(name, why)| reject(by(name, why))));
                let all = found.planned.into_iter();
                planned.extend(all.map(|one| (one.approach.id.clone(), one)));
            }
            Err(reason) => rejected.push(reject(reason)),
        }
    }
    Ok((planned, rejected))
}

/// The approaches of one port and departure.
pub(crate) struct Found {
    /// The first way's first.
    pub(crate) planned: Vec<Planned>,
    /// Last legs by which there is none, each with the reason.
    failed: Vec<(String, String)>,
}

/// A reason with the last leg that it is about.
fn by(name: &str, why: &str) -> String {
    format!("by {name}: {why}")
}

/// The approaches of one port and departure.
///
/// # Errors
///
/// Why there is none.
pub(crate) fn approaches_of(
    world: &World<'_>,
    outward: &Outward<'_>,
    homes: &[Homeward],
    lines: &Lines<'_>,
    station: &Station<'_>,
) -> Result<Found, String> {
    let departure = departure_id(&outward.harbour.stem, world.scenario.clock.instant(outward.hour));
    let mut reason = outward.reason.clone();
    let mut failed = outward.unlanded.clone();
    let mut all: Vec<Planned> = Vec::new();
    for (letter, way) in letters().zip(&outward.ways) {
        let planned = match &way.landed {
            None => plan_way(world, outward, way, homes, lines, station),
            Some(landed) => plan_landed(world, outward, way, landed, lines, station),
        };
        match planned {
            Ok(mut found) => {
                found.approach.id = format!("{departure}-{letter}");
                if let Some(best) = all.first() {
                    found.approach.trade = trade(&best.approach, &found.approach);
                }
                all.push(found);
            }
            Err(why) => match way.landed.as_ref().and_then(|landed| world.legs.get(landed.leg)) {
                None => reason = Some(why),
                Some(leg) => failed.push((leg.leg.name(), why)),
            },
        }
    }
    if all.is_empty() {
        let mut told = reason.unwrap_or_else(|| "the search found no way".to_owned());
        for (name, why) in &failed {
            told += &format!("; {}", by(name, why));
        }
        return Err(told);
    }
    let carries = |name: &str| {
        let mut legs = all.iter().filter_map(|one| one.approach.last_leg.as_ref());
        legs.any(|leg| leg.by == name)
    };
    failed.retain(|(name, _)| !carries(name));
    failed.dedup_by(|a, b| a.0 == b.0);
    Ok(Found { planned: all, failed })
}

/// What is known of the drift of the ice on station.
fn drift_told(world: &World<'_>) -> String {
    match &world.pack {
        None => {
            "no layer knows of a drift of the ice at the mean pole: on station the ice lies still"
                .to_owned()
        }
        Some(pack) => format!(
            "the ice at the mean pole drifts by {:.1} km a day in the mean, as the chart has it; the fuel on station \
             holds what it burns to keep the place against it, where the policy does not drift",
            pack.mean_km_per_day()
        ),
    }
}

fn assumptions(world: &World<'_>) -> Vec<Assumption> {
    let scenario = world.scenario;
    let mut all = scenario.model.object.assumptions();
    all.extend(scenario.disturbance.object.assumptions());
    all.extend(scenario.layers.iter().flat_map(|layer| layer.object.assumptions()));
    all.extend(scenario.craft.object.assumptions());
    all.extend(scenario.last_legs.iter().flat_map(|leg| leg.object.assumptions()));
    all.extend(scenario.policy.object.assumptions());
    all.push(Assumption::new(
        "station",
        "the pole and the craft are looked at once an hour; on station the craft goes at full power through the \
         chart's cells",
    ));
    all.push(Assumption::new("station", drift_told(world)));
    all.extend(world.harbours.iter().filter(|harbour| harbour.moved_km > 0.0).map(|harbour| {
        let text = format!(
            "{} is reached {:.0} km from its stated position, at the nearest open cell; the miles between are \
             told as pilotage at {} kn, beside the hours and the fuel of the track",
            harbour.name, harbour.moved_km, scenario.keys.voyage.pilotage_kn
        );
        Assumption::new("voyage.ports", text)
    }));
    let fall = dipward_search::steepest_fall(&world.table);
    if fall < -1.0 {
        let text = format!(
            "somewhere the ice eases so fast between two frames that, were the pace taken at the start of \
             a move, leaving an hour later would gain {:.1} h; the pace is integrated along each move, and \
             waiting is allowed, so that leaving later never arrives earlier; frames nearer in time would \
             tell more",
            -fall
        );
        all.push(Assumption::new("search", text));
    }
    all.dedup();
    all
}

fn pole_summary(world: &World<'_>) -> Result<PoleSummary, Error> {
    let scenario = world.scenario;
    let hour = world.window_hours / 2.0;
    let pole = dipward_field::dip_pole(
        scenario.model.object.as_ref(),
        scenario.keys.pole.hemisphere,
        scenario.clock.decimal_year(hour),
        scenario.keys.pole.height_km,
    )?;
    Ok(PoleSummary {
        hemisphere: scenario.keys.pole.hemisphere,
        model: scenario.model.object.provenance().name,
        epoch: scenario.clock.instant(hour),
        latitude_deg: pole.position.y(),
        longitude_deg: pole.position.x(),
        drift_km_per_year: pole.drift_km_per_year,
        drift_bearing_deg: pole.drift_bearing_deg,
    })
}

/// Times the stages of a run.
pub(crate) struct Watch {
    since: Instant,
    laps: Vec<(String, f64)>,
}

impl Watch {
    pub(crate) fn start() -> Self {
        Self { since: Instant::now(), laps: Vec::new() }
    }

    pub(crate) fn lap(&mut self, stage: &str) {
        self.laps.push((stage.to_owned(), self.since.elapsed().as_secs_f64()));
        self.since = Instant::now();
    }
}
