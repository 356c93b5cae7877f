//! Fast marching over the corners of the cells.

use std::sync::Arc;

use dipward_plugin::{Control, Error};
use geo::Coord;

use super::{
    LIMITS, Steepness,
    mesh::Mesh,
    own_hours::{Own, own_prices},
    triangles::{least_of, lowered, most_of, squared_slope, wedge_of},
    window::Window,
};
use crate::{
    floor::Prices,
    queue::{BucketQueue, Entry},
    world::World,
};

/// Up to this steepness a cell is left as it is.
const EASED: f32 = 1.0005;
/// A steepness that needs no lowering.
const PASSABLE: f32 = 1.004;
/// A steepness at which the cells beside are made cheaper as well.
const SPREADING: f32 = 1.03;
/// By what power of the steepness a cell is made cheaper, and the cells beside: by less than all of it, for
/// cheaper cells beside do the rest.
const EASING: f32 = 0.6;
const SPREAD: f32 = 0.05;

/// Where a march begins.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Source {
    /// A place, in cell widths.
    Place(Coord<f64>),
    /// All of some cells.
    Cells(Vec<usize>),
    /// All corners, each with what phi is there at the most.
    Corners(Vec<f32>),
}

/// A march under way.
pub(super) struct March {
    pub(super) mesh: Arc<Mesh>,
    cap: f32,
    /// What part of the prices the march begins with.
    trim: f32,
    /// Width of a bucket of the queue.
    bucket: f32,
    /// By how much each cell is made cheaper.
    shrink: Vec<f32>,
    /// The least price of each cell while a route can be there; infinite where none comes.
    prices: Vec<f32>,
    /// What else the prices of the march's own hours are made of.
    own: Option<Own>,
    /// The most of phi about the place where it begins, which is to be taken off.
    offset: f32,
    pub(super) phi: Vec<f32>,
}

impl March {
    /// A march over a mesh, at the least price of each cell of the grid, made cheaper by as much.
    pub(super) fn new(mesh: Arc<Mesh>, of_grid: &[f32], cap: f64, trim: f32) -> Self {
        let width = mesh.width() as f32;
        let mut prices = vec![f32::INFINITY; mesh.len()];
        for (column, row) in mesh.cells() {
            prices[mesh.at(column, row)] = of_grid[mesh.grid_cell(column, row)] * width;
        }
        let least = prices.iter().copied().filter(|&v| v > 0.0).fold(f32::INFINITY, f32::min);
        Self {
            mesh,
            cap: (cap * 1.01) as f32,
            trim,
            // A step is at least the price over the root of two; cheaper cells count as late as that.
            bucket: if least.is_finite() { least * 0.5 } else { 0.5 },
            shrink: vec![trim; prices.len()],
            prices,
            own: None,
            offset: 0.0,
            phi: Vec::new(),
        }
    }

    /// Prices each cell at the hours at which the front is there.
    pub(super) fn price_at_own_hours(
        &mut self,
        world: &World<'_>,
        hours: &Prices<'_>,
        window: &Window,
    ) {
        let slack = self.own.as_ref().map_or(self.cap * Own::SLACK.end(), |own| own.slack);
        let taken_off = (slack, self.offset);
        let (prices, own) = own_prices(world, hours, window, (&self.mesh, &self.phi), taken_off);
        self.prices = prices;
        self.own = Some(own);
    }

