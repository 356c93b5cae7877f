//! Taking a route off the grid: shortcuts, then stops moved, dropped and put in.
//!
//! Every change is sailed exactly and kept only where it lowers the cost from its entry on, and the
//! whole is kept only where it is no worse than what came in.

use dipward_geodesy::Position;
use geo::Coord;

use crate::{
    course::{Entry, Stop},
    passage::Line,
    world::World,
};

/// A change must lower the cost by this share of the part that it touches.
const GAIN: f64 = 1e-7;
/// First and last length of a move of a stop, in cells.
const FIRST_STEP: f64 = 2.0;
const LAST_STEP: f64 = 1.0 / 16.0;
/// Lines shorter than this many cells get no stop put in.
const SHORTEST_SPLIT: f64 = 10.0;
const ROUNDS: usize = 4;

/// Stops and the lines between them.
#[derive(Debug, Clone)]
pub(crate) struct Course {
    pub(crate) stops: Vec<Position>,
    pub(crate) lines: Vec<Line>,
}

impl Course {
    pub(crate) fn new(world: &World<'_>, stops: Vec<Position>) -> Option<Self> {
        let lines = world.lines(&stops)?;
        Some(Self { stops, lines })
    }

    /// The end of the least cost, from an entry.
    pub(crate) fn end(&self, world: &World<'_>, entry: Entry) -> Option<Stop> {
        world.best_end(&world.sail_chain(&self.stops, &self.lines, entry, f64::INFINITY)?)
    }
}

/// Smooths a course from an entry; gives back what came in where nothing is better.
pub(crate) fn smooth(world: &World<'_>, course: Course, entry: Entry) -> Course {
    let Some(before) = course.end(world, entry) else { return course };
    let mut best_cost = world.cost_of(before.hour, before.fuel_t);
    let mut best = course;
    let mut smoother =
        Smoother { world, entry, out: Course { stops: Vec::new(), lines: Vec::new() } };

    // A shortcut that is better where it ends can come before what closes further on: then the rest
    // cannot be sailed, and nothing of it is kept.
    if smoother.pull_all(&best).is_none() {
        return best;
    }
    let mut candidate = smoother.out;
    let mut steps = vec![FIRST_STEP; candidate.stops.len()];
    for round in 0..=ROUNDS {
        if let Some(end) = candidate.end(world, entry) {
            let cost = world.cost_of(end.hour, end.fuel_t);
            let gain = best_cost - cost;
            if gain >= 0.0 {
                best = candidate.clone();
                best_cost = cost;
            }
            if round > 1 && gain <= 1e-6 * cost_scale(world, entry, end) {
                break;
            }
        } else {
            // A change upstream that was earlier here can be caught by a closing further on.
            break;
        }
        if round == ROUNDS {
            break;
        }
        refine(world, entry, &mut candidate, &mut steps);
    }
    best
}

/// The cost of the whole course, to measure gains against.
fn cost_scale(world: &World<'_>, entry: Entry, end: Stop) -> f64 {
    world.cost_of(end.hour - entry.hour, end.fuel_t - entry.fuel_t).max(1e-9)
}

struct Smoother<'s, 't> {
    world: &'s World<'t>,
    entry: Entry,
    out: Course,
}

/// The best end over some stops and lines.
fn end_over(world: &World<'_>, stops: &[Position], lines: &[Line], entry: Entry) -> Option<Stop> {
    world.best_end(&world.sail_chain(stops, lines, entry, f64::INFINITY)?)
}

impl Smoother<'_, '_> {
    /// Shortcuts from the whole down to single moves; nothing where what remains cannot be sailed.
    fn pull_all(&mut self, course: &Course) -> Option<()> {
        self.out.stops.push(*course.stops.first()?);
        self.pull(course, 0, course.stops.len().checked_sub(1)?, self.entry)?;
        Some(())
    }

    fn pull(&mut self, course: &Course, from: usize, to: usize, entry: Entry) -> Option<Entry> {
        let world = self.world;
        let (stops, lines) = (course.stops.get(from..=to)?, course.lines.get(from..to)?);
        let along = end_over(world, stops, lines, entry);
        if to - from == 1 {
            self.out.stops.push(*stops.last()?);
            self.out.lines.push(lines.first()?.clone());
            return Some(Entry::after(along?));
        }
        let ends = [*stops.first()?, *stops.last()?];
        if let Some(line) = world.line(ends[0], ends[1])
            && let Some(direct) = end_over(world, &ends, std::slice::from_ref(&line), entry)
            && along.is_none_or(|along| {
                world.cost_of(direct.hour, direct.fuel_t) <= world.cost_of(along.hour, along.fuel_t)
            })
        {
            self.out.stops.push(ends[1]);
            self.out.lines.push(line);
            return Some(Entry::after(direct));
        }
        let middle = from.midpoint(to);
        let entry = self.pull(course, from, middle, entry)?;
        self.pull(course, middle, to, entry)
    }
}

/// One pass over the stops from the start to the end.
fn refine(world: &World<'_>, entry: Entry, course: &mut Course, steps: &mut Vec<f64>) {
    let mut entry = entry;
    let mut at = 0;
    while at + 1 < course.stops.len() {
        split(world, entry, course, steps, at);
        if at + 2 < course.stops.len() && !drop_next(world, entry, course, steps, at) {
            move_next(world, entry, course, steps, at);
        }
        let stops = &course.stops[at..at + 2];
        let Some(next) = end_over(world, stops, &course.lines[at..=at], entry) else { return };
        entry = Entry::after(next);
        at += 1;
    }
}

