//! Lower bounds on what any route costs, on or off the grid.
//!
//! Let phi be a continuous function of place, linear on triangles, whose slope nowhere exceeds the
//! least price of a length there. Then no route from a to b, however it bends, costs less than
//! phi(b) - phi(a): along it, phi grows by no more than the price of the way. Where the price changes
//! with time, the price at a place need only hold from the hour on at which the place can be reached
//! at the earliest, which is phi itself when the price is in hours.
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
//! it is a little too steep; such cells are made cheaper and the march is run again. What then is left
//! of steepness divides the whole. The steepness is measured on the finished phi, so the bound holds
//! whatever the march did.

use dipward_geodesy::Position;
use dipward_plugin::{Control, Error};
use geo::Coord;

use crate::{
    floor::{Floor, Price},
    queue::{BucketQueue, Entry},
    world::World,
};

/// A steepness that is let pass without another march.
const PASSABLE: f32 = 1.004;
/// The most that the steepness may be for the hours to be trusted; above, nothing is claimed. The
/// marching stays below 1 / cos of half an eighth of a turn, 1.0824.
const TRUSTED: f32 = 1.1;
/// A steepness at which the cells beside are made cheaper as well.
const SPREADING: f32 = 1.03;
/// Marches at most.
const MARCHES: usize = 4;

/// A function phi on the corners of the cells.
#[derive(Debug)]
pub(crate) struct Potential<'w, 't> {
    world: &'w World<'t>,
    columns: usize,
    rows: usize,
    phi: Vec<f32>,
    /// By how much the slope exceeds the price at worst.
    steepness: f32,
    start: f64,
}

/// When cells can be reached and must have been left.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Window<'p> {
    pub(crate) depart_hour: f64,
    pub(crate) latest_hour: f64,
    /// A bound in hours, to tell when a place can be reached at the earliest; a potential in hours
    /// serves itself.
    pub(crate) hours: Option<&'p Potential<'p, 'p>>,
}

impl<'w, 't> Potential<'w, 't> {
    /// The potential of a price from a position, no higher than `cap`.
    pub(crate) fn new(
        world: &'w World<'t>,
        floor: &Floor,
        price: Price,
        start: Position,
        window: Window<'_>,
        cap: f64,
        control: &Control,
    ) -> Result<Option<Self>, Error> {
        let (columns, rows) = (world.padding.columns, world.padding.rows);
        let mut march = March {
            world,
            floor,
            price,
            window,
            columns,
            rows,
            cap: (cap * 1.01) as f32,
            bucket: 0.0,
            shrink: vec![1.0; columns * rows],
            prices: Vec::new(),
            phi: Vec::new(),
        };
        let place = world.to_cells(start);
        let Some(cell) = world.table.grid.cell_at(start) else { return Ok(None) };
        let mut best: Option<(f32, Vec<f32>)> = None;
        for _ in 0..MARCHES {
            march.run(place, cell as usize, control)?;
            march.lower();
            let steepness = march.measure();
            let better = best.as_ref().is_none_or(|best| steepness < best.0);
            if better {
                best = Some((steepness, march.phi.clone()));
            }
            if steepness <= PASSABLE {
                break;
            }
        }
        let Some((steepness, phi)) = best.filter(|best| best.0 <= TRUSTED) else {
            return Ok(None);
        };
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
        Some(((self.raw(place)? - self.start) / f64::from(self.steepness)).max(0.0))
    }

    /// The most that phi changes per cell width in the cell of a place.
    pub(crate) fn slope_at(&self, place: Coord<f64>) -> f64 {
        self.cell_of(place).map_or(0.0, |(column, row)| {
            let [a, b, c, d] = corners(&self.phi, self.columns, column, row);
            let most = a.max(b).max(c).max(d) - a.min(b).min(c).min(d);
            f64::from(most) * std::f64::consts::SQRT_2
        })
    }

