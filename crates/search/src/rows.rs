//! The eight nearest moves, a row of the square of cells at a time.
//!
//! The three cells of a row lie side by side in memory, so that one vector holds the moves to them: no
//! place needs to be looked up. A fourth lane, and the middle of the square, lead nowhere and cost more
//! than any label.

use wide::f32x4;

use crate::{
    kernel::{Edges, Eight, Instant, Kernel, growth, is_steep, load},
    stage::{Label, Stage},
    world::World,
};

/// Pace that does not depend on heading, with eight moves.
pub(crate) struct Rows<const LAYERED: bool, const WEIGHTED: bool>;

/// The half of a move in one cell, in cell widths: the moves to the rows above and below, and those
/// within the row. Straight on is a half, and a diagonal longer by the square root of two.
const ACROSS: f32x4 = f32x4::new([HALF_DIAGONAL, 0.5, HALF_DIAGONAL, f32::INFINITY]);
const ALONG: f32x4 = f32x4::new([0.5, f32::INFINITY, 0.5, f32::INFINITY]);
const HALF_DIAGONAL: f32 = (std::f64::consts::SQRT_2 / 2.0) as f32;

/// What a row of cells holds at an instant.
#[derive(Clone, Copy)]
struct Row {
    pace: f32x4,
    /// Change of the pace an hour.
    slope: f32x4,
    /// Cost of an hour.
    rate: f32x4,
}

impl Row {
    const NOWHERE: Self = Self { pace: f32x4::ZERO, slope: f32x4::ZERO, rate: f32x4::ONE };

    #[inline(always)]
    fn new<const LAYERED: bool, const WEIGHTED: bool>(at: &Instant<'_>, first: usize) -> Self {
        let mut row = Self { pace: load(at.near, first), ..Self::NOWHERE };
        let fraction = f32x4::splat(at.fraction);
        if LAYERED {
            let change = load(at.far, first) - row.pace;
            row.pace += fraction * change;
            row.slope = change * f32x4::splat(at.per_length);
        }
        if WEIGHTED && !at.near_rate.is_empty() {
            let near = load(at.near_rate, first);
            row.rate = near + fraction * (load(at.far_rate, first) - near);
        }
        row
    }

    /// The cell in the middle of a row, in all lanes.
    #[inline(always)]
    fn middle(self) -> Self {
        Self { pace: middle(self.pace), slope: middle(self.slope), rate: middle(self.rate) }
    }

    /// Sails parts of a cell width in each cell, on top of hours and costs.
    #[inline(always)]
    fn sail<const LAYERED: bool, const WEIGHTED: bool>(
        self,
        part: f32x4,
        hours: &mut f32x4,
        costs: &mut f32x4,
    ) {
        let spent = if LAYERED {
            let slope = self.slope * part;
            let start = self.pace * part + slope * *hours;
            start * growth(slope)
        } else {
            self.pace * part
        };
        *hours += spent;
        if WEIGHTED {
            *costs += spent * self.rate;
        }
    }
}

#[inline(always)]
fn middle(lanes: f32x4) -> f32x4 {
    f32x4::splat(lanes.as_array()[1])
}

impl<const LAYERED: bool, const WEIGHTED: bool> Kernel for Rows<LAYERED, WEIGHTED> {
    const MOVES: usize = 8;
    const LAYERED: bool = LAYERED;
    const WEIGHTED: bool = WEIGHTED;

    /// Four lanes to a row.
    #[inline(always)]
    fn offset(number: usize) -> (i32, i32) {
        (number as i32 % 4 - 1, number as i32 / 4 - 1)
    }

    #[inline(always)]
    fn edges(world: &World<'_>, at: &Instant<'_>, index: usize, out: &mut Edges) {
        Eight::<LAYERED, WEIGHTED>::edges(world, at, index, out);
    }

    #[inline(always)]
    fn stage(
        world: &World<'_>,
        at: &Instant<'_>,
        (from, left): (Label, f32),
        penalty: Option<f32>,
        known: &[f32],
        edges: &mut Edges,
        stage: &mut Stage,
    ) -> bool {
        if LAYERED && at.per_length == 0.0 && left == f32::INFINITY {
            // After the last frame nothing changes.
            return Rows::<false, WEIGHTED>::stage(
                world,
                at,
                (from, left),
                penalty,
                known,
                edges,
                stage,
            );
        }
        let index = from.cell as usize;
        let stride = world.padding.stride;
        let firsts = [index - stride - 1, index - 1, index + stride - 1];
        let mut rows = [Row::NOWHERE; 3];
        let mut steep = f32x4::ZERO;
        for (row, first) in rows.iter_mut().zip(firsts) {
            *row = Row::new::<LAYERED, WEIGHTED>(at, first);
            steep |= is_steep(row.slope);
        }
        let here = rows[1].middle();
        let mut all_hours = [f32x4::ZERO; 3];
        let mut all_costs = [f32x4::ZERO; 3];
        let mut known_costs = [f32x4::ZERO; 3];
        let mut too_long = f32x4::ZERO;
        let weight = f32x4::splat(penalty.unwrap_or(1.0));
        for row in 0..3 {
            let part = if row == 1 { ALONG } else { ACROSS };
            let (mut hours, mut costs) = (f32x4::ZERO, f32x4::ZERO);
            here.sail::<LAYERED, WEIGHTED>(part, &mut hours, &mut costs);
            rows[row].sail::<LAYERED, WEIGHTED>(part, &mut hours, &mut costs);
            if row != 1 {
                // A diagonal touches two cells: 0 where both are open, NaN where one is closed.
                let touched = f32x4::ZERO * rows[1].pace + f32x4::ZERO * middle(rows[row].pace);
                hours += touched;
                costs += touched;
            }
            if LAYERED {
                too_long |=
                    hours.simd_ge(f32x4::splat(left)) & hours.simd_lt(f32x4::splat(f32::INFINITY));
            }
            all_hours[row] = hours;
            all_costs[row] = if WEIGHTED { costs * weight } else { hours };
            known_costs[row] = load(known, firsts[row]);
        }
        if LAYERED && (steep | too_long).any() {
            Self::edges(world, at, index, edges);
            return false;
        }
        stage.put(from, (all_costs, WEIGHTED.then_some(all_hours)), known_costs);
        true
    }
}
