//! Ways home from the pole, for leaving it at any of a lattice of instants.

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

/// Solves the ways home from the mean pole for every leaving hour of the lattice.
///
/// # Errors
///
/// What the search says, other than that there is no route.
pub(crate) fn homeward(
    world: &World<'_>,
    hours: &[f64],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    let starts: Vec<(f64, Position)> =
        hours.iter().map(|&hour| (hour, world.mean_pole(hour))).collect();
    homeward_from(world, &starts, search, control)
}

/// Solves the ways home from any hours and positions.
///
/// # Errors
///
/// As [`homeward`].
pub(crate) fn homeward_from(
    world: &World<'_>,
    starts: &[(f64, Position)],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Homeward>, Error> {
    control.begin("ways home", starts.len() as u64 * 2);
    let both = [Sought::Earliest, Sought::LeastFuel];
    let questions: Vec<Question> = starts
        .iter()
        .flat_map(|&start| both.map(|sought| Question::new(start, sought, To::Homes)))
        .collect();
    let mut answers = ask(world, &questions, search, control)?.into_iter().map(first_way);
    let next = |&(hour, _): &(f64, Position)| {
        Some(Homeward { hour, earliest: answers.next()?, least_fuel: answers.next()? })
    };
    Ok(starts.iter().map_while(next).collect())
}
