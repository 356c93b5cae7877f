//! When the routes that a bound is about can be in a cell.

use dipward_geodesy::Position;
use dipward_plugin::Goal;
use geo::Coord;

use crate::{floor::Floor, world::World};

/// Half the diagonal of a cell, in cell widths, with a hair for rounding.
const HALF_DIAGONAL: f64 = 0.708;

/// The hours between which the routes in question are under way, and how near to start and goal they
/// must be at each: nothing is faster than the least pace of all.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Window {
    /// Columns of the grid.
    columns: usize,
    depart_hour: f64,
    /// When they end at the latest.
    latest_hour: f64,
    /// The hours that are looked at.
    during: (f64, f64),
    /// The start, in cell widths.
    start: Coord<f64>,
    /// A circle about the whole goal, in cell widths.
    goal: Coord<f64>,
    radius: f64,
    /// Before this no berth is open.
    opens_hour: f64,
    /// The least hours of a cell width.
    least_h: f64,
    /// Hours from the departure before and after which no route in question is in a cell; empty where that
    /// is not known.
    not_before: Vec<f64>,
    not_after: Vec<f64>,
}

impl Window {
    /// The window of all routes from a start to a goal.
    pub(crate) fn new(
        world: &World<'_>,
        floor: &Floor<'_>,
        start: Position,
        goal: Goal<'_>,
        (depart_hour, latest_hour): (f64, f64),
    ) -> Self {
        let places: Vec<Coord<f64>> = match goal {
            Goal::Places(places) => places.iter().map(|&place| world.to_cells(place)).collect(),
            Goal::Berths(berths) => {
                berths.iter().map(|berth| world.to_cells(berth.position)).collect()
            }
            Goal::Track(track) => track.iter().map(|stop| world.to_cells(stop.1)).collect(),
        };
        let count = places.len().max(1) as f64;
        let sum = places.iter().fold(Coord { x: 0.0, y: 0.0 }, |sum, &place| sum + place);
        let middle = sum / count;
        // A geodesic between two stops strays from the chord on the map by less than the chord.
        let stray = places.windows(2).map(|pair| length(pair[1] - pair[0])).fold(0.0, f64::max);
        let radius = places.iter().map(|&place| length(place - middle)).fold(0.0, f64::max) + stray;
        let opens_hour = match goal {
            Goal::Berths(berths) => {
                berths.iter().map(|berth| berth.from_hour).fold(f64::INFINITY, f64::min)
            }
            Goal::Places(_) | Goal::Track(_) => depart_hour,
        };
        let least_h = f64::from(floor.hours.least_of_all());
        Self {
            columns: world.padding.columns,
            depart_hour,
            latest_hour,
            during: (f64::NEG_INFINITY, f64::INFINITY),
            start: world.to_cells(start),
            goal: middle,
            radius,
            opens_hour,
            least_h: if least_h.is_finite() { least_h } else { 0.0 },
            not_before: Vec::new(),
            not_after: Vec::new(),
        }
    }

    /// The same with another end.
    pub(crate) fn until(&self, latest_hour: f64) -> Self {
        Self { latest_hour, ..self.clone() }
    }

    /// The same between two hours alone.
    pub(crate) fn during(&self, from_hour: f64, until_hour: f64) -> Self {
        Self { during: (from_hour, until_hour), ..self.clone() }
    }

    /// Takes in that no route in question is in a cell before some hours from the departure.
    pub(crate) fn not_before(&mut self, hours: impl IntoIterator<Item = f64>) {
        merge(&mut self.not_before, hours, f64::max);
    }

    /// Takes in that no route in question is in a cell after some hours from the departure.
    pub(crate) fn not_after(&mut self, hours: impl IntoIterator<Item = f64>) {
        merge(&mut self.not_after, hours, f64::min);
    }

    /// Takes in that no route in question is in a cell where what it costs to there and from there, at the
    /// least, is more than all that it may cost.
    pub(crate) fn within(&mut self, to: &[f64], from: &[f64], most: f64) {
        let costs = to.iter().zip(from).map(|(to, from)| to + from);
        self.not_before(costs.map(|cost| {
            if cost > most * (1.0 + f64::from(f32::EPSILON)) { f64::INFINITY } else { 0.0 }
        }));
    }

    /// The first and the last hour at which a route can be in a cell of the grid, if ever.
    pub(crate) fn hours_in(&self, cell: usize) -> Option<(f64, f64)> {
        let (column, row) = (cell % self.columns, cell / self.columns);
        let place = Coord { x: column as f64, y: row as f64 };
        let on_h = self.hours_for(length(place - self.goal) - self.radius);
        let not_before = self.not_before.get(cell).copied().unwrap_or(0.0);
        let not_after = self.not_after.get(cell).copied().unwrap_or(f64::INFINITY);
        let out_h = self.hours_for(length(place - self.start)).max(not_before);
        let from = (self.depart_hour + out_h).max(self.during.0);
        let until = (self.latest_hour - on_h).min(self.depart_hour + not_after).min(self.during.1);
        (from <= until).then_some((from, until))
    }

    /// When all routes begin.
    pub(crate) fn depart_hour(&self) -> f64 {
        self.depart_hour
    }

    /// No route ends before this.
    pub(crate) fn first_hour(&self) -> f64 {
        let way_h = self.hours_for(length(self.goal - self.start) - self.radius);
        (self.depart_hour + way_h).max(self.opens_hour)
    }

    fn hours_for(&self, cells: f64) -> f64 {
        (cells - HALF_DIAGONAL).max(0.0) * self.least_h
    }
}

fn merge(
    known: &mut Vec<f64>,
    hours: impl IntoIterator<Item = f64>,
    sharper: impl Fn(f64, f64) -> f64,
) {
    if known.is_empty() {
        known.extend(hours);
    } else {
        known.iter_mut().zip(hours).for_each(|(known, hours)| *known = sharper(*known, hours));
    }
}

fn length(run: Coord<f64>) -> f64 {
    // On a map nothing overflows.
    (run.x * run.x + run.y * run.y).sqrt()
}
