//! Lower bounds on what any route costs, on or off the grid.
//!
//! Let phi be a continuous function of place, linear on triangles, whose slope nowhere exceeds the
//! least price of a length there. Then no route from a to b, however it bends, costs less than
//! phi(b) - phi(a): along it, phi grows by no more than the price of the way. Where the price changes
//! with time, the price at a place need only hold for the hours at which a route in question can be
//! there (`window.rs`): of hours, for when phi itself is there (`own_hours.rs`), and of tonnes, where that is
//! loose, for one stage of the voyage after another (`stages.rs`).
//!
//! ```text
//!    c-----d     The triangles halve each cell along the diagonal that suits phi better; phi lives
//!    |   / |     on the corners of the cells, so that each triangle lies in one cell and has one
//!    | /   |     price. A closed cell has none, and phi may jump across it.
//!    a-----b
//! ```
//!
//! Where two closed cells touch at a corner, phi may jump there too: no way leads between them (`mesh.rs`).
//!
//! A good phi is the arrival time itself, which fast marching over the triangles of eight neighbours
//! gives to the first order (J. N. Tsitsiklis, Efficient algorithms for globally optimal
//! trajectories, IEEE Transactions on Automatic Control 40(9), 1995). Where fronts are sharply curved
//! it is a little too steep; such cells are made cheaper and the march is run again. The steepness is
//! measured on the finished phi, so the bound holds whatever the march did: what is left of it either
//! divides the whole, or divides only up to a limit, and what the few steeper cells exceed that by is
//! taken off. The second holds because the cheapest way spends no more in a cell, however often it comes
//! back, than the chord from where it first enters to where it last leaves would cost: a cell is convex.
//!
//! Cells where no route in question comes are left out (`mesh.rs`), so that none of them counts as steep,
//! and for a bound the others are halved, and again and again where that leaves it loose (`halvings.rs`): a front
//! that is curved is followed the more closely.

mod halvings;
mod march;
mod mesh;
mod own_hours;
mod stages;
mod triangles;
mod window;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use dipward_plugin::{Control, Error};
use geo::Coord;
use rayon::prelude::*;

pub(crate) use halvings::{cells_left, halve};
pub(crate) use march::Source;
pub(crate) use stages::{Lines, Stage, Stages};
pub(crate) use window::Window;

use crate::{floor::Prices, world::World};
use march::March;
use mesh::Mesh;
use triangles::{least_of, most_of, squared_slopes};

/// What a bound may lose to steepness before another march is worth its while, as a share.
const LOSS: f64 = 0.003;

/// How a potential is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Marches {
    /// Marches at most, each made where the one before was too steep.
    most: usize,
    /// How often each cell is halved.
    halvings: u32,
}

impl Marches {
    /// For a bound over cells that are halved some times, the more marches the more often.
    pub(crate) const fn fine(halvings: u32) -> Self {
        Self { most: 8 + 4 * halvings as usize, halvings }
    }
}

pub(crate) const HALFWAY: Marches = Marches { most: 6, halvings: 0 };
/// For what only narrows down the hours and places of another.
pub(crate) const ROUGH: Marches = Marches { most: 3, halvings: 0 };

/// A function phi on the corners of the cells.
#[derive(Debug)]
pub(crate) struct Potential<'w, 't> {
    world: &'w World<'t>,
    mesh: Arc<Mesh>,
    phi: Vec<f32>,
    steepness: Steepness,
    start: f64,
}

/// Up to where steepness may divide the whole: one of these.
const LIMITS: [f64; 11] =
    [1.0, 1.0005, 1.001, 1.002, 1.003, 1.004, 1.006, 1.008, 1.012, 1.02, 1.03];

/// By how much the slope exceeds the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Steepness {
    /// At worst.
    worst: f64,
    /// What the cells above each of the limits can add to any way together, in the unit of the price.
    excess: [f64; LIMITS.len()],
}