    /// Marches until phi exceeds the cap.
    pub(super) fn run(&mut self, source: &Source, control: &Control) -> Result<(), Error> {
        let mesh = Arc::clone(&self.mesh);
        let mut settled = vec![false; mesh.len()];
        self.phi.clear();
        self.phi.resize(mesh.len(), self.cap);
        let mut queue = BucketQueue::new(self.bucket, self.bucket * 100.0);

        match source {
            &Source::Place(place) => {
                let place = mesh.of_place(place);
                let Some((column, row)) = mesh.cell_at(place) else { return Ok(()) };
                let price = self.prices[mesh.at(column, row)];
                let price = if price.is_finite() { price } else { 0.0 };
                let corners = mesh.corners(column, row);
                for (corner, (right, up)) in
                    corners.into_iter().zip([(0, 0), (1, 0), (0, 1), (1, 1)])
                {
                    let x = (column + right) as f64 - place.x;
                    let y = (row + up) as f64 - place.y;
                    // A cone blunted at its tip, which the triangles can follow.
                    let distance = (x * x + y * y + 0.25).sqrt() - 0.5;
                    self.phi[corner] = (price * distance as f32).min(self.cap);
                    self.offset = self.offset.max(self.phi[corner]);
                    queue.push(self.phi[corner], corner as u32);
                }
            }
            Source::Cells(cells) => {
                for (column, row, side) in cells.iter().filter_map(|&cell| mesh.part(cell)) {
                    for part in 0..side * side {
                        for corner in mesh.corners(column + part % side, row + part / side) {
                            if self.phi[corner] > 0.0 {
                                self.phi[corner] = 0.0;
                                queue.push(0.0, corner as u32);
                            }
                        }
                    }
                }
            }
            Source::Corners(most) => {
                for (corner, (phi, &most)) in self.phi.iter_mut().zip(most).enumerate() {
                    if most < *phi {
                        *phi = most;
                        queue.push(most, corner as u32);
                    }
                }
            }
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
        let (column, row) = self.mesh.place_of(corner);
        let here = self.phi[corner];
        for (left, down) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            let (Some(cell_column), Some(cell_row)) =
                (column.checked_sub(left), row.checked_sub(down))
            else {
                continue;
            };
            if !self.mesh.holds(cell_column, cell_row) {
                continue;
            }
            let cell = self.mesh.at(cell_column, cell_row);
            let (price, falls) = match &self.own {
                None => (self.prices[cell], f32::INFINITY),
                Some(own) => own.next(cell, here),
            };
            let price = price * self.shrink[cell];
            if price == f32::INFINITY && falls == f32::INFINITY {
                continue;
            }
            // The cell's other corners: beside, above or below, and across.
            let corners = self.mesh.corners(cell_column, cell_row);
            let own = 2 * down + left;
            // Where two cells touch across closed ones, each has a corner of its own.
            if corners[own] != corner {
                continue;
            }
            let [beside, over, across] = [corners[own ^ 1], corners[own ^ 2], corners[own ^ 3]];
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
                let value = value.min(falls);
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
        for row in 0..self.mesh.rows() {
            for column in self.steep_in(row, PASSABLE) {
                self.lower_in(column, row);
            }
        }
    }

    /// Lowers the highest corner of a cell that is too steep.
    fn lower_in(&mut self, column: usize, row: usize) {
        if self.steepness(column, row) <= PASSABLE {
            return;
        }
        let square = self.mesh.square(&self.phi, column, row);
        let price = self.prices[self.mesh.at(column, row)];
        let Some((top, value)) = lowered(square, price) else { return };
        let (right, up) = (column + top % 2, row + top / 2);
        let about = |march: &Self| {
            [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(left, down)| {
                match (right.checked_sub(left), up.checked_sub(down)) {
                    (Some(x), Some(y)) if march.mesh.holds(x, y) => march.steepness(x, y),
                    _ => 0.0,
                }
            })
        };
        let before = about(self);
        let corner = self.mesh.corners(column, row)[top];
        let kept = std::mem::replace(&mut self.phi[corner], value);
        let mut worse = about(self).into_iter().zip(before);
        if worse.any(|(after, before)| after > before.max(PASSABLE)) {
            self.phi[corner] = kept;
        }
    }

    /// The columns of a row whose cells are steeper than a limit, with those that hardly are not: most cells are
    /// less steep, and need no root and no quotient.
    fn steep_in(&self, row: usize, limit: f32) -> Vec<usize> {
        let span = self.mesh.span(row);
        let cells = span.len();
        if cells == 0 {
            return Vec::new();
        }
        let (low, high) = (self.mesh.at(span.start, row), self.mesh.at(span.start, row + 1));
        let (under, over) = (&self.phi[low..=low + cells], &self.phi[high..=high + cells]);
        let squared_limit = limit * limit * (1.0 - 1e-5);
        let corners = under.iter().zip(&under[1..]).zip(over.iter().zip(&over[1..]));
        let mut steep: Vec<bool> = corners
            .zip(&self.prices[low..low + cells])
            .map(|(((&a, &b), (&c, &d)), &price)| {
                squared_slope([a, b, c, d]) > squared_limit * price * price
            })
            .collect();
        if self.mesh.has_pinches() {
            for column in
                span.clone().filter(|&column| self.mesh.is_pinched(self.mesh.at(column, row)))
            {
                let price = self.prices[self.mesh.at(column, row)];
                let square = self.mesh.square(&self.phi, column, row);
                steep[column - span.start] = squared_slope(square) > squared_limit * price * price;
            }
        }
        span.zip(steep).filter_map(|(column, steep)| steep.then_some(column)).collect()
    }

    /// Slope over price in a cell.
    fn steepness(&self, column: usize, row: usize) -> f32 {
        let price = self.prices[self.mesh.at(column, row)];
        if price == f32::INFINITY {
            return 0.0;
        }
        let slope = squared_slope(self.mesh.square(&self.phi, column, row)).sqrt();
        // Zero over a price of zero would not be a number.
        if slope == 0.0 { 0.0 } else { slope / price }
    }

    /// Makes the cells cheaper where phi is too steep for the prices that it was made of.
    pub(super) fn ease(&mut self) {
        let mesh = Arc::clone(&self.mesh);
        let limit = EASED * self.trim;
        for row in 0..mesh.rows() {
            for column in self.steep_in(row, limit) {
                let ratio = self.steepness(column, row);
                if ratio > SPREADING {
                    // A cheaper tip moves the tip to a cell beside, which is made cheaper at once.
                    for y in row.saturating_sub(1)..row + 2 {
                        for x in column.saturating_sub(1)..column + 2 {
                            if mesh.holds(x, y) {
                                self.shrink[mesh.at(x, y)] /= ratio.min(1.5).powf(SPREAD);
                            }
                        }
                    }
                }
                if ratio > limit {
                    self.shrink[mesh.at(column, row)] /= ratio.min(1.5).powf(EASING);
                }
            }
        }
    }

    /// How steep phi is.
    pub(super) fn measure(&mut self) -> Steepness {
        let (mesh, cap) = (Arc::clone(&self.mesh), f64::from(self.cap));
        let mut worst = 1.0_f32;
        // For each limit, what the cells above it exceed it by on the longest way through them.
        let mut excess = [0.0_f64; LIMITS.len()];
        let limit = LIMITS[0] as f32;
        let steep_in = |row: usize| {
            let columns = self.steep_in(row, limit).into_iter();
            columns.map(move |column| (column, row))
        };
        for (column, row) in (0..mesh.rows()).flat_map(steep_in) {
            let ratio = self.steepness(column, row);
            if ratio <= limit {
                continue;
            }
            worst = worst.max(ratio);
            let cell = mesh.at(column, row);
            let most = self.own.as_ref().map_or(self.prices[cell], |own| own.most[cell]);
            let across = f64::from(most) * std::f64::consts::SQRT_2;
            let square = mesh.square(&self.phi, column, row);
            let rise = most_of(square) - least_of(square);
            // The limits grow; nothing of an infinite way would not be a number.
            for (sum, limit) in excess.iter_mut().zip(LIMITS) {
                let over = f64::from(ratio) / limit - 1.0;
                if over <= 0.0 {
                    break;
                }
                *sum += (over * across).min(f64::from(rise) / limit);
            }
        }
        let mut steepness = Steepness { worst: worst.into(), excess };
        let wanted = 1.2 * (cap - steepness.bound(cap)) as f32;
        if let Some(own) = &mut self.own {
            steepness.keep_to(cap, own.slack.into());
            own.slack = wanted.clamp(self.cap * Own::SLACK.start(), self.cap * Own::SLACK.end());
        }
        steepness
    }
}
