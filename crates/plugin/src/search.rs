use std::fmt::{self, Debug};

use dipward_geodesy::{Grid, Position};
use serde::{Deserialize, Serialize};

use crate::{Control, Error};

/// What a craft's pace and burn are in every cell through time: the search's whole world.
///
/// `hours` are the frames, not decreasing. Between two frames pace and burn change linearly where
/// both are open; a cell that is closed at either end is closed in between. A step is two frames at
/// one hour, the state before and the state from then on. The first and last frames hold outside.
#[derive(Debug, Clone, PartialEq)]
pub struct PaceTable {
    /// The grid.
    pub grid: Grid,
    /// The frames' hours, at least one.
    pub hours: Vec<f64>,
    /// Number of power settings, the most powerful first.
    pub settings: usize,
    /// Number of heading sectors, 1 where heading does not matter.
    pub sectors: usize,
    /// h/km, shape `[setting][sector][frame][cell]`, infinite where closed.
    pub pace_h_per_km: Vec<f32>,
    /// t/h under way, shape as the pace.
    pub burn_t_per_h: Vec<f32>,
    /// t/h while waiting.
    pub hold_t_per_h: f64,
}

impl PaceTable {
    /// Where one setting, sector and frame begins in the arrays.
    #[must_use]
    pub fn offset(&self, setting: usize, sector: usize, frame: usize) -> usize {
        ((setting * self.sectors + sector) * self.hours.len() + frame) * self.grid.len()
    }

    /// Whether the arrays have the shape that the counts say and hold no NaN and no negative number.
    ///
    /// # Errors
    ///
    /// A sentence that says what is wrong.
    pub fn check(&self) -> Result<(), String> {
        let cells = self.settings * self.sectors * self.hours.len() * self.grid.len();
        if self.settings == 0 || self.sectors == 0 || self.hours.is_empty() {
            return Err("a pace table needs at least one setting, sector and frame".into());
        }
        if self.pace_h_per_km.len() != cells || self.burn_t_per_h.len() != cells {
            return Err(format!("a pace table of this shape has {cells} entries"));
        }
        if self.hours.iter().any(|hour| !hour.is_finite())
            || self.hours.windows(2).any(|pair| pair[1] < pair[0])
        {
            return Err("the frames' hours must be finite and must not decrease".into());
        }
        if self.pace_h_per_km.iter().any(|&pace| pace.is_nan() || pace <= 0.0) {
            return Err("a pace must be above zero (infinite where closed)".into());
        }
        if self.burn_t_per_h.iter().any(|&burn| !burn.is_finite() || burn < 0.0) {
            return Err("a burn must be finite and not negative".into());
        }
        Ok(())
    }
}

/// Where a route must end.
#[derive(Debug, Clone, Copy)]
pub enum Goal<'a> {
    /// Where and when the target is, hours increasing, linear in between along the geodesic; the
    /// route ends at the earliest meeting.
    Track(&'a [(f64, Position)]),
    /// Any one of these places.
    Places(&'a [Position]),
    /// Any one of these berths, each while it is open: that by which the whole comes cheapest, the
    /// way on from the berth included.
    Berths(&'a [Berth]),
}

/// A place where a craft may end its route for a time, and what it takes from there on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Berth {
    /// Where.
    pub position: Position,
    /// The first hour at which the craft may lie there; it waits for it.
    pub from_hour: f64,
    /// The last hour at which it may come to lie there.
    pub until_hour: f64,
    /// Hours that the way on from the berth takes: counted with those of the route.
    pub onward_h: f64,
    /// Fuel of the craft that the way on from the berth takes, t: counted with that of the route.
    pub onward_t: f64,
}

/// One question to a search.
#[derive(Debug, Clone, Copy)]
pub struct RouteProblem<'a> {
    /// The world.
    pub table: &'a PaceTable,
    /// Where the route begins.
    pub start: Position,
    /// When it may begin.
    pub depart_hour: f64,
    /// Where it must end.
    pub goal: Goal<'a>,
    /// What a tonne of fuel is worth in hours. 0 asks for the earliest arrival; infinite for the
    /// least fuel.
    pub fuel_weight_h_per_t: f64,
    /// The fuel that the route may burn, if limited.
    pub fuel_limit_t: Option<f64>,
    /// The hour by which the route must end.
    pub latest_hour: f64,
    /// How many distinct routes are wanted, at least 1.
    pub routes: usize,
    /// Whether lower bounds are wanted, of what the weight counts: of the hours unless fuel alone
    /// counts, of the tonnes unless hours alone do. They can cost as much as several searches; what is
    /// not bounded is given as 0, which always holds. For berths they bound the route, without the way on.
    pub bounds: bool,
}

