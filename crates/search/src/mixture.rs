//! A course sailed as early as a limit on fuel allows, by labels along it.
//!
//! On a course whose cells do not change with time, each cell has a weight of fuel at which the next
//! thriftier setting becomes the better one, and the earliest way to keep a limit takes the thriftier
//! setting in the cells of the least such weights, and in one of them for a part of it (the fractional
//! knapsack: G. B. Dantzig, Discrete-variable extremum problems, Operations Research 5(2), 1957). So the
//! weight is narrowed down first. Time undoes that order: what is saved before a wait costs nothing. So
//! at each stop the arrivals are kept that no other beats in both hour and fuel, each sailed on at the
//! weights on either side of what the limit is worth, and for hours alone and fuel alone.

use std::convert::Infallible;

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::Goal;

use crate::{
    course::{Entry, Stop, trail},
    openings::{CHANGES, EVER},
    passage::Line,
    question::{Found, Question, lie_in_wait},
    smooth::Course,
    weight::{Verdict, narrow},
    world::World,
};

/// Lines that a course is cut into at least: where the weight may change, and a wait begin.
const PARTS: f64 = 32.0;
/// How often the first part is halved.
const HALVINGS: i32 = 4;
/// How near the exponents of the weights come to each other.
const FINEST: f64 = 0.002;
/// What the thinning of the labels can cost, end to end: no way along the course at these weights that
/// burns this share of the limit less than the limit is earlier than the one found.
const EPSILON: f64 = 0.01;

/// The earliest way found along a course, and the weight that its limit is worth.
pub(crate) struct Mixture {
    pub(crate) found: Found,
    pub(crate) weight_h_per_t: f64,
}

/// An arrival at a stop of the course.
#[derive(Debug, Clone, Copy)]
struct Label {
    stop: Stop,
    /// The label at the stop before that it came from.
    before: usize,
    /// The world that the line before was sailed in.
    world: usize,
}

/// Sails a course as early as a limit allows; nothing where no weight keeps it in time.
pub(crate) fn earliest_within(
    question: &Question<'_>,
    world: &World<'_>,
    course: &Course,
    goal: usize,
    limit_t: f64,
) -> Option<Mixture> {
    let course = divided(world, course)?;
    let narrowed = narrow(FINEST, |weight| -> Result<_, Infallible> {
        let end = world.weighing(weight).and_then(|world| course.end(&world, question.entry()));
        Ok(match end {
            Some(end) if end.hour > question.problem.latest_hour => Verdict::Late,
            Some(end) if end.fuel_t > limit_t => Verdict::Thirsty(()),
            Some(_) => Verdict::Fits(()),
            None => Verdict::Late,
        })
    });
    let Ok(narrowed) = narrowed;
    let narrowed = narrowed?;
    let worlds: Vec<World<'_>> = [0.0, narrowed.low_h_per_t, narrowed.high_h_per_t, f64::INFINITY]
        .into_iter()
        .filter_map(|weight| world.weighing(weight))
        .collect();

    let step_t = limit_t * EPSILON / course.lines.len() as f64;
    let along = Along { question, world, worlds: &worlds, course: &course, limit_t, step_t };
    Some(Mixture { found: along.best(goal)?, weight_h_per_t: narrowed.high_h_per_t })
}

/// A course sailed with waits where the ice eases in time to be worth them, if that costs less than a known
/// route.
pub(crate) fn waiting_for_ease(
    question: &Question<'_>,
    world: &World<'_>,
    known: &Found,
    (course, goal): (&Course, usize),
) -> Option<Found> {
    let course = divided(world, course)?;
    // Where only fuel counts, what burns as much as the known way is no better.
    let known_t = known.route.fuel_t();
    let only_fuel = world.fuel_weight_h_per_t().is_infinite();
    let limit_t = if only_fuel { Some(known_t) } else { question.problem.fuel_limit_t };
    let worlds = [world.weighing(world.fuel_weight_h_per_t())?];
    let along = Along {
        question,
        world,
        worlds: &worlds,
        course: &course,
        limit_t: limit_t.unwrap_or(f64::INFINITY),
        step_t: known_t * EPSILON / course.lines.len() as f64,
    };
    along.best(goal).filter(|found| found.cost < known.cost * (1.0 - 1e-6))
}

