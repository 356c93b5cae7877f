//! How good an answer is at the least: bounds over all routes to the goal.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, Error, Goal, Route};

use crate::{
    bound::{Potential, Window},
    floor::{Floor, Price},
    question::Question,
    world::World,
};

/// Bounds on all routes that answer a problem.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) hours: f64,
    pub(crate) tonnes: f64,
}

/// The bounds of a problem for which a route is known.
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
    let depart_hour = problem.depart_hour;
    let known_h = known.arrive_hour() - depart_hour;
    let known_t = known.fuel_t();
    let latest_hour = known.arrive_hour().min(problem.latest_hour);
    let window = Window { depart_hour, latest_hour, hours: None };
    let start = problem.start;
    let hours = Potential::new(world, floor, Price::Hours, start, window, known_h, control)?;
    let least_h = match &hours {
        Some(hours) => {
            least(world, hours, problem.goal, |phi, hour| phi.max(hour - depart_hour)).min(known_h)
        }
        None => 0.0,
    };
    // Places that only a later route than the known one comes to have no hours of their own, and
    // count as if they could be reached at once.
    let window = Window { latest_hour: problem.latest_hour, hours: hours.as_ref(), ..window };
    let tonnes = Potential::new(world, floor, Price::Tonnes, start, window, known_t, control)?;
    let least_t = match &tonnes {
        Some(tonnes) => {
            let first = depart_hour + least_h;
            least(world, tonnes, problem.goal, |phi, hour| {
                // A meeting before the first possible one does not take place.
                if hour < first { f64::INFINITY } else { phi }
            })
            .min(known_t)
        }
        None => 0.0,
    };
    Ok(Bounds { hours: least_h.max(0.0), tonnes: least_t.max(0.0) })
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