/// One point of a route.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoutePoint {
    /// Where.
    pub position: Position,
    /// When the craft is there. Two points at one place are a wait.
    pub hour: f64,
    /// Fuel burnt since the start.
    pub fuel_used_t: f64,
    /// The power setting of the leg that leads on from here.
    pub setting: usize,
}

/// A route from start to goal, evaluated along the geodesics between its points.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// At least two points.
    pub points: Vec<RoutePoint>,
    /// Which of [`Goal::Places`] or [`Goal::Berths`] it reaches; 0 for a track.
    pub goal: usize,
    /// Length along the geodesics.
    pub distance_km: f64,
}

impl Route {
    /// The hour of the last point, or NaN for a route without points.
    #[must_use]
    pub fn arrive_hour(&self) -> f64 {
        self.points.last().map_or(f64::NAN, |point| point.hour)
    }

    /// Fuel burnt from start to goal, or NaN for a route without points.
    #[must_use]
    pub fn fuel_t(&self) -> f64 {
        self.points.last().map_or(f64::NAN, |point| point.fuel_used_t)
    }
}

/// A search's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteSet {
    /// The best route first, then distinct alternatives.
    pub routes: Vec<Route>,
    /// No route from start to goal that keeps the limits takes fewer hours than this; 0 where there is
    /// no bound.
    pub lower_bound_h: f64,
    /// No route from start to goal that keeps the limits burns less than this; 0 where there is no
    /// bound.
    pub lower_bound_t: f64,
}

/// Why there is no route.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NoRoute {
    /// The start lies off the grid.
    StartOutside,
    /// The start's cell is closed and stays so.
    StartClosed,
    /// No goal lies on the grid at an open cell.
    GoalClosed,
    /// The goal is cut off from the start.
    Enclosed,
    /// The target recedes faster than the craft follows.
    Outrun,
    /// The goal can be reached, but not by the latest hour.
    TooLate,
    /// The goal can be reached, but not on the fuel allowed.
    TooMuchFuel,
    /// The goal can be reached, but by waiting where the chart closes over the craft.
    ShutIn,
}

impl fmt::Display for NoRoute {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::StartOutside => "the start lies outside the chart",
            Self::StartClosed => "the start is closed to the craft",
            Self::GoalClosed => "the goal is closed to the craft",
            Self::Enclosed => "no open way leads from the start to the goal",
            Self::Outrun => "the target recedes faster than the craft can follow",
            Self::TooLate => "the goal cannot be reached before the window ends",
            Self::TooMuchFuel => "the goal cannot be reached on the fuel allowed",
            Self::ShutIn => "every way waits where the chart closes over the craft",
        })
    }
}

/// What kept a search from an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum RouteFailure {
    /// There is none, and this is why.
    NoRoute(NoRoute),
    /// The search itself failed.
    Error(Error),
}

impl From<Error> for RouteFailure {
    fn from(error: Error) -> Self {
        Self::Error(error)
    }
}

impl fmt::Display for RouteFailure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoRoute(reason) => fmt::Display::fmt(reason, f),
            Self::Error(error) => fmt::Display::fmt(error, f),
        }
    }
}

impl std::error::Error for RouteFailure {}

/// Answers with routes for a problem, with bounds. YAML slot `search`.
pub trait Search: Debug + Send + Sync {
    /// Solves one problem.
    ///
    /// # Errors
    ///
    /// [`RouteFailure::NoRoute`] with the reason when there is none; [`RouteFailure::Error`] when the
    /// problem is malformed or the run is cancelled.
    fn routes(
        &self,
        problem: &RouteProblem<'_>,
        control: &Control,
    ) -> Result<RouteSet, RouteFailure>;

    /// Solves many problems over one table. The default asks for each in turn; a search that can
    /// share work or run them in parallel overrides it. Answers stand in the order of the problems.
    fn routes_of_all(
        &self,
        problems: &[RouteProblem<'_>],
        control: &Control,
    ) -> Vec<Result<RouteSet, RouteFailure>> {
        problems.iter().map(|problem| self.routes(problem, control)).collect()
    }
}
