//! How often the cells are halved for a bound.

use dipward_plugin::Error;

use super::{Window, mesh_over, prices_of_grid};
use crate::{floor::Prices, world::World};

/// A bound of so much of what is known needs no more.
const CLOSE: f64 = 0.9805;

/// More halvings are not worth the time, nor more parts of cells the memory: some 30 to 50 bytes each.
const MOST: u32 = 4;
const MOST_PARTS: usize = 10 << 20;

/// What a halving leaves of what a bound falls short of what is known, at best.
const LEFT: f64 = 0.5;

/// And next to what the halving before left.
const GAINING: f64 = 0.8;

/// How many cells a window leaves to be halved.
pub(crate) fn cells_left(world: &World<'_>, prices: &Prices<'_>, window: &Window) -> usize {
    mesh_over(world, &prices_of_grid(world, prices, window), 0).len()
}

/// The best bound on what is known, no more than it, of those that halving some cells again and again gives:
/// until one is close, or it can be seen that none will be.
///
/// # Arguments
///
/// * `cells`: how many there are.
/// * `bound`: what is bounded already.
/// * `halved`: the bound over cells that are halved so often.
pub(crate) fn halve(
    cells: usize,
    (known, mut bound): (f64, f64),
    mut halved: impl FnMut(u32) -> Result<f64, Error>,
) -> Result<f64, Error> {
    let most = (1..=MOST).rfind(|most| cells << (2 * most) <= MOST_PARTS).unwrap_or(1);
    let is_close = |short: f64| short <= known * (1.0 - CLOSE);
    let mut short = known - bound.min(known);
    let mut left = LEFT;
    for halvings in 1..=most {
        if is_close(short) {
            break;
        }
        let before = short;
        bound = bound.max(halved(halvings)?);
        short = known - bound.min(known);
        if halvings > 1 {
            left = short / before;
        }
        if !is_close(short * (GAINING * left).powi((most - halvings) as i32)) {
            break;
        }
    }
    Ok(bound.min(known))
}
