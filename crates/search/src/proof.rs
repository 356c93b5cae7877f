//! How good an answer is at the least: bounds over all routes to the goal.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, Error, Goal, Route};

use crate::{
    bound::{FINE, HALFWAY, Marches, Potential, ROUGH, Source, Window},
    floor::{Floor, Prices},
    question::Question,
    world::World,
};

/// How often the time of the least fuel is narrowed down at most.
const NARROWINGS: usize = 2;
/// A narrowing that gains less ends them.
const WORTHWHILE_H: f64 = 6.0;

/// How often routes are told apart by the hour of their end at most, and how near a bound needs no more.
const SPLITS: usize = 8;
const CLOSE: f64 = 0.985;

/// The weight of fuel by which hurry is bounded, as a share of the known route's hours a tonne: any weight
/// gives a bound, and this a good one where the thriftiest takes about half as long again as the earliest.
const HURRY: f64 = 0.5;

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
        let fine = (known_h, FINE);
        let earliest = if self.changes {
            let (world, control) = (self.world, self.control);
            Potential::at_own_hours(world, hours, &self.start, &window, fine, control)?
        } else {
            self.potential(hours, &self.start, &window, fine)?
        };
        let mut bound = self.least_h(&earliest, 0.0);
        if let Some((limit_t, weight)) = limit {
            window.not_before(earliest.of_cells());
            // hours + weight tonnes is at least phi, and the tonnes are at most the limit.
            let weighed_h = weight * limit_t * SLACK;
            let weighed = self.floor.weighed(weight);
            let marched = (known_h + weighed_h, FINE);
            let phi = self.potential(&weighed, &self.start, &window, marched)?;
            bound = bound.max(self.least_h(&phi, weighed_h));
        }
        Ok(bound)
    }

    /// Takes into a window when routes that take some hours at the most can be where.
    fn narrow(&self, window: &mut Window, most_h: f64) -> Result<(), Error> {
        let hours = &self.floor.hours;
        let rough = (most_h, ROUGH);
        let out = self.potential(hours, &self.start, window, rough)?;
        window.not_before(out.of_cells());
        let on = self.potential(hours, &self.ends, window, rough)?;
        window.not_after(on.of_cells().into_iter().map(|on_h| most_h - on_h));
        Ok(())
    }

    /// The hours of a potential of hours and what else it weighs. A meeting is no earlier than its hour, and a
    /// berth is come to no earlier than it opens.
    fn least_h(&self, phi: &Potential<'_, '_>, weighed_h: f64) -> f64 {
        let price = |phi: f64, hour: Option<f64>| {
            let met_h = hour.map_or(0.0, |hour| hour - self.whole.depart_hour());
            (phi - weighed_h).max(met_h)
        };
        least(self.world, phi, self.goal, price).min(self.known_h)
    }

    /// The tonnes of a potential. A meeting before the first possible one does not take place.
    fn least_t(&self, phi: &Potential<'_, '_>) -> f64 {
        let first_hour = self.whole.first_hour();
        let met = matches!(self.goal, Goal::Track(_));
        let in_time = |phi: f64, hour: Option<f64>| {
            if met && hour.is_some_and(|hour| hour < first_hour) { f64::INFINITY } else { phi }
        };
        least(self.world, phi, self.goal, in_time).min(self.known_t)
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
        let mut left_h = Vec::new();
        if self.changes && latest_hour.is_finite() {
            left_h = self.narrow_by_fuel(&mut window, latest_hour - depart_hour)?;
        }
        let rough = (known_t, ROUGH);
        let out_t = self.potential(&self.floor.tonnes, &self.start, &window, rough)?.of_cells();
        let on_t = self.potential(&self.floor.tonnes, &self.ends, &window, rough)?.of_cells();
        window.within(&out_t, &on_t, known_t);
        let until = |hour: f64| -> Result<f64, Error> {
            let mut window = window.until(hour);
            window.not_after(left_h.iter().map(|left_h| hour - depart_hour - left_h));
            let fine = (known_t, FINE);
            Ok(self.least_t(&self.potential(&self.floor.tonnes, &self.start, &window, fine)?))
        };
        // Routes by the hours between which they end: the earlier the end, the narrower the window, and the
        // later, the more has been burnt by lying still or going slow.
        let ended_t = |hour: f64| least_beyond_t + hourly_t * (hour - depart_hour);
        let mut all = vec![Ends {
            from_hour: first_hour,
            until_hour: latest_hour,
            tonnes: until(latest_hour)?.max(ended_t(first_hour)),
        }];
        let frames = self.world.intervals.iter().map(|interval| interval.begin_hour);
        for _ in 0..SPLITS {
            let Some(least) = all.iter_mut().min_by(|a, b| a.tonnes.total_cmp(&b.tonnes)) else {
                break;
            };
            let Ends { from_hour, until_hour, tonnes } = *least;
            let width_h = until_hour - from_hour;
            let wide = width_h > WORTHWHILE_H && width_h.is_finite();
            if !self.changes || tonnes > known_t * CLOSE || !wide {
                break;
            }
            // At a frame, if there is one, and otherwise half way.
            let apart = (from_hour + 1.0)..(until_hour - 1.0);
            let frame = frames.clone().find(|hour| apart.contains(hour));
            let middle_hour = frame.unwrap_or(f64::midpoint(from_hour, until_hour));
            let later_t = tonnes.max(ended_t(middle_hour));
            *least = Ends { from_hour: middle_hour, until_hour, tonnes: later_t };
            let tonnes = tonnes.max(until(middle_hour.next_down())?);
            all.push(Ends { from_hour, until_hour: middle_hour, tonnes });
        }
        Ok(all.iter().map(|ends| ends.tonnes).fold(known_t, f64::min))
    }

    /// Takes into a window when routes that end within some hours and burn no more than the known one can be
    /// where: who is early has hurried, and who is late has lain still or will have to hurry, and either burns
    /// more. Gives how many hours before its end a route is in each cell at the latest.
    fn narrow_by_fuel(&self, window: &mut Window, most_h: f64) -> Result<Vec<f64>, Error> {
        let Floor { hours, tonnes, beyond, least_t_per_h } = self.floor;
        let known_t = self.known_t * SLACK;
        let cells = |prices: &Prices<'_>, source: &Source, window: &Window, cap: f64| {
            Ok::<_, Error>(self.potential(prices, source, window, (cap, ROUGH))?.of_cells())
        };
        window.not_before(cells(hours, &self.start, window, most_h)?);
        let mut left_h = cells(hours, &self.ends, window, most_h)?;
        window.not_after(left_h.iter().map(|left_h| most_h - left_h));

        let out_t = cells(tonnes, &self.start, window, known_t)?;
        let on_t = cells(tonnes, &self.ends, window, known_t)?;
        window.within(&out_t, &on_t, known_t);
        let hourly_t = *least_t_per_h;
        if hourly_t > 0.0 {
            let beyond_t = cells(beyond, &self.start, window, known_t)?;
            let rest_t =
                beyond_t.iter().zip(&on_t).map(|(beyond_t, on_t)| known_t - beyond_t - on_t);
            window.not_after(rest_t.map(|rest_t| rest_t / hourly_t));
        }
        // Hours and weight times tonnes are no less than phi, and the tonnes no more than what the rest of
        // the way leaves of the known route's.
        let weight = HURRY * self.known_h / self.known_t.max(f64::MIN_POSITIVE);
        let weighed = self.floor.weighed(weight);
        let most = most_h + weight * known_t;
        let out = cells(&weighed, &self.start, window, most)?;
        window.not_before(out.iter().zip(&on_t).map(|(out, on_t)| out - weight * (known_t - on_t)));
        let on = cells(&weighed, &self.ends, window, most)?;
        for (left_h, (on, out_t)) in left_h.iter_mut().zip(on.iter().zip(&out_t)) {
            *left_h = left_h.max(on - weight * (known_t - out_t));
        }
        window.not_after(left_h.iter().map(|left_h| most_h - left_h));
        Ok(left_h)
    }
}

