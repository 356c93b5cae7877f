//! One voyage from port to port: passages, waits, the stay and the way home, cell by cell and frame by
//! frame, built once.
//!
//! All that is told of a voyage's risk, ice and light is read off its log.

use dipward_chart::RiskSample;
use dipward_craft::sun_in_sky;
use dipward_geodesy::Position;
use dipward_plugin::{
    Error, FieldSample, LogEntry, PaceTable, Phase, Quantity, RoutePoint, Site, VoyageLog,
};
use dipward_search::PassageStep;

use crate::world::World;

/// Where a ship lies between her ways.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Lies {
    /// At the pole, or at a landing.
    pub(crate) phase: Phase,
    /// Where she lies from each hour on, increasing; the last holds to the end.
    pub(crate) places: Vec<(f64, Position)>,
    /// When she leaves.
    pub(crate) until_hour: f64,
    /// What she burns meanwhile, spread evenly.
    pub(crate) fuel_t: f64,
}

/// Writes the log of a voyage.
///
/// # Arguments
///
/// Her way out, where she lies, and her way home, one after the other in time.
///
/// # Errors
///
/// What the chart's layers and the main field say; [`Error::Unsolved`] where a ship lies off the chart.
pub(crate) fn log(
    world: &World<'_>,
    out: Vec<PassageStep>,
    lies: &Lies,
    home: Vec<PassageStep>,
) -> Result<VoyageLog, Error> {
    let mut steps: Vec<_> = phased(out).collect();
    steps.extend(lying(&world.table, lies)?);
    steps.extend(phased(home));
    entries(world, &steps)
}

/// Where a passage is as it enters each cell, and at its end.
pub(crate) fn points(steps: &[PassageStep], end: Option<&RoutePoint>) -> Vec<RoutePoint> {
    let mut fuel_used_t = 0.0;
    let entered = steps.iter().map(|step| {
        let point = RoutePoint {
            position: step.position,
            hour: step.begin_hour,
            fuel_used_t,
            setting: step.setting.unwrap_or_default(),
        };
        fuel_used_t += step.fuel_t;
        point
    });
    let mut points: Vec<RoutePoint> = entered.collect();
    points.extend(end);
    points
}

fn phased(steps: Vec<PassageStep>) -> impl Iterator<Item = (Phase, PassageStep)> {
    steps
        .into_iter()
        .map(|step| (if step.setting.is_some() { Phase::UnderWay } else { Phase::Waiting }, step))
}

/// The stay, cut where the ship comes to lie elsewhere and at the frames of the table.
fn lying(table: &PaceTable, lies: &Lies) -> Result<Vec<(Phase, PassageStep)>, Error> {
    let Some(&(from_hour, _)) = lies.places.first() else { return Ok(Vec::new()) };
    let whole_h = lies.until_hour - from_hour;
    let rate = if whole_h > 0.0 { lies.fuel_t / whole_h } else { 0.0 };
    let mut steps: Vec<(Phase, PassageStep)> = Vec::new();
    let ends = lies.places.iter().skip(1).map(|place| place.0).chain([lies.until_hour]);
    for (&(begin, position), end) in lies.places.iter().zip(ends) {
        let cell = table
            .grid
            .cell_at(position)
            .ok_or_else(|| Error::Unsolved("a ship lies off the chart".to_owned()))?;
        let frames = table.hours.iter().copied().filter(|&hour| hour > begin && hour < end);
        let mut begin_hour = begin;
        for end_hour in frames.chain([end]) {
            if end_hour <= begin_hour {
                continue;
            }
            let fuel_t = rate * (end_hour - begin_hour);
            let step = PassageStep {
                cell,
                position,
                begin_hour,
                end_hour,
                km: 0.0,
                fuel_t,
                setting: None,
            };
            steps.push((lies.phase, step));
            begin_hour = end_hour;
        }
    }
    Ok(steps)
}

/// What she meets in each step.
fn entries(world: &World<'_>, steps: &[(Phase, PassageStep)]) -> Result<VoyageLog, Error> {
    let clock = world.scenario.clock;
    let Some((_, first)) = steps.first() else { return Ok(Vec::new()) };
    let sites: Vec<Site> = steps
        .iter()
        .map(|(_, step)| Site {
            latitude_deg: step.position.y(),
            longitude_deg: step.position.x(),
            height_km: 0.0,
        })
        .collect();
    let mut field = vec![FieldSample::default(); sites.len()];
    // The field changes by some tens of nanotesla a year: one epoch serves a voyage.
    let year = clock.decimal_year(first.begin_hour);
    world.scenario.model.object.sample(year, &sites, &mut field)?;
    let mut fuel_used_t = 0.0;
    steps
        .iter()
        .zip(field)
        .map(|(&(phase, step), field)| {
            // Between two frames the middle stands for the whole: the index is the worse of both.
            let middle = f64::midpoint(step.begin_hour, step.end_hour);
            let risk = world.risk.of_cell(middle, step.cell);
            let number = |value: f32| (!value.is_nan()).then_some(f64::from(value));
            let ice = world.chart.of_cell(middle, Quantity::ICE_CONCENTRATION, step.cell)?;
            let (latitude_deg, longitude_deg) = (step.position.y(), step.position.x());
            let sun = sun_in_sky(clock.instant(middle), latitude_deg, longitude_deg);
            fuel_used_t += step.fuel_t;
            Ok(LogEntry {
                phase,
                latitude_deg,
                longitude_deg,
                begin: clock.instant(step.begin_hour),
                end: clock.instant(step.end_hour),
                hours: step.end_hour - step.begin_hour,
                distance_km: step.km,
                fuel_t: step.fuel_t,
                fuel_used_t,
                power_setting: step.setting,
                ice_concentration: number(ice),
                risk_index: risk.and_then(|RiskSample { risk_index, .. }| number(risk_index)),
                elevated: risk.is_some_and(|risk| risk.elevated),
                closure: risk.map(|risk| risk.closure).unwrap_or_default(),
                sun_height_deg: sun.altitude_deg,
                horizontal_nt: field.vector.horizontal_nt(),
            })
        })
        .collect()
}
