//! The arrival field: the least cost from a start to every cell, through time.

use std::cmp::Ordering;

use dipward_geodesy::{Cell, Position};
use dipward_plugin::{Control, Error};

use crate::{
    kernel::{Edges, Instant, Kernel, Plain, Sectored},
    move_line::MoveLine,
    openings::{CHANGES, EVER, MANY, NEAR_CHANGE},
    passage::{Layers, depart_for_end, sail_when_open},
    prefetch::prefetch,
    queue::{BucketQueue, Entry},
    sheet::Sheet,
    stencil::{Headings, MOVES},
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
    let layered = world.intervals.iter().any(|interval| interval.per_length > 0.0);
    macro_rules! dispatch {
        ($moves:literal, $cells:literal) => {
            match (world.table.sectors > 1, layered, weighted) {
                (true, _, false) => Run::<Sectored<$moves, false>, _>::go,
                (true, _, true) => Run::<Sectored<$moves, true>, _>::go,
                (false, false, false) => Run::<Plain<$moves, $cells, false, false>, _>::go,
                (false, false, true) => Run::<Plain<$moves, $cells, false, true>, _>::go,
                (false, true, false) => Run::<Plain<$moves, $cells, true, false>, _>::go,
                (false, true, true) => Run::<Plain<$moves, $cells, true, true>, _>::go,
            }
        };
    }
    let go = match quest.headings {
        Headings::Eight => dispatch!(8, 9),
        Headings::Sixteen => dispatch!(16, 25),
        Headings::ThirtyTwo => dispatch!(32, 49),
    };
    go(world, quest, control, settled)
}

/// A search under way.
struct Run<'r, 't, K, F> {
    world: &'r World<'t>,
    quest: &'r Quest<'r>,
    settled: F,
    field: Field,
    queue: BucketQueue,
    start_state: u32,
    latest: f32,
    /// Whether any cell opens or closes.
    changes: bool,
    bound: f32,
    /// Cost of an hour of lying still.
    hold_rate: f64,
    /// The least that an hour can cost.
    least_rate: f32,
    kernel: std::marker::PhantomData<K>,
}

/// Entries between one that is settled and one whose surroundings are asked for.
const AHEAD: usize = 12;

/// Buckets between two looks at the control.
const BUCKETS_A_CHECK: u32 = 16;

impl<K: Kernel, F: FnMut(u32, f32, f32) -> Next> Run<'_, '_, K, F> {
    fn go(
        world: &World<'_>,
        quest: &Quest<'_>,
        control: &Control,
        settled: F,
    ) -> Result<Field, Error> {
        let states = world.openings.states();
        let start_state = world.padding.padded(quest.start) as u32;
        let mut field = Field {
            depart_hour: quest.depart_hour,
            cost: Sheet::new(f32::INFINITY, states),
            hour: Sheet::new(f32::INFINITY, if K::WEIGHTED { states } else { 0 }),
            from: if quest.traced { vec![NOWHERE; states] } else { Vec::new() },
        };
        field.cost[start_state as usize] = 0.0;
        if K::WEIGHTED {
            field.hour[start_state as usize] = 0.0;
        }
        let mut queue = BucketQueue::new(world.least_width_cost, world.usual_width_cost);
        queue.push(0.0, start_state);
        for &other in quest.others {
            let state = world.padding.padded(other);
            field.cost[state] = 0.0;
            if K::WEIGHTED {
                field.hour[state] = 0.0;
            }
            queue.push(0.0, state as u32);
        }
        let hold_rate = world.cost_of(1.0, world.table.hold_t_per_h);
        let mut run = Run::<K, F> {
            world,
            quest,
            settled,
            field,
            queue,
            start_state,
            latest: (quest.latest_hour - quest.depart_hour) as f32,
            changes: world.openings.any_changes(),
            bound: f32::INFINITY,
            hold_rate,
            least_rate: if K::WEIGHTED {
                world.cost_of(1.0, 0.0).min(hold_rate) as f32
            } else {
                1.0
            },
            kernel: std::marker::PhantomData,
        };
        run.all(control)?;
        Ok(run.field)
    }

