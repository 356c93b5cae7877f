//! One problem in one world: search, trace, smooth, meet.

use dipward_geodesy::{Cell, Position};
use dipward_plugin::{
    Control, Error, Goal, NoRoute, Route, RouteFailure, RoutePoint, RouteProblem,
};

use crate::{
    course::{Entry, route_of},
    field::{Field, Next, Quest, search},
    smooth::{Course, smooth},
    stencil::Headings,
    target::{Stay, Target, place_at},
    world::World,
};

/// A problem that was found well formed, and where it begins.
#[derive(Debug)]
pub(crate) struct Question<'p> {
    pub(crate) problem: RouteProblem<'p>,
    pub(crate) start: Cell,
    pub(crate) target: Target,
    pub(crate) headings: Headings,
}

/// Where the search met the goal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Meeting {
    pub(crate) cost: f32,
    pub(crate) state: u32,
    pub(crate) hour: f64,
    pub(crate) goal: usize,
}

/// A route and its cost in the world that it was found in.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub(crate) route: Route,
    pub(crate) course: Course,
    pub(crate) cost: f64,
}

impl<'p> Question<'p> {
    /// Checks a problem and places it on the grid.
    pub(crate) fn new(
        world: &World<'_>,
        problem: &RouteProblem<'p>,
        headings: Headings,
    ) -> Result<Self, RouteFailure> {
        check(problem)?;
        let none = |reason| Err(RouteFailure::NoRoute(reason));
        let Some(start) = world.table.grid.cell_at(problem.start) else {
            return none(NoRoute::StartOutside);
        };
        let padded = world.padding.padded(start) as u32;
        if world.openings.spans(padded).iter().all(|span| span.end_hour <= problem.depart_hour) {
            return none(NoRoute::StartClosed);
        }
        let target = Target::new(world, &problem.goal, problem.depart_hour);
        if target.is_empty() {
            return none(NoRoute::GoalClosed);
        }
        Ok(Self { problem: *problem, start, target, headings })
    }

    /// The latest hour that the search may use: a grid route is longer than what it is smoothed to,
    /// so that the limit itself is held against the smoothed route.
    fn slack_latest(&self) -> f64 {
        let hours = self.problem.latest_hour - self.problem.depart_hour;
        self.problem.depart_hour + hours * self.headings.elongation()
    }

    /// Searches in a world, which may weigh fuel otherwise than the problem.
    pub(crate) fn meet(
        &self,
        world: &World<'_>,
        penalty: Option<&[f32]>,
        control: &Control,
    ) -> Result<Option<(Field, Meeting)>, Error> {
        let latest_hour = self.slack_latest();
        let quest = Quest {
            headings: self.headings,
            start: self.start,
            others: &[],
            depart_hour: self.problem.depart_hour,
            latest_hour,
            penalty,
            watched: Some(&self.target.watched),
            traced: true,
        };
        let hold = world.cost_of(1.0, world.table.hold_t_per_h);
        let mut best: Option<Meeting> = None;
        let field = search(world, &quest, control, |state, cost, hours| {
            let hour = self.problem.depart_hour + f64::from(hours);
            for (meet_hour, stay) in self.meetings(world, state, hour) {
                if meet_hour > latest_hour {
                    continue;
                }
                let cost = cost + (hold * (meet_hour - hour)) as f32 + stay.onward;
                if best.is_none_or(|best| cost < best.cost) {
                    best = Some(Meeting { cost, state, hour: meet_hour, goal: stay.goal });
                }
            }
            best.map_or(Next::Continue, |best| Next::Bound(best.cost.to_bits()))
        })?;
        Ok(best.map(|meeting| (field, meeting)))
    }

    /// How long a craft may lie in a state: at its port whatever becomes of the cell.
    pub(crate) fn until_hour(&self, world: &World<'_>, state: u32) -> f64 {
        if state as usize == world.padding.padded(self.start) {
            f64::INFINITY
        } else {
            world.openings.end_hour(state)
        }
    }

