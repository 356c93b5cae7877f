//! What a voyage asks the search, and what it makes of the answers.

use dipward_geodesy::Position;
use dipward_plugin::{
    Berth, Control, Error, Goal, NoRoute, PaceTable, Route, RouteFailure, RouteProblem, RouteSet,
    Search,
};

use crate::{stages::Going, world::World};

/// What a way is sought for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sought {
    /// The earliest arrival.
    Earliest,
    /// The least fuel.
    LeastFuel,
}

impl Sought {
    /// What a tonne of fuel is worth for it.
    fn fuel_weight_h_per_t(self) -> f64 {
        match self {
            Self::Earliest => 0.0,
            Self::LeastFuel => f64::INFINITY,
        }
    }
}

/// From where and when a way begins, where it leads, and what is sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Question {
    pub(crate) start: Position,
    pub(crate) hour: f64,
    pub(crate) sought: Sought,
    pub(crate) to: To,
    /// The best and distinct alternatives to it.
    pub(crate) routes: usize,
    /// Whether lower bounds are wanted, which cost as much as several searches.
    pub(crate) bounds: bool,
}

/// Where a way leads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum To {
    /// The craft to the mean pole.
    Pole,
    /// The craft to the berths of a last leg, at a share of its reach.
    Landings(usize, usize),
    /// The craft to a berth.
    Berth(Berth),
    /// The craft to any port of return.
    Homes,
    /// The craft to one of [`World::homes`], by its number.
    Home(usize),
    /// The craft to any of [`World::safe_places`].
    Refuges,
    /// The craft to a place.
    Place(Position),
    /// The party of a last leg to the mean pole.
    PoleOverIce(usize),
    /// The party of a last leg to a place.
    PlaceOverIce(usize, Position),
}

impl To {
    /// The craft to one port of return, by its number, or to any.
    pub(crate) fn home(return_to: Option<usize>) -> Self {
        return_to.map_or(Self::Homes, Self::Home)
    }

    /// Whether the fuel of the way is limited as the search goes, or reckoned after it: home and to a
    /// refuge a craft sails on what it has left, and a party's fuel follows the law of the march.
    fn is_limited(&self) -> bool {
        matches!(self, Self::Pole | Self::Landings(..) | Self::Berth(_))
    }
}

impl Question {
    /// For one way without its bounds.
    pub(crate) fn new((hour, start): (f64, Position), sought: Sought, to: To) -> Self {
        Self { start, hour, sought, to, routes: 1, bounds: false }
    }

    /// For the earliest arrival alone.
    pub(crate) fn soonest(from: (f64, Position), to: To) -> Self {
        Self::new(from, Sought::Earliest, to)
    }
}

