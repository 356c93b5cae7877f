//! Sailing a chain of geodesics: where to wait, when to be where, how much is burnt.

use std::convert::Infallible;

use dipward_geodesy::{Position, interpolate};
use dipward_plugin::{Control, PaceTable, Route, RoutePoint};

use crate::{
    openings::CHANGES,
    passage::{Line, Shift, depart_for_end, sail, sail_when_open},
    weight::{Verdict, narrow},
    world::World,
};

/// An arrival at a stop of a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stop {
    pub(crate) hour: f64,
    pub(crate) fuel_t: f64,
    /// When the stop before was left.
    left_hour: f64,
    /// Which arrival at the stop before this one follows.
    before: u32,
    /// State of the search at the stop, which tells its open span.
    state: u32,
}

/// How a chain is entered.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Entry {
    pub(crate) hour: f64,
    pub(crate) fuel_t: f64,
    /// The craft may lie at the first place whatever becomes of its cell.
    pub(crate) at_port: bool,
}

impl Stop {
    /// The state of the search, which tells the open span of the cell.
    pub(crate) fn state(self) -> u32 {
        self.state
    }
}

impl Entry {
    /// Leaving a port with the fuel that is counted from.
    pub(crate) fn port(hour: f64) -> Self {
        Self { hour, fuel_t: 0.0, at_port: true }
    }

    /// Going on from an arrival.
    pub(crate) fn after(stop: Stop) -> Self {
        Self { hour: stop.hour, fuel_t: stop.fuel_t, at_port: false }
    }
}

impl World<'_> {
    /// The cost of an hour and a fuel reading.
    pub(crate) fn cost_of(&self, hour: f64, fuel_t: f64) -> f64 {
        self.weight.cost(hour, fuel_t)
    }

    fn padded_cell_at(&self, position: Position) -> Option<u32> {
        let cell = self.table.grid.cell_at(position)?;
        Some(self.padding.padded(cell) as u32)
    }

    /// Sails lines from stop to stop, at each stop waiting only where the way ahead is closed, and
    /// keeping for each open span of the stop's cell the arrival of the least cost.
    ///
    /// `stops` are the ends of the lines, one more than lines; the last of them is reached by
    /// `latest_hour`. The answer has one row of arrivals a stop, none empty.
    pub(crate) fn sail_chain(
        &self,
        stops: &[Position],
        lines: &[Line],
        entry: Entry,
        latest_hour: f64,
    ) -> Option<Vec<Vec<Stop>>> {
        let first = self.padded_cell_at(*stops.first()?)?;
        let state = self.openings.state_at(first, entry.hour).unwrap_or(first);
        let mut rows = Vec::with_capacity(stops.len());
        rows.push(vec![Stop {
            hour: entry.hour,
            fuel_t: entry.fuel_t,
            left_hour: entry.hour,
            before: 0,
            state,
        }]);
        for (number, line) in lines.iter().enumerate() {
            let latest_hour = if number + 1 == lines.len() { latest_hour } else { f64::INFINITY };
            let end = self.padded_cell_at(*stops.get(number + 1)?)?;
            let changes = self.openings.flags[end as usize] & CHANGES != 0;
            let mut row: Vec<Stop> = Vec::with_capacity(1);
            for (before, stop) in rows.last()?.iter().enumerate() {
                let until_hour = if number == 0 && entry.at_port {
                    f64::INFINITY
                } else {
                    self.openings.end_hour(stop.state)
                };
                let mut from_hour = stop.hour;
                while let Some((left_hour, hour, fuel_t)) =
                    sail_when_open(self, &line.pieces, &line.heading, from_hour, until_hour)
                {
                    if hour > latest_hour {
                        break;
                    }
                    let waited_t = (left_hour - stop.hour) * self.table.hold_t_per_h;
                    let state = if changes { self.openings.state_at(end, hour) } else { Some(end) };
                    if let Some(state) = state {
                        let arrival = Stop {
                            hour,
                            fuel_t: stop.fuel_t + waited_t + fuel_t,
                            left_hour,
                            before: before as u32,
                            state,
                        };
                        self.keep_better(&mut row, arrival);
                    }
                    let Some(opens_hour) = self.openings.next_opening(end, hour) else { break };
                    let on_time = depart_for_end(self, &line.pieces, &line.heading, opens_hour);
                    let Some(on_time) = on_time else { break };
                    from_hour = on_time.max(left_hour);
                    if from_hour >= until_hour {
                        break;
                    }
                }
            }
            if row.is_empty() {
                return None;
            }
            rows.push(row);
        }
        Some(rows)
    }

    fn keep_better(&self, row: &mut Vec<Stop>, arrival: Stop) {
        match row.iter_mut().find(|stop| stop.state == arrival.state) {
            Some(stop) => {
                if self.cost_of(arrival.hour, arrival.fuel_t) < self.cost_of(stop.hour, stop.fuel_t)
                {
                    *stop = arrival;
                }
            }
            None => row.push(arrival),
        }
    }

    /// The arrival of the least cost in the last row.
    pub(crate) fn best_end(&self, rows: &[Vec<Stop>]) -> Option<Stop> {
        rows.last()?.iter().copied().min_by(|a, b| {
            self.cost_of(a.hour, a.fuel_t).total_cmp(&self.cost_of(b.hour, b.fuel_t))
        })
    }

    /// The points of a route over stops and lines, or nothing where it cannot be sailed by
    /// `latest_hour`.
    pub(crate) fn points(
        &self,
        stops: &[Position],
        lines: &[Line],
        entry: Entry,
        latest_hour: f64,
    ) -> Option<Vec<RoutePoint>> {
        let rows = self.sail_chain(stops, lines, entry, latest_hour)?;
        // Back along the arrivals that led to the best end.
        let mut chosen = vec![self.best_end(&rows)?];
        for row in rows.iter().rev().skip(1) {
            let before = chosen.last()?.before;
            chosen.push(*row.get(before as usize)?);
        }
        chosen.reverse();
        trail(stops, lines, &chosen, |_| self)
    }
}