    /// The meetings with the goal in a state that is come to at an hour: when, and in which of its stays.
    pub(crate) fn meetings(
        &self,
        world: &World<'_>,
        state: u32,
        hour: f64,
    ) -> impl Iterator<Item = (f64, &Stay)> {
        let until_hour = self.until_hour(world, state);
        self.target.stays_in(world.openings.cell_of(state)).iter().filter_map(move |stay| {
            let meet_hour = hour.max(stay.enter_hour);
            (meet_hour <= stay.leave_hour && meet_hour < until_hour).then_some((meet_hour, stay))
        })
    }

    /// The route to a meeting, off the grid, exactly sailed.
    pub(crate) fn route(
        &self,
        world: &World<'_>,
        field: &Field,
        meeting: Meeting,
        smoothing: bool,
    ) -> Option<Found> {
        let cells = field.trace(world, meeting.state);
        let course = self.course(world, &cells, (meeting.goal, meeting.hour))?;
        let polished = |course: &Course| {
            if smoothing { smooth(world, course.clone(), self.entry()) } else { course.clone() }
        };
        let track = match self.problem.goal {
            Goal::Places(_) => {
                return self.finish(world, polished(&course), meeting.goal, None);
            }
            Goal::Berths(_) => return self.berth(world, polished(&course), meeting),
            Goal::Track(track) => track,
        };
        // A smoother course can come to its last stretch while that is closed.
        let intercepted = |course| self.intercept(world, track, course, self.entry(), meeting.hour);
        let (course, hour) =
            intercepted(polished(&course)).or_else(|| intercepted(course.clone()))?;
        let (course, hour) = intercepted(polished(&course)).unwrap_or((course, hour));
        self.finish(world, course, 0, Some(hour))
    }

    pub(crate) fn entry(&self) -> Entry {
        Entry::port(self.problem.depart_hour)
    }

    /// Whether two of the places or berths are in one place.
    pub(crate) fn same_place(&self, one: usize, other: usize) -> bool {
        let place = |goal| self.goal_place(goal, self.problem.depart_hour);
        place(one) == place(other)
    }

    /// Whether a course to the goal may be sailed at another pace than it was found: what is sailed faster or
    /// slower may come to a berth before it is open, or after.
    pub(crate) fn may_change_pace(&self) -> bool {
        !matches!(self.problem.goal, Goal::Berths(_))
    }

    /// Where the goal is at an hour: one of the places, or the place on the track.
    fn goal_place(&self, goal: usize, hour: f64) -> Option<Position> {
        match self.problem.goal {
            Goal::Places(places) => places.get(goal).copied(),
            Goal::Berths(berths) => berths.get(goal).map(|berth| berth.position),
            Goal::Track(track) => place_at(track, hour),
        }
    }

    /// The course over cells to where the goal is at an hour.
    pub(crate) fn course(
        &self,
        world: &World<'_>,
        cells: &[Cell],
        (goal, hour): (usize, f64),
    ) -> Option<Course> {
        let end = self.goal_place(goal, hour)?;
        let centres: Vec<Position> =
            cells.iter().filter_map(|&cell| world.table.grid.centre(cell)).collect();
        self.join(world, &centres, end)
    }

    /// Start, centres and end as a course. The first and last centres are left out where the course
    /// can be sailed without them.
    fn join(&self, world: &World<'_>, centres: &[Position], end: Position) -> Option<Course> {
        let last = centres.len();
        let inner = |from: usize, to: usize| centres.get(from..to).unwrap_or_default();
        [
            inner(1, last.saturating_sub(1)),
            inner(1, last),
            inner(0, last.saturating_sub(1)),
            centres,
        ]
        .into_iter()
        .filter_map(|between| {
            let mut stops = Vec::with_capacity(between.len() + 2);
            stops.push(self.problem.start);
            stops.extend(between);
            stops.push(end);
            let course = Course::new(world, stops)?;
            course.end(world, self.entry())?;
            Some(course)
        })
        .next()
    }

