//! What belongs to a ship's way to a landing: the party's ways, and the ways home from there.

use dipward_geodesy::Position;
use dipward_plugin::{Berth, Control, Error, Route, Search};

use super::Going;
use crate::{
    homeward::{Homeward, homeward_from},
    outward::{Outward, Way},
    questions::{Question, To, ask, first_way},
    world::World,
};

/// A ship at a landing.
#[derive(Debug, Clone)]
pub(crate) struct Landed {
    /// Which of [`World::legs`].
    pub(crate) leg: usize,
    /// Where the ship lies.
    pub(crate) berth: Berth,
    /// Where the party sets out.
    pub(crate) set_out: Position,
    /// The party's way over the ice to the pole; nothing where it flies.
    pub(crate) out: Option<Route>,
    /// The moments at which the ship may leave.
    pub(crate) returns: Vec<Return>,
    /// Why there is none, if there is none.
    pub(crate) hindrance: Option<String>,
}

/// A moment at which the ship may leave its landing.
#[derive(Debug, Clone)]
pub(crate) struct Return {
    /// When the party leaves the pole, and its way over the ice to the landing; nothing where it flies.
    pub(crate) march: Option<(f64, Route)>,
    /// The ship's ways home from the landing.
    pub(crate) home: Homeward,
}

impl Landed {
    pub(crate) fn new(leg: usize, berth: Berth, set_out: Position) -> Self {
        Self { leg, berth, set_out, out: None, returns: Vec::new(), hindrance: None }
    }

    /// The ways home of the ship, in the order of leaving.
    pub(crate) fn homes(&self) -> Vec<Homeward> {
        self.returns.iter().map(|one| one.home.clone()).collect()
    }
}

/// Seeks for all ways that end at a landing what belongs to it.
///
/// # Errors
///
/// What the search says, other than that there is no way.
pub(crate) fn land(
    world: &World<'_>,
    all: &mut [Outward<'_>],
    search: &dyn Search,
    control: &Control,
) -> Result<(), Error> {
    let mut ways: Vec<&mut Way> =
        all.iter_mut().flat_map(|one| &mut one.ways).filter(|way| way.landed.is_some()).collect();
    land_ways(world, &mut ways, search, control)
}

/// As [`land`], for given ways.
pub(crate) fn land_ways(
    world: &World<'_>,
    ways: &mut [&mut Way],
    search: &dyn Search,
    control: &Control,
) -> Result<(), Error> {
    if ways.is_empty() {
        return Ok(());
    }
    march_out(world, ways, search, control)?;
    // For each way the moments of leaving: when the party leaves the pole, where it marches.
    let mut leaving: Vec<(usize, f64)> = Vec::new();
    for (index, way) in ways.iter().enumerate() {
        let Some(landed) = &way.landed else { continue };
        let arrive = landed.out.as_ref().map_or(way.route.arrive_hour(), Route::arrive_hour);
        if landed.hindrance.is_none() {
            leaving.extend(leaving_hours(world, arrive).into_iter().map(|hour| (index, hour)));
        }
    }
    let marches = march_home(world, ways, &leaving, search, control)?;
    let (mut kept, mut starts) = (Vec::new(), Vec::new());
    for ((index, hour), march) in leaving.into_iter().zip(marches) {
        let Some(landed) = ways.get(index).and_then(|way| way.landed.as_ref()) else { continue };
        let over_ice = landed.out.is_some();
        if over_ice && march.is_none() {
            continue;
        }
        let from = (march.as_ref().map_or(hour, Route::arrive_hour), landed.berth.position);
        starts.push((ways.get(index).and_then(|way| way.return_to), from));
        kept.push((index, march.map(|route| (hour, route))));
    }
    let homes = homeward_from(world, &starts, search, control)?;
    for ((index, march), home) in kept.into_iter().zip(homes) {
        if let Some(landed) = ways.get_mut(index).and_then(|way| way.landed.as_mut()) {
            landed.returns.push(Return { march, home });
        }
    }
    Ok(())
}

/// The instants, of the lattice that all stays have, at which leaving the pole is considered.
fn leaving_hours(world: &World<'_>, arrive: f64) -> Vec<f64> {
    let keys = &world.scenario.keys.station;
    let step = keys.leave_every_h;
    let from = ((arrive + keys.at_least_h) / step).ceil().max(0.0) as u32;
    // The shortest stay is rounded up to the lattice even beyond the longest.
    let to = (((arrive + keys.at_most_h) / step).floor() as u32).max(from);
    let last = (world.window_hours / step).floor() as u32;
    (from..=to.min(last)).map(|index| f64::from(index) * step).collect()
}

/// Whether the party of a last leg goes over the ice.
fn is_over_ice(world: &World<'_>, leg: usize) -> bool {
    matches!(world.legs.get(leg).map(|leg| &leg.going), Some(Going::OverIce(_)))
}

fn march_out(
    world: &World<'_>,
    ways: &mut [&mut Way],
    search: &dyn Search,
    control: &Control,
) -> Result<(), Error> {
    let mut asked = Vec::new();
    let mut questions = Vec::new();
    for (index, way) in ways.iter().enumerate() {
        let Some(landed) = &way.landed else { continue };
        if is_over_ice(world, landed.leg) {
            asked.push(index);
            let leaves = (way.route.arrive_hour(), landed.set_out);
            questions.push(Question::soonest(leaves, To::PoleOverIce(landed.leg)));
        }
    }
    let answers = ask(world, &questions, search, control)?;
    for (index, answer) in asked.into_iter().zip(answers) {
        let Some(landed) = ways.get_mut(index).and_then(|way| way.landed.as_mut()) else {
            continue;
        };
        match first_way(answer) {
            Ok(route) => landed.out = Some(route),
            Err(why) => {
                landed.hindrance = Some(format!("from the landing over the ice: {why}"));
            }
        }
    }
    Ok(())
}

/// The marches home, for each moment of leaving; nothing where there is none, or none is needed.
fn march_home(
    world: &World<'_>,
    ways: &[&mut Way],
    leaving: &[(usize, f64)],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Option<Route>>, Error> {
    let mut found: Vec<Option<Route>> = leaving.iter().map(|_| None).collect();
    let mut asked = Vec::new();
    let mut questions = Vec::new();
    for (place, &(index, hour)) in leaving.iter().enumerate() {
        let Some(landed) = ways.get(index).and_then(|way| way.landed.as_ref()) else { continue };
        if is_over_ice(world, landed.leg) {
            asked.push(place);
            let to = To::PlaceOverIce(landed.leg, landed.set_out);
            questions.push(Question::soonest((hour, world.mean_pole(hour)), to));
        }
    }
    for (place, answer) in asked.into_iter().zip(ask(world, &questions, search, control)?) {
        found[place] = first_way(answer).ok();
    }
    Ok(found)
}
