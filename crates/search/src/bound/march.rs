//! Fast marching over the corners of the cells.

use dipward_plugin::{Control, Error};
use geo::Coord;
use rayon::prelude::*;

use super::{
    Steepness,
    triangles::{corners, lowered, slopes, wedge_of},
    window::Window,
};
use crate::{
    floor::Prices,
    queue::{BucketQueue, Entry},
    world::World,
};

/// A steepness that needs no lowering.
const PASSABLE: f32 = 1.004;
/// A steepness at which the cells beside are made cheaper as well.
const SPREADING: f32 = 1.03;
/// Up to where steepness may divide the whole: one of these.
const LIMITS: [f32; 8] = [1.0005, 1.001, 1.002, 1.004, 1.006, 1.008, 1.012, 1.02];

/// A march under way.
pub(super) struct March {
    columns: usize,
    rows: usize,
    cap: f32,
    /// Width of a bucket of the queue.
    bucket: f32,
    /// By how much each cell is made cheaper.
    shrink: Vec<f32>,
    /// The least price of each cell while a route can be there; infinite where none comes.
    prices: Vec<f32>,
    pub(super) phi: Vec<f32>,
}

impl March {
    pub(super) fn new(world: &World<'_>, prices: &Prices<'_>, window: &Window, cap: f64) -> Self {
        let (columns, rows) = (world.padding.columns, world.padding.rows);
        let price_of = |cell: usize| {
            let place = Coord { x: (cell % columns) as f64, y: (cell / columns) as f64 };
            window
                .hours_in(cell, place)
                .map_or(f32::INFINITY, |hours| prices.least(&world.intervals, cell, hours))
        };
        let prices: Vec<f32> = (0..columns * rows).into_par_iter().map(price_of).collect();
        let least = prices.iter().copied().filter(|&v| v > 0.0).fold(f32::INFINITY, f32::min);
        Self {
            columns,
            rows,
            cap: (cap * 1.01) as f32,
            // A step is at least the price over the root of two; cheaper cells count as late as that.
            bucket: if least.is_finite() { least * 0.5 } else { 0.5 },
            shrink: vec![1.0; columns * rows],
            prices,
            phi: Vec::new(),
        }
    }