/// The end of a way along a course.
struct End {
    /// The labels that lead to it.
    chain: Vec<Label>,
    course: Course,
    /// Which of the places or berths it is, and when it is met.
    goal: usize,
    meet_hour: f64,
    /// What the way on from there costs.
    onward: f64,
}

/// What is sailed, and in what.
struct Along<'a, 't> {
    question: &'a Question<'a>,
    /// By whose cost the ends are compared.
    world: &'a World<'t>,
    worlds: &'a [World<'t>],
    course: &'a Course,
    limit_t: f64,
    /// Fuel at each stop that may be given away.
    step_t: f64,
}

impl Along<'_, '_> {
    /// The best way along the course.
    fn best(&self, goal: usize) -> Option<Found> {
        let rows = self.labels()?;
        let End { chain, course, goal, meet_hour, onward } = self.best_end(&rows, goal)?;
        let stops: Vec<Stop> = chain.iter().map(|label| label.stop).collect();
        let world_of = |line: usize| {
            let label = chain.get(line + 1);
            label.and_then(|label| self.worlds.get(label.world)).unwrap_or(self.world)
        };
        let mut points = trail(&course.stops, &course.lines, &stops, world_of)?;
        lie_in_wait(self.world, &mut points, Some(meet_hour));
        let found = self.question.found(self.world, points, course, goal)?;
        Some(Found { cost: found.cost + onward, ..found })
    }

    /// What an end costs.
    fn cost(&self, hour: f64, fuel_t: f64) -> f64 {
        self.world.cost_of(hour - self.question.problem.depart_hour, fuel_t)
    }

    /// What is burnt by lying still between two hours.
    fn lying_t(&self, from_hour: f64, until_hour: f64) -> f64 {
        (until_hour - from_hour) * self.world.table.hold_t_per_h
    }

    /// The labels of all stops but, for a goal that moves, the last.
    fn labels(&self) -> Option<Vec<Vec<Label>>> {
        let course = self.course;
        let entry = self.question.entry();
        let first = self.world.sail_chain(course.stops.get(..1)?, &[], entry, f64::INFINITY)?;
        let stop = *first.first()?.first()?;
        let to_go_t = self.least_to_go();
        let mut rows = vec![vec![Label { stop, before: 0, world: 0 }]];
        for number in 0..self.fixed_lines().len() {
            let (stops, lines) =
                (course.stops.get(number..=number + 1)?, course.lines.get(number..=number)?);
            let mut row: Vec<Label> = Vec::new();
            for (before, label) in rows.last()?.iter().enumerate() {
                for entry in self.entries(number, label.stop) {
                    for (number_of_world, world) in self.worlds.iter().enumerate() {
                        let latest_hour = self.question.problem.latest_hour;
                        let arrivals = world.sail_chain(stops, lines, entry, latest_hour);
                        row.extend(
                            arrivals
                                .iter()
                                .filter_map(|rows| rows.last())
                                .flatten()
                                .map(|&stop| Label { stop, before, world: number_of_world }),
                        );
                    }
                }
            }
            let most_t = self.limit_t - to_go_t.get(number + 1).copied().unwrap_or_default();
            row.retain(|label| label.stop.fuel_t <= most_t);
            rows.push(self.unbeaten(row));
        }
        Some(rows)
    }

    /// The lines whose end is known: where the goal moves, all but the last.
    fn fixed_lines(&self) -> &[Line] {
        match (self.question.problem.goal, self.course.lines.split_last()) {
            (Goal::Track(_), Some((_, lines))) => lines,
            _ => &self.course.lines,
        }
    }

    /// The fuel that the lines after each stop burn at the least, whenever and however they are sailed.
    fn least_to_go(&self) -> Vec<f64> {
        let mut to_go = vec![0.0; self.course.lines.len() + 1];
        for (number, line) in self.fixed_lines().iter().enumerate().rev() {
            let line_t: f64 =
                line.pieces.iter().map(|piece| piece.km * self.least_t_per_km(piece.cell)).sum();
            to_go[number] = to_go[number + 1] + line_t * (1.0 - 1e-6);
        }
        to_go
    }

