//! The cost of all moves from one cell at one instant: the innermost loops of the search.
//!
//! The square of cells about the settled cell is copied into a window on the stack, interpolated in
//! time once; the moves are then summed by fours that differ by symmetry alone, in one vector. A closed
//! cell is infinite and makes every move through it infinite; a closed corner makes it NaN. Neither is
//! ever below another cost. The eight nearest moves have a quicker way (`rows.rs`).

use std::ops::{Add, Mul};

use wide::f32x4;

use crate::{
    heading::Heading,
    stage::{Label, Stage},
    stencil::{MOVES, MOVES_CONST, SIDE, offset_of},
    world::World,
};

/// The layers of one interval, and the instant in it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Instant<'w> {
    pub(crate) near: &'w [f32],
    pub(crate) far: &'w [f32],
    pub(crate) near_rate: &'w [f32],
    pub(crate) far_rate: &'w [f32],
    /// Index of the interval.
    pub(crate) interval: usize,
    /// Place in the interval, 0 to 1.
    pub(crate) fraction: f32,
    /// One over the interval's hours, 0 where nothing changes.
    pub(crate) per_length: f32,
    /// Whether some cell's pace changes too fast for [`growth`].
    pub(crate) steep: bool,
}

impl<'w> Instant<'w> {
    /// The beginning of an interval.
    pub(crate) fn new(world: &'w World<'_>, interval: usize) -> Self {
        let frames = &world.intervals[interval];
        Self {
            near: world.layer(0, frames.near_layer),
            far: world.layer(0, frames.far_layer),
            near_rate: world.rate_layer(0, frames.near_layer),
            far_rate: world.rate_layer(0, frames.far_layer),
            interval,
            fraction: 0.0,
            per_length: frames.per_length as f32,
            steep: frames.steep,
        }
    }
}

/// Hours and costs of the moves, in the order of [`MOVES`].
#[derive(Debug)]
pub(crate) struct Edges {
    pub(crate) hours: [f32; 32],
    pub(crate) costs: [f32; 32],
}

impl Edges {
    pub(crate) fn new() -> Self {
        Self { hours: [f32::INFINITY; 32], costs: [f32::INFINITY; 32] }
    }

    /// What a move costs: what its weighted cost is times a penalty, if there is one, or else its hours.
    #[inline(always)]
    pub(crate) fn cost(&self, number: usize, penalty: Option<f32>) -> f32 {
        match penalty {
            Some(penalty) => self.costs[number] * penalty,
            None => self.hours[number],
        }
    }

    /// Costs and hours of the moves, four to a vector; no hours where they are the costs.
    #[inline(always)]
    fn fours<const FOURS: usize>(
        &self,
        penalty: Option<f32>,
    ) -> ([f32x4; FOURS], Option<[f32x4; FOURS]>) {
        let mut hours = [f32x4::ZERO; FOURS];
        let mut costs = [f32x4::ZERO; FOURS];
        for four in 0..FOURS {
            hours[four] = load(&self.hours, 4 * four);
            costs[four] = match penalty {
                Some(penalty) => load(&self.costs, 4 * four) * f32x4::splat(penalty),
                None => hours[four],
            };
        }
        (costs, penalty.is_some().then_some(hours))
    }

    /// Takes out the moves that can be made and take as long as some hours, or longer.
    ///
    /// # Returns
    ///
    /// A bit for each.
    #[inline(always)]
    fn take_out(&mut self, moves: usize, hours: f32) -> u32 {
        let mut out = 0;
        for number in 0..moves {
            let spent = &mut self.hours[number];
            if *spent >= hours && *spent < f32::INFINITY {
                *spent = f32::INFINITY;
                self.costs[number] = f32::INFINITY;
                out |= 1 << number;
            }
        }
        out
    }
}

