//! Where the craft is, when, and with how much fuel.

use dipward_chart::OpenCells;
use dipward_geodesy::Position;
use dipward_plugin::Error;
use jiff::Timestamp;

use crate::{
    Scenario,
    world::{Start, World},
};

/// What the place of a re-planned departure is called.
const HERE: &str = "present position";

/// The craft's present state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Where the craft is.
    pub position: Position,
    /// When.
    pub at: Timestamp,
    /// Usable fuel aboard.
    pub fuel_t: f64,
}

impl Standing {
    /// What can be told without a chart.
    pub(super) fn check(&self, scenario: &Scenario) -> Result<(), Error> {
        let hour = scenario.clock.hour(self.at);
        let window = &scenario.keys.window;
        if !(0.0..scenario.window_hours).contains(&hour) {
            return Err(Error::Outside(format!(
                "{} lies outside the window, {} to {}",
                self.at, window.from, window.until
            )));
        }
        let capacity_t = scenario.craft.object.stores().capacity_t;
        if !(self.fuel_t > 0.0 && self.fuel_t.is_finite()) {
            return Err(Error::Outside(format!(
                "the fuel aboard must be above zero, not {} t",
                self.fuel_t
            )));
        }
        if self.fuel_t > capacity_t {
            return Err(Error::Outside(format!(
                "{} t of fuel are more than {} holds, {capacity_t} t",
                self.fuel_t,
                scenario.craft.object.name()
            )));
        }
        Ok(())
    }

    /// The departure from here and now.
    ///
    /// A craft in a port whose cell the chart closes leaves from where the plan lets it leave.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a position off the chart or closed to the craft.
    pub(super) fn start(&self, world: &World<'_>) -> Result<Start, Error> {
        let scenario = world.scenario;
        let shown = format!("{:.4}, {:.4}", self.position.y(), self.position.x());
        let Some(cell) = world.table.grid.cell_at(self.position) else {
            return Err(Error::Outside(format!(
                "the position {shown} lies off the chart; raise `chart.margin_km`"
            )));
        };
        let hour = scenario.clock.hour(self.at);
        let within_km = scenario.keys.voyage.harbour_km;
        let in_port = lies_in_port(scenario, self.position);
        let start = |position, moved_km| Start {
            name: HERE.to_owned(),
            position,
            moved_km,
            in_port,
            hour,
            fuel_t: self.fuel_t,
        };
        let open = OpenCells::of(&world.table);
        if open.is_open(cell) {
            return Ok(start(self.position, 0.0));
        }
        if in_port && let Some(snap) = open.nearest(self.position, within_km) {
            return Ok(start(snap.position, snap.moved_km));
        }
        let why = world
            .risk
            .sample(hour, self.position)
            .map_or_else(|| "closed".to_owned(), |sample| sample.closure.to_string());
        Err(Error::Outside(format!(
            "the position {shown} is closed to {} throughout the window: {why}",
            scenario.craft.object.name()
        )))
    }
}

/// Whether a place is a port of the scenario, or as near to one as a craft is put where it leaves.
pub(super) fn lies_in_port(scenario: &Scenario, place: Position) -> bool {
    let voyage = &scenario.keys.voyage;
    let away_km = |port| dipward_geodesy::distance_km(Scenario::port_position(port), place);
    voyage.ports.iter().any(|port| away_km(port) <= voyage.harbour_km)
}
