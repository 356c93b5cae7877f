//! How good an answer is at the least: bounds over all routes to the goal.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, Error, Goal, Route};
use geo::Coord;

use crate::{
    bound::{
        HALFWAY, Lines, Marches, Potential, ROUGH, Source, Stage, Stages, Window, cells_left, halve,
    },
    floor::{Floor, Prices},
    question::Question,
    world::World,
};

/// How often the time of the least fuel is narrowed down at most.
const NARROWINGS: usize = 2;
/// A narrowing that gains less ends them.
const WORTHWHILE_H: f64 = 6.0;

/// The weight of fuel by which hurry is bounded, as a share of the known route's hours a tonne: any weight
/// gives a bound, and this a good one where the thriftiest takes about half as long again as the earliest.
const HURRY: f64 = 0.5;

/// Who is later than what moves by no more than this share of the way may meet it all the same: a potential is of
/// single precision, and measured on the map.
const IN_TIME: f64 = 1.0 + 1e-4;

/// A route's lengths are those of geodesics, the bound's those of ways on the map: they differ by less
/// than this, which a great weight would make much of.
const SLACK: f64 = 1.0 + 1e-5;

/// Bounds on all routes that answer a problem.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) hours: f64,
    pub(crate) tonnes: f64,
}

/// The bounds of a problem for which a route is known, of what its weight counts: hours unless fuel
/// alone counts, tonnes unless hours alone do.
///
/// The hours need only hold for routes that are no later than the known one: any other is later
/// anyway. Where a limit on fuel made the known one what it is, `limit` holds it and the weight of fuel
/// that it is worth, and the hours are those of routes that keep it (the Lagrangian dual). The tonnes
/// hold for all that end by the latest hour and burn no more than the known one.
pub(crate) fn bounds(
    world: &World<'_>,
    floor: &Floor<'_>,
    question: &Question<'_>,
    known: &Route,
    limit: Option<(f64, f64)>,
    control: &Control,
) -> Result<Bounds, Error> {
    let proof = Proof::new(world, floor, question, known, control);
    let weight = question.problem.fuel_weight_h_per_t;
    Ok(Bounds {
        hours: if weight.is_finite() { proof.hours(limit)? } else { 0.0 },
        tonnes: if world.weight.is_time() { 0.0 } else { proof.tonnes()? },
    })
}

/// What the bounds of a problem are made of.
struct Proof<'a, 't> {
    world: &'a World<'t>,
    floor: &'a Floor<'t>,
    goal: Goal<'a>,
    start: Source,
    ends: Source,
    /// Whether anything changes with time.
    changes: bool,
    latest_hour: f64,
    known_hour: f64,
    known_h: f64,
    known_t: f64,
    /// The window of all routes.
    whole: Window,
    control: &'a Control,
}

impl<'a, 't> Proof<'a, 't> {
    fn new(
        world: &'a World<'t>,
        floor: &'a Floor<'t>,
        question: &'a Question<'_>,
        known: &Route,
        control: &'a Control,
    ) -> Self {
        let problem = &question.problem;
        let hours = (problem.depart_hour, problem.latest_hour);
        let place = world.to_cells(problem.start);
        Self {
            world,
            floor,
            goal: problem.goal,
            start: Source::Place(place),
            ends: Source::Cells(end_cells(world, question)),
            changes: world.intervals.len() > 1,
            latest_hour: problem.latest_hour,
            known_hour: known.arrive_hour(),
            known_h: known.arrive_hour() - problem.depart_hour,
            known_t: known.fuel_t(),
            whole: Window::new(world, floor, problem.start, problem.goal, hours),
            control,
        }
    }

    /// The potential of prices from a source, up to a cap, by some marches at most.
    fn potential(
        &self,
        prices: &Prices<'_>,
        source: &Source,
        window: &Window,
        march: (f64, Marches),
    ) -> Result<Potential<'a, 't>, Error> {
        Potential::new(self.world, prices, source, window, march, self.control)
    }

