//! How good an answer is at the least: bounds over all routes to the goal.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, Error, Goal, Route};

use crate::{
    bound::{FINE, Potential, ROUGH, Window},
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
/// that it is worth, and the hours are those of routes that keep it (the Lagrangian dual). The tonnes hold for all that end by the latest hour and burn no more than the known one.
pub(crate) fn bounds(
    world: &World<'_>,
    floor: &Floor<'_>,
    question: &Question<'_>,
    known: &Route,
    limit: Option<(f64, f64)>,
    control: &Control,
) -> Result<Bounds, Error> {
    let problem = &question.problem;
    let (start, depart_hour) = (problem.start, problem.depart_hour);
    let known_h = known.arrive_hour() - depart_hour;
    let whole = Window::new(world, floor, start, problem.goal, (depart_hour, problem.latest_hour));
    let changes = world.intervals.len() > 1;
    let potential = |prices: &Prices<'_>, window: &Window, cap: f64, marches: usize| {
        Potential::new(world, prices, start, window, cap, marches, control)
    };
    let mut bounds = Bounds { hours: 0.0, tonnes: 0.0 };
    if problem.fuel_weight_h_per_t.is_finite() {
        let mut window = whole.until(known.arrive_hour().min(problem.latest_hour));
        if changes && let Some(hours) = potential(&floor.hours, &window, known_h, ROUGH)? {
            window.not_before(hours.of_cells());
        }
        // A meeting is no earlier than its hour.
        let bound = |prices: &Prices<'_>, weighed_h: f64| -> Result<f64, Error> {
            let price = |phi: f64, hour: Option<f64>| {
                let met_h = hour.map_or(0.0, |hour| hour - depart_hour);
                (phi - weighed_h).max(met_h)
            };
            let potential = potential(prices, &window, known_h + weighed_h, FINE)?;
            Ok(potential.map_or(0.0, |phi| least(world, &phi, problem.goal, price).min(known_h)))
        };
        bounds.hours = bound(&floor.hours, 0.0)?;
        if let Some((limit_t, weight)) = limit {
            // hours + weight tonnes is at least phi, and the tonnes are at most the limit.
            bounds.hours =
                bounds.hours.max(bound(&floor.weighed(weight), weight * limit_t * SLACK)?);
        }
    }
    if world.weight.is_time() {
        return Ok(bounds);
    }
    let known_t = known.fuel_t();
    // A meeting before the first possible one does not take place.
    let first_hour = whole.first_hour();
    let tonnes = |prices: &Prices<'_>, window: &Window| -> Result<f64, Error> {
        let in_time = |phi: f64, hour: Option<f64>| {
            if hour.is_some_and(|hour| hour < first_hour) { f64::INFINITY } else { phi }
        };
        let potential = potential(prices, window, known_t, FINE)?;
        Ok(potential.map_or(0.0, |phi| least(world, &phi, problem.goal, in_time).min(known_t)))
    };
    // Every hour costs at least what lying still burns, so a route that burns no more than the known
    // one cannot wait for better ice without end.
    let hold_t_per_h = world.table.hold_t_per_h;
    let mut latest_hour = problem.latest_hour;
    let mut least_beyond_t = 0.0_f64;
    let mut window = whole;
    for _ in 0..NARROWINGS {
        if hold_t_per_h <= 0.0 || !changes {
            break;
        }
        least_beyond_t = least_beyond_t.max(tonnes(&floor.beyond, &window)?);
        let ended = depart_hour + (known_t - least_beyond_t) / hold_t_per_h;
        let narrowed = latest_hour - ended;
        latest_hour = latest_hour.min(ended).max(first_hour);
        window = window.until(latest_hour);
        if narrowed < WORTHWHILE_H {
            break;
        }
    }
    // Nor can it hurry: the earlier it is in a cell, the more it has burnt.
    let most_h = latest_hour - depart_hour;
    if changes && most_h.is_finite() {
        if let Some(hours) = potential(&floor.hours, &window, most_h, ROUGH)? {
            window.not_before(hours.of_cells());
        }
        let weight = HURRY * known_h / known_t.max(f64::MIN_POSITIVE);
        let burnt_h = weight * known_t * SLACK;
        let weighed = floor.weighed(weight);
        if let Some(phi) = potential(&weighed, &window, most_h + burnt_h, ROUGH)? {
            window.not_before(phi.of_cells().into_iter().map(|phi| phi - burnt_h).collect());
        }
    }
    bounds.tonnes = tonnes(&floor.tonnes, &window)?;
    // What opens late is of use to routes that end after it alone, and those lie still or go slow.
    let opens = world.intervals.iter().rev().map(|interval| interval.begin_hour);
    let within = |hour: &f64| *hour > first_hour && *hour < latest_hour;
    if let Some(opens_hour) = opens.into_iter().find(within) {
        let before_t = tonnes(&floor.tonnes, &window.until(opens_hour.next_down()))?;
        let after_t = least_beyond_t + hold_t_per_h * (opens_hour - depart_hour);
        bounds.tonnes = bounds.tonnes.max(before_t.min(after_t));
    }
    Ok(bounds)
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
                    best = best.min(price(phi, None));
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
