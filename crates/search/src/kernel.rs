//! The cost of all moves from one cell at one instant: the innermost loops of the search.
//!
//! The square of cells about the settled cell is copied into a window on the stack, interpolated in
//! time once; the moves are then summed in classes of four or eight that differ by symmetry alone, so
//! that the compiler can do the members of a class side by side. A closed cell is infinite and makes
//! every move through it infinite; a closed corner makes it NaN. Neither is ever below another cost.

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

    /// Whether a move that can be made takes as long as some hours, or longer.
    #[inline(always)]
    pub(crate) fn any_as_long_as(&self, moves: usize, hours: f32) -> bool {
        hours < f32::INFINITY
            && self.hours[..moves]
                .iter()
                .fold(false, |any, &spent| any | ((spent >= hours) & (spent < f32::INFINITY)))
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
    /// Fills the edges from the cell at a padded index.
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges);
    /// Stages the labels that the edges give from a settled one, next to the known costs about it and
    /// their stride. There is a penalty where the cost differs from the hours.
    #[inline(always)]
    fn stage(
        edges: &Edges,
        from: Label,
        penalty: Option<f32>,
        (known, stride): (&[f32], usize),
        stage: &mut Stage,
    ) {
        let index = from.cell as usize;
        match Self::MOVES {
            8 => stage.put(from, edges, penalty, ends::<8, 9>(known, index, stride)),
            16 => stage.put(from, edges, penalty, ends::<16, 25>(known, index, stride)),
            _ => stage.put(from, edges, penalty, ends::<32, 49>(known, index, stride)),
        }
    }
}

/// Pace that does not depend on heading. `CELLS` is the size of the square that the moves touch.
pub(crate) struct Plain<
    const MOVES: usize,
    const CELLS: usize,
    const LAYERED: bool,
    const WEIGHTED: bool,
>;

/// Pace that depends on heading.
pub(crate) struct Sectored<const MOVES: usize, const WEIGHTED: bool>;

/// The square of cells about the settled one, at an instant.
struct Window<const CELLS: usize> {
    pace: [f32; CELLS],
    slope: [f32; CELLS],
    rate: [f32; CELLS],
}

/// Side of a square.
const fn side(cells: usize) -> usize {
    match cells {
        9 => 3,
        25 => 5,
        _ => SIDE,
    }
}

/// A place of the largest square in a smaller one.
#[inline(always)]
const fn within<const CELLS: usize>(place: u8) -> usize {
    let reach = (side(CELLS) / 2) as i32;
    let (dcolumn, drow) = offset_of(place);
    // The modulus changes nothing; it spares a look at the bounds.
    ((drow + reach) * side(CELLS) as i32 + dcolumn + reach) as usize % CELLS
}

/// Copies the square about a padded index.
#[inline(always)]
fn square<const CELLS: usize>(values: &[f32], index: usize, stride: usize) -> [f32; CELLS] {
    let side = side(CELLS);
    let mut out = [0.0; CELLS];
    for row in 0..side {
        let from = index + row * stride - (side / 2) * (stride + 1);
        out[row * side..(row + 1) * side].copy_from_slice(&values[from..from + side]);
    }
    out
}

impl<const CELLS: usize> Window<CELLS> {
    /// The square about a padded index, and the steepest slope in it.
    #[inline(always)]
    fn new<const LAYERED: bool, const WEIGHTED: bool>(
        at: &Instant<'_>,
        index: usize,
        stride: usize,
    ) -> (Self, f32) {
        let mut window =
            Self { pace: square(at.near, index, stride), slope: [0.0; CELLS], rate: [1.0; CELLS] };
        let mut steepest = 0.0_f32;
        if LAYERED {
            let far: [f32; CELLS] = square(at.far, index, stride);
            for ((pace, slope), far) in window.pace.iter_mut().zip(&mut window.slope).zip(far) {
                let change = far - *pace;
                *pace += at.fraction * change;
                *slope = change * at.per_length;
                // What is closed has no slope that matters.
                steepest =
                    steepest.max(if slope.abs() < f32::INFINITY { slope.abs() } else { 0.0 });
            }
        }
        if WEIGHTED && !at.near_rate.is_empty() {
            let near: [f32; CELLS] = square(at.near_rate, index, stride);
            let far: [f32; CELLS] = square(at.far_rate, index, stride);
            for ((rate, near), far) in window.rate.iter_mut().zip(near).zip(far) {
                *rate = near + at.fraction * (far - near);
            }
        }
        (window, steepest)
    }
}

/// What is known at the ends of the moves from a padded index.
#[inline(always)]
fn ends<const MOVES: usize, const CELLS: usize>(
    known: &[f32],
    index: usize,
    stride: usize,
) -> [f32; MOVES] {
    let known: [f32; CELLS] = square(known, index, stride);
    std::array::from_fn(|number| known[within::<CELLS>(ENDS[number])])
}

/// Where in the window each move ends.
const ENDS: [u8; 32] = {
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
    fn sum<const CELLS: usize, const LAYERED: bool, const WEIGHTED: bool>(
        &self,
        window: &Window<CELLS>,
        growth: impl Fn(f32) -> f32,
        all_hours: &mut [f32; 32],
        all_costs: &mut [f32; 32],
    ) {
        let mut hours = [0.0_f32; MEMBERS];
        let mut costs = [0.0_f32; MEMBERS];
        for piece in 0..PIECES {
            let part = self.parts[piece];
            for member in 0..MEMBERS {
                let place = within::<CELLS>(self.places[piece][member]);
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
                let touched = 0.0 * window.pace[within::<CELLS>(self.corners[0][member])]
                    + 0.0 * window.pace[within::<CELLS>(self.corners[1][member])];
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

impl<const MOVES: usize, const CELLS: usize, const LAYERED: bool, const WEIGHTED: bool> Kernel
    for Plain<MOVES, CELLS, LAYERED, WEIGHTED>
{
    const MOVES: usize = MOVES;
    const LAYERED: bool = LAYERED;
    const WEIGHTED: bool = WEIGHTED;

    #[inline(always)]
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges) {
        let (window, steepest) =
            Window::<CELLS>::new::<LAYERED, WEIGHTED>(at, index, world.padding.stride);
        // A move is at most twice a cell width long within one cell.
        if LAYERED && steepest * 2.0 >= STEEP_SLOPE {
            sum_all::<MOVES, CELLS, LAYERED, WEIGHTED>(steep_growth, &window, out);
        } else {
            sum_all::<MOVES, CELLS, LAYERED, WEIGHTED>(growth, &window, out);
        }
    }
}

#[inline(always)]
fn sum_all<const MOVES: usize, const CELLS: usize, const LAYERED: bool, const WEIGHTED: bool>(
    growth: impl Fn(f32) -> f32 + Copy,
    window: &Window<CELLS>,
    out: &mut Edges,
) {
    let Edges { hours, costs, .. } = out;
    STRAIGHT.sum::<CELLS, LAYERED, WEIGHTED>(window, growth, hours, costs);
    DIAGONAL.sum::<CELLS, LAYERED, WEIGHTED>(window, growth, hours, costs);
    if MOVES > 8 {
        KNIGHT.sum::<CELLS, LAYERED, WEIGHTED>(window, growth, hours, costs);
    }
    if MOVES > 16 {
        LONG.sum::<CELLS, LAYERED, WEIGHTED>(window, growth, hours, costs);
        STEEP.sum::<CELLS, LAYERED, WEIGHTED>(window, growth, hours, costs);
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