    /// No route ends earlier, of those that are no later than the known one.
    fn hours(&self, limit: Option<(f64, f64)>) -> Result<f64, Error> {
        let hours = &self.floor.hours;
        let known_h = self.known_h;
        let mut window = self.whole.until(self.known_hour.min(self.latest_hour));
        self.narrow(&mut window, known_h)?;
        if self.changes {
            let (world, control) = (self.world, self.control);
            let marches = (known_h, HALFWAY);
            let out =
                Potential::at_own_hours(world, hours, &self.start, &window, marches, control)?;
            window.not_before(out.of_cells());
            let on = self.potential(hours, &self.ends, &window, marches)?;
            window.not_after(on.of_cells().into_iter().map(|on_h| known_h - on_h));
        }
        let cells = cells_left(self.world, hours, &window);
        let mut bound = halve(cells, (known_h, 0.0), |halvings| {
            let fine = (known_h, Marches::fine(halvings));
            let earliest = if self.changes {
                let (world, control) = (self.world, self.control);
                Potential::at_own_hours(world, hours, &self.start, &window, fine, control)?
            } else {
                self.potential(hours, &self.start, &window, fine)?
            };
            window.not_before(earliest.of_cells());
            Ok(self.least_h(&earliest, 0.0))
        })?;
        if let Some((limit_t, weight)) = limit {
            // hours + weight tonnes is at least phi, and the tonnes are at most the limit.
            let weighed_h = weight * limit_t * SLACK;
            let weighed = self.floor.weighed(weight);
            let marched = (known_h + weighed_h, Marches::fine(1));
            let phi = self.potential(&weighed, &self.start, &window, marched)?;
            bound = bound.max(self.least_h(&phi, weighed_h));
        }
        Ok(bound)
    }

    /// What a way costs at the least between a source and each cell, on a rough mesh.
    fn roughly(
        &self,
        prices: &Prices<'_>,
        source: &Source,
        window: &Window,
        most: f64,
    ) -> Result<Vec<f64>, Error> {
        Ok(self.potential(prices, source, window, (most, ROUGH))?.of_cells())
    }

    /// Takes into a window when routes that take some hours at the most can be where.
    ///
    /// # Returns
    ///
    /// The least hours from each cell on.
    fn narrow(&self, window: &mut Window, most_h: f64) -> Result<Vec<f64>, Error> {
        let hours = &self.floor.hours;
        window.not_before(self.roughly(hours, &self.start, window, most_h)?);
        let left_h = self.roughly(hours, &self.ends, window, most_h)?;
        window.not_after(left_h.iter().map(|left_h| most_h - left_h));
        Ok(left_h)
    }

    /// Leaves out of a window where routes that burn so much at the most do not come.
    ///
    /// # Returns
    ///
    /// What they burn at the least from the start to each cell, and from there on.
    fn narrow_by_tonnes(
        &self,
        window: &mut Window,
        most_t: f64,
    ) -> Result<(Vec<f64>, Vec<f64>), Error> {
        let tonnes = &self.floor.tonnes;
        let out_t = self.roughly(tonnes, &self.start, window, most_t)?;
        let on_t = self.roughly(tonnes, &self.ends, window, most_t)?;
        window.within(&out_t, &on_t, most_t);
        Ok((out_t, on_t))
    }

    /// The hours of a potential of hours and what else it weighs. A berth is come to no earlier than it opens. What
    /// moves is met at its own hour: nowhere that no route comes to by then.
    fn least_h(&self, phi: &Potential<'_, '_>, weighed_h: f64) -> f64 {
        let met = matches!(self.goal, Goal::Track(_));
        let price = |phi: &f64, hours: Option<(f64, f64)>| {
            let least_h = phi - weighed_h;
            let Some((from_hour, until_hour)) = hours else { return least_h };
            let [from_h, until_h] =
                [from_hour, until_hour].map(|hour| hour - self.whole.depart_hour());
            if met && least_h > until_h * IN_TIME { f64::INFINITY } else { least_h.max(from_h) }
        };
        let at = |place, step| phi.at_place_within(place, step);
        least(self.world, self.goal, at, price).min(self.known_h)
    }

    /// The tonnes of a potential. A meeting before the first possible one does not take place.
    fn least_t(&self, phi: &Potential<'_, '_>) -> f64 {
        let first_hour = self.whole.first_hour();
        let met = matches!(self.goal, Goal::Track(_));
        let in_time = |phi: &f64, hours: Option<(f64, f64)>| {
            if met && hours.is_some_and(|hours| hours.1 < first_hour) {
                f64::INFINITY
            } else {
                *phi
            }
        };
        let at = |place, step| phi.at_place_within(place, step);
        least(self.world, self.goal, at, in_time).min(self.known_t)
    }

