//! Bounds on the ways of approaches, for when it is known which are kept.
//!
//! The ways from a port to the pole itself are bounded as they are sought, one departure at a time. All others
//! are sought by the hundred and few of them are kept: each of these is asked for again with its bound.

use dipward_geodesy::Position;
use dipward_plugin::{
    Approach, Berth, Control, Error, Goal, PaceTable, Route, RouteProblem, RouteSet, Search,
    WayBound,
};

use crate::{homeward::found, outward::Sought, stages::Going, world::World};

/// A way of an approach, and the question that it answers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Claim {
    pub(crate) of: Part,
    pub(crate) question: Question,
    /// What the way takes.
    pub(crate) taken: Taken,
}

/// Which way of an approach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    /// The craft's way out.
    Out,
    /// The craft's way home.
    Home,
    /// The party's way over the ice to the pole.
    MarchOut,
    /// The party's way over the ice to its landing.
    MarchHome,
}

/// From where and when a way begins, and what is sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Question {
    pub(crate) start: Position,
    pub(crate) hour: f64,
    pub(crate) sought: Sought,
    pub(crate) to: To,
}

/// Where a way leads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum To {
    /// The craft to the mean pole.
    Pole,
    /// The craft to a berth.
    Berth(Berth),
    /// The craft to any port of return.
    Homes,
    /// The party of a last leg to the mean pole.
    PoleOverIce(usize),
    /// The party of a last leg to a place.
    PlaceOverIce(usize, Position),
}

/// Hours and tonnes of a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Taken {
    pub(crate) hours: f64,
    pub(crate) tonnes: f64,
}

impl Taken {
    pub(crate) fn by(route: &Route) -> Self {
        let first_hour = route.points.first().map_or(0.0, |point| point.hour);
        Self { hours: route.arrive_hour() - first_hour, tonnes: route.fuel_t() }
    }

    /// How far it lies above the bound of what was sought, in percent; 0 where there is no bound.
    pub(crate) fn gap_percent(self, sought: Sought, (bound_h, bound_t): (f64, f64)) -> f64 {
        let (taken, bound) = match sought {
            Sought::Earliest => (self.hours, bound_h),
            Sought::LeastFuel => (self.tonnes, bound_t),
        };
        if bound > 0.0 { 100.0 * (taken / bound - 1.0).max(0.0) } else { 0.0 }
    }
}

/// Writes into approaches the bounds on the ways that they claim.
///
/// # Errors
///
/// What the search says, other than that there is no way.
pub(crate) fn prove(
    world: &World<'_>,
    approaches: &mut [(&mut Approach, &[Claim])],
    search: &dyn Search,
    control: &Control,
) -> Result<(), Error> {
    // Many approaches share a way home.
    let mut questions: Vec<Question> = Vec::new();
    for claim in approaches.iter().flat_map(|(_, claims)| *claims) {
        if !questions.contains(&claim.question) {
            questions.push(claim.question);
        }
    }
    control.begin("bounds", questions.len() as u64);
    let sets = ask(world, &questions, search, control)?;
    for (approach, claims) in approaches {
        for claim in *claims {
            let place = questions.iter().position(|question| *question == claim.question);
            if let Some(Some(set)) = place.and_then(|place| sets.get(place)) {
                note(approach, claim, set);
            }
        }
    }
    Ok(())
}

/// Asks questions with their bounds; nothing where there is no way.
fn ask(
    world: &World<'_>,
    questions: &[Question],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Option<RouteSet>>, Error> {
    let track = world.mean_track();
    let homes: Vec<Position> = world.homes().map(|harbour| harbour.position).collect();
    let limit_t = world.stores.capacity_t - world.stores.reserve_t;
    let mut problems = Vec::with_capacity(questions.len());
    for question in questions {
        let (table, goal, fuel_limit_t) = match &question.to {
            To::Pole => (Some(&world.table), Goal::Track(&track), Some(limit_t)),
            To::Berth(berth) => {
                (Some(&world.table), Goal::Berths(std::slice::from_ref(berth)), Some(limit_t))
            }
            To::Homes => (Some(&world.table), Goal::Places(&homes), None),
            To::PoleOverIce(leg) => (ground(world, *leg), Goal::Track(&track), None),
            To::PlaceOverIce(leg, place) => {
                (ground(world, *leg), Goal::Places(std::slice::from_ref(place)), None)
            }
        };
        let table = table.ok_or_else(|| Error::Contract {
            kind: "last leg".to_owned(),
            message: "no longer goes over the ice".to_owned(),
        })?;
        problems.push(RouteProblem {
            table,
            start: question.start,
            depart_hour: question.hour,
            goal,
            fuel_weight_h_per_t: question.sought.fuel_weight_h_per_t(),
            fuel_limit_t,
            latest_hour: world.window_hours,
            routes: 1,
            bounds: true,
        });
    }
    let answers = search.routes_of_all(&problems, control).into_iter();
    answers.map(|answer| Ok(found(answer)?.ok())).collect()
}

/// The pace of a last leg over the ice.
fn ground<'w>(world: &'w World<'_>, leg: usize) -> Option<&'w PaceTable> {
    match &world.legs.get(leg)?.going {
        Going::OverIce(ground) => Some(&ground.0),
        Going::Air(_) => None,
    }
}

fn note(approach: &mut Approach, claim: &Claim, set: &RouteSet) {
    let (lower_bound_h, lower_bound_t) = (set.lower_bound_h, set.lower_bound_t);
    if lower_bound_h <= 0.0 && lower_bound_t <= 0.0 {
        return;
    }
    let sought = claim.question.sought;
    let gap_percent = claim.taken.gap_percent(sought, (lower_bound_h, lower_bound_t));
    let bound = Some(WayBound { lower_bound_h, lower_bound_t, gap_percent });
    match claim.of {
        Part::Out => {
            approach.lower_bound_h = lower_bound_h;
            approach.lower_bound_t = lower_bound_t;
            approach.gap_percent = gap_percent;
        }
        Part::Home => approach.home_bound = bound,
        Part::MarchOut => {
            if let Some(leg) = &mut approach.last_leg {
                leg.out_bound = bound;
            }
        }
        Part::MarchHome => {
            if let Some(leg) = &mut approach.last_leg {
                leg.home_bound = bound;
            }
        }
    }
}