/// The points of a chain along arrivals that follow each other, one a stop; each line sailed in a world
/// of its own.
pub(crate) fn trail<'w, 't: 'w>(
    stops: &[Position],
    lines: &[Line],
    chosen: &[Stop],
    world_of: impl Fn(usize) -> &'w World<'t>,
) -> Option<Vec<RoutePoint>> {
    let mut points: Vec<RoutePoint> = Vec::with_capacity(stops.len());
    let mut shifts: Vec<Shift> = Vec::new();
    let mut setting = 0;
    for (number, line) in lines.iter().enumerate() {
        let world = world_of(number);
        let (from, to) = (*stops.get(number)?, *stops.get(number + 1)?);
        let (stop, next) = (chosen.get(number)?, chosen.get(number + 1)?);
        shifts.clear();
        sail(world, &line.pieces, &line.heading, next.left_hour, Some(&mut shifts));
        setting = shifts.first().map_or(setting, |shift| shift.setting);
        let left = RoutePoint {
            position: from,
            hour: next.left_hour,
            fuel_used_t: stop.fuel_t + (next.left_hour - stop.hour) * world.table.hold_t_per_h,
            setting,
        };
        points.push(RoutePoint { hour: stop.hour, fuel_used_t: stop.fuel_t, ..left });
        if left.hour > stop.hour {
            points.push(left);
        }
        for shift in shifts.iter().skip(1) {
            setting = shift.setting;
            points.push(RoutePoint {
                position: interpolate(from, to, shift.at_km / line.km),
                hour: shift.hour,
                fuel_used_t: left.fuel_used_t + shift.fuel_t,
                setting,
            });
        }
    }
    let (last, end) = (*stops.last()?, chosen.last()?);
    points.push(RoutePoint { position: last, hour: end.hour, fuel_used_t: end.fuel_t, setting });
    Some(points)
}

/// Evaluates a chain of positions exactly: along the geodesics between them, through every cell that
/// they cross, with the best power setting in each, waiting where the way ahead is closed.
///
/// # Arguments
///
/// * `positions`: at least two, in order.
/// * `depart_hour`: when the first is left, or a wait there begins.
/// * `fuel_weight_h_per_t`: what a tonne of fuel is worth in hours when a setting is chosen.
///
/// # Returns
///
/// The points with hours and fuel; where the craft waits, two points at one place; where the power
/// setting changes, a point in between. Nothing when the chain leaves the grid, meets what never
/// opens, or the table or the weight is malformed.
#[must_use]
pub fn evaluate(
    table: &PaceTable,
    positions: &[Position],
    depart_hour: f64,
    fuel_weight_h_per_t: f64,
) -> Option<Vec<RoutePoint>> {
    let world = World::for_lines(table, fuel_weight_h_per_t, &Control::default()).ok()?;
    world.evaluate(positions, depart_hour)
}

impl World<'_> {
    /// As the function [`evaluate`], for many chains in one world.
    #[must_use]
    pub fn evaluate(&self, positions: &[Position], depart_hour: f64) -> Option<Vec<RoutePoint>> {
        if positions.len() < 2 || !depart_hour.is_finite() {
            return None;
        }
        let lines = self.lines(positions)?;
        self.points(positions, &lines, Entry::port(depart_hour), f64::INFINITY)
    }

    /// As [`World::evaluate`], as early as a limit on fuel allows: at the least weight of fuel that keeps
    /// it, within a hundredth or two. Nothing either where none keeps it.
    #[must_use]
    pub fn evaluate_within(
        &self,
        positions: &[Position],
        depart_hour: f64,
        limit_t: f64,
    ) -> Option<Vec<RoutePoint>> {
        let points = self.evaluate(positions, depart_hour)?;
        let is_thirsty =
            |points: &[RoutePoint]| points.last().is_none_or(|end| end.fuel_used_t > limit_t);
        if !is_thirsty(&points) {
            return Some(points);
        }
        let narrowed = narrow(0.01, |weight| -> Result<_, Infallible> {
            let points =
                self.weighing(weight).and_then(|world| world.evaluate(positions, depart_hour));
            Ok(match points {
                Some(points) if is_thirsty(&points) => Verdict::Thirsty(points),
                Some(points) => Verdict::Fits(points),
                None => Verdict::Late,
            })
        });
        let Ok(narrowed) = narrowed;
        narrowed?.fits
    }

    /// The geodesics between positions, cut at the cells.
    pub(crate) fn lines(&self, positions: &[Position]) -> Option<Vec<Line>> {
        positions
            .windows(2)
            .map(|pair| match pair {
                &[a, b] => self.line(a, b),
                _ => None,
            })
            .collect()
    }
}

/// Joins points to a route and measures it.
pub(crate) fn route_of(points: Vec<RoutePoint>, goal: usize) -> Route {
    let distance_km = points
        .windows(2)
        .map(|pair| match pair {
            [a, b] if a.position != b.position => {
                dipward_geodesy::distance_km(a.position, b.position)
            }
            _ => 0.0,
        })
        .sum();
    Route { points, goal, distance_km }
}
