//! The earliest way within a limit on fuel, on the moves: labels of hour and fuel, at every setting.
//!
//! *Labels.* One for each way to come to a state that may still be part of the best answer. They are
//! taken out by hour plus the least hours to go, so that at each state they come in the order of their
//! hours. From each go all moves at all settings, and a wait until the next mark on the clock.
//!
//! *Dominance.* A label falls where an earlier one of the same state, lying still until then, has burnt
//! less. What it is compared with is then one number a state: the least fuel, less what lying still
//! burns in the hours so far. Lying still is possible until the end of the open span, which is what a
//! state is.
//!
//! *Pruning.* By floors of hours, of fuel, and of both at the weight of the Lagrangian pass, from every
//! cell to the goal: a label falls where even with those it burns more than the limit, is later than
//! the best known end, or is dearer than that end and the whole limit.
//!
//! *Epsilon.* A label also falls where it has burnt so little less that the difference does not matter:
//! along any way these differences add up to no more than `epsilon` of the limit, since each state may
//! give away only as much as its share of the way to the goal is above what was given before. So no way
//! on the moves that burns `epsilon` less than the limit is earlier than the answer, but for waits that
//! end between two marks.

#[cfg(test)]
mod tests;

use std::{cmp::Ordering, collections::BinaryHeap};

use dipward_geodesy::Cell;
use dipward_plugin::{Control, Error};

use crate::{
    field::NOWHERE,
    floor::Floor,
    heading::Heading,
    move_line::MoveLine,
    passage::{Leg, Medium, depart_for_end, sail_when_open},
    question::Question,
    to_go::to_go,
    world::World,
};

/// Hours between the marks at which a wait may end.
const MARK_H: f64 = 3.0;
/// Labels between two looks at the control.
const LABELS_A_CHECK: usize = 4096;

/// What labels are held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    /// The most that may be burnt.
    pub(crate) fuel_t: f64,
    /// The end must be earlier than this.
    pub(crate) before_hour: f64,
    /// The weight of the Lagrangian pass.
    pub(crate) weight_h_per_t: f64,
    /// The share of the fuel that may be given away.
    pub(crate) epsilon: f64,
    /// Labels at most.
    pub(crate) labels: usize,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Answer {
    /// The earliest end within the limits.
    Found(Way),
    /// None is within the limits.
    None,
    /// There were more labels than allowed.
    TooMany,
}

/// A way on the moves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Way {
    /// From the start to the goal.
    pub(crate) cells: Vec<Cell>,
    pub(crate) hour: f64,
    pub(crate) fuel_t: f64,
    /// Which of the goal's places.
    pub(crate) goal: usize,
}

#[derive(Debug, Clone, Copy)]
struct Label {
    hour: f64,
    fuel_t: f64,
    /// Fuel that may have been given away on the way here.
    given_t: f64,
    state: u32,
    before: u32,
}

/// An entry of the queue, the least key first.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Queued {
    key: f64,
    label: u32,
}

impl Eq for Queued {}

impl PartialOrd for Queued {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Queued {
    fn cmp(&self, other: &Self) -> Ordering {
        other.key.total_cmp(&self.key).then(other.label.cmp(&self.label))
    }
}

/// The least fuel of a state beyond lying still, and the mark since which it is that.
#[derive(Debug, Clone, Copy)]
struct Least {
    beyond_t: f64,
    mark: u32,
}

/// Padded cells and cell widths at one setting.
struct MovesAt<'w, 't> {
    world: &'w World<'t>,
    setting: usize,
}

impl Medium for MovesAt<'_, '_> {
    fn world(&self) -> &World<'_> {
        self.world
    }

    fn padded(&self, cell: u32) -> u32 {
        cell
    }

    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg {
        let world = self.world;
        // The lines of moves are made of cells of the grid.
        let cell = world.padding.cell_at(cell as usize).unwrap_or_default();
        let width_km = f64::from(world.width_km.get(cell as usize).copied().unwrap_or_default());
        let leg = world.leg_at(self.setting, cell as usize, interval, heading);
        Leg { near_pace: leg.near_pace * width_km, far_pace: leg.far_pace * width_km, ..leg }
    }
}

