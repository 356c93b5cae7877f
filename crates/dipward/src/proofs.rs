//! Bounds on the ways of approaches, for when it is known which are kept.
//!
//! The ways from a port to the pole itself are bounded as they are sought, one departure at a time. All others
//! are sought by the hundred and few of them are kept: each of these is asked for again with its bound.

use dipward_plugin::{Approach, Control, Error, Route, RouteSet, Search, WayBound};

use crate::{
    questions::{Question, Sought, ask},
    world::World,
};

/// A way of an approach, and the question that it answers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Claim {
    pub(crate) of: Part,
    pub(crate) question: Question,
    /// What the way takes.
    pub(crate) taken: Taken,
}

/// Which way of an approach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Part {
    /// The craft's way out.
    Out,
    /// The craft's way home.
    Home,
    /// The party's way over the ice to the pole, and the hours between the ship and the ice beside her, which
    /// no search asks for.
    MarchOut(f64),
    /// The party's way over the ice to its landing, and the hours from the ice beside the ship to her.
    MarchHome(f64),
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

    /// How far it lies above the bound of what was sought, in percent; nothing where there is no bound.
    pub(crate) fn gap_percent(
        self,
        sought: Sought,
        (bound_h, bound_t): (Option<f64>, Option<f64>),
    ) -> Option<f64> {
        let (taken, bound) = match sought {
            Sought::Earliest => (self.hours, bound_h),
            Sought::LeastFuel => (self.tonnes, bound_t),
        };
        bound.map(|bound| 100.0 * (taken / bound - 1.0).max(0.0))
    }
}

/// A bound that a search has proved: a search says 0 where it has none.
pub(crate) fn proved(bound: f64) -> Option<f64> {
    (bound > 0.0).then_some(bound)
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
    for question in &mut questions {
        question.bounds = true;
    }
    control.begin("bounds", questions.len() as u64);
    let answers = ask(world, &questions, search, control)?;
    for (approach, claims) in approaches {
        for claim in *claims {
            let asked = Question { bounds: true, ..claim.question };
            let place = questions.iter().position(|question| *question == asked);
            if let Some(Ok(set)) = place.and_then(|place| answers.get(place)) {
                note(approach, claim, set);
            }
        }
    }
    Ok(())
}

fn note(approach: &mut Approach, claim: &Claim, set: &RouteSet) {
    let beside_h = match claim.of {
        Part::MarchOut(hours) | Part::MarchHome(hours) => hours,
        Part::Out | Part::Home => 0.0,
    };
    let lower_bound_h = proved(set.lower_bound_h).map(|hours| hours + beside_h);
    let lower_bound_t = proved(set.lower_bound_t);
    if lower_bound_h.is_none() && lower_bound_t.is_none() {
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
        Part::MarchOut(_) => {
            if let Some(leg) = &mut approach.last_leg {
                leg.out_bound = bound;
            }
        }
        Part::MarchHome(_) => {
            if let Some(leg) = &mut approach.last_leg {
                leg.home_bound = bound;
            }
        }
    }
}
