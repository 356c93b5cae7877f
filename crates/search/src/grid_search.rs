//! The search as an extension: problems in, routes with bounds out.

use std::{
    collections::BTreeMap,
    sync::{Arc, Mutex, PoisonError},
};

use dipward_plugin::{
    Control, Error, NoRoute, PaceTable, RouteFailure, RouteProblem, RouteSet, Search,
};
use rayon::prelude::*;

use crate::{
    alternatives::{Distinct, alternatives},
    floor::Floor,
    proof::{Bounds, bounds},
    question::{Found, Question},
    stencil::Headings,
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
    floor: Mutex<Option<Arc<Floor>>>,
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
    fn floor(&self) -> Arc<Floor> {
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
        let best = match problem.fuel_limit_t {
            Some(limit_t) if best.route.fuel_t() > limit_t => {
                self.within(worlds, &question, limit_t, control)?
            }
            _ => best,
        };
        let proved = if problem.bounds {
            bounds(&world, &worlds.floor(), &question, &best.route, control)?
        } else {
            Bounds { hours: 0.0, tonnes: 0.0 }
        };
        let others =
            alternatives(&world, &question, &best, self.distinct, self.smoothing, control)?;
        let mut routes = vec![best.route];
        routes.extend(others.into_iter().map(|other| other.route));
        Ok(RouteSet { routes, lower_bound_h: proved.hours, lower_bound_t: proved.tonnes })
    }

    /// The route of the least cost that keeps within the fuel, by weighing fuel more and more.
    fn within(
        &self,
        worlds: &Worlds<'_>,
        question: &Question<'_>,
        limit_t: f64,
        control: &Control,
    ) -> Result<Found, RouteFailure> {
        let try_at = |weight: f64| -> Result<Option<Found>, Error> {
            let world = worlds.get(weight, control)?;
            let found = question.meet(&world, None, control)?.and_then(|(field, meeting)| {
                question.route(&world, &field, meeting, self.smoothing)
            });
            Ok(found.filter(|found| {
                found.route.arrive_hour() <= question.problem.latest_hour
                    && found.route.fuel_t() <= limit_t
            }))
        };
        let mut best = try_at(f64::INFINITY)?.ok_or(RouteFailure::NoRoute(NoRoute::TooMuchFuel))?;
        // The weights that bracket the limit, in powers of four about one hour a tonne.
        let mut low = -6_i32;
        let mut high = 6_i32;
        while low < high {
            let middle = low.midpoint(high);
            match try_at(4.0_f64.powi(middle))? {
                Some(found) => {
                    best = found;
                    high = middle;
                }
                None => low = middle + 1,
            }
        }
        Ok(best)
    }
}

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