impl Steepness {
    /// Nowhere above any limit.
    const NOTHING: Self = Self { worst: f64::INFINITY, excess: [0.0; LIMITS.len()] };
    /// Before anything is measured.
    const UNKNOWN: Self = Self { worst: f64::INFINITY, excess: [f64::INFINITY; LIMITS.len()] };

    /// What a rise of phi is worth as a bound.
    fn bound(&self, rise: f64) -> f64 {
        let limited = LIMITS.iter().zip(&self.excess).map(|(limit, excess)| rise / limit - excess);
        limited.fold((rise / self.worst).max(0.0), f64::max)
    }

    /// The same with another on the way.
    fn and(&self, other: &Self) -> Self {
        self.with(other, |a, b| a + b)
    }

    /// The worse of two.
    fn most(&self, other: &Self) -> Self {
        self.with(other, f64::max)
    }

    /// Limit by limit; what is at worst holds for one alone.
    fn with(&self, other: &Self, both: impl Fn(f64, f64) -> f64) -> Self {
        let excess = std::array::from_fn(|at| both(self.excess[at], other.excess[at]));
        Self { worst: f64::INFINITY, excess }
    }

    /// Leaves only what takes no more than a slack off a cap.
    fn keep_to(&mut self, cap: f64, slack: f64) {
        if cap - cap / self.worst > slack {
            self.worst = f64::INFINITY;
        }
        for (limit, excess) in LIMITS.iter().zip(&mut self.excess) {
            if cap - cap / limit + *excess > slack {
                *excess = f64::INFINITY;
            }
        }
    }
}

impl<'w, 't> Potential<'w, 't> {
    /// The potential of prices from a source, no higher than a cap.
    pub(crate) fn new(
        world: &'w World<'t>,
        prices: &Prices<'_>,
        source: &Source,
        window: &Window,
        (cap, marches): (f64, Marches),
        control: &Control,
    ) -> Result<Self, Error> {
        let march = march_over(world, prices, window, (cap, marches));
        Self::best_of(world, march, source, (cap, marches.most), control, |_| {})
    }

    /// The potential of hours, each cell at its price of the hours at which phi is there.
    pub(crate) fn at_own_hours(
        world: &'w World<'t>,
        hours: &Prices<'_>,
        source: &Source,
        window: &Window,
        (cap, marches): (f64, Marches),
        control: &Control,
    ) -> Result<Self, Error> {
        let march = march_over(world, hours, window, (cap, marches));
        Self::best_of(world, march, source, (cap, marches.most), control, |march| {
            march.price_at_own_hours(world, hours, window);
        })
    }

    /// The best of some marches.
    fn best_of(
        world: &'w World<'t>,
        mut march: March,
        source: &Source,
        (cap, most): (f64, usize),
        control: &Control,
        price_anew: impl Fn(&mut March),
    ) -> Result<Self, Error> {
        let mut best = (Steepness::UNKNOWN, Vec::new());
        for _ in 0..most {
            march.run(source, control)?;
            march.lower();
            march.ease();
            price_anew(&mut march);
            let steepness = march.measure();
            let bound = steepness.bound(cap);
            if best.1.is_empty() || bound > best.0.bound(cap) {
                best = (steepness, march.phi.clone());
            }
            if bound >= cap * (1.0 - LOSS) {
                break;
            }
        }
        let (steepness, phi) = best;
        let mut potential = Self { world, mesh: march.mesh, phi, steepness, start: 0.0 };
        if let &Source::Place(place) = source {
            potential.start = potential.raw(place).unwrap_or(0.0);
        }
        Ok(potential)
    }

    /// No route from the start to a place, in cell widths, costs less; nothing where none in question comes.
    pub(crate) fn at_place(&self, place: Coord<f64>) -> Option<f64> {
        Some(self.steepness.bound(self.raw(place)? - self.start))
    }

