//! The search as an extension: problems in, routes with bounds out.

use std::{
    collections::BTreeMap,
    sync::{Arc, Mutex, PoisonError},
};

use dipward_plugin::{
    Berth, Control, Error, Goal, NoRoute, PaceTable, RouteFailure, RouteProblem, RouteSet, Search,
};
use rayon::prelude::*;

use crate::{
    alternatives::{Distinct, alternatives},
    floor::Floor,
    labels::{self, Limits},
    mixture::{Mixture, earliest_within, waiting_for_ease},
    proof::{Bounds, bounds},
    question::{Found, Question},
    smooth::smooth,
    stencil::Headings,
    weight::{Verdict, narrow},
    world::World,
};

/// The search over the grid of a pace table.
#[derive(Debug, Clone, PartialEq)]
pub struct GridSearch {
    /// Headings told apart on the grid.
    pub headings: Headings,
    /// Whether routes are taken off the grid.
    pub smoothing: bool,
    /// What makes alternatives distinct.
    pub distinct: Distinct,
}

impl Default for GridSearch {
    fn default() -> Self {
        Self { headings: Headings::default(), smoothing: true, distinct: Distinct::default() }
    }
}

/// Worlds by weight, shared by the problems over one table.
struct Worlds<'t> {
    table: &'t PaceTable,
    made: Mutex<BTreeMap<u64, Arc<World<'t>>>>,
    floor: Mutex<Option<Arc<Floor<'t>>>>,
}

/// Worlds kept at most; each is as large as the table's arrays over the number of settings.
const MOST_WORLDS: usize = 8;

impl<'t> Worlds<'t> {
    fn new(table: &'t PaceTable) -> Self {
        Self { table, made: Mutex::new(BTreeMap::new()), floor: Mutex::new(None) }
    }

    /// The world of a weight, made at need.
    fn get(&self, weight: f64, control: &Control) -> Result<Arc<World<'t>>, Error> {
        let key = weight.to_bits();
        let made = || self.made.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(world) = made().get(&key) {
            return Ok(Arc::clone(world));
        }
        // Made outside the lock: the making is itself parallel, and a thread that waits in there may
        // be lent to another problem, which would ask for the lock again.
        let world = Arc::new(World::new(self.table, weight, control)?);
        let mut made = made();
        if made.len() < MOST_WORLDS {
            return Ok(Arc::clone(made.entry(key).or_insert(world)));
        }
        Ok(world)
    }

    /// What the bounds are made of, made at need; outside the lock, as the worlds are.
    fn floor(&self) -> Arc<Floor<'t>> {
        let kept = || self.floor.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(floor) = kept().as_ref() {
            return Arc::clone(floor);
        }
        let floor = Arc::new(Floor::new(self.table));
        Arc::clone(kept().get_or_insert(floor))
    }
}

impl GridSearch {
    fn solve(
        &self,
        worlds: &Worlds<'_>,
        problem: &RouteProblem<'_>,
        control: &Control,
    ) -> Result<RouteSet, RouteFailure> {
        let world = worlds.get(problem.fuel_weight_h_per_t, control)?;
        let question = Question::new(&world, problem, self.headings)?;
        let none = |reason| Err(RouteFailure::NoRoute(reason));
        let Some((field, meeting)) = question.meet(&world, None, control)? else {
            return none(question.reason(&world, control)?);
        };
        let best = question.route(&world, &field, meeting, self.smoothing);
        drop(field);
        let Some(best) = best.filter(|best| best.route.arrive_hour() <= problem.latest_hour) else {
            return none(NoRoute::TooLate);
        };
        let (best, limit) = match problem.fuel_limit_t {
            Some(limit_t) if best.route.fuel_t() > limit_t => {
                let mixture = self.within(worlds, &question, limit_t, best, control)?;
                (mixture.found, Some((limit_t, mixture.weight_h_per_t)))
            }
            _ => (self.waiting(&world, &question, best, control)?, None),
        };
        let proved = if problem.bounds {
            bounds(&world, &worlds.floor(), &question, &best.route, limit, control)?
        } else {
            Bounds { hours: 0.0, tonnes: 0.0 }
        };
        let others =
            alternatives(&world, &question, &best, self.distinct, self.smoothing, control)?;
        let mut routes = vec![best.route];
        routes.extend(others.into_iter().map(|other| other.route));
        Ok(RouteSet { routes, lower_bound_h: proved.hours, lower_bound_t: proved.tonnes })
    }