    /// Marches from a place until phi exceeds the cap.
    pub(super) fn run(
        &mut self,
        place: Coord<f64>,
        start: usize,
        control: &Control,
    ) -> Result<(), Error> {
        let corners = (self.columns + 1) * (self.rows + 1);
        let mut settled = vec![false; corners];
        self.phi.clear();
        self.phi.resize(corners, self.cap);
        let mut queue = BucketQueue::new(self.bucket, self.bucket * 100.0);

        let price = if self.prices[start].is_finite() { self.prices[start] } else { 0.0 };
        let (column, row) = (start % self.columns, start / self.columns);
        for (right, up) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            let x = (column + right) as f64 - 0.5 - place.x;
            let y = (row + up) as f64 - 0.5 - place.y;
            // A cone blunted at its tip, which the triangles can follow.
            let distance = (x * x + y * y + 0.25).sqrt() - 0.5;
            let corner = (row + up) * (self.columns + 1) + column + right;
            self.phi[corner] = (price * distance as f32).min(self.cap);
            queue.push(self.phi[corner], corner as u32);
        }
        let mut batch: Vec<Entry> = Vec::new();
        while queue.pop_bucket(&mut batch) {
            control.check()?;
            for entry in &batch {
                let corner = entry.state as usize;
                if settled[corner] || entry.key > self.phi[corner] {
                    continue;
                }
                settled[corner] = true;
                self.spread(corner, &settled, &mut queue);
            }
        }
        Ok(())
    }

    /// Lowers the corners of the cells about a corner that has been settled.
    fn spread(&mut self, corner: usize, settled: &[bool], queue: &mut BucketQueue) {
        const SQRT_2: f32 = std::f32::consts::SQRT_2;
        let stride = self.columns + 1;
        let (column, row) = (corner % stride, corner / stride);
        let here = self.phi[corner];
        for (left, down) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            let (Some(cell_column), Some(cell_row)) =
                (column.checked_sub(left), row.checked_sub(down))
            else {
                continue;
            };
            if cell_column >= self.columns || cell_row >= self.rows {
                continue;
            }
            let cell = cell_row * self.columns + cell_column;
            let price = self.prices[cell] * self.shrink[cell];
            if price == f32::INFINITY {
                continue;
            }
            // The cell's other corners: beside, above or below, and across.
            let beside = if left == 0 { corner + 1 } else { corner - 1 };
            let over = if down == 0 { corner + stride } else { corner - stride };
            let across = if down == 0 { beside + stride } else { beside - stride };
            // Along the side, or between the side and the diagonal from what is settled across.
            let wedge = |leg: f32, diagonal: f32| {
                let drop = leg - diagonal;
                if drop <= 0.0 {
                    leg + price
                } else if drop * SQRT_2 >= price {
                    diagonal + SQRT_2 * price
                } else {
                    leg + (price * price - drop * drop).sqrt()
                }
            };
            let known = |at: usize| if settled[at] { self.phi[at] } else { f32::INFINITY };
            let to_beside = (here + price).min(wedge_of(here, known(over), &wedge));
            let to_over = (here + price).min(wedge_of(here, known(beside), &wedge));
            let to_across = (here + SQRT_2 * price)
                .min(wedge_of(known(beside), here, &wedge))
                .min(wedge_of(known(over), here, &wedge));
            // `beside` sees `over` across the cell, and the other way about.
            for (at, value) in [(beside, to_beside), (over, to_over), (across, to_across)] {
                if value < self.phi[at] {
                    self.phi[at] = value;
                    queue.push(value, at as u32);
                }
            }
        }
    }

    /// Lowers corners that stand out where fronts meet: there a corner is reached along two sides, and
    /// no wedge ties it to both. Only where no cell about the corner becomes too steep by it.
    pub(super) fn lower(&mut self) {
        for row in 0..self.rows {
            for column in 0..self.columns {
                if self.steepness(column, row) <= PASSABLE {
                    continue;
                }
                let square = corners(&self.phi, self.columns, column, row);
                let price = self.prices[row * self.columns + column];
                let Some((top, value)) = lowered(square, price) else { continue };
                let (right, up) = (column + top % 2, row + top / 2);
                let about = |march: &Self| {
                    [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(left, down)| {
                        match (right.checked_sub(left), up.checked_sub(down)) {
                            (Some(x), Some(y)) if x < march.columns && y < march.rows => {
                                march.steepness(x, y)
                            }
                            _ => 0.0,
                        }
                    })
                };
                let before = about(self);
                let corner = up * (self.columns + 1) + right;
                let kept = std::mem::replace(&mut self.phi[corner], value);
                let worse = about(self)
                    .into_iter()
                    .zip(before)
                    .any(|(after, before)| after > before.max(PASSABLE));
                if worse {
                    self.phi[corner] = kept;
                }
            }
        }
    }

    /// Slope over price in a cell.
    fn steepness(&self, column: usize, row: usize) -> f32 {
        let square = corners(&self.phi, self.columns, column, row);
        let (rising, falling) = slopes(square);
        let slope = rising.min(falling);
        if slope == 0.0 {
            // Zero over a price of zero would not be a number.
            return 0.0;
        }
        slope / self.prices[row * self.columns + column]
    }

    /// How steep phi is; marks the cells that are too steep as cheaper.
    pub(super) fn measure(&mut self) -> Steepness {
        let mut worst = 1.0_f32;
        // For each limit, what the cells above it exceed it by on the longest way through them.
        let mut excess = [0.0_f64; LIMITS.len()];
        for row in 0..self.rows {
            for column in 0..self.columns {
                let ratio = self.steepness(column, row);
                worst = worst.max(ratio);
                if ratio > SPREADING {
                    // A cheaper tip moves the tip to a cell beside, which is made cheaper at once.
                    for y in row.saturating_sub(1)..(row + 2).min(self.rows) {
                        for x in column.saturating_sub(1)..(column + 2).min(self.columns) {
                            self.shrink[y * self.columns + x] /= ratio.min(1.5).sqrt().sqrt();
                        }
                    }
                }
                if ratio > LIMITS[0] {
                    let cell = row * self.columns + column;
                    self.shrink[cell] /= ratio.min(1.5);
                    let across = f64::from(self.prices[cell]) * std::f64::consts::SQRT_2;
                    for (sum, limit) in excess.iter_mut().zip(LIMITS) {
                        *sum += f64::from((ratio / limit - 1.0).max(0.0)) * across;
                    }
                }
            }
        }
        let at_cap = |limit: f32, excess: f64| f64::from(self.cap / limit) - excess;
        let (limit, excess) = LIMITS
            .into_iter()
            .zip(excess)
            .max_by(|a, b| at_cap(a.0, a.1).total_cmp(&at_cap(b.0, b.1)))
            .unwrap_or((worst, 0.0));
        Steepness { worst: worst.into(), limit: limit.into(), excess }
    }
}