    fn all(&mut self, control: &Control) -> Result<(), Error> {
        let mut batch: Vec<Entry> = Vec::new();
        let mut edges = Edges::new();
        let mut offsets = [0_isize; 32];
        for (offset, step) in offsets.iter_mut().zip(&MOVES) {
            *offset =
                step.drow as isize * self.world.padding.stride as isize + step.dcolumn as isize;
        }
        let mut interval = self.world.interval_at(self.quest.depart_hour);
        let mut until_check = 0;
        while self.queue.pop_bucket(&mut batch) {
            if until_check == 0 {
                control.check()?;
                until_check = BUCKETS_A_CHECK;
            }
            until_check -= 1;
            let mut past_bound = true;
            for (place, entry) in batch.iter().enumerate() {
                if let Some(ahead) = batch.get(place + AHEAD) {
                    self.call_up(ahead.state, interval);
                }
                if entry.key > self.field.cost[entry.state as usize] {
                    continue;
                }
                if entry.key > self.bound {
                    continue;
                }
                past_bound = false;
                self.settle(*entry, &mut interval, &mut edges, &offsets);
            }
            if past_bound && self.bound < f32::INFINITY {
                break;
            }
        }
        Ok(())
    }

    /// Asks the caches for what the settling of a state will read: the entries of a bucket lie all
    /// along the front, and nothing else would know.
    #[inline(always)]
    fn call_up(&self, state: u32, interval: usize) {
        let world = self.world;
        let index = state as usize;
        let frames = &world.intervals[interval];
        for row in [index.wrapping_sub(world.padding.stride), index, index + world.padding.stride] {
            prefetch(&self.field.cost, row);
            prefetch(&world.pace, world.place(0, frames.near_layer) + row);
            if K::LAYERED {
                prefetch(&world.pace, world.place(0, frames.far_layer) + row);
            }
        }
    }

    #[inline(always)]
    fn settle(
        &mut self,
        entry: Entry,
        interval: &mut usize,
        edges: &mut Edges,
        offsets: &[isize; 32],
    ) {
        let world = self.world;
        let state = entry.state;
        let cell = world.openings.cell_of(state);
        let index = cell as usize;
        let hours = if K::WEIGHTED { self.field.hour[state as usize] } else { entry.key };
        if let Some(watched) = self.quest.watched
            && watched[index / 64] & (1 << (index % 64)) != 0
            && let Next::Bound(bits) = (self.settled)(state, entry.key, hours)
        {
            self.bound = self.bound.min(f32::from_bits(bits));
        }
        let hour = self.quest.depart_hour + f64::from(hours);
        let mut frames = &world.intervals[*interval];
        if hour < frames.begin_hour || hour >= frames.end_hour {
            *interval = world.interval_at(hour);
            frames = &world.intervals[*interval];
        }
        let at = Instant {
            near: world.layer(0, frames.near_layer),
            far: world.layer(0, frames.far_layer),
            near_rate: world.rate_layer(0, frames.near_layer),
            far_rate: world.rate_layer(0, frames.far_layer),
            interval: *interval,
            fraction: frames.fraction(hour) as f32,
            per_length: frames.per_length as f32,
        };
        K::edges(world, &at, index, edges);
        let penalty = self.quest.penalty.map_or(1.0, |penalty| penalty[index]);
        let left = (frames.end_hour - hour) as f32;
        let from = Label { state, cell, hour, hours, cost: entry.key };
        let near_change = self.changes && world.openings.flags[index] & NEAR_CHANGE != 0;
        if near_change || edges.any_as_long_as(K::MOVES, left) {
            self.spread_carefully(from, left, near_change, penalty, edges, offsets);
            return;
        }
        // All moves are compared at once; few lower a label, and which is not foreseen.
        let mut lower =
            K::lower(edges, entry.key, penalty, &self.field.cost, index, world.padding.stride);
        while lower != 0 {
            let number = lower.trailing_zeros() as usize % 32;
            lower &= lower - 1;
            let next = index.wrapping_add_signed(offsets[number]);
            self.reach(next as u32, edges.labels[number], hours + edges.hours[number], state);
        }
    }