    /// A known route, or one that costs less because it waits for the ice to ease.
    ///
    /// The search waits only for what is closed. To be early no other wait is of use, for nobody is overtaken
    /// who sails on; but less may be burnt. The way that is best after a frame to come may be another than
    /// the best way now, so that waits are tried on that as well.
    fn waiting(
        &self,
        world: &World<'_>,
        question: &Question<'_>,
        mut best: Found,
        control: &Control,
    ) -> Result<Found, Error> {
        if world.weight.is_time() || world.intervals.len() < 2 {
            return Ok(best);
        }
        let problem = &question.problem;
        let known = (&best.course, best.route.goal);
        if let Some(better) = waiting_for_ease(question, world, &best, known) {
            best = better;
        }
        let hold_t_per_h = world.table.hold_t_per_h;
        let worth_trying = |hour: &f64| {
            let wait_h = hour - problem.depart_hour;
            wait_h > 0.0
                && *hour < problem.latest_hour
                && world.cost_of(wait_h, hold_t_per_h * wait_h) < MOST_WAIT * best.cost
        };
        let frames = world.intervals.iter().map(|interval| interval.begin_hour);
        let hours: Vec<f64> = frames.filter(worth_trying).collect();
        for &depart_hour in hours.iter().step_by(hours.len().div_ceil(MOST_FRAMES).max(1)) {
            let later = RouteProblem { depart_hour, ..*problem };
            let mut found = self.way(world, &later, control)?;
            if found.is_none()
                && let Goal::Berths(berths) = problem.goal
            {
                // Who leaves before the frame may be in time for what the whole way after it is too late for.
                let kept_open = |&berth: &Berth| Berth { until_hour: f64::INFINITY, ..berth };
                let berths: Vec<Berth> = berths.iter().map(kept_open).collect();
                let later = RouteProblem { goal: Goal::Berths(&berths), ..later };
                found = self.way(world, &later, control)?;
            }
            if let Some(Found { course, route, .. }) = found
                && let Some(better) =
                    waiting_for_ease(question, world, &best, (&course, route.goal))
            {
                best = better;
            }
        }
        Ok(best)
    }

    /// The best way of a problem on the moves, smoothed; nothing where there is none.
    fn way(
        &self,
        world: &World<'_>,
        problem: &RouteProblem<'_>,
        control: &Control,
    ) -> Result<Option<Found>, Error> {
        let Ok(question) = Question::new(world, problem, self.headings) else { return Ok(None) };
        let met = question.meet(world, None, control)?;
        Ok(met.and_then(|(field, meeting)| question.route(world, &field, meeting, self.smoothing)))
    }

    /// The earliest route found that keeps within the fuel, and a weight that bounds all that do.
    ///
    /// Whole routes first, by weighing fuel more and more: a greater weight is thriftier and later. Then
    /// the two on either side of the limit, each sailed as early as the limit allows.
    fn within(
        &self,
        worlds: &Worlds<'_>,
        question: &Question<'_>,
        limit_t: f64,
        thirsty: Found,
        control: &Control,
    ) -> Result<Mixture, RouteFailure> {
        let problem = &question.problem;
        let none = RouteFailure::NoRoute(NoRoute::TooMuchFuel);
        let try_at = |weight: f64| -> Result<Verdict<Found>, Error> {
            let world = worlds.get(weight, control)?;
            let found = question.meet(&world, None, control)?.and_then(|(field, meeting)| {
                question.route(&world, &field, meeting, self.smoothing)
            });
            Ok(match found {
                Some(found) if found.route.arrive_hour() > problem.latest_hour => Verdict::Late,
                Some(found) if found.route.fuel_t() > limit_t => Verdict::Thirsty(found),
                Some(found) => Verdict::Fits(found),
                None => Verdict::Late,
            })
        };
        let narrowed = narrow(FINEST, try_at)?.ok_or(none.clone())?;
        if !question.may_change_pace() {
            let found = narrowed.fits.ok_or(none)?;
            return Ok(Mixture { found, weight_h_per_t: narrowed.high_h_per_t });
        }
        let thirsty = narrowed.thirsty.unwrap_or(thirsty);
        let best = narrowed.fits;
        let world = worlds.get(problem.fuel_weight_h_per_t, control)?;
        let courses = std::iter::once(&thirsty).chain(&best);
        let mixed = courses
            .filter_map(|found| {
                earliest_within(question, &world, &found.course, found.route.goal, limit_t)
            })
            .min_by(|a, b| a.found.route.arrive_hour().total_cmp(&b.found.route.arrive_hour()));
        let whole = best.map(|mut found| {
            let hours = found.route.arrive_hour() - problem.depart_hour;
            found.cost = world.cost_of(hours, found.route.fuel_t());
            Mixture { found, weight_h_per_t: narrowed.high_h_per_t }
        });
        let better = |a: Mixture, b: Mixture| if b.found.cost < a.found.cost { b } else { a };
        let best = match (mixed, whole) {
            (Some(mixed), Some(whole)) => better(mixed, whole),
            (one, other) => one.or(other).ok_or(none)?,
        };
        let labelled = self.by_labels(worlds, question, limit_t, &best, control)?;
        Ok(labelled.into_iter().fold(best, better))
    }