/// A way to cost the moves.
pub(crate) trait Kernel {
    /// Moves from a cell.
    const MOVES: usize;
    /// Whether the pace changes with time.
    const LAYERED: bool;
    /// Whether the cost differs from the hours.
    const WEIGHTED: bool;
    /// Columns and rows from a cell to the end that a stage knows by a number.
    #[inline(always)]
    fn offset(number: usize) -> (i32, i32) {
        let step = &MOVES[number % MOVES.len()];
        (step.dcolumn, step.drow)
    }
    /// Fills the edges from the cell at a padded index.
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges);
    /// The number in [`MOVES`] of what a stage knows by a number.
    #[inline(always)]
    fn move_of(number: usize) -> usize {
        number
    }
    /// Stages what the moves from a settled label give that is less than the costs that are known, where
    /// no cell opens or closes.
    ///
    /// # Arguments
    ///
    /// * `from`: the label, and the hours that are left of the interval.
    /// * `penalty`: there is one where the cost differs from the hours.
    ///
    /// # Returns
    ///
    /// A bit for each number whose move would be under way beyond the interval: these are not staged.
    #[inline(always)]
    fn stage(
        world: &World<'_>,
        at: &Instant<'_>,
        (from, left): (Label, f32),
        penalty: Option<f32>,
        known: &[f32],
        edges: &mut Edges,
        stage: &mut Stage,
    ) -> u32 {
        let (index, stride) = (from.cell as usize, world.padding.stride);
        Self::edges(world, at, index, edges);
        let across =
            if may_cross(world, left, 4.0) { edges.take_out(Self::MOVES, left) } else { 0 };
        match Self::MOVES {
            8 => stage.put(from, edges.fours(penalty), ends::<2, SMALL>(known, index, stride)),
            16 => stage.put(from, edges.fours(penalty), ends::<4, MIDDLE>(known, index, stride)),
            _ => stage.put(from, edges.fours(penalty), ends::<8, LARGE>(known, index, stride)),
        }
        across
    }
}

/// Sizes of the windows about a cell, for 8, 16 and 32 moves: squares whose rows are filled up to fours.
const SMALL: usize = 3 * 4;
const MIDDLE: usize = 5 * 8;
const LARGE: usize = SIDE * 8;

/// Pace that does not depend on heading, with the size of the window that the moves touch.
pub(crate) struct Plain<
    const MOVES: usize,
    const CELLS: usize,
    const LAYERED: bool,
    const WEIGHTED: bool,
>;

/// The same with the window that goes with the moves.
pub(crate) type Eight<const LAYERED: bool, const WEIGHTED: bool> =
    Plain<8, SMALL, LAYERED, WEIGHTED>;
pub(crate) type Sixteen<const LAYERED: bool, const WEIGHTED: bool> =
    Plain<16, MIDDLE, LAYERED, WEIGHTED>;
pub(crate) type ThirtyTwo<const LAYERED: bool, const WEIGHTED: bool> =
    Plain<32, LARGE, LAYERED, WEIGHTED>;

/// Pace that depends on heading.
pub(crate) struct Sectored<const MOVES: usize, const WEIGHTED: bool>;

/// The square of cells about the settled one, at an instant: its rows filled up to whole vectors with the
/// cells that follow, which no move touches.
struct Window<const CELLS: usize> {
    pace: [f32; CELLS],
    /// Change of the pace an hour.
    slope: [f32; CELLS],
    /// Cost of an hour.
    rate: [f32; CELLS],
}

/// Side of a square, by the size of its window.
const fn side(cells: usize) -> usize {
    match cells {
        SMALL => 3,
        MIDDLE => 5,
        _ => SIDE,
    }
}

/// A place of the largest square in a window.
const fn within<const CELLS: usize>(place: u8) -> usize {
    let side = side(CELLS);
    let reach = (side / 2) as i32;
    let (dcolumn, drow) = offset_of(place);
    // The modulus changes nothing; it spares a look at the bounds.
    ((drow + reach) * (CELLS / side) as i32 + dcolumn + reach) as usize % CELLS
}

