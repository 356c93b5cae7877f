//! The arrival field: the least cost from a start to every cell, through time.

use dipward_geodesy::{Cell, Position};
use dipward_plugin::{Control, Error};

use crate::{
    kernel::{Sectored, Sixteen, ThirtyTwo},
    rows::Rows,
    run::Run,
    sheet::Sheet,
    stencil::Headings,
    world::World,
};

/// No state: where a label has no predecessor.
pub(crate) const NOWHERE: u32 = u32::MAX;

/// What a search is asked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quest<'a> {
    pub(crate) headings: Headings,
    pub(crate) start: Cell,
    /// Further cells to start from.
    pub(crate) others: &'a [Cell],
    pub(crate) depart_hour: f64,
    /// No label after this.
    pub(crate) latest_hour: f64,
    /// Factor on the cost of moves from each padded cell, at least 1.
    pub(crate) penalty: Option<&'a [f32]>,
    /// One bit a padded cell whose settling is told.
    pub(crate) watched: Option<&'a [u64]>,
    /// Whether to keep the predecessors.
    pub(crate) traced: bool,
}

/// Least costs from a start.
///
/// 4 bytes a state for the cost; 4 more for the hour where the cost is not the time, and 4 more for
/// the predecessor where routes are wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    pub(crate) depart_hour: f64,
    pub(crate) cost: Sheet,
    /// Hours since departure; empty where the cost is the time.
    pub(crate) hour: Sheet,
    /// Predecessor states; empty where they were not asked for.
    pub(crate) from: Vec<u32>,
}

/// What to do after a watched state was settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Next {
    Continue,
    /// Settle nothing that costs more than this bit pattern of an `f32`.
    Bound(u32),
}

impl Field {
    /// The least costs from a position to all cells that can be reached by an hour.
    ///
    /// # Arguments
    ///
    /// * `latest_hour`: no cell is reached later than this; infinite for all.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] when the start is off the grid, [`Error::Unsolved`] when the departure is
    /// not a finite hour, [`Error::Cancelled`].
    ///
    /// # Complexity
    ///
    /// Linear in the cells for a bounded ratio of the greatest to the least cost of a cell: every
    /// state is settled once, out of a ring of buckets.
    pub fn solve(
        world: &World<'_>,
        headings: Headings,
        start: Position,
        depart_hour: f64,
        latest_hour: f64,
        control: &Control,
    ) -> Result<Self, Error> {
        let start = world
            .table
            .grid
            .cell_at(start)
            .ok_or_else(|| Error::Outside("the start lies outside the chart".into()))?;
        if !depart_hour.is_finite() || latest_hour.is_nan() {
            return Err(Error::Unsolved("the departure must be a finite hour".into()));
        }
        let quest = Quest {
            headings,
            start,
            others: &[],
            depart_hour,
            latest_hour,
            penalty: None,
            watched: None,
            traced: false,
        };
        search(world, &quest, control, |_, _, _| Next::Continue)
    }

    /// The earliest hour at which a cell is reached, if it is: for a world whose cost is the time,
    /// exactly on the moves; else the hour of the least cost.
    #[must_use]
    pub fn hour_at(&self, world: &World<'_>, cell: Cell) -> Option<f64> {
        let state = self.best_state(world, cell)?;
        Some(self.depart_hour + f64::from(self.hours(state)))
    }

    /// The least cost of reaching a cell, if it is reached.
    #[must_use]
    pub fn cost_at(&self, world: &World<'_>, cell: Cell) -> Option<f64> {
        self.best_state(world, cell).map(|state| f64::from(self.cost[state as usize]))
    }

    /// The state of a cell that has the least cost, if any was reached.
    fn best_state(&self, world: &World<'_>, cell: Cell) -> Option<u32> {
        if cell as usize >= world.table.grid.len() {
            return None;
        }
        let cost = |state: u32| self.cost.get(state as usize).copied().unwrap_or(f32::INFINITY);
        world
            .openings
            .states_of(world.padding.padded(cell) as u32)
            .min_by(|&a, &b| cost(a).total_cmp(&cost(b)))
            .filter(|&state| cost(state) < f32::INFINITY)
    }

    /// Bytes of the arrays that this holds.
    #[must_use]
    pub fn bytes(&self) -> usize {
        (self.cost.len() + self.hour.len()) * size_of::<f32>() + self.from.len() * size_of::<u32>()
    }

    /// Hours since departure of a state.
    #[inline]
    pub(crate) fn hours(&self, state: u32) -> f32 {
        let state = state as usize;
        if self.hour.is_empty() { self.cost[state] } else { self.hour[state] }
    }