    /// Lowers the labels about a state move by move, where some may be sailed by hand.
    #[inline(never)]
    fn spread_carefully(
        &mut self,
        from: Label,
        left: f32,
        near_change: bool,
        penalty: f32,
        edges: &Edges,
        offsets: &[isize; 32],
    ) {
        let world = self.world;
        let index = from.cell as usize;
        for (number, &offset) in offsets.iter().enumerate().take(K::MOVES) {
            let spent = edges.hours[number];
            let next = index.wrapping_add_signed(offset);
            let by_hand = if near_change {
                // What is closed is infinite or not a number, and no less either.
                spent.partial_cmp(&left) != Some(Ordering::Less)
                    || world.openings.flags[next] & MANY != 0
            } else {
                spent >= left && spent < f32::INFINITY
            };
            if by_hand {
                // Nothing to gain where the cell is settled, or closed for good.
                let flag = world.openings.flags[next];
                let settled = self.field.cost[next] <= from.cost + world.least_width_cost;
                if flag & EVER == 0 || settled && flag & MANY == 0 {
                    continue;
                }
                self.move_by_hand(from, number, penalty);
                continue;
            }
            let cost = if K::WEIGHTED {
                from.cost + edges.costs[number] * penalty
            } else {
                from.cost + spent
            };
            if cost < self.field.cost[next] {
                self.reach(next as u32, cost, from.hours + spent, from.state);
            }
        }
    }

    /// Lowers the label of a state.
    #[inline(always)]
    fn reach(&mut self, state: u32, cost: f32, hours: f32, from: u32) {
        if hours > self.latest {
            return;
        }
        let at = state as usize;
        self.field.cost[at] = cost;
        if K::WEIGHTED {
            self.field.hour[at] = hours;
        }
        if self.quest.traced {
            self.field.from[at] = from;
        }
        self.queue.push(cost, state);
    }

    /// A move that meets a change of frame, or a cell that opens or closes: sailed exactly, waiting
    /// as long as it must and may.
    #[cold]
    #[inline(never)]
    fn move_by_hand(&mut self, from: Label, number: usize, penalty: f32) {
        let world = self.world;
        let Some(line) = MoveLine::new(world, from.cell as usize, number) else { return };
        let openings = &world.openings;
        // Not before the last of the crossed cells opens for the first time.
        let mut open_from = from.hour;
        for piece in line.pieces() {
            open_from = open_from.max(openings.open_from(piece.cell, from.hour));
        }
        if open_from == f64::INFINITY || open_from > self.quest.latest_hour {
            return;
        }
        let end = line.end();
        let many = openings.flags[end as usize] & MANY != 0;
        let at_least = from.cost + (open_from - from.hour) as f32 * self.least_rate;
        if !many && self.field.cost[end as usize] <= at_least {
            return;
        }
        // A craft may lie at its port whatever becomes of the cell.
        let until_hour = if from.state != self.start_state
            && openings.flags[from.cell as usize] & CHANGES != 0
        {
            openings.end_hour(from.state)
        } else {
            f64::INFINITY
        };
        let mut from_hour = from.hour;
        loop {
            let Some((depart_hour, arrive_hour, cost)) = sail_when_open(
                &Layers(world),
                line.pieces(),
                line.heading(),
                from_hour,
                until_hour,
            ) else {
                return;
            };
            if arrive_hour > self.quest.latest_hour {
                return;
            }
            if let Some(next) = openings.state_at(end, arrive_hour) {
                let new_cost = if K::WEIGHTED {
                    let waited_h = depart_hour - from.hour;
                    from.cost + (cost + waited_h * self.hold_rate) as f32 * penalty
                } else {
                    from.cost + (arrive_hour - from.hour) as f32
                };
                if new_cost < self.field.cost[next as usize] {
                    let hours = (arrive_hour - self.quest.depart_hour) as f32;
                    let hours = if K::WEIGHTED { hours } else { new_cost };
                    self.reach(next, new_cost, hours, from.state);
                }
            }
            if !many {
                return;
            }
            let Some(opens_hour) = openings.next_opening(end, arrive_hour) else { return };
            let on_time = depart_for_end(&Layers(world), line.pieces(), line.heading(), opens_hour);
            let Some(on_time) = on_time else { return };
            from_hour = on_time.max(depart_hour);
            if from_hour >= until_hour {
                return;
            }
        }
    }
}

/// What a move by hand sets out from.
#[derive(Debug, Clone, Copy)]
struct Label {
    state: u32,
    cell: u32,
    hour: f64,
    /// Hours since departure.
    hours: f32,
    cost: f32,
}
