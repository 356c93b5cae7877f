//! The cost of all moves from one cell at one instant: the innermost loops of the search.
//!
//! The square of cells about the settled cell is copied into a window on the stack, interpolated in
//! time once; the moves are then summed in classes of four or eight that differ by symmetry alone, so
//! that the compiler can do the members of a class side by side. A closed cell is infinite and makes
//! every move through it infinite; a closed corner makes it NaN. Neither is ever below another cost.

use crate::{
    heading::Heading,
    stencil::{MOVES, MOVES_CONST, REACH, SIDE, WINDOW},
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
}

/// Hours and costs of the moves, in the order of [`MOVES`].
#[derive(Debug)]
pub(crate) struct Edges {
    pub(crate) hours: [f32; 32],
    pub(crate) costs: [f32; 32],
    /// Kept from cell to cell, for clearing it would take longer than filling it.
    window: Window,
}

impl Edges {
    pub(crate) fn new() -> Self {
        Self {
            hours: [f32::INFINITY; 32],
            costs: [f32::INFINITY; 32],
            window: Window { pace: [0.0; WINDOW], slope: [0.0; WINDOW], rate: [1.0; WINDOW] },
        }
    }
}

/// A way to cost the moves.
pub(crate) trait Kernel {
    /// Moves from a cell.
    const MOVES: usize;
    /// Whether the cost differs from the hours.
    const WEIGHTED: bool;
    /// Fills the edges from the cell at a padded index.
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges);
}

/// Pace that does not depend on heading.
pub(crate) struct Plain<const MOVES: usize, const LAYERED: bool, const WEIGHTED: bool>;

/// Pace that depends on heading.
pub(crate) struct Sectored<const MOVES: usize, const WEIGHTED: bool>;

#[derive(Debug)]
struct Window {
    pace: [f32; WINDOW],
    slope: [f32; WINDOW],
    rate: [f32; WINDOW],
}

#[inline(always)]
fn reach(moves: usize) -> usize {
    match moves {
        8 => 1,
        16 => 2,
        _ => REACH,
    }
}

#[inline(always)]
fn fill<const LAYERED: bool, const WEIGHTED: bool>(
    window: &mut Window,
    reach: usize,
    at: &Instant<'_>,
    index: usize,
    stride: usize,
) -> f32 {
    let mut steepest = 0.0_f32;
    let side = 2 * reach + 1;
    for row in 0..side {
        let from = index + row * stride - reach * stride - reach;
        let to = (row + REACH - reach) * SIDE + REACH - reach;
        let near = &at.near[from..from + side];
        if LAYERED {
            let far = &at.far[from..from + side];
            for column in 0..side {
                let change = far[column] - near[column];
                window.pace[to + column] = near[column] + at.fraction * change;
                let slope = change * at.per_length;
                window.slope[to + column] = slope;
                // What is closed has no slope that matters.
                steepest =
                    steepest.max(if slope.abs() < f32::INFINITY { slope.abs() } else { 0.0 });
            }
        } else {
            window.pace[to..to + side].copy_from_slice(near);
        }
        if WEIGHTED && !at.near_rate.is_empty() {
            let near = &at.near_rate[from..from + side];
            let far = &at.far_rate[from..from + side];
            for column in 0..side {
                window.rate[to + column] =
                    near[column] + at.fraction * (far[column] - near[column]);
            }
        }
    }
    steepest
}

/// (exp(q) - 1) / q by its series, good to 5e-7 for slopes up to [`STEEP_SLOPE`].
#[inline(always)]
fn growth(q: f32) -> f32 {
    1.0 + q * (0.5 + q * (1.0 / 6.0 + q * (1.0 / 24.0 + q * (1.0 / 120.0))))
}

/// The same for any slope.
fn steep_growth(q: f32) -> f32 {
    if q.abs() < STEEP_SLOPE { growth(q) } else { q.exp_m1() / q }
}

/// Change of the pace while it is sailed once over, above which the series will not do. Ice that
/// halves the speed within the hour is a tenth of it.
const STEEP_SLOPE: f32 = 0.2;

/// One class of moves: for each piece, the window place in each move and the length.
struct Class<const MEMBERS: usize, const PIECES: usize> {
    first: usize,
    places: [[u8; MEMBERS]; PIECES],
    parts: [f32; PIECES],
    corners: [[u8; MEMBERS]; 2],
    has_corners: bool,
}