/// Asks questions; answers them in their order.
///
/// # Errors
///
/// What the search says, other than that there is no way; [`Error::Contract`] where it leaves questions
/// unanswered, or a last leg is asked for that there is not.
pub(crate) fn ask(
    world: &World<'_>,
    questions: &[Question],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Result<RouteSet, NoRoute>>, Error> {
    let goals = Goals::of(world);
    let limit_t = world.stores.capacity_t - world.stores.reserve_t;
    let mut problems = Vec::with_capacity(questions.len());
    for question in questions {
        let (table, goal) = goals.of_question(world, question).ok_or_else(|| Error::Contract {
            kind: "last leg".to_owned(),
            message: "or a port of return is not there, or does not go over the ice".to_owned(),
        })?;
        problems.push(RouteProblem {
            table,
            start: question.start,
            depart_hour: question.hour,
            goal,
            fuel_weight_h_per_t: question.sought.fuel_weight_h_per_t(),
            fuel_limit_t: question.to.is_limited().then_some(limit_t),
            latest_hour: world.window_hours,
            routes: question.routes,
            bounds: question.bounds,
        });
    }
    let answers = search.routes_of_all(&problems, control);
    if answers.len() != problems.len() {
        let message = format!("answers {} of {} problems", answers.len(), problems.len());
        return Err(Error::Contract { kind: "search".to_owned(), message });
    }
    let read = |(answer, problem): (_, &RouteProblem<'_>)| match answer {
        Ok(set) => Ok(not_shut_in(world, problem.table, set)),
        Err(RouteFailure::NoRoute(reason)) => Ok(Err(reason)),
        Err(RouteFailure::Error(error)) => Err(error),
    };
    answers.into_iter().zip(&problems).map(read).collect()
}

/// The routes of an answer that wait nowhere where the chart closes over the craft meanwhile. In port they may:
/// there she waits for the ice to open. At sea they may not, wherever they begin.
fn not_shut_in(
    world: &World<'_>,
    table: &PaceTable,
    mut set: RouteSet,
) -> Result<RouteSet, NoRoute> {
    let found = !set.routes.is_empty();
    set.routes.retain(|route| shut_in(world, table, route).is_none());
    if found && set.routes.is_empty() { Err(NoRoute::ShutIn) } else { Ok(set) }
}

/// Where a route first waits at sea while the chart closes over the craft; nothing where it does not.
pub(crate) fn shut_in(world: &World<'_>, table: &PaceTable, route: &Route) -> Option<Position> {
    let in_port =
        |place: Position| world.harbours.iter().any(|port| port.shelter && port.position == place);
    let waits = route.points.windows(2).filter_map(|pair| {
        let (from, to) = (&pair[0], &pair[1]);
        (from.position == to.position && !in_port(from.position)).then_some((from, to.hour))
    });
    waits
        .filter(|(from, until)| closes_over(table, from.position, from.hour, *until).is_some())
        .map(|(from, _)| from.position)
        .next()
}

/// When the chart first closes over a craft that lies at a place from one hour to another; nothing where it
/// does not.
pub(crate) fn closes_over(
    table: &PaceTable,
    place: Position,
    from_hour: f64,
    until_hour: f64,
) -> Option<f64> {
    let frames = &table.hours;
    let cell = table.grid.cell_at(place);
    let open = |frame: usize| {
        let at = cell.map(|cell| table.offset(0, 0, frame) + cell as usize);
        at.and_then(|at| table.pace_h_per_km.get(at)).is_some_and(|pace| pace.is_finite())
    };
    let first = frames.partition_point(|&frame| frame <= from_hour).saturating_sub(1);
    // Between two frames a cell is open where it is open at both.
    (first..frames.len())
        .take_while(|&frame| frame == first || frames[frame] < until_hour)
        .find(|&frame| {
            let next = frames.get(frame + 1).is_some_and(|&next| next > frames[frame]);
            !open(frame) || next && !open(frame + 1)
        })
        .map(|frame| frames[frame].max(from_hour))
}

/// The first way of an answer, or why there is none.
pub(crate) fn first_way(answer: Result<RouteSet, NoRoute>) -> Result<Route, NoRoute> {
    answer.and_then(|set| set.routes.into_iter().next().ok_or(NoRoute::Enclosed))
}

/// What many questions lead to.
struct Goals {
    track: Vec<(f64, Position)>,
    homes: Vec<Position>,
    refuges: Vec<Position>,
}

impl Goals {
    fn of(world: &World<'_>) -> Self {
        Self {
            track: world.mean_track(),
            homes: world.homes().map(|harbour| harbour.position).collect(),
            refuges: world.safe_places().map(|(_, place)| place).collect(),
        }
    }

    /// The paces to sail or to march by, and the goal.
    fn of_question<'a>(
        &'a self,
        world: &'a World<'_>,
        question: &'a Question,
    ) -> Option<(&'a PaceTable, Goal<'a>)> {
        let one = std::slice::from_ref;
        let craft = &world.table;
        Some(match &question.to {
            To::Pole => (craft, Goal::Track(&self.track)),
            To::Landings(leg, share) => {
                (craft, Goal::Berths(&world.legs.get(*leg)?.landings.get(*share)?.berths))
            }
            To::Berth(berth) => (craft, Goal::Berths(std::slice::from_ref(berth))),
            To::Homes => (craft, Goal::Places(&self.homes)),
            To::Home(number) => (craft, Goal::Places(one(self.homes.get(*number)?))),
            To::Refuges => (craft, Goal::Places(&self.refuges)),
            To::Place(place) => (craft, Goal::Places(one(place))),
            To::PoleOverIce(leg) => (ground(world, *leg)?, Goal::Track(&self.track)),
            To::PlaceOverIce(leg, place) => (ground(world, *leg)?, Goal::Places(one(place))),
        })
    }
}

/// The pace of a last leg over the ice.
fn ground<'w>(world: &'w World<'_>, leg: usize) -> Option<&'w PaceTable> {
    match &world.legs.get(leg)?.going {
        Going::OverIce(ground) => Some(&ground.0),
        Going::Air(_) => None,
    }
}