    /// As [`Potential::at_place`], less what it varies by within some cell widths.
    pub(crate) fn at_place_within(&self, place: Coord<f64>, step: f64) -> Option<f64> {
        Some((self.at_place(place)? - self.slope_at(place) * step).max(0.0))
    }

    /// phi at a place less what it varies by within some cell widths.
    fn raw_within(&self, place: Coord<f64>, step: f64) -> Option<f64> {
        Some((self.raw(place)? - self.start - self.slope_at(place) * step).max(0.0))
    }

    /// What every route to a place of a cell costs at least, for each cell of the grid; infinite where no
    /// route in question comes.
    pub(crate) fn of_cells(&self) -> Vec<f64> {
        self.raw_of_cells().map(|raw| self.steepness.bound(raw)).collect()
    }

    /// The least of phi in each cell of the grid.
    fn raw_of_cells(&self) -> impl Iterator<Item = f64> {
        (0..self.world.table.grid.len()).map(move |cell| {
            let Some((column, row, side)) = self.mesh.part(cell) else { return f64::INFINITY };
            let least = (0..side * side)
                .map(|at| self.mesh.square(&self.phi, column + at % side, row + at / side))
                .map(least_of)
                .fold(f32::INFINITY, f32::min);
            f64::from(least) - self.start
        })
    }

    /// The most that phi changes per cell width in the cell of a place.
    fn slope_at(&self, place: Coord<f64>) -> f64 {
        self.mesh.cell_at(self.mesh.of_place(place)).map_or(0.0, |(column, row)| {
            let square = self.mesh.square(&self.phi, column, row);
            let most = f64::from(most_of(square) - least_of(square));
            most / self.mesh.width() * std::f64::consts::SQRT_2
        })
    }

    /// phi itself: linear on the triangles that suit it better.
    fn raw(&self, place: Coord<f64>) -> Option<f64> {
        let place = self.mesh.of_place(place);
        let (column, row) = self.mesh.cell_at(place)?;
        let (x, y) = (place.x - column as f64, place.y - row as f64);
        let square = self.mesh.square(&self.phi, column, row);
        let [a, b, c, d] = square.map(f64::from);
        Some(match squared_slopes(square) {
            // Along a-d: below it the triangle a b d, above it a c d.
            (rising, falling) if rising <= falling => {
                if x >= y {
                    a + (b - a) * x + (d - b) * y
                } else {
                    a + (c - a) * y + (d - c) * x
                }
            }
            // Along b-c: below it a b c, above it b c d.
            _ => {
                if x + y <= 1.0 {
                    a + (b - a) * x + (c - a) * y
                } else {
                    d + (c - d) * (1.0 - x) + (b - d) * (1.0 - y)
                }
            }
        })
    }
}

/// A march over the cells where a route in question comes.
fn march_over(
    world: &World<'_>,
    prices: &Prices<'_>,
    window: &Window,
    (cap, marches): (f64, Marches),
) -> March {
    let of_grid = prices_of_grid(world, prices, window);
    let mesh = mesh_over(world, &of_grid, marches.halvings);
    March::new(Arc::new(mesh), &of_grid, cap, 1.0)
}

/// A mesh about the cells of the grid that have a price.
fn mesh_over(world: &World<'_>, of_grid: &[f32], halvings: u32) -> Mesh {
    Mesh::about(world.padding, halvings, |cell| of_grid[cell] < f32::INFINITY)
}

/// The least price of each cell of the grid while a route can be there, infinite where none comes.
fn prices_of_grid(world: &World<'_>, prices: &Prices<'_>, window: &Window) -> Vec<f32> {
    let least = |cell, hours| prices.least(&world.intervals, cell, hours);
    (0..world.table.grid.len())
        .into_par_iter()
        .map(|cell| window.hours_in(cell).map_or(f32::INFINITY, |hours| least(cell, hours)))
        .collect()
}