    /// Moves the end of a course along a track to the earliest meeting.
    ///
    /// With all stops but the last as they are, the earliest hour h at which the target's place can be
    /// reached by h is found by bisection.
    pub(crate) fn intercept(
        &self,
        world: &World<'_>,
        track: &[(f64, Position)],
        mut course: Course,
        entry: Entry,
        near_hour: f64,
    ) -> Option<(Course, f64)> {
        let last = course.stops.len().checked_sub(1)?;
        let before = course.stops.get(..last)?;
        let rows = world.sail_chain(before, course.lines.get(..last - 1)?, entry, f64::INFINITY)?;
        let stop = world.best_end(&rows)?;
        let entry = Entry { at_port: entry.at_port && last == 1, ..Entry::after(stop) };
        let from = *before.last()?;
        let try_at = |hour: f64| {
            let place = place_at(track, hour)?;
            let line = world.line(from, place)?;
            let rows =
                world.sail_chain(&[from, place], std::slice::from_ref(&line), entry, hour)?;
            Some((place, line, world.best_end(&rows)?))
        };
        let met = |hour: f64| try_at(hour).is_some();

        let begin = entry.hour.max(track.first()?.0);
        let end = track.last()?.0;
        // An hour at which the craft is in time.
        let mut late = begin.min(end);
        let mut in_time = near_hour.clamp(late, end);
        let mut step = (0.02 * (near_hour - begin)).max(0.25);
        while !met(in_time) {
            if in_time >= end {
                return None;
            }
            late = in_time;
            in_time = (in_time + step).min(end);
            step *= 2.0;
        }
        if met(late) {
            in_time = late;
        }
        for _ in 0..60 {
            let middle = f64::midpoint(late, in_time);
            if in_time - late < 1e-7 {
                break;
            }
            if met(middle) {
                in_time = middle;
            } else {
                late = middle;
            }
        }
        // Where fuel counts, lying in wait can be better than going to meet the target.
        let cost_at = |hour: f64| {
            try_at(hour).map_or(f64::INFINITY, |(_, _, stop)| {
                let waited_h = (hour - stop.hour).max(0.0);
                world.cost_of(hour, stop.fuel_t + waited_h * world.table.hold_t_per_h)
            })
        };
        let later = near_hour.min(end);
        let hour =
            if !world.weight.is_time() && later > in_time && cost_at(later) < cost_at(in_time) {
                later
            } else {
                in_time
            };
        let (place, line, _) = try_at(hour)?;
        *course.stops.last_mut()? = place;
        *course.lines.last_mut()? = line;
        Some((course, hour))
    }

    /// Sails a course to its berth. Off the grid the craft may be there so much earlier that the place
    /// is open to it once more before the stay that was met.
    fn berth(&self, world: &World<'_>, course: Course, meeting: Meeting) -> Option<Found> {
        let hour = course.end(world, self.entry())?.hour;
        let stays = self.target.stays_in(world.openings.cell_of(meeting.state));
        let met = |stay: &&Stay| stay.goal == meeting.goal || stay.leave_hour <= meeting.hour;
        let in_time = stays.iter().filter(met).filter(|stay| hour <= stay.leave_hour);
        let stay = in_time.min_by(|a, b| a.enter_hour.total_cmp(&b.enter_hour))?;
        let found = self.finish(world, course, stay.goal, Some(hour.max(stay.enter_hour)))?;
        Some(Found { cost: found.cost + f64::from(stay.onward), ..found })
    }

    /// Sails a course to a route; with a meeting hour, lies in wait until then.
    fn finish(
        &self,
        world: &World<'_>,
        course: Course,
        goal: usize,
        meet_hour: Option<f64>,
    ) -> Option<Found> {
        let latest_hour = meet_hour.unwrap_or(f64::INFINITY);
        let mut points = world.points(&course.stops, &course.lines, self.entry(), latest_hour)?;
        lie_in_wait(world, &mut points, meet_hour);
        self.found(world, points, course, goal)
    }