    /// The least that a kilometre of a cell burns at any hour; see the floor for why the ends of the
    /// intervals are enough.
    fn least_t_per_km(&self, cell: u32) -> f64 {
        let table = self.world.table;
        let mut least = f64::INFINITY;
        for layer in 0..table.settings * table.sectors * table.hours.len() {
            let at = layer * table.grid.len() + cell as usize;
            let pace = f64::from(table.pace_h_per_km[at]);
            if pace < f64::INFINITY {
                least = least.min(pace * f64::from(table.burn_t_per_h[at]));
            }
        }
        least
    }

    /// How the line after a stop may be entered: at once, or after a wait until one of the frames to come.
    fn entries(&self, lines_before: usize, stop: Stop) -> Vec<Entry> {
        let at_once = self.entry_at(lines_before, stop);
        let openings = &self.world.openings;
        let until_hour =
            if at_once.at_port { f64::INFINITY } else { openings.end_hour(stop.state()) };
        let latest_hour = until_hour.min(self.question.problem.latest_hour);
        let frames: Vec<f64> = self
            .world
            .intervals
            .iter()
            .map(|interval| interval.begin_hour)
            .filter(|&hour| hour > stop.hour && hour < latest_hour)
            .collect();
        // The first frame to come, the second, the fourth, the eighth: a wait can be made up of some.
        let powers = std::iter::successors(Some(1_usize), |number| number.checked_mul(2));
        let waits = powers.map_while(|number| frames.get(number - 1)).map(|&hour| {
            let fuel_t = at_once.fuel_t + self.lying_t(at_once.hour, hour);
            Entry { hour, fuel_t, ..at_once }
        });
        std::iter::once(at_once).chain(waits).collect()
    }

    /// How the line after a stop is entered at once.
    fn entry_at(&self, lines_before: usize, stop: Stop) -> Entry {
        if lines_before == 0 { self.question.entry() } else { Entry::after(stop) }
    }

    /// The labels of a stop that no other beats, thinned. Within one open span an earlier arrival can
    /// lie still until the later one comes, so that it beats one that burnt more by then.
    fn unbeaten(&self, mut row: Vec<Label>) -> Vec<Label> {
        row.sort_by(|a, b| {
            let by_state = a.stop.state().cmp(&b.stop.state());
            by_state
                .then(a.stop.hour.total_cmp(&b.stop.hour))
                .then(a.stop.fuel_t.total_cmp(&b.stop.fuel_t))
        });
        let mut kept: Vec<Label> = Vec::with_capacity(row.len().min(256));
        for label in row {
            let stop = label.stop;
            let beaten = kept.last().is_some_and(|last| {
                let waited_t = self.lying_t(last.stop.hour, stop.hour);
                last.stop.state() == stop.state()
                    && stop.fuel_t > last.stop.fuel_t + waited_t - self.step_t
            });
            if !beaten {
                kept.push(label);
            }
        }
        kept
    }