    /// No route burns less, of those that end by the latest hour.
    fn tonnes(&self) -> Result<f64, Error> {
        let (depart_hour, first_hour) = (self.whole.depart_hour(), self.whole.first_hour());
        let known_t = self.known_t;
        // Every hour burns something, so a route that burns no more than the known one cannot wait for
        // better ice without end.
        let hourly_t = self.floor.least_t_per_h;
        let mut latest_hour = self.latest_hour;
        let mut least_beyond_t = 0.0_f64;
        let mut window = self.whole.clone();
        // All that follows goes over the cells that this leaves.
        self.narrow_by_tonnes(&mut window, known_t)?;
        for _ in 0..NARROWINGS {
            if hourly_t <= 0.0 || !self.changes {
                break;
            }
            let beyond = (known_t, ROUGH);
            let phi = self.potential(&self.floor.beyond, &self.start, &window, beyond)?;
            least_beyond_t = least_beyond_t.max(self.least_t(&phi));
            let ended = depart_hour + (known_t - least_beyond_t) / hourly_t;
            let narrowed = latest_hour - ended;
            latest_hour = latest_hour.min(ended).max(first_hour);
            window = window.until(latest_hour);
            if narrowed < WORTHWHILE_H {
                break;
            }
        }
        if self.changes && latest_hour.is_finite() {
            self.narrow_by_fuel(&mut window, latest_hour - depart_hour)?;
        }
        let (_, on_t) = self.narrow_by_tonnes(&mut window, known_t)?;
        let least_t = least_beyond_t + hourly_t * (first_hour - depart_hour);
        let cells = cells_left(self.world, &self.floor.tonnes, &window);
        let at_once = |halvings| {
            let fine = (known_t, Marches::fine(halvings));
            Ok(self.least_t(&self.potential(&self.floor.tonnes, &self.start, &window, fine)?))
        };
        let (&Source::Place(start), true, true) =
            (&self.start, self.changes, latest_hour.is_finite())
        else {
            return halve(cells, (known_t, least_t), at_once);
        };
        let bound = least_t.max(at_once(1)?);
        halve(cells, (known_t, bound), |halvings| {
            let stages = Stages {
                world: self.world,
                floor: self.floor,
                window: &window,
                start,
                hours: (depart_hour, latest_hour),
                on_t: &on_t,
                most_t: known_t,
                halvings,
            };
            stages.least(self.control, |stage| self.least_t_in(stage))
        })
    }

    /// The tonnes of routes that end in a stage.
    fn least_t_in(&self, stage: &Stage<'_, '_>) -> f64 {
        let first_hour = self.whole.first_hour();
        let met = matches!(self.goal, Goal::Track(_));
        let price = |known: &Lines, hours: Option<(f64, f64)>| {
            let (from_hour, until_hour) = match hours {
                Some(hours) if met => hours,
                Some((opens_hour, _)) => (opens_hour, f64::INFINITY),
                None => (f64::NEG_INFINITY, f64::INFINITY),
            };
            stage.least_t(known, (from_hour.max(first_hour), until_hour))
        };
        least(self.world, self.goal, |place, reach| stage.at_place(place, reach), price)
    }

