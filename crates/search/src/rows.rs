//! The eight nearest moves, a row of the square of cells at a time.
//!
//! The three cells of a row lie side by side in memory, so that one vector holds the moves to them: no
//! place needs to be looked up. A fourth lane, and the middle of the square, lead nowhere and cost more
//! than any label.

use wide::f32x4;

use crate::{
    kernel::{Edges, Eight, Instant, Kernel, growth, is_steep, load, may_cross},
    stage::{Label, Stage},
    stencil::MOVES_CONST,
    world::World,
};

/// Pace that does not depend on heading, with eight moves.
pub(crate) struct Rows<const LAYERED: bool, const WEIGHTED: bool>;

/// The half of a move in one cell, in cell widths: the moves to the rows above and below, and those
/// within the row. Straight on is a half, and a diagonal longer by the square root of two.
const ACROSS: f32x4 = f32x4::new([HALF_DIAGONAL, 0.5, HALF_DIAGONAL, f32::INFINITY]);
const ALONG: f32x4 = f32x4::new([0.5, f32::INFINITY, 0.5, f32::INFINITY]);
const HALF_DIAGONAL: f32 = (std::f64::consts::SQRT_2 / 2.0) as f32;

/// The number in [`MOVES`] of the move to each lane; any that leads nowhere has the last.
const MOVE_OF: [u8; 12] = {
    let mut numbers = [7; 12];
    let mut number = 0;
    while number < 8 {
        let step = &MOVES_CONST[number];
        numbers[(4 * (step.drow + 1) + step.dcolumn + 1) as usize] = number as u8;
        number += 1;
    }
    numbers
};

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

/// The straight moves of a row, out of those to the row above.
#[inline(always)]
fn straight(across: f32x4) -> f32x4 {
    let straight = across.as_array()[1];
    f32x4::new([straight, f32::INFINITY, straight, f32::INFINITY])
}

#[inline(always)]
fn middle(lanes: f32x4) -> f32x4 {
    f32x4::splat(lanes.as_array()[1])
}

/// Hours and costs of the moves from the middle of three rows.
#[inline(always)]
fn moves<const LAYERED: bool, const WEIGHTED: bool>(rows: &[Row; 3]) -> ([f32x4; 3], [f32x4; 3]) {
    // The half of each move in the cell itself: straight on it is as long as across.
    let mut across = (f32x4::ZERO, f32x4::ZERO);
    rows[1].middle().sail::<LAYERED, WEIGHTED>(ACROSS, &mut across.0, &mut across.1);
    let along = (straight(across.0), straight(across.1));
    let mut all_hours = [f32x4::ZERO; 3];
    let mut all_costs = [f32x4::ZERO; 3];
    for row in 0..3 {
        let part = if row == 1 { ALONG } else { ACROSS };
        let (mut hours, mut costs) = if row == 1 { along } else { across };
        rows[row].sail::<LAYERED, WEIGHTED>(part, &mut hours, &mut costs);
        if row != 1 {
            // A diagonal touches two cells: 0 where both are open, NaN where one is closed.
            let touched = f32x4::ZERO * rows[1].pace + f32x4::ZERO * middle(rows[row].pace);
            hours += touched;
            costs += touched;
        }
        all_hours[row] = hours;
        all_costs[row] = costs;
    }
    (all_hours, all_costs)
}