/// Fills a window about a padded index, four cells at a time from an index of each.
#[inline(always)]
fn fill<const CELLS: usize>(index: usize, stride: usize, mut four: impl FnMut(usize, usize)) {
    let side = side(CELLS);
    let width = CELLS / side;
    for row in 0..side {
        let first = index + row * stride - (side / 2) * (stride + 1);
        for column in (0..width).step_by(4) {
            four(row * width + column, first + column);
        }
    }
}

impl<const CELLS: usize> Window<CELLS> {
    /// The square about a padded index, and whether the pace changes too fast in it for [`growth`].
    #[inline(always)]
    fn new<const LAYERED: bool, const WEIGHTED: bool>(
        at: &Instant<'_>,
        index: usize,
        stride: usize,
    ) -> (Self, bool) {
        let mut window = Self { pace: [0.0; CELLS], slope: [0.0; CELLS], rate: [1.0; CELLS] };
        let mut steep = f32x4::ZERO;
        let fraction = f32x4::splat(at.fraction);
        fill::<CELLS>(index, stride, |place, cell| {
            let mut pace = load(at.near, cell);
            if LAYERED {
                let change = load(at.far, cell) - pace;
                pace += fraction * change;
                let slope = change * f32x4::splat(at.per_length);
                if at.steep {
                    steep |= is_steep(slope);
                }
                store(slope, &mut window.slope, place);
            }
            store(pace, &mut window.pace, place);
            if WEIGHTED && !at.near_rate.is_empty() {
                let near = load(at.near_rate, cell);
                let rate = near + fraction * (load(at.far_rate, cell) - near);
                store(rate, &mut window.rate, place);
            }
        });
        (window, LAYERED && steep.any())
    }
}

/// The lanes whose pace changes too fast for [`growth`]. A move is at most twice a cell width long within
/// one cell; what is closed has no slope that matters.
#[inline(always)]
pub(crate) fn is_steep(slope: f32x4) -> f32x4 {
    let slope = slope.abs();
    slope.simd_ge(f32x4::splat(STEEP_SLOPE / 2.0)) & slope.simd_lt(f32x4::splat(f32::INFINITY))
}

/// Whether any cell between two layers is steep. A padded layer has more than four cells.
pub(crate) fn is_any_steep(near: &[f32], far: &[f32], per_length: f32) -> bool {
    let last = near.len() - 4;
    let steep = |first| is_steep((load(far, first) - load(near, first)) * f32x4::splat(per_length));
    (0..last).step_by(4).chain([last]).fold(f32x4::ZERO, |any, first| any | steep(first)).any()
}

/// Whether a move of so many cell widths at the most may take as long as what is left of an interval, within
/// which no pace is above that of its ends.
#[inline(always)]
pub(crate) fn may_cross(world: &World<'_>, left: f32, widths: f32) -> bool {
    left <= widths * world.most_width_h
}

/// What is known at the ends of the moves from a padded index, four moves to a vector.
#[inline(always)]
fn ends<const FOURS: usize, const CELLS: usize>(
    known: &[f32],
    index: usize,
    stride: usize,
) -> [f32x4; FOURS] {
    let mut window = [0.0; CELLS];
    fill::<CELLS>(index, stride, |place, cell| store(load(known, cell), &mut window, place));
    let mut out = [f32x4::ZERO; FOURS];
    for (ends, out) in ENDS.chunks_exact(4).zip(&mut out) {
        let end = |lane: usize| window[within::<CELLS>(ends[lane])];
        *out = f32x4::new([end(0), end(1), end(2), end(3)]);
    }
    out
}

/// Where in the window each move ends.
pub(crate) const ENDS: [u8; 32] = {
    let mut ends = [0; 32];
    let mut number = 0;
    while number < 32 {
        let step = &MOVES_CONST[number];
        ends[number] = step.pieces[step.count as usize - 1].0;
        number += 1;
    }
    ends
};