    /// The least of phi in a cell of the grid, as a bound.
    pub(crate) fn least_in(&self, column: usize, row: usize) -> f64 {
        let [a, b, c, d] = corners(&self.phi, self.columns, column, row);
        let least = f64::from(a.min(b).min(c).min(d));
        ((least - self.start) / f64::from(self.steepness)).max(0.0)
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

/// phi at the corners a b c d of a cell.
fn corners(phi: &[f32], columns: usize, column: usize, row: usize) -> [f32; 4] {
    let low = row * (columns + 1) + column;
    let high = low + columns + 1;
    [phi[low], phi[low + 1], phi[high], phi[high + 1]]
}

/// The greatest slope of the two triangles along the diagonal a-d, and along b-c.
fn slopes([a, b, c, d]: [f32; 4]) -> (f32, f32) {
    let rising = (b - a).hypot(d - b).max((c - a).hypot(d - c));
    let falling = (b - a).hypot(c - a).max((d - c).hypot(d - b));
    (rising, falling)
}

/// The highest corner of a cell and the most that it may be for the slope to be no more than a price;
/// nothing where lowering it would not do.
fn lowered(square: [f32; 4], price: f32) -> Option<(usize, f32)> {
    let top = (0..4).max_by(|&a, &b| square[a].total_cmp(&square[b]))?;
    // The corners beside it, and the one across.
    let (leg, other, across) = (square[top ^ 1], square[top ^ 2], square[top ^ 3]);
    let under_root = |value: f32| (value >= 0.0).then(|| value.sqrt());
    // Halved through the top: it ends a leg of both triangles.
    let through = under_root(price * price - (leg - across) * (leg - across))
        .zip(under_root(price * price - (other - across) * (other - across)))
        .map(|(a, b)| (leg + a).min(other + b));
    // Halved past it: it is the right angle of one triangle, and the other must do as it is.
    let beyond = (across - leg).hypot(across - other) <= price;
    let past = under_root(price * price / 2.0 - (leg - other) * (leg - other) / 4.0)
        .filter(|_| beyond)
        .map(|root| f32::midpoint(leg, other) + root);
    let value = match (through, past) {
        (Some(a), Some(b)) => a.max(b),
        (a, b) => a.or(b)?,
    };
    (value < square[top]).then_some((top, value))
}

struct March<'m, 't> {
    world: &'m World<'t>,
    floor: &'m Floor,
    price: Price,
    window: Window<'m>,
    columns: usize,
    rows: usize,
    cap: f32,
    /// Width of a bucket of the queue.
    bucket: f32,
    /// By how much each cell is made cheaper.
    shrink: Vec<f32>,
    /// Price of each cell, NaN before its first corner is settled.
    prices: Vec<f32>,
    phi: Vec<f32>,
}

impl March<'_, '_> {
    /// The least price of a cell whose lowest corner has this phi.
    fn price_of(&self, cell: usize, lowest: f32) -> f32 {
        let earliest_h = match (self.price, self.window.hours) {
            (Price::Hours, _) => f64::from(lowest / TRUSTED),
            (Price::Tonnes, Some(hours)) => {
                hours.least_in(cell % self.columns, cell / self.columns)
            }
            (Price::Tonnes, None) => 0.0,
        };
        let frame_at = |hour: f64| {
            let interval = &self.world.intervals[self.world.interval_at(hour)];
            (interval.near_frame, interval.far_frame)
        };
        let first = frame_at(self.window.depart_hour + earliest_h).0;
        let last = frame_at(self.window.latest_hour).1.max(first);
        self.floor.least(self.price, cell, (first, last))
    }

    /// Marches from a place until phi exceeds the cap.
    fn run(&mut self, place: Coord<f64>, start: usize, control: &Control) -> Result<(), Error> {
        let corners = (self.columns + 1) * (self.rows + 1);
        let least = self.floor.least_of_all(self.price);
        let least = if least.is_finite() { least } else { 1.0 };
        let mut settled = vec![false; corners];
        self.phi.clear();
        self.phi.resize(corners, self.cap);
        self.prices.clear();
        self.prices.resize(self.columns * self.rows, f32::NAN);
        // A step is at least the price over the root of two; cheaper cells count as late as that.
        self.bucket = least * 0.5;
        let mut queue = BucketQueue::new(self.bucket, least * 50.0);

        let price = self.price_of(start, 0.0);
        let price = if price.is_finite() { price } else { 0.0 };
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
            if self.prices[cell].is_nan() {
                // Corners are settled in order up to a bucket, so none of the cell's is lower.
                self.prices[cell] = self.price_of(cell, (here - self.bucket).max(0.0));
            }
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
    fn lower(&mut self) {
        for row in 0..self.rows {
            for column in 0..self.columns {
                if self.steepness(column, row) <= PASSABLE {
                    continue;
                }
                let square = corners(&self.phi, self.columns, column, row);
                let lowest = square.into_iter().fold(f32::INFINITY, f32::min);
                let price = self.price_of(row * self.columns + column, lowest);
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
        let lowest = square.into_iter().fold(f32::INFINITY, f32::min);
        slope / self.price_of(row * self.columns + column, lowest)
    }

    /// The greatest ratio of slope to price; marks the cells that exceed it as cheaper.
    fn measure(&mut self) -> f32 {
        let mut worst = 1.0_f32;
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
                if ratio > 1.0005 {
                    self.shrink[row * self.columns + column] /= ratio.min(1.5);
                }
            }
        }
        worst
    }
}

/// A wedge of which one side may not be settled yet.
fn wedge_of(leg: f32, diagonal: f32, wedge: &impl Fn(f32, f32) -> f32) -> f32 {
    if leg == f32::INFINITY || diagonal == f32::INFINITY {
        f32::INFINITY
    } else {
        wedge(leg, diagonal)
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
    use dipward_plugin::PaceTable;

    use super::*;

    fn table(columns: u32, rows: u32, pace: impl Fn(f64, f64) -> f32) -> PaceTable {
        let polar =
            PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
        let origin = Coord { x: 0.0, y: 2_082_000.0 };
        let grid = Grid::new(polar, origin, 1000.0, columns, rows).unwrap();
        let mut values = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                values.push(pace(f64::from(column), f64::from(row)));
            }
        }
        PaceTable {
            grid,
            hours: vec![0.0],
            settings: 1,
            sectors: 1,
            burn_t_per_h: vec![1.0; values.len()],
            pace_h_per_km: values,
            hold_t_per_h: 0.1,
        }
    }

    /// Bound and truth over a world of one price, round a disc, and across two prices, for which
    /// geometry and Snell's law give the truth.
    #[test]
    fn bounds_are_below_the_truth_and_near_it() {
        let width = |table: &PaceTable| table.grid.scale_table()[100 * 200 + 100];
        let uniform = table(200, 200, |_, _| 1.0);
        let disc =
            table(
                200,
                200,
                |x, y| {
                    if (x - 100.0).hypot(y - 100.0) < 40.0 { f32::INFINITY } else { 1.0 }
                },
            );
        let halves = table(200, 200, |_, y| if y > 100.0 { 1.0 } else { 2.0 });
        let far = Coord { x: 180.0, y: 100.0 };
        let corner = Coord { x: 170.0, y: 20.0 };
        let straight = 150.0_f64.hypot(80.0);
        // To the disc's sides from 80 away, and the arc between.
        let tangent = (80.0_f64.powi(2) - 40.0_f64.powi(2)).sqrt();
        let round = 2.0 * tangent + 40.0 * 2.0 * (0.5_f64).asin();
        let snell = (0..150_000)
            .map(|x| f64::from(x) * 1e-3)
            .map(|x| 2.0 * x.hypot(80.5) + (150.0 - x).hypot(79.5))
            .fold(f64::INFINITY, f64::min);
        let from = Coord { x: 20.0, y: 100.0 };
        let low = Coord { x: 20.0, y: 20.0 };
        let high = Coord { x: 170.0, y: 180.0 };
        for (table, from, to, truth, within) in [
            (&uniform, from, far, 160.0, 0.99),
            (&uniform, from, corner, straight, 0.985),
            (&disc, from, far, round, 0.96),
            (&halves, low, high, snell, 0.97),
        ] {
            let world = World::new(table, 0.0, &Control::default()).unwrap();
            let window = Window { depart_hour: 0.0, latest_hour: f64::INFINITY, hours: None };
            for price in [Price::Hours, Price::Tonnes] {
                let potential = Potential::new(
                    &world,
                    &Floor::new(table),
                    price,
                    world.to_position(from),
                    window,
                    1e4,
                    &Control::default(),
                )
                .unwrap()
                .unwrap();
                let bound = potential.at_place(to).unwrap();
                let truth = truth * width(table);
                assert!(bound <= truth * 1.0005, "{bound} {truth}");
                assert!(bound >= truth * within, "{bound} {truth} {}", potential.steepness);
            }
        }
    }
}
