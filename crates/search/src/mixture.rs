//! A course sailed as early as a limit on fuel allows.
//!
//! On a given course each cell has a weight of fuel at which the next thriftier setting becomes the
//! better one. The earliest way to keep a limit takes the thriftier setting in the cells of the least
//! such weights, and in one of them for a part of it (the fractional knapsack: G. B. Dantzig,
//! Discrete-variable extremum problems, Operations Research 5(2), 1957). So the weight is narrowed down
//! on the course, and what is left of the fuel is spent on sailing the first part of it at the lesser
//! weight. In water that is the same all along, that part is what matters: all cells change at one weight.

use std::convert::Infallible;

use dipward_geodesy::interpolate;
use dipward_plugin::{Goal, RoutePoint};

use crate::{
    course::{Entry, Stop},
    question::{Found, Question, end_points},
    smooth::Course,
    weight::{Verdict, narrow},
    world::World,
};

/// Lines that a course is cut into at least: where the weight may change, and a wait begin.
const PARTS: f64 = 64.0;
/// How near the exponents of the weights come to each other.
const FINEST: f64 = 0.002;
/// Halvings of the line on which the weight changes.
const HALVINGS: usize = 12;

/// The earliest way found along a course, and the weight of its thriftier part.
pub(crate) struct Mixture {
    pub(crate) found: Found,
    pub(crate) weight_h_per_t: f64,
}

/// Sails a course as early as a limit allows; nothing where no weight keeps it in time.
pub(crate) fn earliest_within(
    question: &Question<'_>,
    world: &World<'_>,
    course: &Course,
    goal: usize,
    limit_t: f64,
) -> Option<Mixture> {
    let course = divided(world, course)?;
    let problem = &question.problem;
    let near_hour = course.end(world, question.entry())?.hour;
    let sailed = |world: &World<'_>, course: Course, entry: Entry| match problem.goal {
        Goal::Places(_) => Some((end_points(world, &course, entry, None)?, course)),
        Goal::Track(track) => {
            let (course, hour) = question.intercept(world, track, course, entry, near_hour)?;
            Some((end_points(world, &course, entry, Some(hour))?, course))
        }
    };
    let is_thirsty =
        |points: &[RoutePoint]| points.last().is_none_or(|end| end.fuel_used_t > limit_t);
    let is_late =
        |points: &[RoutePoint]| points.last().is_none_or(|end| end.hour > problem.latest_hour);

    let narrowed = narrow(FINEST, |weight| -> Result<_, Infallible> {
        let sailed = world
            .weighing(weight)
            .and_then(|world| sailed(&world, course.clone(), question.entry()));
        Ok(match sailed {
            Some((points, _)) if is_late(&points) => Verdict::Late,
            Some((points, course)) if is_thirsty(&points) => Verdict::Thirsty((points, course)),
            Some((points, course)) => Verdict::Fits((points, course)),
            None => Verdict::Late,
        })
    });
    let Ok(narrowed) = narrowed;
    let narrowed = narrowed?;
    let mut best = narrowed.fits?;
    let weight_h_per_t = narrowed.high_h_per_t;
    let (fast, sparing) = (world.weighing(narrowed.low_h_per_t)?, world.weighing(weight_h_per_t)?);

    // The first `whole` lines at the lesser weight and a share of the next one.
    let rows = fast.sail_chain(&course.stops, &course.lines, question.entry(), f64::INFINITY)?;
    let changed_at = |whole: usize, share: f64| -> Option<(Vec<RoutePoint>, Course)> {
        let mut course = course.clone();
        let mut whole = whole;
        let mut stop = fast.best_end(rows.get(..=whole)?)?;
        if share > 0.0 {
            let (from, to) = (*course.stops.get(whole)?, *course.stops.get(whole + 1)?);
            let between = interpolate(from, to, share);
            let halves = [fast.line(from, between)?, fast.line(between, to)?];
            let entry = entry_at(question, whole, stop);
            let rows = fast.sail_chain(&[from, between], &halves[..1], entry, f64::INFINITY)?;
            stop = fast.best_end(&rows)?;
            whole += 1;
            course.stops.insert(whole, between);
            course.lines.splice(whole - 1..whole, halves);
        }
        let rest =
            Course { stops: course.stops.split_off(whole), lines: course.lines.split_off(whole) };
        let change = *rest.stops.first()?;
        let (after, rest) = sailed(&sparing, rest, entry_at(question, whole, stop))?;
        let mut points = Vec::new();
        if whole > 0 {
            let stops: Vec<_> = course.stops.iter().copied().chain([change]).collect();
            points = fast.points(&stops, &course.lines, question.entry(), f64::INFINITY)?;
            points.pop();
        }
        points.extend(after);
        course.stops.extend(rest.stops);
        course.lines.extend(rest.lines);
        Some((points, course))
    };
    let mut try_at = |whole: usize, share: f64| -> bool {
        let Some((points, course)) = changed_at(whole, share) else { return false };
        if is_thirsty(&points) || is_late(&points) {
            return false;
        }
        let hour = |points: &[RoutePoint]| points.last().map_or(f64::INFINITY, |end| end.hour);
        if hour(&points) < hour(&best.0) {
            best = (points, course);
        }
        true
    };
    let (mut whole, mut past) = (0, course.lines.len());
    while past - whole > 1 {
        let middle = whole.midpoint(past);
        if try_at(middle, 0.0) { whole = middle } else { past = middle }
    }
    let (mut share, mut beyond) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(share, beyond);
        if try_at(whole, middle) { share = middle } else { beyond = middle }
    }
    let (points, course) = best;
    let found = question.found(world, points, course, goal)?;
    Some(Mixture { found, weight_h_per_t })
}

/// How the line after some stop is entered.
fn entry_at(question: &Question<'_>, lines_before: usize, stop: Stop) -> Entry {
    if lines_before == 0 { question.entry() } else { Entry::after(stop) }
}

/// The same course with its long lines cut.
fn divided(world: &World<'_>, course: &Course) -> Option<Course> {
    let longest_km = course.lines.iter().map(|line| line.km).sum::<f64>() / PARTS;
    let mut stops = vec![*course.stops.first()?];
    for (line, pair) in course.lines.iter().zip(course.stops.windows(2)) {
        let &[from, to] = pair else { continue };
        let parts = (line.km / longest_km).ceil().clamp(1.0, PARTS);
        stops.extend((1..parts as u32).map(|part| interpolate(from, to, f64::from(part) / parts)));
        stops.push(to);
    }
    Course::new(world, stops)
}
