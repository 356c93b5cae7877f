//! Labels between their settling and the writing of those that they lower.

use crate::kernel::Edges;

/// Entries of a bucket that are settled together.
pub(crate) const BLOCK: usize = 16;

/// Moves from as many cells; a power of two.
const PLACES: usize = BLOCK * 32;

/// A settled label.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Label {
    pub(crate) state: u32,
    /// Padded index.
    pub(crate) cell: u32,
    pub(crate) hour: f64,
    /// Hours since departure.
    pub(crate) hours: f32,
    pub(crate) cost: f32,
}

/// A label that a move gives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lower {
    pub(crate) cost: f32,
    /// Hours since departure.
    pub(crate) hours: f32,
    pub(crate) from: u32,
    /// The cell that it comes from, and the number of the move.
    pub(crate) cell: u32,
    pub(crate) number: usize,
}

/// The labels that the moves from a block of cells give.
#[derive(Debug)]
pub(crate) struct Stage {
    costs: [f32; PLACES],
    hours: [f32; PLACES],
    /// Places of those that are lower than what is known.
    lower: [u16; PLACES],
    lower_count: usize,
    /// States and cells of the block.
    origins: [(u32, u32); BLOCK],
    origin_count: usize,
}

impl Stage {
    pub(crate) fn new() -> Self {
        Self {
            costs: [f32::INFINITY; PLACES],
            hours: [f32::INFINITY; PLACES],
            lower: [0; PLACES],
            lower_count: 0,
            origins: [(0, 0); BLOCK],
            origin_count: 0,
        }
    }

    /// Puts in what the moves from a label give, and keeps those that are lower than what is known at their
    /// ends. Nothing branches on it: few are, and which is not foreseen.
    #[inline(always)]
    pub(crate) fn put<const MOVES: usize>(
        &mut self,
        from: Label,
        edges: &Edges,
        penalty: Option<f32>,
        known: [f32; MOVES],
    ) {
        let origin = self.origin_count % BLOCK;
        self.origin_count = origin + 1;
        self.origins[origin] = (from.state, from.cell);
        let first = origin * 32;
        let costs: [f32; MOVES] =
            std::array::from_fn(|number| from.cost + edges.cost(number, penalty));
        self.costs[first..first + MOVES].copy_from_slice(&costs);
        if penalty.is_some() {
            let hours: [f32; MOVES] =
                std::array::from_fn(|number| from.hours + edges.hours[number]);
            self.hours[first..first + MOVES].copy_from_slice(&hours);
        }
        let mut count = self.lower_count;
        for (number, (cost, known)) in costs.iter().zip(&known).enumerate() {
            self.lower[count % PLACES] = (first + number) as u16;
            count += usize::from(cost < known);
        }
        self.lower_count = count;
    }

    /// The lower labels, in the order in which they were put in; after it there are none.
    #[inline(always)]
    pub(crate) fn take(&mut self, weighted: bool) -> impl Iterator<Item = Lower> {
        let count = std::mem::take(&mut self.lower_count);
        self.origin_count = 0;
        let Self { costs, hours, lower, origins, .. } = &*self;
        lower[..count.min(PLACES)].iter().map(move |&place| {
            let place = usize::from(place) % PLACES;
            let (from, cell) = origins[place / 32];
            let cost = costs[place];
            let hours = if weighted { hours[place] } else { cost };
            Lower { cost, hours, from, cell, number: place % 32 }
        })
    }
}
