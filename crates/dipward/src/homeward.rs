//! Ways home from the pole, for leaving it at any of a lattice of instants.

use std::collections::{BTreeMap, btree_map::Entry};

use dipward_geodesy::Position;
use dipward_plugin::{Control, Error, NoRoute, Route, Search};

use crate::{
    questions::{Question, Sought, To, ask, first_way},
    world::World,
};

/// The two ways home from one place at one hour.
#[derive(Debug, Clone)]
pub(crate) struct Homeward {
    /// When the craft turns for home.
    pub hour: f64,
    /// The earliest home; its goal counts among [`World::homes`].
    pub earliest: Result<Route, NoRoute>,
    /// The way that burns least.
    pub least_fuel: Result<Route, NoRoute>,
}

impl Homeward {
    /// The ways home in the order in which an approach wants them, each with what it was sought for.
    pub(crate) fn ways(&self, sparing: bool) -> impl Iterator<Item = (Sought, &Route)> {
        let mut order = [(Sought::Earliest, &self.earliest), (Sought::LeastFuel, &self.least_fuel)];
        if sparing {
            order.reverse();
        }
        order.into_iter().filter_map(|(sought, way)| Some((sought, way.as_ref().ok()?)))
    }
}

/// The ways home from the pole, for each port that voyages may be bound to return to.
#[derive(Debug, Default)]
pub(crate) struct FromPole(BTreeMap<Option<usize>, Vec<Homeward>>);

impl FromPole {
    /// Solves them for every leaving hour of the lattice.
    ///
    /// # Errors
    ///
    /// What the search says, other than that there is no route.
    pub(crate) fn solve(
        world: &World<'_>,
        hours: &[f64],
        search: &dyn Search,
        control: &Control,
    ) -> Result<Self, Error> {
        let mut all = BTreeMap::new();
        for harbour in world.harbours.iter().filter(|harbour| harbour.depart) {
            if let Entry::Vacant(free) = all.entry(harbour.return_to) {
                free.insert(homeward(world, harbour.return_to, hours, search, control)?);
            }
        }
        Ok(Self(all))
    }

    /// Those of a way, by [`crate::world::Harbour::return_to`], in the order of leaving.
    pub(crate) fn of(&self, return_to: Option<usize>) -> &[Homeward] {
        self.0.get(&return_to).map_or(&[], Vec::as_slice)
    }

    /// How many instants of leaving there are in all.
    pub(crate) fn count(&self) -> usize {
        self.0.values().map(Vec::len).sum()
    }
}

/// Solves the ways home from the mean pole for every leaving hour of the lattice.
///
/// # Errors
///
/// What the search says, other than that there is no route.
pub(crate) fn homeward(
    world: &World<'_>,
    return_to: Option<usize>,
    hours: &[f64],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    let starts: Vec<Start> =
        hours.iter().map(|&hour| (return_to, (hour, world.mean_pole(hour)))).collect();
    homeward_from(world, &starts, search, control)
}

/// To where a craft returns, as [`crate::world::Harbour::return_to`] says, and when and where it turns.
pub(crate) type Start = (Option<usize>, (f64, Position));

/// Solves the ways home from any hours and positions.
///
/// # Errors
///
/// As [`homeward`].
pub(crate) fn homeward_from(
    world: &World<'_>,
    starts: &[Start],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    control.begin("ways home", starts.len() as u64 * 2);
    let both = [Sought::Earliest, Sought::LeastFuel];
    let questions: Vec<Question> = starts
        .iter()
        .flat_map(|&(return_to, from)| {
            both.map(|sought| Question::new(from, sought, To::home(return_to)))
        })
        .collect();
    let mut answers = ask(world, &questions, search, control)?.into_iter().map(first_way);
    let next = |&(return_to, (hour, _)): &Start| {
        // Of one port alone the search knows no number.
        let mut way = || {
            let found = answers.next()?;
            Some(found.map(|route| Route { goal: return_to.unwrap_or(route.goal), ..route }))
        };
        Some(Homeward { hour, earliest: way()?, least_fuel: way()? })
    };
    Ok(starts.iter().map_while(next).collect())
}