/// Searches in a world with layers.
pub(crate) fn earliest_within(
    world: &World<'_>,
    floor: &Floor<'_>,
    question: &Question<'_>,
    limits: Limits,
    control: &Control,
) -> Result<Answer, Error> {
    let hours = (question.problem.depart_hour, limits.before_hour);
    let floors = |prices| to_go(world, prices, question, hours, control);
    let weighed = floor.weighed(limits.weight_h_per_t);
    let start_state = world.padding.padded(question.start) as u32;
    let mut search = Labels {
        world,
        question,
        limits,
        hours_to_go: floors(&floor.hours)?,
        tonnes_to_go: floors(&floor.tonnes)?,
        weighed_to_go: floors(&weighed)?,
        least: vec![Least { beyond_t: f64::INFINITY, mark: u32::MAX }; world.openings.states()],
        labels: Vec::new(),
        queue: BinaryHeap::new(),
        start_state,
        best: None,
    };
    let hour = question.problem.depart_hour;
    search.add(Label { hour, fuel_t: 0.0, given_t: 0.0, state: start_state, before: NOWHERE });
    search.run(control)
}

struct Labels<'a, 't> {
    world: &'a World<'t>,
    question: &'a Question<'a>,
    limits: Limits,
    /// The least hours, tonnes and weighed hours from each padded cell to the goal.
    hours_to_go: Vec<f64>,
    tonnes_to_go: Vec<f64>,
    weighed_to_go: Vec<f64>,
    least: Vec<Least>,
    labels: Vec<Label>,
    queue: BinaryHeap<Queued>,
    start_state: u32,
    /// The best end: its label, hour, fuel and place.
    best: Option<(u32, f64, f64, usize)>,
}

impl Labels<'_, '_> {
    fn run(mut self, control: &Control) -> Result<Answer, Error> {
        let mut taken = 0_usize;
        while let Some(Queued { key, label: number }) = self.queue.pop() {
            if taken.is_multiple_of(LABELS_A_CHECK) {
                control.check()?;
            }
            taken += 1;
            if key >= self.end_hour() {
                break;
            }
            let label = self.labels[number as usize];
            if self.is_beaten(&label) {
                continue;
            }
            if self.labels.len() > self.limits.labels {
                return Ok(Answer::TooMany);
            }
            let mark = self.mark(label.hour);
            let beyond_t = self.beyond_t(&label);
            self.least[label.state as usize] = Least { beyond_t, mark };
            self.meet(number, &label);
            self.wait(number, &label, mark);
            self.move_on(number, &label);
        }
        let Some((number, hour, fuel_t, goal)) = self.best else { return Ok(Answer::None) };
        let mut cells = Vec::new();
        let mut at = number;
        while let Some(label) = self.labels.get(at as usize) {
            let cell = self.world.openings.cell_of(label.state);
            cells.extend(self.world.padding.cell_at(cell as usize));
            at = label.before;
        }
        cells.reverse();
        // A wait is a label of its own.
        cells.dedup();
        Ok(Answer::Found(Way { cells, hour, fuel_t, goal }))
    }

    /// What an end must be earlier than.
    fn end_hour(&self) -> f64 {
        self.best.map_or(self.limits.before_hour, |best| best.1)
    }

    fn mark(&self, hour: f64) -> u32 {
        // A hair more, so that a wait that ends at a mark is counted after it.
        ((hour - self.question.problem.depart_hour) / MARK_H + 1e-9) as u32
    }

    fn beyond_t(&self, label: &Label) -> f64 {
        label.fuel_t
            - self.world.table.hold_t_per_h * (label.hour - self.question.problem.depart_hour)
    }

    fn is_beaten(&self, label: &Label) -> bool {
        let least = self.least[label.state as usize];
        if least.mark != self.mark(label.hour) {
            return false;
        }
        self.beyond_t(label) >= least.beyond_t - self.may_give(label)
    }