/// What the moves have, in the order of [`MOVES`], by rows.
fn in_rows(values: &[f32; 32]) -> [f32x4; 3] {
    let lane = |lane: usize| {
        let leads_nowhere = lane == 5 || lane % 4 == 3;
        if leads_nowhere { f32::INFINITY } else { values[usize::from(MOVE_OF[lane])] }
    };
    [0, 4, 8]
        .map(|first| f32x4::new([lane(first), lane(first + 1), lane(first + 2), lane(first + 3)]))
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
    fn move_of(number: usize) -> usize {
        usize::from(MOVE_OF[number % MOVE_OF.len()])
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
    ) -> u32 {
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
        for (row, first) in rows.iter_mut().zip(firsts) {
            *row = Row::new::<LAYERED, WEIGHTED>(at, first);
        }
        let steep = |rows: &[Row; 3]| {
            let steep = rows.iter().fold(f32x4::ZERO, |any, row| any | is_steep(row.slope));
            steep.any()
        };
        let (mut all_hours, mut all_costs) = if LAYERED && at.steep && steep(&rows) {
            Self::edges(world, at, index, edges);
            (in_rows(&edges.hours), in_rows(&edges.costs))
        } else {
            moves::<LAYERED, WEIGHTED>(&rows)
        };
        let mut across = 0;
        if LAYERED && may_cross(world, left, 1.5) {
            for row in 0..3 {
                let hours = all_hours[row];
                let too_long =
                    hours.simd_ge(f32x4::splat(left)) & hours.simd_lt(f32x4::splat(f32::INFINITY));
                across |= too_long.to_bitmask() << (4 * row);
                let never = f32x4::splat(f32::INFINITY);
                all_hours[row] = too_long.select(never, hours);
                if WEIGHTED {
                    all_costs[row] = too_long.select(never, all_costs[row]);
                }
            }
        }
        let weight = f32x4::splat(penalty.unwrap_or(1.0));
        let mut spent = [f32x4::ZERO; 3];
        let mut known_costs = [f32x4::ZERO; 3];
        for row in 0..3 {
            spent[row] = if WEIGHTED { all_costs[row] * weight } else { all_hours[row] };
            known_costs[row] = load(known, firsts[row]);
        }
        stage.put(from, (spent, WEIGHTED.then_some(all_hours)), known_costs);
        across
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use dipward_plugin::{Control, PaceTable};
    use proptest::prelude::*;

    use super::*;
    use crate::{stencil::MOVES, tables::grid};

    const SIDE: usize = 3;
    const CELLS: usize = SIDE * SIDE;
    const MIDDLE: u32 = 4;

    /// By where a move leads: bits of the cost and the hours; and the moves that are under way beyond the
    /// interval.
    type Staged = (BTreeMap<(i32, i32), (u32, u32)>, Vec<(i32, i32)>);

    /// What a kernel makes of the moves from the middle, with nothing known about it.
    fn staged<K: Kernel>(
        world: &World<'_>,
        fraction: f32,
        left: f32,
        penalty: Option<f32>,
    ) -> Staged {
        let index = world.padding.padded(MIDDLE);
        let from = Label { state: index as u32, cell: index as u32, hours: 0.5, cost: 0.75 };
        let mut at = Instant::new(world, world.interval_at(0.0));
        at.fraction = fraction;
        let known = vec![f32::INFINITY; world.padding.len()];
        let mut stage = Stage::new();
        let across =
            K::stage(world, &at, (from, left), penalty, &known, &mut Edges::new(), &mut stage);
        let lower = stage.take(penalty.is_some());
        let lower = lower.map(|one| {
            let step = &MOVES[K::move_of(one.number)];
            assert_eq!(K::offset(one.number), (step.dcolumn, step.drow));
            (K::offset(one.number), (one.cost.to_bits(), one.hours.to_bits()))
        });
        let lower = lower.collect();
        let across = (0..32).filter(|number| across & (1 << number) != 0);
        let mut across: Vec<_> = across.map(|number| K::offset(number as usize)).collect();
        across.sort_unstable();
        (lower, across)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// Rows give to the bit what the square gathered by fours gives: with a worth of fuel and without,
        /// in steep ice and gentle, with moves that go on beyond the interval.
        #[test]
        fn rows_give_what_the_square_gives(
            pace in prop::collection::vec(0.05_f32..1.0, 2 * CELLS),
            burn in prop::collection::vec(0.5_f32..2.0, 2 * CELLS),
            closed in prop::collection::vec(prop::bool::weighted(0.1), CELLS),
            interval_h in 0.2_f64..20.0,
            fraction in 0.0_f32..1.0,
            still in any::<bool>(),
            fuel in prop::option::of((0.1_f64..3.0, 1.0_f32..3.0)),
        ) {
            let frames = if still { 1 } else { 2 };
            let entries = frames * CELLS;
            let open = |entry: usize| if closed[entry % CELLS] { f32::INFINITY } else { pace[entry] };
            let table = PaceTable {
                grid: grid(SIDE as u32, SIDE as u32, 1000.0),
                hours: (0..frames).map(|frame| interval_h * frame as f64).collect(),
                settings: 1,
                sectors: 1,
                burn_t_per_h: burn[..entries].to_vec(),
                pace_h_per_km: (0..entries).map(open).collect(),
                hold_t_per_h: 0.1,
            };
            let weight_h_per_t = fuel.map_or(0.0, |fuel| fuel.0);
            let world = World::new(&table, weight_h_per_t, &Control::default()).unwrap();
            let left = if still { f32::INFINITY } else { interval_h as f32 * (1.0 - fraction) };
            let fraction = if still { 0.0 } else { fraction };
            let penalty = fuel.map(|fuel| fuel.1);
            let (rows, square) = match (still, fuel) {
                (true, None) => (staged::<Rows<false, false>> as fn(&_, _, _, _) -> _, staged::<Eight<false, false>> as fn(&_, _, _, _) -> _),
                (true, Some(_)) => (staged::<Rows<false, true>> as _, staged::<Eight<false, true>> as _),
                (false, None) => (staged::<Rows<true, false>> as _, staged::<Eight<true, false>> as _),
                (false, Some(_)) => (staged::<Rows<true, true>> as _, staged::<Eight<true, true>> as _),
            };
            prop_assert_eq!(
                rows(&world, fraction, left, penalty),
                square(&world, fraction, left, penalty)
            );
        }
    }
}
