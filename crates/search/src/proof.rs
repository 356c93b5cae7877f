//! How good an answer is at the least: bounds over all routes to the goal.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, Error, Goal, Route};

use crate::{
    bound::{Potential, Window},
    floor::{Floor, Price},
    question::Question,
    world::World,
};

/// How often the time of the least fuel is narrowed down at most.
const NARROWINGS: usize = 2;
/// A narrowing that gains less ends them.
const WORTHWHILE_H: f64 = 6.0;

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
/// anyway. The tonnes hold for all that end by the latest hour and burn no more than the known one.
pub(crate) fn bounds(
    world: &World<'_>,
    floor: &Floor,
    question: &Question<'_>,
    known: &Route,
    control: &Control,
) -> Result<Bounds, Error> {
    let problem = &question.problem;
    let (start, depart_hour) = (problem.start, problem.depart_hour);
    let known_h = known.arrive_hour() - depart_hour;
    let known_t = known.fuel_t();
    let window = Window::new(world, floor, start, problem.goal, (depart_hour, problem.latest_hour));
    let mut bounds = Bounds { hours: 0.0, tonnes: 0.0 };
    if problem.fuel_weight_h_per_t.is_finite() {
        let window = window.until(known.arrive_hour().min(problem.latest_hour));
        let hours = Potential::new(world, floor, Price::Hours, start, window, known_h, control)?;
        let price = |phi: f64, hour: f64| phi.max(hour - depart_hour);
        bounds.hours =
            hours.map_or(0.0, |hours| least(world, &hours, problem.goal, price).min(known_h));
    }
    if world.weight.is_time() {
        return Ok(bounds);
    }
    // A meeting before the first possible one does not take place.
    let first_hour = window.first_hour();
    let in_time = |phi: f64, hour: f64| if hour < first_hour { f64::INFINITY } else { phi };
    let tonnes = |price: Price, latest_hour: f64| -> Result<f64, Error> {
        let window = window.until(latest_hour);
        let potential = Potential::new(world, floor, price, start, window, known_t, control)?;
        Ok(potential
            .map_or(0.0, |potential| least(world, &potential, problem.goal, in_time).min(known_t)))
    };
    // Every hour costs at least what lying still burns, so a route that burns no more than the known
    // one cannot wait for better ice without end.
    let hold_t_per_h = world.table.hold_t_per_h;
    let mut latest_hour = problem.latest_hour;
    for _ in 0..NARROWINGS {
        if hold_t_per_h <= 0.0 {
            break;
        }
        let beyond_t = tonnes(Price::Beyond, latest_hour)?;
        let ended = depart_hour + (known_t - beyond_t) / hold_t_per_h;
        let narrowed = latest_hour - ended;
        latest_hour = latest_hour.min(ended).max(first_hour);
        if narrowed < WORTHWHILE_H {
            break;
        }
    }
    bounds.tonnes = tonnes(Price::Tonnes, latest_hour)?;
    Ok(bounds)
}

/// The least over all places of the goal, by a price made of phi there and the last hour that the
/// goal spends near there.
fn least(
    world: &World<'_>,
    potential: &Potential<'_, '_>,
    goal: Goal<'_>,
    price: impl Fn(f64, f64) -> f64,
) -> f64 {
    let mut best = f64::INFINITY;
    match goal {
        Goal::Places(places) => {
            for &place in places {
                if let Some(phi) = potential.at(place) {
                    best = best.min(phi);
                }
            }
        }
        Goal::Track(track) => {
            if let &[(hour, place)] = track
                && let Some(phi) = potential.at(place)
            {
                best = best.min(price(phi, hour));
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
    price: &impl Fn(f64, f64) -> f64,
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
        best = best.min(price(low, hour)).min(price(low, earlier));
    }
    best
}
