//! Prices of hours at the hours at which the front itself is in a cell.
//!
//! A route that is at a place before phi says so must have passed the front on the way, and there it met the
//! prices of the front's hours. So phi bounds all routes where its slope is no more than the price at phi:
//! let `a` be a route's hours and d = phi - a. While d is between nothing and what was taken off phi, the
//! route's price is one of those that the slope was held against, and d does not grow; it begins at nothing,
//! and a wait makes it less. What is taken off phi in the end shifts those hours, so that the prices are the
//! least from as much earlier on.
//!
//! Where a cell opens, or becomes cheaper at once, phi is held at that hour until the cell is behind it:
//! no price after it has then to be heeded in the cell.

use std::ops::RangeInclusive;

use rayon::prelude::*;

use super::{
    mesh::Mesh,
    triangles::{least_of, most_of},
    window::Window,
};
use crate::{floor::Prices, world::World};

/// What a march at its own hours knows of its cells beside their prices.
pub(super) struct Own {
    /// How much may be taken off phi for the prices to hold.
    pub(super) slack: f32,
    /// The most that the way straight through a cell can cost; infinite where it closes.
    pub(super) most: Vec<f32>,
    /// The price for the next march, and at what phi the cell opens or becomes cheaper at once; 0 where it
    /// does not.
    next: Vec<f32>,
    falls: Vec<f32>,
}

impl Own {
    /// What may be taken off, as a share of the cap: at the least, and at first.
    pub(super) const SLACK: RangeInclusive<f32> = 0.002..=0.03;

    /// The price for the next march from a corner of a cell on, and what no corner of it may exceed.
    pub(super) fn next(&self, cell: usize, here: f32) -> (f32, f32) {
        let falls = self.falls[cell];
        (self.next[cell], if falls > here { falls } else { f32::INFINITY })
    }
}

/// What is known of a cell where no route in question comes: its price, the most that the way through can cost,
/// and both for the next march.
const NOBODY: ((f32, f32), (f32, f32)) = ((f32::INFINITY, f32::INFINITY), (f32::INFINITY, 0.0));

/// The prices of each cell at the hours of phi in it, less what may be taken off: the slack, and what phi is
/// at the start.
pub(super) fn own_prices(
    world: &World<'_>,
    hours: &Prices<'_>,
    window: &Window,
    (mesh, phi): (&Mesh, &[f32]),
    (slack, offset): (f32, f32),
) -> (Vec<f32>, Own) {
    let (intervals, depart_hour) = (&world.intervals, window.depart_hour());
    let width = mesh.width() as f32;
    let earlier_h = f64::from(slack + offset) * 1.01 + 1e-3;
    let spans = (0..mesh.len()).into_par_iter().map(|number| {
        let Some((column, row)) = mesh.cell_of(number) else { return NOBODY };
        let cell = mesh.grid_cell(column, row);
        let Some((first_hour, last_hour)) = window.hours_in(cell) else {
            return NOBODY;
        };
        let square = mesh.square(phi, column, row);
        let low_hour = depart_hour + f64::from(least_of(square));
        let until_hour = (depart_hour + f64::from(most_of(square))).min(last_hour);
        let from_hour = first_hour.max(low_hour - earlier_h).min(until_hour);
        let span = hours.span(intervals, cell, (from_hour, until_hour));
        let (next, falls) = match hours.falls_after(intervals, cell, low_hour) {
            Some(hour) => {
                let before = hours.span(intervals, cell, (from_hour, hour.min(until_hour)));
                (before.least, (hour - depart_hour) as f32)
            }
            None => (span.least, 0.0),
        };
        // The way straight through takes as long as this at the most, unless it closes meanwhile.
        let mut most = span.most;
        if most > 0.0 && most < f32::INFINITY {
            let through_h = 2.0 * f64::from(most) * std::f64::consts::SQRT_2;
            let longer = hours.span(intervals, cell, (from_hour, until_hour + through_h)).most;
            most = if longer <= 2.0 * most { longer } else { f32::INFINITY };
        }
        ((span.least * width, most * width), (next * width, falls))
    });
    let ((prices, most), (next, falls)) = spans.unzip();
    (prices, Own { slack, most, next, falls })
}