    /// What may be given away at a label's state: its share of the way, less what may have been given.
    fn may_give(&self, label: &Label) -> f64 {
        (self.share_t(label.state) - label.given_t).max(0.0)
    }

    /// What may be given away up to a state in all.
    fn share_t(&self, state: u32) -> f64 {
        let to_go = |state: u32| self.hours_to_go[self.world.openings.cell_of(state) as usize];
        let share = 1.0 - to_go(state) / to_go(self.start_state).max(f64::MIN_POSITIVE);
        self.limits.epsilon * self.limits.fuel_t * share.clamp(0.0, 1.0)
    }

    /// Puts a label in, if it can still lead to a better end.
    fn add(&mut self, label: Label) {
        let cell = self.world.openings.cell_of(label.state) as usize;
        let key = label.hour + self.hours_to_go[cell];
        let fuel_t = label.fuel_t + self.tonnes_to_go[cell];
        let hours = label.hour - self.question.problem.depart_hour;
        let end_h = self.end_hour() - self.question.problem.depart_hour;
        let weight = self.limits.weight_h_per_t;
        let weighed = hours + weight * label.fuel_t + self.weighed_to_go[cell];
        let hopeless = key >= self.end_hour()
            || fuel_t > self.limits.fuel_t
            || weighed > end_h + weight * self.limits.fuel_t
            || self.is_beaten(&label);
        if hopeless || self.labels.len() >= NOWHERE as usize {
            return;
        }
        let number = self.labels.len() as u32;
        self.labels.push(label);
        self.queue.push(Queued { key, label: number });
    }

    /// Ends at the goal, lying in wait for it where it is not there yet.
    fn meet(&mut self, number: u32, label: &Label) {
        for (hour, stay) in self.question.meetings(self.world, label.state, label.hour) {
            let fuel_t = label.fuel_t + self.world.table.hold_t_per_h * (hour - label.hour);
            if hour < self.end_hour() && fuel_t <= self.limits.fuel_t {
                self.best = Some((number, hour, fuel_t, stay.goal));
            }
        }
    }

    /// Lies still until the next mark.
    fn wait(&mut self, number: u32, label: &Label, mark: u32) {
        let hour = self.question.problem.depart_hour + f64::from(mark + 1) * MARK_H;
        if hour < self.question.until_hour(self.world, label.state) && hour > label.hour {
            let fuel_t = label.fuel_t + self.world.table.hold_t_per_h * (hour - label.hour);
            let given_t = label.given_t.max(self.share_t(label.state));
            self.add(Label { hour, fuel_t, given_t, before: number, ..*label });
        }
    }

    fn move_on(&mut self, number: u32, label: &Label) {
        let world = self.world;
        let cell = world.openings.cell_of(label.state) as usize;
        let given_t = label.given_t.max(self.share_t(label.state));
        let until_hour = self.question.until_hour(world, label.state);
        for step in 0..self.question.headings.count() {
            let Some(line) = MoveLine::new(world, cell, step) else { continue };
            for setting in 0..world.table.settings {
                let medium = MovesAt { world, setting };
                let mut from_hour = label.hour;
                // Once for each open span of the end that can be come to.
                while let Some((left_hour, hour, fuel_t)) =
                    sail_when_open(&medium, line.pieces(), line.heading(), from_hour, until_hour)
                {
                    if hour >= self.end_hour() {
                        break;
                    }
                    if let Some(state) = world.openings.state_at(line.end(), hour) {
                        let waited_t = world.table.hold_t_per_h * (left_hour - label.hour);
                        let fuel_t = label.fuel_t + waited_t + fuel_t;
                        self.add(Label { hour, fuel_t, given_t, state, before: number });
                    }
                    let next = world.openings.next_opening(line.end(), hour).and_then(|opens| {
                        depart_for_end(&medium, line.pieces(), line.heading(), opens)
                    });
                    let Some(on_time) = next else { break };
                    from_hour = on_time.max(left_hour);
                    if from_hour >= until_hour {
                        break;
                    }
                }
            }
        }
    }
}
