//! A search under way: labels out of the queue, moves from their cells, lower labels into it.
//!
//! The entries of a bucket are all final and may be settled in any order, so a block of them is worked
//! through in passes: their surroundings are called up, all their moves made and compared without a
//! branch, and only then the lower labels written. Few moves lower a label, and which is not foreseen.

use std::cmp::Ordering;

use dipward_plugin::{Control, Error};

use crate::{
    field::{Field, NOWHERE, Next, Quest},
    kernel::{ENDS, Edges, Instant, Kernel},
    move_line::MoveLine,
    openings::{CHANGES, EVER, MANY, NEAR_CHANGE},
    passage::{Layers, Passage, depart_for_end, sail, sail_when_open},
    prefetch::prefetch,
    queue::{BucketQueue, Entry},
    sheet::Sheet,
    stage::{BLOCK, Label, Lower, Stage},
    world::World,
};

/// A search under way.
pub(crate) struct Run<'r, 't, K, F> {
    world: &'r World<'t>,
    quest: &'r Quest<'r>,
    settled: F,
    /// Labels of the states, as in a [`Field`].
    cost: &'r mut [f32],
    hour: &'r mut [f32],
    from: &'r mut [u32],
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

/// Entries between one that is looked at and one whose label is asked for.
const AHEAD: usize = 16;

/// Buckets between two looks at the control.
const BUCKETS_A_CHECK: u32 = 16;

impl<'r, 't, K: Kernel, F: FnMut(u32, f32, f32) -> Next> Run<'r, 't, K, F> {
    /// Searches until all is settled, or no label is left below the bound.
    pub(crate) fn go(
        world: &World<'_>,
        quest: &Quest<'_>,
        control: &Control,
        settled: F,
    ) -> Result<Field, Error> {
        let states = world.openings.states();
        let mut field = Field {
            depart_hour: quest.depart_hour,
            cost: Sheet::new(f32::INFINITY, states),
            hour: Sheet::new(f32::INFINITY, if K::WEIGHTED { states } else { 0 }),
            from: if quest.traced { vec![NOWHERE; states] } else { Vec::new() },
        };
        let mut queue = BucketQueue::new(world.least_width_cost, world.usual_width_cost);
        for &start in std::iter::once(&quest.start).chain(quest.others) {
            let state = world.padding.padded(start);
            field.cost[state] = 0.0;
            if let Some(copy) = world.padding.copy_of(state) {
                field.cost[copy] = 0.0;
            }
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
            cost: &mut field.cost,
            hour: &mut field.hour,
            from: &mut field.from,
            queue,
            start_state: world.padding.padded(quest.start) as u32,
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
        Ok(field)
    }

    fn all(&mut self, control: &Control) -> Result<(), Error> {
        let world = self.world;
        let mut offsets = [0_isize; 32];
        for (number, offset) in offsets.iter_mut().enumerate() {
            let (dcolumn, drow) = K::offset(number);
            *offset = drow as isize * world.padding.stride as isize + dcolumn as isize;
        }
        let mut work = Work {
            edges: Edges::new(),
            stage: Stage::new(),
            offsets,
            at: Instant::new(world, world.interval_at(self.quest.depart_hour)),
        };
        let mut batch: Vec<Entry> = Vec::new();
        let mut until_check = 0;
        while self.queue.pop_bucket(&mut batch) {
            if until_check == 0 {
                control.check()?;
                until_check = BUCKETS_A_CHECK;
            }
            until_check -= 1;
            // What is in later buckets is above all of this one.
            let last = self.bound < f32::INFINITY && batch.iter().any(|e| e.key > self.bound);
            self.keep_live(&mut batch);
            for &entry in batch.iter().take(BLOCK) {
                self.call_up(entry, &work.at);
            }
            for (number, block) in batch.chunks(BLOCK).enumerate() {
                let mut next = batch[(BLOCK * (number + 1)).min(batch.len())..].iter();
                for &entry in block {
                    if let Some(&next) = next.next() {
                        self.call_up(next, &work.at);
                    }
                    self.settle(entry, &mut work);
                }
                if world.padding.is_whole() {
                    self.write::<false>(&mut work);
                } else {
                    self.write::<true>(&mut work);
                }
            }
            if last {
                break;
            }
        }
        Ok(())
    }

    /// Writes the lower labels of a block.
    #[inline(always)]
    fn write<const STRIPS: bool>(&mut self, work: &mut Work<'r>) {
        let padding = self.world.padding;
        for Lower { cost, hours, from, cell, number } in work.stage.take(K::WEIGHTED) {
            let state = (cell as usize).wrapping_add_signed(work.offsets[number]) as u32;
            if cost < self.cost[state as usize] {
                if STRIPS && !padding.is_alone(state as usize) {
                    self.reach(padding.own(state as usize) as u32, cost, hours, from);
                } else {
                    self.lower(state, cost, hours, from);
                }
            }
        }
    }

    /// Drops entries whose label has been lowered since.
    #[inline(always)]
    fn keep_live(&self, batch: &mut Vec<Entry>) {
        let cost = &*self.cost;
        let mut live = 0;
        for place in 0..batch.len() {
            if let Some(ahead) = batch.get(place + AHEAD) {
                prefetch(cost, ahead.state as usize);
            }
            let entry = batch[place];
            batch[live] = entry;
            live += usize::from(entry.key <= cost[entry.state as usize]);
        }
        batch.truncate(live);
    }

    /// Asks the caches for what the settling of an entry will read: the entries of a bucket lie all along
    /// the front, and nothing else would know.
    #[inline(always)]
    fn call_up(&self, entry: Entry, at: &Instant<'_>) {
        let stride = self.world.padding.stride;
        let cost = &*self.cost;
        let index = entry.state as usize;
        for row in [index.wrapping_sub(stride), index, index + stride] {
            for end in [row.wrapping_sub(1), row + 2] {
                prefetch(cost, end);
                prefetch(at.near, end);
                if K::LAYERED {
                    prefetch(at.far, end);
                }
            }
        }
    }

    /// The label of a live entry.
    #[inline(always)]
    fn label(&self, Entry { key, state }: Entry) -> Label {
        let hours = if K::WEIGHTED { self.hour[state as usize] } else { key };
        Label { state, cell: self.world.openings.cell_of(state), hours, cost: key }
    }

    /// Stages the labels about a state that its moves lower.
    #[inline(always)]
    fn settle(&mut self, entry: Entry, work: &mut Work<'r>) {
        if entry.key > self.bound {
            return;
        }
        let world = self.world;
        let from = self.label(entry);
        let Label { state, cell, hours, .. } = from;
        let index = cell as usize;
        if let Some(watched) = self.quest.watched
            && watched[index / 64] & (1 << (index % 64)) != 0
            && let Next::Bound(bits) = (self.settled)(state, entry.key, hours)
        {
            self.bound = self.bound.min(f32::from_bits(bits));
        }
        let Work { edges, stage, at, .. } = work;
        let mut left = f32::INFINITY;
        if K::LAYERED {
            let hour = self.quest.depart_hour + f64::from(hours);
            let mut frames = &world.intervals[at.interval];
            if hour < frames.begin_hour || hour >= frames.end_hour {
                *at = Instant::new(world, world.interval_at(hour));
                frames = &world.intervals[at.interval];
            }
            at.fraction = frames.fraction(hour) as f32;
            left = (frames.end_hour - hour) as f32;
        }
        let penalty = K::WEIGHTED.then(|| self.quest.penalty.map_or(1.0, |all| all[index]));
        let near_change = self.changes && world.openings.flags[index] & NEAR_CHANGE != 0;
        if near_change {
            K::edges(world, at, index, edges);
            self.spread_carefully(from, left, penalty, edges);
            return;
        }
        let across = K::stage(world, at, (from, left), penalty, self.cost, edges, stage);
        if across != 0 {
            self.cross(from, left, penalty, (across, &work.offsets));
        }
    }

    /// Makes the moves from a state that are under way beyond the interval, a bit each.
    #[inline(never)]
    fn cross(
        &mut self,
        from: Label,
        left: f32,
        penalty: Option<f32>,
        (mut across, offsets): (u32, &[isize; 32]),
    ) {
        // Nothing to gain where a cell is reached before the interval ends.
        let settled = from.cost + self.least_cost(left);
        while across != 0 {
            let number = across.trailing_zeros() as usize;
            across &= across - 1;
            let next = (from.cell as usize).wrapping_add_signed(offsets[number]);
            if self.cost[next] > settled {
                self.move_across(from, K::move_of(number), penalty.unwrap_or(1.0));
            }
        }
    }

    /// What a move costs at the least that is under way for some hours: it is a width long.
    #[inline(always)]
    fn least_cost(&self, hours: f32) -> f32 {
        (hours * self.least_rate * 0.999).max(self.world.least_width_cost)
    }

    /// Lowers the labels about a state move by move, where cells open or close.
    #[inline(never)]
    fn spread_carefully(&mut self, from: Label, left: f32, penalty: Option<f32>, edges: &Edges) {
        let world = self.world;
        let index = from.cell as usize;
        for (number, &end) in ENDS.iter().enumerate().take(K::MOVES) {
            let spent = edges.hours[number];
            let next = world.padding.own(world.padding.shifted(index, end));
            let flag = world.openings.flags[next];
            // What is closed is infinite or not a number, and no less either.
            if spent.partial_cmp(&left) != Some(Ordering::Less) || flag & MANY != 0 {
                // Nothing to gain where the cell is closed for good, or reached before the interval ends,
                // if the move can be made at once.
                let under_way = if spent >= left { left } else { 0.0 };
                let settled = self.cost[next] <= from.cost + self.least_cost(under_way);
                if flag & EVER != 0 && (!settled || flag & MANY != 0) {
                    self.move_by_hand(from, number, penalty.unwrap_or(1.0));
                }
                continue;
            }
            let cost = from.cost + edges.cost(number, penalty);
            if cost < self.cost[next] {
                self.reach(next as u32, cost, from.hours + spent, from.state);
            }
        }
    }

    /// Lowers the label of a state, and what is known of it beside the next strip.
    #[inline(never)]
    fn reach(&mut self, state: u32, cost: f32, hours: f32, from: u32) {
        self.lower(state, cost, hours, from);
        if let Some(copy) = self.world.padding.copy_of(state as usize) {
            self.cost[copy] = self.cost[state as usize];
        }
    }

    /// Lowers the label of a state.
    #[inline(always)]
    fn lower(&mut self, state: u32, cost: f32, hours: f32, from: u32) {
        if hours > self.latest {
            return;
        }
        let at = state as usize;
        self.cost[at] = cost;
        if K::WEIGHTED {
            self.hour[at] = hours;
        }
        if self.quest.traced {
            self.from[at] = from;
        }
        self.queue.push(cost, state);
    }

    /// A move that meets a change of frame where no cell opens or closes, sailed exactly.
    #[inline(never)]
    fn move_across(&mut self, from: Label, number: usize, penalty: f32) {
        let line = MoveLine::along(self.world, from.cell as usize, number);
        let hour = self.quest.depart_hour + f64::from(from.hours);
        let sailed = sail(&Layers(self.world), line.pieces(), line.heading(), hour, None);
        if let Passage::Arrived { hour: arrive_hour, fuel_t } = sailed
            && arrive_hour <= self.quest.latest_hour
        {
            self.arrive(from, line.end(), (hour, arrive_hour, fuel_t), penalty);
        }
    }

    /// Lowers the label of a state that is come to, by the hours of departure and arrival and the cost under
    /// way.
    #[inline(always)]
    fn arrive(&mut self, from: Label, next: u32, sailed: (f64, f64, f64), penalty: f32) {
        let (depart_hour, arrive_hour, cost) = sailed;
        let hour = self.quest.depart_hour + f64::from(from.hours);
        let new_cost = if K::WEIGHTED {
            let waited_h = depart_hour - hour;
            from.cost + (cost + waited_h * self.hold_rate) as f32 * penalty
        } else {
            from.cost + (arrive_hour - hour) as f32
        };
        if new_cost < self.cost[next as usize] {
            let hours = (arrive_hour - self.quest.depart_hour) as f32;
            let hours = if K::WEIGHTED { hours } else { new_cost };
            self.reach(next, new_cost, hours, from.state);
        }
    }

    /// A move that comes near a cell that opens or closes: sailed exactly, waiting as long as it must and
    /// may.
    #[cold]
    #[inline(never)]
    fn move_by_hand(&mut self, from: Label, number: usize, penalty: f32) {
        let world = self.world;
        let Some(line) = MoveLine::new(world, from.cell as usize, number) else { return };
        let openings = &world.openings;
        let hour = self.quest.depart_hour + f64::from(from.hours);
        // Not before the last of the crossed cells opens for the first time.
        let mut open_from = hour;
        for piece in line.pieces() {
            open_from = open_from.max(openings.open_from(piece.cell, hour));
        }
        if open_from == f64::INFINITY || open_from > self.quest.latest_hour {
            return;
        }
        let end = line.end();
        let many = openings.flags[end as usize] & MANY != 0;
        let at_least = from.cost + (open_from - hour) as f32 * self.least_rate;
        if !many && self.cost[end as usize] <= at_least {
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
        let mut from_hour = hour;
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
                self.arrive(from, next, (depart_hour, arrive_hour, cost), penalty);
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

/// What the settling of a label works with.
struct Work<'w> {
    edges: Edges,
    stage: Stage,
    /// From a padded index to the ends that a stage numbers.
    offsets: [isize; 32],
    /// The layers of the interval that is searched.
    at: Instant<'w>,
}