    pub(crate) fn found(
        &self,
        world: &World<'_>,
        points: Vec<RoutePoint>,
        course: Course,
        goal: usize,
    ) -> Option<Found> {
        let end = points.last()?;
        let cost = world.cost_of(end.hour - self.problem.depart_hour, end.fuel_used_t);
        Some(Found { route: route_of(points, goal), course, cost })
    }

    /// Why there is no route by the latest hour, from a search without that limit.
    pub(crate) fn reason(&self, world: &World<'_>, control: &Control) -> Result<NoRoute, Error> {
        let quest = Quest {
            headings: self.headings,
            start: self.start,
            others: &[],
            depart_hour: self.problem.depart_hour,
            latest_hour: f64::INFINITY,
            penalty: None,
            watched: None,
            traced: false,
        };
        let field = search(world, &quest, control, |_, _, _| Next::Continue)?;
        // By how much the craft is too late for each stay, in the order of the track.
        let mut lags: Vec<(f64, f64)> = self
            .target
            .stays()
            .iter()
            .filter_map(|stay| {
                let cell = world.padding.cell_at(stay.cell as usize)?;
                let hour = field.hour_at(world, cell)?;
                Some((stay.enter_hour, hour - stay.enter_hour))
            })
            .collect();
        lags.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (Some(first), Some(last)) = (lags.first(), lags.last()) else {
            return Ok(NoRoute::Enclosed);
        };
        // A target that the craft draws nearer to would be met in the end; one that draws away, or
        // holds its distance, would not.
        let moves = matches!(self.problem.goal, Goal::Track(track) if track.len() > 1);
        if moves && last.0 > first.0 && last.1 >= first.1 {
            return Ok(NoRoute::Outrun);
        }
        Ok(NoRoute::TooLate)
    }
}

/// Lies at the end of a route until an hour, if there is one.
pub(crate) fn lie_in_wait(world: &World<'_>, points: &mut Vec<RoutePoint>, until: Option<f64>) {
    if let (Some(until), Some(&last)) = (until, points.last())
        && until - last.hour > 1e-6
    {
        let waited_t = (until - last.hour) * world.table.hold_t_per_h;
        let fuel_used_t = last.fuel_used_t + waited_t;
        points.push(RoutePoint { hour: until, fuel_used_t, ..last });
    }
}

/// Whether a problem's numbers make sense.
fn check(problem: &RouteProblem<'_>) -> Result<(), Error> {
    let unsolved = |message: &str| Err(Error::Unsolved(message.into()));
    if !problem.depart_hour.is_finite() || problem.latest_hour.is_nan() {
        return unsolved("a route needs a finite hour of departure and a latest hour");
    }
    if problem.fuel_weight_h_per_t.is_nan() || problem.fuel_weight_h_per_t < 0.0 {
        return unsolved("the weight of fuel must not be negative");
    }
    if problem.fuel_limit_t.is_some_and(|limit| limit.is_nan() || limit < 0.0) {
        return unsolved("the fuel allowed must not be negative");
    }
    if problem.routes == 0 {
        return unsolved("at least one route must be asked for");
    }
    if let Goal::Berths(berths) = problem.goal
        && !berths.iter().all(|berth| berth.onward_h >= 0.0 && berth.onward_t >= 0.0)
    {
        return unsolved("the way on from a berth must not take less than nothing");
    }
    if let Goal::Track(track) = problem.goal {
        let ordered = track.windows(2).all(|pair| match pair {
            [a, b] => a.0 < b.0,
            _ => true,
        });
        if !ordered || track.iter().any(|(hour, _)| !hour.is_finite()) {
            return unsolved("the hours of a track must be finite and increase");
        }
    }
    Ok(())
}