    /// The end that costs least.
    fn best_end(&self, rows: &[Vec<Label>], goal: usize) -> Option<End> {
        let back = |last: Label, from_row: usize| -> Option<Vec<Label>> {
            let mut chain = vec![last];
            for row in rows.get(..from_row)?.iter().rev() {
                chain.push(*row.get(chain.last()?.before)?);
            }
            chain.reverse();
            Some(chain)
        };
        let row = rows.last()?;
        let Goal::Track(track) = self.question.problem.goal else {
            let ends = row.iter().flat_map(|label| {
                let stop = label.stop;
                let stays = self.question.meetings(self.world, stop.state(), stop.hour);
                let there = stays.filter(|(_, stay)| self.question.same_place(stay.goal, goal));
                there.map(move |(hour, stay)| {
                    let fuel_t = stop.fuel_t + self.lying_t(stop.hour, hour);
                    let onward = f64::from(stay.onward);
                    (self.cost(hour, fuel_t) + onward, label, stay.goal, hour, onward)
                })
            });
            let (_, label, goal, meet_hour, onward) = ends.min_by(|a, b| a.0.total_cmp(&b.0))?;
            let chain = back(*label, rows.len() - 1)?;
            return Some(End { chain, course: self.course.clone(), goal, meet_hour, onward });
        };
        let last = self.course.lines.len().checked_sub(1)?;
        let rest = Course {
            stops: self.course.stops.get(last..)?.to_vec(),
            lines: self.course.lines.get(last..)?.to_vec(),
        };
        let mut best: Option<(f64, f64, Label, Course)> = None;
        for (before, label) in row.iter().enumerate() {
            let entry = self.entry_at(last, label.stop);
            let near_hour = label.stop.hour;
            for (number_of_world, world) in self.worlds.iter().enumerate() {
                let met = self.question.intercept(world, track, rest.clone(), entry, near_hour);
                let Some((rest, hour)) = met else { continue };
                if hour > self.question.problem.latest_hour {
                    continue;
                }
                let arrivals = world.sail_chain(&rest.stops, &rest.lines, entry, hour)?;
                let Some(stop) = world.best_end(&arrivals) else { continue };
                let fuel_t = stop.fuel_t + self.lying_t(stop.hour, hour);
                let cost = self.cost(hour, fuel_t);
                if fuel_t <= self.limit_t && best.as_ref().is_none_or(|best| cost < best.0) {
                    let label = Label { stop, before, world: number_of_world };
                    best = Some((cost, hour, label, rest));
                }
            }
        }
        let (_, hour, label, rest) = best?;
        let mut course = self.course.clone();
        course.stops.splice(last.., rest.stops);
        course.lines.splice(last.., rest.lines);
        Some(End { chain: back(label, rows.len())?, course, goal, meet_hour: hour, onward: 0.0 })
    }
}

/// The same course with its long lines cut, and the first part of it halved again and again, so that
/// little of the fuel is left over.
fn divided(world: &World<'_>, course: &Course) -> Option<Course> {
    let longest_km = course.lines.iter().map(|line| line.km).sum::<f64>() / PARTS;
    let mut divided = Course {
        stops: vec![*course.stops.first()?],
        lines: Vec::with_capacity(2 * PARTS as usize),
    };
    for (number, (line, pair)) in course.lines.iter().zip(course.stops.windows(2)).enumerate() {
        let &[from, to] = pair else { continue };
        let most = (line.km / longest_km).ceil().clamp(1.0, PARTS) as u32;
        let halves = if number == 0 { HALVINGS } else { 0 };
        let fewer =
            std::iter::successors(Some(most), |parts| Some(parts / 2).filter(|parts| *parts > 0));
        let parts = fewer
            .filter_map(|parts| parts_of(world, (from, to), halves, parts))
            .find(|parts| strays_nowhere(world, line, &parts.lines));
        let parts = match parts {
            Some(parts) => parts,
            None => Course { stops: vec![from, to], lines: vec![line.clone()] },
        };
        divided.stops.extend(parts.stops.into_iter().skip(1));
        divided.lines.extend(parts.lines);
    }
    Some(divided)
}

/// A line in some equal parts, the first of them halved some times.
fn parts_of(
    world: &World<'_>,
    (from, to): (Position, Position),
    halves: i32,
    parts: u32,
) -> Option<Course> {
    let halved = (0..halves).rev().map(|half| 0.5_f64.powi(half + 1));
    let shares = halved.chain((1..parts).map(f64::from)).map(|part| part / f64::from(parts));
    let mut stops = vec![from];
    stops.extend(shares.map(|share| interpolate(from, to, share)));
    stops.push(to);
    Course::new(world, stops)
}

/// Whether the parts of a line, which are cut at the cells a little otherwise than the whole, come through no
/// cell that the whole does not, unless it is always open: a line that is pulled tight about land runs along
/// the very corner of it.
fn strays_nowhere(world: &World<'_>, whole: &Line, parts: &[Line]) -> bool {
    let is_safe = |cell: u32| {
        let openings = &world.openings;
        let flags = openings.flags.get(world.padding.padded(cell)).copied().unwrap_or_default();
        flags & (EVER | CHANGES) == EVER
    };
    let mut cells = parts.iter().flat_map(|line| &line.pieces).map(|piece| piece.cell);
    cells.all(|cell| is_safe(cell) || whole.pieces.iter().any(|piece| piece.cell == cell))
}
