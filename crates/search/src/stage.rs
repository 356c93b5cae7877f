//! Labels between their settling and the writing of those that they lower.

use wide::f32x4;

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
    lower: [u16; PLACES + 4],
    lower_count: usize,
    /// States and cells of the block.
    origins: [(u32, u32); BLOCK],
    origin_count: usize,
}

/// One in each of four numbers of sixteen bits.
const EACH: u64 = 0x0001_0001_0001_0001;

/// For each set of lanes their numbers, one after the other, and how many they are.
const LANES: [([u16; 4], usize); 16] = {
    let mut all = [([0; 4], 0); 16];
    let mut set = 0;
    while set < 16 {
        let mut lane = 0;
        while lane < 4 {
            if set & (1 << lane) != 0 {
                all[set].0[all[set].1] = lane;
                all[set].1 += 1;
            }
            lane += 1;
        }
        set += 1;
    }
    all
};

impl Stage {
    pub(crate) fn new() -> Self {
        Self {
            costs: [f32::INFINITY; PLACES],
            hours: [f32::INFINITY; PLACES],
            lower: [0; PLACES + 4],
            lower_count: 0,
            origins: [(0, 0); BLOCK],
            origin_count: 0,
        }
    }

    /// Puts in what moves from a label give, four to a vector, and keeps those that are lower than what is
    /// known at their ends. Nothing branches on it: few are, and which is not foreseen.
    ///
    /// # Arguments
    ///
    /// * `spent`: costs of the moves, and their hours where these are something else.
    #[inline(always)]
    pub(crate) fn put<const FOURS: usize>(
        &mut self,
        from: Label,
        spent: ([f32x4; FOURS], Option<[f32x4; FOURS]>),
        known: [f32x4; FOURS],
    ) {
        let origin = self.origin_count % BLOCK;
        self.origin_count = origin + 1;
        self.origins[origin] = (from.state, from.cell);
        let mut count = self.lower_count;
        for four in 0..FOURS {
            let first = origin * 32 + four * 4;
            let cost = f32x4::splat(from.cost) + spent.0[four];
            self.costs[first..first + 4].copy_from_slice(cost.as_array());
            if let Some(hours) = spent.1 {
                let hours = f32x4::splat(from.hours) + hours[four];
                self.hours[first..first + 4].copy_from_slice(hours.as_array());
            }
            let (lanes, lower) = LANES[cost.simd_lt(known[four]).to_bitmask() as usize % 16];
            // All four at once: none of the sums runs over.
            let places: u64 = bytemuck::cast::<[u16; 4], u64>(lanes) + first as u64 * EACH;
            let at = count % PLACES;
            self.lower[at..at + 4].copy_from_slice(&bytemuck::cast::<u64, [u16; 4]>(places));
            count += lower;
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