    /// The cells of the way to a state, the start first.
    pub(crate) fn trace(&self, world: &World<'_>, state: u32) -> Vec<Cell> {
        let mut cells = Vec::new();
        let mut at = state;
        while at != NOWHERE {
            cells.extend(world.padding.cell_at(world.openings.cell_of(at) as usize));
            at = self.from.get(at as usize).copied().unwrap_or(NOWHERE);
        }
        cells.reverse();
        cells
    }
}

/// Runs the search that the world and the quest ask for. `settled` is told the state, cost and hours
/// of each watched state in the order of settling.
pub(crate) fn search(
    world: &World<'_>,
    quest: &Quest<'_>,
    control: &Control,
    settled: impl FnMut(u32, f32, f32) -> Next,
) -> Result<Field, Error> {
    let weighted = !world.weight.is_time() || quest.penalty.is_some();
    let layered = world.intervals.len() > 1;
    macro_rules! dispatch {
        ($moves:literal, $plain:ident) => {
            match (world.table.sectors > 1, layered, weighted) {
                (true, _, false) => Run::<Sectored<$moves, false>, _>::go,
                (true, _, true) => Run::<Sectored<$moves, true>, _>::go,
                (false, false, false) => Run::<$plain<false, false>, _>::go,
                (false, false, true) => Run::<$plain<false, true>, _>::go,
                (false, true, false) => Run::<$plain<true, false>, _>::go,
                (false, true, true) => Run::<$plain<true, true>, _>::go,
            }
        };
    }
    let go = match quest.headings {
        Headings::Eight => dispatch!(8, Rows),
        Headings::Sixteen => dispatch!(16, Sixteen),
        Headings::ThirtyTwo => dispatch!(32, ThirtyTwo),
    };
    go(world, quest, control, settled)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::tables::{grid, table};

    const SIDE: u32 = 20;

    const FROM_THE_FIRST: Quest<'_> = Quest {
        headings: Headings::Eight,
        start: 0,
        others: &[],
        depart_hour: 0.0,
        latest_hour: f64::INFINITY,
        penalty: None,
        watched: None,
        traced: false,
    };

    /// Less than 16 bytes a cell: of an arrival field with all that the world holds beside the table, and of
    /// the labels alone where cost is not time and routes are wanted. Rims and strips included.
    #[test]
    fn a_field_takes_few_bytes_a_cell() {
        let table = table(grid(1200, 300, 1000.0), &[0.0], |_, column, row| {
            0.1 + 0.001 * f64::from((column + row) % 100)
        });
        let control = Control::default();
        let start = table.grid.centre(0).unwrap();
        let most = 16 * table.grid.len();
        let world = World::new(&table, 0.0, &control).unwrap();
        let field = Field::solve(&world, Headings::Eight, start, 0.0, f64::INFINITY, &control);
        assert!(field.unwrap().bytes() + world.bytes() < most);

        let world = World::new(&table, 0.5, &control).unwrap();
        let quest = Quest { traced: true, ..FROM_THE_FIRST };
        let field = search(&world, &quest, &control, |_, _, _| Next::Continue).unwrap();
        assert!(field.bytes() < most);
    }

    proptest! {
        /// A bound ends the search no sooner than it may: whatever costs less than it is final, though a
        /// whole bucket before it held only labels that had been lowered since.
        #[test]
        fn what_costs_less_than_the_bound_is_final(
            pace in prop::collection::vec(0.1_f32..2.0, (SIDE * SIDE) as usize),
            watched in 0..SIDE * SIDE,
            beyond in 1.0_f32..1.5,
        ) {
            let table = table(grid(SIDE, SIDE, 1000.0), &[0.0], |_, column, row| {
                pace[(row * SIDE + column) as usize].into()
            });
            let control = Control::default();
            let world = World::new(&table, 0.0, &control).unwrap();
            let cell = world.padding.padded(watched);
            let mut bits = vec![0_u64; world.padding.len().div_ceil(64)];
            bits[cell / 64] |= 1 << (cell % 64);
            let quest = Quest { watched: Some(&bits), ..FROM_THE_FIRST };
            let all = search(&world, &quest, &control, |_, _, _| Next::Continue).unwrap();
            let bound = all.cost[cell] * beyond;
            let bounded = search(&world, &quest, &control, |_, _, _| Next::Bound(bound.to_bits()));
            for (all, bounded) in all.cost.iter().zip(bounded.unwrap().cost.iter()) {
                prop_assert!(bounded == all || *all > bound);
            }
        }
    }
}