/// Drops the stop after `at` where the direct line is no worse.
fn drop_next(
    world: &World<'_>,
    entry: Entry,
    course: &mut Course,
    steps: &mut Vec<f64>,
    at: usize,
) -> bool {
    let Some(now) = end_over(world, &course.stops[at..at + 3], &course.lines[at..at + 2], entry)
    else {
        return false;
    };
    let ends = [course.stops[at], course.stops[at + 2]];
    let Some(line) = world.line(ends[0], ends[1]) else { return false };
    let Some(direct) = end_over(world, &ends, std::slice::from_ref(&line), entry) else {
        return false;
    };
    if world.cost_of(direct.hour, direct.fuel_t) > world.cost_of(now.hour, now.fuel_t) {
        return false;
    }
    course.stops.remove(at + 1);
    steps.remove(at + 1);
    course.lines.splice(at..at + 2, [line]);
    true
}

/// Puts a stop into the line after `at`, to one side, where that is better.
fn split(world: &World<'_>, entry: Entry, course: &mut Course, steps: &mut Vec<f64>, at: usize) {
    let (a, b) = (world.to_cells(course.stops[at]), world.to_cells(course.stops[at + 1]));
    let run = b - a;
    let length = run.x.hypot(run.y);
    if length.is_nan() || length < SHORTEST_SPLIT {
        return;
    }
    let stops = [course.stops[at], course.stops[at + 1]];
    let Some(now) = end_over(world, &stops, &course.lines[at..=at], entry) else { return };
    let across = Coord { x: -run.y / length, y: run.x / length };
    let mut best: Option<(f64, Position, [Line; 2])> = None;
    let least = gainful(world, entry, now);
    let middle = world.to_cells(dipward_geodesy::interpolate(stops[0], stops[1], 0.5));
    for side in [-0.06, 0.06, -0.015, 0.015] {
        let place = world.to_position(middle + across * (side * length));
        if let Some((cost, lines)) = via(world, entry, [stops[0], place, stops[1]])
            && cost < best.as_ref().map_or(least, |best| best.0)
        {
            best = Some((cost, place, lines));
        }
    }
    if let Some((_, place, lines)) = best {
        course.stops.insert(at + 1, place);
        steps.insert(at + 1, (length * 0.02).clamp(FIRST_STEP, 16.0));
        course.lines.splice(at..=at, lines);
    }
}

/// The cost below which a change counts as better.
fn gainful(world: &World<'_>, entry: Entry, now: Stop) -> f64 {
    world.cost_of(now.hour, now.fuel_t) - GAIN * cost_scale(world, entry, now)
}

/// Cost at the end of a line over a stop between.
fn via(world: &World<'_>, entry: Entry, stops: [Position; 3]) -> Option<(f64, [Line; 2])> {
    let lines = [world.line(stops[0], stops[1])?, world.line(stops[1], stops[2])?];
    let end = end_over(world, &stops, &lines, entry)?;
    Some((world.cost_of(end.hour, end.fuel_t), lines))
}

/// Moves the stop after `at` along the grid's axes and diagonals as long as that is better, by ever
/// smaller steps. Sides of cells run along the axes, so that a stop can slide along a boundary.
fn move_next(world: &World<'_>, entry: Entry, course: &mut Course, steps: &mut [f64], at: usize) {
    const DIAGONAL: f64 = std::f64::consts::FRAC_1_SQRT_2;
    const DIRECTIONS: [(f64, f64); 8] = [
        (1.0, 0.0),
        (0.0, 1.0),
        (-1.0, 0.0),
        (0.0, -1.0),
        (DIAGONAL, DIAGONAL),
        (-DIAGONAL, DIAGONAL),
        (-DIAGONAL, -DIAGONAL),
        (DIAGONAL, -DIAGONAL),
    ];
    /// Bounds the work on one stop in one pass.
    const MOST_TRIES: usize = 120;

    let Some(now) = end_over(world, &course.stops[at..at + 3], &course.lines[at..at + 2], entry)
    else {
        return;
    };
    let mut least = gainful(world, entry, now);
    let slack = world.cost_of(now.hour, now.fuel_t) - least;
    let (before, after) = (course.stops[at], course.stops[at + 2]);
    let mut place = world.to_cells(course.stops[at + 1]);
    let mut step = steps[at + 1];
    let mut tries = 0;
    let mut first = 0;
    while step >= LAST_STEP && tries < MOST_TRIES {
        let mut moved = false;
        for turn in 0..DIRECTIONS.len() {
            let number = (first + turn) % DIRECTIONS.len();
            let (x, y) = DIRECTIONS[number];
            let to = Coord { x: place.x + x * step, y: place.y + y * step };
            let position = world.to_position(to);
            tries += 1;
            if let Some((cost, lines)) = via(world, entry, [before, position, after])
                && cost < least
            {
                least = cost - slack;
                place = to;
                course.stops[at + 1] = position;
                course.lines.splice(at..at + 2, lines);
                // The same way again first.
                first = number;
                moved = true;
                break;
            }
        }
        if !moved {
            step /= 2.0;
        }
    }
    steps[at + 1] = (step * 4.0).clamp(LAST_STEP * 2.0, FIRST_STEP);
}