/// (exp(q) - 1) / q by its series, good to 5e-7 for slopes up to [`STEEP_SLOPE`].
#[inline(always)]
pub(crate) fn growth<T: Copy + Add<Output = T> + Mul<Output = T> + From<f32>>(q: T) -> T {
    let [half, third, fourth, fifth] = [0.5, 1.0 / 6.0, 1.0 / 24.0, 1.0 / 120.0].map(T::from);
    T::from(1.0) + q * (half + q * (third + q * (fourth + q * fifth)))
}

/// Puts four values down from an index on.
#[inline(always)]
fn store(lanes: f32x4, values: &mut [f32], first: usize) {
    values[first..first + 4].copy_from_slice(lanes.as_array());
}

/// Four values from an index on.
#[inline(always)]
pub(crate) fn load(values: &[f32], first: usize) -> f32x4 {
    let mut lanes = [0.0; 4];
    lanes.copy_from_slice(&values[first..first + 4]);
    f32x4::new(lanes)
}

/// The same for any slope.
fn steep_growth(q: f32) -> f32 {
    if q.abs() < STEEP_SLOPE { growth(q) } else { q.exp_m1() / q }
}

/// Change of the pace while it is sailed once over, above which the series will not do. Ice that
/// halves the speed within the hour is a tenth of it.
const STEEP_SLOPE: f32 = 0.2;

/// Four moves that differ by symmetry alone, so that their pieces are as many and as long.
struct Four<const FOUR: usize, const CELLS: usize>;

impl<const FOUR: usize, const CELLS: usize> Four<FOUR, CELLS> {
    const PIECES: usize = MOVES_CONST[4 * FOUR].count as usize;
    /// Where in a window the pieces lie.
    const PLACES: [[usize; 4]; 6] = {
        let mut places = [[0; 4]; 6];
        let mut at = 0;
        while at < 24 {
            places[at / 4][at % 4] =
                within::<CELLS>(MOVES_CONST[4 * FOUR + at % 4].pieces[at / 4].0);
            at += 1;
        }
        places
    };
    /// And the cells that are touched at a corner, if there are any.
    const CORNERS: [[usize; 4]; 2] = {
        let mut places = [[0; 4]; 2];
        let mut at = 0;
        while at < 8 {
            places[at / 4][at % 4] =
                within::<CELLS>(MOVES_CONST[4 * FOUR + at % 4].corners[at / 4]);
            at += 1;
        }
        places
    };
    const TOUCHES: bool = Self::CORNERS[0][0] != Self::CORNERS[1][0];

    #[inline(always)]
    fn gather(values: &[f32; CELLS], places: [usize; 4]) -> f32x4 {
        let [a, b, c, d] = places;
        f32x4::new([values[a], values[b], values[c], values[d]])
    }

    #[inline(always)]
    fn sum<const LAYERED: bool, const WEIGHTED: bool>(
        window: &Window<CELLS>,
        growth: impl Fn(f32x4) -> f32x4,
        out: &mut Edges,
    ) {
        let mut hours = f32x4::ZERO;
        let mut costs = f32x4::ZERO;
        for piece in 0..Self::PIECES {
            let places = Self::PLACES[piece];
            let part = f32x4::splat(MOVES_CONST[4 * FOUR].pieces[piece].1);
            let pace = Self::gather(&window.pace, places);
            let spent = if LAYERED {
                // The pace when the piece is entered, and its growth while it is sailed.
                let slope = Self::gather(&window.slope, places) * part;
                (pace * part + slope * hours) * growth(slope)
            } else {
                pace * part
            };
            hours += spent;
            if WEIGHTED {
                costs += spent * Self::gather(&window.rate, places);
            }
        }
        if Self::TOUCHES {
            // 0 where both are open, NaN where one is closed.
            let touched = f32x4::ZERO * Self::gather(&window.pace, Self::CORNERS[0])
                + f32x4::ZERO * Self::gather(&window.pace, Self::CORNERS[1]);
            hours += touched;
            costs += touched;
        }
        store(hours, &mut out.hours, 4 * FOUR);
        if WEIGHTED {
            store(costs, &mut out.costs, 4 * FOUR);
        }
    }
}