const fn class<const MEMBERS: usize, const PIECES: usize>(
    first: usize,
    has_corners: bool,
) -> Class<MEMBERS, PIECES> {
    let mut places = [[0; MEMBERS]; PIECES];
    let mut parts = [0.0; PIECES];
    let mut corners = [[0; MEMBERS]; 2];
    let mut member = 0;
    while member < MEMBERS {
        let step = &MOVES_CONST[first + member];
        let mut piece = 0;
        while piece < PIECES {
            places[piece][member] = step.pieces[piece].0;
            parts[piece] = step.pieces[piece].1;
            piece += 1;
        }
        corners[0][member] = step.corners[0];
        corners[1][member] = step.corners[1];
        member += 1;
    }
    Class { first, places, parts, corners, has_corners }
}

static STRAIGHT: Class<4, 2> = class(0, false);
static DIAGONAL: Class<4, 2> = class(4, true);
static KNIGHT: Class<8, 4> = class(8, false);
static LONG: Class<8, 4> = class(16, true);
static STEEP: Class<8, 6> = class(24, false);

impl<const MEMBERS: usize, const PIECES: usize> Class<MEMBERS, PIECES> {
    #[inline(always)]
    fn sum<const LAYERED: bool, const WEIGHTED: bool>(
        &self,
        window: &Window,
        growth: impl Fn(f32) -> f32,
        all_hours: &mut [f32; 32],
        all_costs: &mut [f32; 32],
    ) {
        let mut hours = [0.0_f32; MEMBERS];
        let mut costs = [0.0_f32; MEMBERS];
        for piece in 0..PIECES {
            let part = self.parts[piece];
            for member in 0..MEMBERS {
                let place = self.places[piece][member] as usize;
                let spent = if LAYERED {
                    // The pace when the piece is entered, and its growth while it is sailed.
                    let slope = window.slope[place] * part;
                    let start = window.pace[place] * part + slope * hours[member];
                    start * growth(slope)
                } else {
                    window.pace[place] * part
                };
                hours[member] += spent;
                if WEIGHTED {
                    costs[member] += spent * window.rate[place];
                }
            }
        }
        if self.has_corners {
            for member in 0..MEMBERS {
                // 0 where both are open, NaN where one is closed.
                let touched = 0.0 * window.pace[self.corners[0][member] as usize]
                    + 0.0 * window.pace[self.corners[1][member] as usize];
                hours[member] += touched;
                costs[member] += touched;
            }
        }
        all_hours[self.first..self.first + MEMBERS].copy_from_slice(&hours);
        if WEIGHTED {
            all_costs[self.first..self.first + MEMBERS].copy_from_slice(&costs);
        }
    }
}

impl<const MOVES: usize, const LAYERED: bool, const WEIGHTED: bool> Kernel
    for Plain<MOVES, LAYERED, WEIGHTED>
{
    const MOVES: usize = MOVES;
    const WEIGHTED: bool = WEIGHTED;

    #[inline(always)]
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges) {
        let stride = world.padding.stride;
        let steepest = fill::<LAYERED, WEIGHTED>(&mut out.window, reach(MOVES), at, index, stride);
        // A move is at most twice a cell width long within one cell.
        if LAYERED && steepest * 2.0 >= STEEP_SLOPE {
            sum_all::<MOVES, LAYERED, WEIGHTED>(steep_growth, out);
        } else {
            sum_all::<MOVES, LAYERED, WEIGHTED>(growth, out);
        }
    }
}

#[inline(always)]
fn sum_all<const MOVES: usize, const LAYERED: bool, const WEIGHTED: bool>(
    growth: impl Fn(f32) -> f32 + Copy,
    out: &mut Edges,
) {
    let Edges { hours, costs, window } = out;
    STRAIGHT.sum::<LAYERED, WEIGHTED>(window, growth, hours, costs);
    DIAGONAL.sum::<LAYERED, WEIGHTED>(window, growth, hours, costs);
    if MOVES > 8 {
        KNIGHT.sum::<LAYERED, WEIGHTED>(window, growth, hours, costs);
    }
    if MOVES > 16 {
        LONG.sum::<LAYERED, WEIGHTED>(window, growth, hours, costs);
        STEEP.sum::<LAYERED, WEIGHTED>(window, growth, hours, costs);
    }
}

impl<const COUNT: usize, const WEIGHTED: bool> Kernel for Sectored<COUNT, WEIGHTED> {
    const MOVES: usize = COUNT;
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