/// Routes that end between two hours, and what they burn at the least.
#[derive(Debug, Clone, Copy)]
struct Ends {
    from_hour: f64,
    until_hour: f64,
    tonnes: f64,
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

/// The least over all places of the goal, by a price made of phi there and, where the goal moves, the
/// last hour that it spends near there.
fn least(
    world: &World<'_>,
    potential: &Potential<'_, '_>,
    goal: Goal<'_>,
    price: impl Fn(f64, Option<f64>) -> f64,
) -> f64 {
    let mut best = f64::INFINITY;
    match goal {
        Goal::Places(places) => {
            for &place in places {
                if let Some(phi) = potential.at(place) {
                    best = best.min(price(phi, None));
                }
            }
        }
        Goal::Berths(berths) => {
            for berth in berths {
                if let Some(phi) = potential.at(berth.position) {
                    best = best.min(price(phi, Some(berth.from_hour)));
                }
            }
        }
        Goal::Track(track) => {
            if let &[(hour, place)] = track
                && let Some(phi) = potential.at(place)
            {
                best = best.min(price(phi, Some(hour)));
            }
            for pair in track.windows(2) {
                let &[from, to] = pair else { continue };
                best = best.min(least_between(world, potential, from, to, &price));
            }
        }
    }
    best
}

/// As [`least`], over a stretch of a track: sampled a sixteenth of a cell apart, with as much taken
/// off as phi can vary between two samples.
fn least_between(
    world: &World<'_>,
    potential: &Potential<'_, '_>,
    (begin, from): (f64, Position),
    (end, to): (f64, Position),
    price: &impl Fn(f64, Option<f64>) -> f64,
) -> f64 {
    let run = world.to_cells(to) - world.to_cells(from);
    let samples = (run.x.hypot(run.y) * 16.0).ceil().clamp(1.0, 1e6);
    let step = run.x.hypot(run.y) / samples;
    let mut best = f64::INFINITY;
    for sample in 0..=samples as u32 {
        let fraction = f64::from(sample) / samples;
        let place = world.to_cells(interpolate(from, to, fraction));
        let Some(phi) = potential.at_place(place) else { continue };
        let slack = potential.slope_at(place) * step;
        let hour = begin + (fraction + 0.5 / samples).min(1.0) * (end - begin);
        let earlier = begin + (fraction - 0.5 / samples).max(0.0) * (end - begin);
        let low = (phi - slack).max(0.0);
        // An hour near the sample: the price may grow or fall with it, so that both ends count.
        best = best.min(price(low, Some(hour))).min(price(low, Some(earlier)));
    }
    best
}