impl<const MOVES: usize, const CELLS: usize, const LAYERED: bool, const WEIGHTED: bool> Kernel
    for Plain<MOVES, CELLS, LAYERED, WEIGHTED>
{
    const MOVES: usize = MOVES;
    const LAYERED: bool = LAYERED;
    const WEIGHTED: bool = WEIGHTED;

    #[inline(always)]
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges) {
        if LAYERED && at.per_length == 0.0 {
            // Before the first frame and after the last nothing changes.
            return Plain::<MOVES, CELLS, false, WEIGHTED>::edges(world, at, index, out);
        }
        let (window, steep) =
            Window::<CELLS>::new::<LAYERED, WEIGHTED>(at, index, world.padding.stride);
        if steep {
            let growth = |slopes: f32x4| {
                let [a, b, c, d] = slopes.to_array();
                f32x4::new([steep_growth(a), steep_growth(b), steep_growth(c), steep_growth(d)])
            };
            sum_all::<MOVES, CELLS, LAYERED, WEIGHTED>(&window, growth, out);
        } else {
            sum_all::<MOVES, CELLS, LAYERED, WEIGHTED>(&window, growth, out);
        }
    }
}

#[inline(always)]
fn sum_all<const MOVES: usize, const CELLS: usize, const LAYERED: bool, const WEIGHTED: bool>(
    window: &Window<CELLS>,
    growth: impl Fn(f32x4) -> f32x4 + Copy,
    out: &mut Edges,
) {
    Four::<0, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
    Four::<1, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
    if MOVES > 8 {
        Four::<2, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
        Four::<3, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
    }
    if MOVES > 16 {
        Four::<4, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
        Four::<5, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
        Four::<6, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
        Four::<7, CELLS>::sum::<LAYERED, WEIGHTED>(window, growth, out);
    }
}

impl<const COUNT: usize, const WEIGHTED: bool> Kernel for Sectored<COUNT, WEIGHTED> {
    const MOVES: usize = COUNT;
    const LAYERED: bool = true;
    const WEIGHTED: bool = WEIGHTED;

    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges) {
        let interval = &world.intervals[at.interval];
        for (number, step) in MOVES[..COUNT].iter().enumerate() {
            let heading: Heading = world.heading(step.dcolumn.into(), step.drow.into());
            let layers = |sector: u16| {
                (
                    world.layer(sector.into(), interval.near_layer),
                    world.layer(sector.into(), interval.far_layer),
                    world.rate_layer(sector.into(), interval.near_layer),
                    world.rate_layer(sector.into(), interval.far_layer),
                )
            };
            let (first, second) = (layers(heading.first), layers(heading.second));
            let blend = |a: f32, b: f32| {
                if heading.share > 0.0 { a + heading.share * (b - a) } else { a }
            };
            let mut hours = 0.0_f32;
            let mut costs = 0.0_f32;
            for &(place, part) in step.pieces() {
                let cell = world.padding.shifted(index, place);
                let near = blend(first.0[cell], second.0[cell]);
                let change = blend(first.1[cell], second.1[cell]) - near;
                let slope = change * at.per_length * part;
                let start = (near + at.fraction * change) * part + slope * hours;
                let spent = start * steep_growth(slope);
                hours += spent;
                if WEIGHTED && !first.2.is_empty() {
                    let near = blend(first.2[cell], second.2[cell]);
                    let far = blend(first.3[cell], second.3[cell]);
                    costs += spent * (near + at.fraction * (far - near));
                } else if WEIGHTED {
                    costs += spent;
                }
            }
            for &corner in &step.corners {
                let corner = world.padding.shifted(index, corner);
                let touched = 0.0 * first.0[corner] + 0.0 * first.1[corner];
                hours += touched;
                costs += touched;
            }
            out.hours[number] = hours;
            if WEIGHTED {
                out.costs[number] = costs;
            }
        }
    }
}
