//! Distinct alternatives: routes that share little with better ones, are not much dearer, and have no
//! detour in them.
//!
//! Candidates come from searches in which the cells near the routes already seen are dearer (the
//! penalty method; R. Bader, J. Dees, R. Geisberger and P. Sanders, Alternative route graphs in road
//! networks, TAPAS 2011); the three tests are those of Abraham, Delling, Goldberg and Werneck.

use dipward_plugin::{Control, Error, Goal, RouteProblem};

use crate::{
    question::{Found, Question},
    smooth::Course,
    world::World,
};

/// What makes routes distinct. All are shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distinct {
    /// Greatest share of a route's length along better routes.
    pub sharing: f64,
    /// Greatest further cost over the best.
    pub stretch: f64,
    /// Length of the parts that must be the best way between their ends.
    pub local: f64,
    /// How near counts as along each other, next to the best route's length.
    pub apart: f64,
}

impl Default for Distinct {
    fn default() -> Self {
        Self { sharing: 0.8, stretch: 0.25, local: 0.25, apart: 0.02 }
    }
}

/// By how much a cell near a route seen becomes dearer, each time.
const DEARER: f32 = 1.25;
/// And at most.
const DEAREST: f32 = 4.0;
/// A part may be this much dearer than the best way between its ends: grid routes are compared with
/// smoothed ones.
const DETOUR: f64 = 0.02;

/// Alternatives to the best route, in the order of their cost.
pub(crate) fn alternatives(
    world: &World<'_>,
    question: &Question<'_>,
    best: &Found,
    distinct: Distinct,
    smoothing: bool,
    control: &Control,
) -> Result<Vec<Found>, Error> {
    let wanted = question.problem.routes.saturating_sub(1);
    let mut kept: Vec<Found> = Vec::new();
    if wanted == 0 {
        return Ok(kept);
    }
    let reach = corridor(world, best, distinct.apart);
    let mut penalty = vec![1.0_f32; world.padding.len()];
    make_dearer(world, &best.course, reach, &mut penalty);
    // Smoothing draws a candidate that is no route of its own back to the one it is a variant of, so
    // each refusal spreads the penalty further.
    let mut spread = reach;
    for _ in 0..3 * wanted + 2 {
        let Some((field, meeting)) = question.meet(world, Some(&penalty), control)? else { break };
        let Some(found) = question.route(world, &field, meeting, smoothing) else { break };
        drop(field);
        let problem = &question.problem;
        let limits = found.cost <= best.cost * (1.0 + distinct.stretch)
            && found.route.arrive_hour() <= problem.latest_hour
            && problem.fuel_limit_t.is_none_or(|limit_t| found.route.fuel_t() <= limit_t);
        let apart = || {
            std::iter::once(best)
                .chain(&kept)
                .all(|other| shared(world, &found.course, &other.course, reach) <= distinct.sharing)
        };
        if limits && apart() && is_local(world, question, &found, distinct.local, control)? {
            spread = reach;
            make_dearer(world, &found.course, spread, &mut penalty);
            kept.push(found);
            if kept.len() == wanted {
                break;
            }
        } else {
            spread = spread.saturating_mul(2).min(1000);
            make_dearer(world, &found.course, spread, &mut penalty);
        }
    }
    kept.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    Ok(kept)
}

/// Half the width of the corridor about a route, in cells, at least 2.
fn corridor(world: &World<'_>, best: &Found, apart: f64) -> usize {
    let cells = best.route.distance_km * apart / world.table.grid.cell_km();
    // A cast of NaN is 0.
    (cells as usize).clamp(2, 1000)
}