    /// Takes into a window when routes that end within some hours and burn no more than the known one can be
    /// where: who is early has hurried, and who is late has lain still or will have to hurry, and either burns
    /// more.
    fn narrow_by_fuel(&self, window: &mut Window, most_h: f64) -> Result<(), Error> {
        let known_t = self.known_t * SLACK;
        let mut left_h = self.narrow(window, most_h)?;
        let (out_t, on_t) = self.narrow_by_tonnes(window, known_t)?;
        let hourly_t = self.floor.least_t_per_h;
        if hourly_t > 0.0 {
            let beyond_t = self.roughly(&self.floor.beyond, &self.start, window, known_t)?;
            let rest_t =
                beyond_t.iter().zip(&on_t).map(|(beyond_t, on_t)| known_t - beyond_t - on_t);
            window.not_after(rest_t.map(|rest_t| rest_t / hourly_t));
        }
        // Hours and weight times tonnes are no less than phi, and the tonnes no more than what the rest of
        // the way leaves of the known route's.
        let weight = HURRY * self.known_h / self.known_t.max(f64::MIN_POSITIVE);
        let weighed = self.floor.weighed(weight);
        let most = most_h + weight * known_t;
        let out = self.roughly(&weighed, &self.start, window, most)?;
        window.not_before(out.iter().zip(&on_t).map(|(out, on_t)| out - weight * (known_t - on_t)));
        let on = self.roughly(&weighed, &self.ends, window, most)?;
        for (left_h, (on, out_t)) in left_h.iter_mut().zip(on.iter().zip(&out_t)) {
            *left_h = left_h.max(on - weight * (known_t - out_t));
        }
        window.not_after(left_h.iter().map(|left_h| most_h - left_h));
        Ok(())
    }
}

/// The cells where a route can end. A track that is sampled misses corners of cells that it cuts, so that
/// its cells are taken with those about them.
fn end_cells(world: &World<'_>, question: &Question<'_>) -> Vec<usize> {
    let padding = &world.padding;
    let reach = usize::from(matches!(question.problem.goal, Goal::Track(_)));
    let mut cells = Vec::new();
    for stay in question.target.stays() {
        let Some(cell) = padding.cell_at(stay.cell as usize) else { continue };
        let cell = cell as usize;
        let (column, row) = (cell % padding.columns, cell / padding.columns);
        for row in row.saturating_sub(reach)..(row + reach + 1).min(padding.rows) {
            for column in column.saturating_sub(reach)..(column + reach + 1).min(padding.columns) {
                cells.push(row * padding.columns + column);
            }
        }
    }
    cells.sort_unstable();
    cells.dedup();
    cells
}

/// The least over all places of the goal, by a price made of what is known of a place and the hours at which
/// the goal is there: from when a berth is open, or the hours of a moving goal near there. What is known of a
/// place holds as far as some cell widths about it.
fn least<P>(
    world: &World<'_>,
    goal: Goal<'_>,
    of: impl Fn(Coord<f64>, f64) -> Option<P>,
    price: impl Fn(&P, Option<(f64, f64)>) -> f64,
) -> f64 {
    let at = |place: Position| of(world.to_cells(place), 0.0);
    let mut best = f64::INFINITY;
    match goal {
        Goal::Places(places) => {
            for known in places.iter().filter_map(|&place| at(place)) {
                best = best.min(price(&known, None));
            }
        }
        Goal::Berths(berths) => {
            for berth in berths {
                if let Some(known) = at(berth.position) {
                    best = best.min(price(&known, Some((berth.from_hour, berth.from_hour))));
                }
            }
        }
        Goal::Track(track) => {
            if let &[(hour, place)] = track
                && let Some(known) = at(place)
            {
                best = best.min(price(&known, Some((hour, hour))));
            }
            for pair in track.windows(2) {
                let &[from, to] = pair else { continue };
                best = best.min(least_between(world, from, to, &of, &price));
            }
        }
    }
    best
}

/// As [`least`], over a stretch of a track, which is sampled a sixteenth of a cell apart.
fn least_between<P>(
    world: &World<'_>,
    (begin, from): (f64, Position),
    (end, to): (f64, Position),
    of: impl Fn(Coord<f64>, f64) -> Option<P>,
    price: impl Fn(&P, Option<(f64, f64)>) -> f64,
) -> f64 {
    let run = world.to_cells(to) - world.to_cells(from);
    let samples = (run.x.hypot(run.y) * 16.0).ceil().clamp(1.0, 1e6);
    let step = run.x.hypot(run.y) / samples;
    let mut best = f64::INFINITY;
    for sample in 0..=samples as u32 {
        let fraction = f64::from(sample) / samples;
        let place = world.to_cells(interpolate(from, to, fraction));
        let Some(known) = of(place, step) else { continue };
        let earlier = begin + (fraction - 0.5 / samples).max(0.0) * (end - begin);
        let later = begin + (fraction + 0.5 / samples).min(1.0) * (end - begin);
        best = best.min(price(&known, Some((earlier, later))));
    }
    best
}