    /// The earliest way on the moves within a limit, taken off the grid, where there is one that is not
    /// later than a known one but for what the moves are longer.
    fn by_labels(
        &self,
        worlds: &Worlds<'_>,
        question: &Question<'_>,
        limit_t: f64,
        known: &Mixture,
        control: &Control,
    ) -> Result<Option<Mixture>, Error> {
        let problem = &question.problem;
        let world = worlds.get(problem.fuel_weight_h_per_t, control)?;
        let longer = self.headings.elongation();
        let known_h = known.found.route.arrive_hour() - problem.depart_hour;
        let limits = Limits {
            fuel_t: limit_t * longer,
            before_hour: problem.depart_hour + known_h * longer,
            weight_h_per_t: known.weight_h_per_t,
            epsilon: EPSILON,
            labels: MOST_LABELS,
        };
        let answer = labels::earliest_within(&world, &worlds.floor(), question, limits, control)?;
        let labels::Answer::Found(way) = answer else { return Ok(None) };
        let sparing = world.weighing(known.weight_h_per_t);
        let course = sparing.and_then(|sparing| {
            let course = question.course(&sparing, &way.cells, (way.goal, way.hour))?;
            let entry = question.entry();
            Some(if self.smoothing { smooth(&sparing, course, entry) } else { course })
        });
        Ok(course.and_then(|course| earliest_within(question, &world, &course, way.goal, limit_t)))
    }
}

/// The part of a route's cost that lying still until a frame may take for the wait to be tried.
const MOST_WAIT: f64 = 0.6;
/// Frames at most whose best way is tried.
const MOST_FRAMES: usize = 8;
/// What the search by labels may give away of a limit, as a share.
const EPSILON: f64 = 0.01;
/// How many labels it may take, a microsecond each: enough for a chart of some hundred cells a side. On
/// greater ones they would be many millions, and the weights and their bound stand alone.
const MOST_LABELS: usize = 300_000;
/// How near the exponents of the weights come to each other: each further halving is another search.
const FINEST: f64 = 0.4;

impl Search for GridSearch {
    fn routes(
        &self,
        problem: &RouteProblem<'_>,
        control: &Control,
    ) -> Result<RouteSet, RouteFailure> {
        self.solve(&Worlds::new(problem.table), problem, control)
    }

    fn routes_of_all(
        &self,
        problems: &[RouteProblem<'_>],
        control: &Control,
    ) -> Vec<Result<RouteSet, RouteFailure>> {
        // Problems over one table share what was made of it.
        let mut tables: Vec<Worlds<'_>> = Vec::new();
        let mut table_of = Vec::with_capacity(problems.len());
        for problem in problems {
            let known = tables.iter().position(|worlds| std::ptr::eq(worlds.table, problem.table));
            table_of.push(known.unwrap_or_else(|| {
                tables.push(Worlds::new(problem.table));
                tables.len() - 1
            }));
        }
        for worlds in &tables {
            if !control.is_cancelled() && worlds.table.check().is_ok() {
                worlds.floor();
            }
        }
        // The first world of each weight is made before the problems spread over the threads, so that
        // no two threads make the same one.
        for (problem, &number) in problems.iter().zip(&table_of) {
            if tables[number].get(problem.fuel_weight_h_per_t, control).is_err() {
                break;
            }
        }
        control.begin("routes", problems.len() as u64);
        problems
            .par_iter()
            .zip(&table_of)
            .map(|(problem, &number)| {
                let routes = self.solve(&tables[number], problem, control);
                control.advance(1);
                routes
            })
            .collect()
    }
}