/// One flag a cell of the grid within reach of a course, by a distance in two sweeps.
fn near(world: &World<'_>, course: &Course, reach: usize) -> Vec<bool> {
    let far = u16::MAX / 2;
    let columns = world.padding.columns;
    let mut steps = vec![far; world.table.grid.len()];
    for piece in course.lines.iter().flat_map(|line| &line.pieces) {
        steps[piece.cell as usize] = 0;
    }
    let last = steps.len();
    for cell in 0..last {
        let before = if cell % columns > 0 { steps[cell - 1] + 1 } else { far };
        let above = if cell >= columns { steps[cell - columns] + 1 } else { far };
        steps[cell] = steps[cell].min(before).min(above);
    }
    for cell in (0..last).rev() {
        let after = if (cell + 1) % columns > 0 { steps[cell + 1] + 1 } else { far };
        let below = if cell + columns < last { steps[cell + columns] + 1 } else { far };
        steps[cell] = steps[cell].min(after).min(below);
    }
    steps.into_iter().map(|count| usize::from(count) <= reach).collect()
}

fn make_dearer(world: &World<'_>, course: &Course, reach: usize, penalty: &mut [f32]) {
    for (cell, near) in near(world, course, reach).into_iter().enumerate() {
        if near {
            let value = &mut penalty[world.padding.padded(cell as u32)];
            *value = (*value * DEARER).min(DEAREST);
        }
    }
}

/// The share of a course that lies within reach of another.
fn shared(world: &World<'_>, course: &Course, other: &Course, reach: usize) -> f64 {
    let near = near(world, other, reach);
    let (mut along, mut all) = (0.0, 0.0);
    for piece in course.lines.iter().flat_map(|line| &line.pieces) {
        all += piece.km;
        if near[piece.cell as usize] {
            along += piece.km;
        }
    }
    if all > 0.0 { along / all } else { 1.0 }
}

/// Whether every part of a route of some share of its length is about the best way between its ends:
/// the parts start half a part from one another, and each is searched anew.
fn is_local(
    world: &World<'_>,
    question: &Question<'_>,
    found: &Found,
    local: f64,
    control: &Control,
) -> Result<bool, Error> {
    let points = &found.route.points;
    let Some(end) = points.last() else { return Ok(false) };
    let depart_hour = question.problem.depart_hour;
    let hours = end.hour - depart_hour;
    let part_h = hours * local;
    if part_h.is_nan() || part_h <= 0.0 {
        return Ok(true);
    }
    let mut from_hour = depart_hour;
    while from_hour < end.hour - part_h / 2.0 {
        let to_hour = (from_hour + part_h).min(end.hour);
        let (Some(from), Some(to)) = (along(points, from_hour), along(points, to_hour)) else {
            return Ok(false);
        };
        let goal = [to.0];
        let problem = RouteProblem {
            start: from.0,
            depart_hour: from_hour,
            goal: Goal::Places(&goal),
            latest_hour: to_hour,
            fuel_limit_t: None,
            routes: 1,
            bounds: false,
            ..question.problem
        };
        // A part that begins or ends where no search can, say beside a closed cell, is let pass.
        if let Ok(part) = Question::new(world, &problem, question.headings)
            && let Some((_, meeting)) = part.meet(world, None, control)?
        {
            let spent = world.cost_of(to_hour - from_hour, to.1 - from.1);
            if f64::from(meeting.cost) < spent * (1.0 - DETOUR) {
                return Ok(false);
            }
        }
        from_hour += part_h / 2.0;
    }
    Ok(true)
}

/// Place and fuel of a route at an hour, linear between its points.
fn along(
    points: &[dipward_plugin::RoutePoint],
    hour: f64,
) -> Option<(dipward_geodesy::Position, f64)> {
    let after = points.partition_point(|point| point.hour <= hour);
    let before = points.get(after.checked_sub(1)?)?;
    let Some(next) = points.get(after) else {
        return Some((before.position, before.fuel_used_t));
    };
    let share = (hour - before.hour) / (next.hour - before.hour);
    let place = if before.position == next.position {
        before.position
    } else {
        dipward_geodesy::interpolate(before.position, next.position, share)
    };
    Some((place, before.fuel_used_t + share * (next.fuel_used_t - before.fuel_used_t)))
}
