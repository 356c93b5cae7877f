//! Approaches in two stages: the ship lies at a landing, a party goes on to the pole and comes back.
//!
//! ```text
//!   last leg + chart + mean pole --> landings: where and when the ship may lie for it, what it takes on
//!   ship's search to the landings --> way out of the ship, the cheapest with the leg on from there
//!   leg from that landing         --> the party's way out and home, fuel, radius of action
//!   ways home from the landing    --> approach, ranked with those in which the ship goes all the way
//! ```

mod air;
mod flights;
mod grounds;
mod ice;
mod landed;
mod march;
mod plan;
mod sky;

use dipward_chart::{Chart, OpenCells};
use dipward_field::PoleTracks;
use dipward_geodesy::{Cell, Position};
use dipward_plugin::{Berth, Control, Error, LastLeg, Means, PaceTable, Quantity};

use crate::{scenario::Scenario, world::Moves};
pub(crate) use landed::{Landed, land, land_ways};
pub(crate) use plan::plan_landed;

/// A last leg made ready for a world.
#[derive(Debug)]
pub(crate) struct Leg<'a> {
    /// The last leg.
    pub(crate) leg: &'a dyn LastLeg,
    /// What it goes by.
    pub(crate) going: Going,
    /// The landings, one set for each share of the reach.
    pub(crate) landings: Vec<Landings>,
}

/// What a last leg goes by.
#[derive(Debug)]
pub(crate) enum Going {
    /// The weather, and what it can land on.
    Air(Box<(sky::Skies, grounds::Grounds)>),
    /// The party's own paces, and how it moves at the mean pole.
    OverIce(Box<(PaceTable, Moves<'static>)>),
}

/// Where and when the ship may lie for a last leg.
#[derive(Debug, Default)]
pub(crate) struct Landings {
    /// The berths.
    pub(crate) berths: Vec<Berth>,
    /// Where the party sets out from each berth.
    pub(crate) set_out: Vec<Position>,
    /// Why there is none, if there is none.
    pub(crate) hindrance: String,
}

/// What last legs are made ready from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ground<'w> {
    pub(crate) scenario: &'w Scenario,
    pub(crate) tracks: &'w PoleTracks,
    pub(crate) chart: &'w Chart,
    pub(crate) table: &'w PaceTable,
}

impl Ground<'_> {
    /// The cell of the mean pole at a whole hour, and its place.
    fn pole(&self, hour: usize) -> Option<(Cell, Position)> {
        let place = self.tracks.mean(hour)?;
        Some((self.table.grid.cell_at(place)?, place))
    }

    fn hours(&self) -> usize {
        self.tracks.mean_track().len()
    }
}

/// Makes all last legs of a scenario ready.
///
/// # Errors
///
/// What the chart's layers and the last legs say.
pub(crate) fn legs<'a>(
    scenario: &'a Scenario,
    ground: Ground<'_>,
    control: &Control,
) -> Result<Vec<Leg<'a>>, Error> {
    if scenario.last_legs.is_empty() {
        return Ok(Vec::new());
    }
    let open = OpenCells::of(ground.table);
    let legs = scenario.last_legs.iter().map(|built| {
        let leg = built.object.as_ref();
        let rule = leg.landing();
        let (going, landings) = match leg.means() {
            Means::Air(aircraft) => air::landings(ground, &open, aircraft, &rule, control)?,
            Means::OverIce(party) => ice::landings(ground, &open, party, &rule, control)?,
        };
        Ok(Leg { leg, going, landings })
    });
    legs.collect()
}

/// The quantities that the last legs of a scenario read.
pub(crate) fn reads(scenario: &Scenario) -> Vec<Quantity> {
    let each = scenario.last_legs.iter().map(|built| match built.object.means() {
        Means::Air(_) => sky::reads(),
        Means::OverIce(party) => party.craft().reads(),
    });
    each.flatten().collect()
}
