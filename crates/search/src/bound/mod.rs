//! Lower bounds on what any route costs, on or off the grid.
//!
//! Let phi be a continuous function of place, linear on triangles, whose slope nowhere exceeds the
//! least price of a length there. Then no route from a to b, however it bends, costs less than
//! phi(b) - phi(a): along it, phi grows by no more than the price of the way. Where the price changes
//! with time, the price at a place need only hold for the hours at which a route in question can be
//! there: `window.rs`.
//!
//! ```text
//!    c-----d     The triangles halve each cell along the diagonal that suits phi better; phi lives
//!    |   / |     on the corners of the cells, so that each triangle lies in one cell and has one
//!    | /   |     price. A closed cell has none, and phi may jump across it.
//!    a-----b
//! ```
//!
//! A good phi is the arrival time itself, which fast marching over the triangles of eight neighbours
//! gives to the first order (J. N. Tsitsiklis, Efficient algorithms for globally optimal
//! trajectories, IEEE Transactions on Automatic Control 40(9), 1995). Where fronts are sharply curved
//! it is a little too steep; such cells are made cheaper and the march is run again. The steepness is
//! measured on the finished phi, so the bound holds whatever the march did: what is left of it either
//! divides the whole, or divides only up to a limit, and what the few steeper cells exceed that by is
//! taken off. The second holds because the cheapest way at prices that are constant in each cell enters
//! no cell twice: a cell is convex, and the chord is shorter.

mod march;
mod triangles;
mod window;

#[cfg(test)]
mod tests;

use dipward_geodesy::Position;
use dipward_plugin::{Control, Error};
use geo::Coord;

pub(crate) use window::Window;

use crate::{floor::Prices, world::World};
use march::March;
use triangles::{corners, slopes};

/// What a bound may lose to steepness before another march is worth its while, as a share.
const LOSS: f64 = 0.003;

/// Marches at most: for a bound, and for what only narrows down the hours of another.
pub(crate) const FINE: usize = 8;
pub(crate) const ROUGH: usize = 3;

/// A function phi on the corners of the cells.
#[derive(Debug)]
pub(crate) struct Potential<'w, 't> {
    world: &'w World<'t>,
    columns: usize,
    rows: usize,
    phi: Vec<f32>,
    steepness: Steepness,
    start: f64,
}

/// By how much the slope exceeds the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Steepness {
    /// At worst.
    pub(crate) worst: f64,
    /// Up to where it divides.
    pub(crate) limit: f64,
    /// What the cells above the limit can add to any way together, in the unit of the price.
    pub(crate) excess: f64,
}

impl Steepness {
    /// What a rise of phi is worth as a bound.
    fn bound(&self, rise: f64) -> f64 {
        (rise / self.worst).max(rise / self.limit - self.excess).max(0.0)
    }
}

impl<'w, 't> Potential<'w, 't> {
    /// The potential of prices from a position, no higher than `cap`, by some marches at most; nothing
    /// where the start is off the grid.
    pub(crate) fn new(
        world: &'w World<'t>,
        prices: &Prices<'_>,
        start: Position,
        window: &Window,
        cap: f64,
        marches: usize,
        control: &Control,
    ) -> Result<Option<Self>, Error> {
        let (columns, rows) = (world.padding.columns, world.padding.rows);
        let mut march = March::new(world, prices, window, cap);
        let place = world.to_cells(start);
        let Some(cell) = world.table.grid.cell_at(start) else { return Ok(None) };
        let mut best: Option<(Steepness, Vec<f32>)> = None;
        for _ in 0..marches {
            march.run(place, cell as usize, control)?;
            march.lower();
            let steepness = march.measure();
            let bound = steepness.bound(cap);
            if best.as_ref().is_none_or(|best| bound > best.0.bound(cap)) {
                best = Some((steepness, march.phi.clone()));
            }
            if bound >= cap * (1.0 - LOSS) {
                break;
            }
        }
        let Some((steepness, phi)) = best else { return Ok(None) };
        let mut potential = Self { world, columns, rows, phi, steepness, start: 0.0 };
        potential.start = potential.raw(place).unwrap_or(0.0);
        Ok(Some(potential))
    }

    /// No route from the start to a position costs less; nothing off the grid.
    pub(crate) fn at(&self, position: Position) -> Option<f64> {
        self.at_place(self.world.to_cells(position))
    }

    /// As [`Potential::at`], of a place in cell widths.
    pub(crate) fn at_place(&self, place: Coord<f64>) -> Option<f64> {
        Some(self.steepness.bound(self.raw(place)? - self.start))
    }

    /// What every route to a place of a cell costs at least, for each cell of the grid.
    pub(crate) fn of_cells(&self) -> Vec<f64> {
        (0..self.columns * self.rows)
            .map(|cell| {
                let square =
                    corners(&self.phi, self.columns, cell % self.columns, cell / self.columns);
                let least = square.into_iter().fold(f32::INFINITY, f32::min);
                self.steepness.bound(f64::from(least) - self.start)
            })
            .collect()
    }

    /// The most that phi changes per cell width in the cell of a place.
    pub(crate) fn slope_at(&self, place: Coord<f64>) -> f64 {
        self.cell_of(place).map_or(0.0, |(column, row)| {
            let [a, b, c, d] = corners(&self.phi, self.columns, column, row);
            let most = a.max(b).max(c).max(d) - a.min(b).min(c).min(d);
            f64::from(most) * std::f64::consts::SQRT_2
        })
    }

    fn cell_of(&self, place: Coord<f64>) -> Option<(usize, usize)> {
        let (column, row) = ((place.x + 0.5).floor(), (place.y + 0.5).floor());
        let inside =
            column >= 0.0 && row >= 0.0 && column < self.columns as f64 && row < self.rows as f64;
        inside.then_some((column as usize, row as usize))
    }

    /// phi itself: linear on the triangles that suit it better.
    fn raw(&self, place: Coord<f64>) -> Option<f64> {
        let (column, row) = self.cell_of(place)?;
        let x = place.x + 0.5 - column as f64;
        let y = place.y + 0.5 - row as f64;
        let square = corners(&self.phi, self.columns, column, row);
        let [a, b, c, d] = square.map(f64::from);
        Some(match slopes(square) {
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
