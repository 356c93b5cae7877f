//! Goals on the grid: fixed places, berths with a way on, and a target that moves.

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::Goal;

use crate::world::World;

/// A stay of the goal in a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stay {
    /// Padded cell.
    pub(crate) cell: u32,
    pub(crate) enter_hour: f64,
    pub(crate) leave_hour: f64,
    /// Which of the places or berths; 0 for a track.
    pub(crate) goal: usize,
    /// What the way on from here costs.
    pub(crate) onward: f32,
}

/// The stays of a goal, ordered by cell, and the cells as bits.
#[derive(Debug)]
pub(crate) struct Target {
    stays: Vec<Stay>,
    pub(crate) watched: Vec<u64>,
}

impl Target {
    /// Where the goal is from an hour on, cell by cell. Cells that never open, and what lies off the
    /// grid, are left out.
    pub(crate) fn new(world: &World<'_>, goal: &Goal<'_>, from_hour: f64) -> Self {
        let mut stays = Vec::new();
        match *goal {
            Goal::Places(places) => {
                for (number, &place) in places.iter().enumerate() {
                    push(world, &mut stays, place, (from_hour, f64::INFINITY), number);
                }
            }
            Goal::Berths(berths) => {
                for (number, berth) in berths.iter().enumerate() {
                    let hours = (berth.from_hour.max(from_hour), berth.until_hour);
                    if hours.0 <= hours.1 {
                        let before = stays.len();
                        push(world, &mut stays, berth.position, hours, number);
                        if let Some(stay) = stays.get_mut(before) {
                            stay.onward = world.cost_of(berth.onward_h, berth.onward_t) as f32;
                        }
                    }
                }
            }
            Goal::Track(track) => {
                if let &[(hour, place)] = track
                    && hour >= from_hour
                {
                    push(world, &mut stays, place, (hour, hour), 0);
                }
                for pair in track.windows(2) {
                    let &[(begin, from), (end, to)] = pair else { continue };
                    if end >= from_hour {
                        stays_between(world, &mut stays, (begin, from), (end, to), from_hour);
                    }
                }
            }
        }
        stays.sort_by(|a: &Stay, b| {
            (a.cell, a.goal).cmp(&(b.cell, b.goal)).then(a.enter_hour.total_cmp(&b.enter_hour))
        });
        let mut watched = vec![0; world.padding.len().div_ceil(64)];
        for stay in &stays {
            watched[stay.cell as usize / 64] |= 1 << (stay.cell % 64);
        }
        Self { stays, watched }
    }

    /// Whether there is no cell to go to.
    pub(crate) fn is_empty(&self) -> bool {
        self.stays.is_empty()
    }

    /// The stays, ordered by cell.
    pub(crate) fn stays(&self) -> &[Stay] {
        &self.stays
    }

    /// The stays in a padded cell.
    pub(crate) fn stays_in(&self, cell: u32) -> &[Stay] {
        let first = self.stays.partition_point(|stay| stay.cell < cell);
        let count = self.stays[first..].partition_point(|stay| stay.cell == cell);
        &self.stays[first..first + count]
    }
}

fn push(world: &World<'_>, stays: &mut Vec<Stay>, place: Position, hours: (f64, f64), goal: usize) {
    let Some(cell) = world.table.grid.cell_at(place) else { return };
    let cell = world.padding.padded(cell) as u32;
    if world.openings.spans(cell).iter().any(|span| span.end_hour > hours.0) {
        stays.push(Stay { cell, enter_hour: hours.0, leave_hour: hours.1, goal, onward: 0.0 });
    }
}

/// Cuts a stretch of a track at the cells by sampling it, a sixteenth of a cell apart; stays of one
/// cell are joined.
fn stays_between(
    world: &World<'_>,
    stays: &mut Vec<Stay>,
    (begin_hour, from): (f64, Position),
    (end_hour, to): (f64, Position),
    from_hour: f64,
) {
    let run = world.to_cells(to) - world.to_cells(from);
    let samples = (run.x.hypot(run.y) * 16.0).ceil().clamp(1.0, 1e6) as u32;
    let mut first = begin_hour;
    for sample in 1..=samples {
        let fraction = f64::from(sample) / f64::from(samples);
        let hour = begin_hour + fraction * (end_hour - begin_hour);
        if hour >= from_hour {
            let middle = (f64::from(sample) - 0.5) / f64::from(samples);
            let place = if samples == 1 { from } else { interpolate(from, to, middle) };
            let before = stays.len();
            push(world, stays, place, (first.max(from_hour), hour), 0);
            // Joined to the stay before it where the target is still in the same cell.
            if before > 0
                && stays.len() > before
                && stays[before - 1].cell == stays[before].cell
                && stays[before - 1].leave_hour >= stays[before].enter_hour
            {
                stays[before - 1].leave_hour = hour;
                stays.truncate(before);
            }
        }
        first = hour;
    }
}

/// Where a track is at an hour, between its first and its last.
pub(crate) fn place_at(track: &[(f64, Position)], hour: f64) -> Option<Position> {
    let after = track.partition_point(|&(at, _)| at <= hour);
    let &(begin, from) = track.get(after.checked_sub(1)?)?;
    match track.get(after) {
        Some(&(end, to)) => Some(interpolate(from, to, (hour - begin) / (end - begin))),
        None => (hour <= begin).then_some(from),
    }
}
