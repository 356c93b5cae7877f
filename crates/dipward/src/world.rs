//! What a scenario becomes before any route is sought: pole tracks, chart, paces, harbours.

use dipward_chart::{Chart, NamedLayer, OpenCells, RiskTable, pace_table};
use dipward_field::{PoleTracks, TrackRequest, pole_tracks};
use dipward_geodesy::{Grid, PolarStereographic, Position, interpolate};
use dipward_plugin::{Control, Error, Fault, Faults, PaceTable, Quantity};

use crate::{PlanError, scenario::Scenario};

/// A port as the grid knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Harbour {
    /// The port's name.
    pub name: String,
    /// Where the craft leaves and returns: the port itself, or the nearest open cell.
    pub position: Position,
    /// How far that lies from the stated position.
    pub moved_km: f64,
    /// Whether voyages may begin here.
    pub depart: bool,
    /// Whether voyages may end here.
    pub home: bool,
}

/// Everything that routes are sought in.
#[derive(Debug)]
pub struct World<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Length of the window.
    pub window_hours: f64,
    /// The ensemble of pole tracks, hourly from the start of the window.
    pub tracks: PoleTracks,
    /// The chart.
    pub chart: Chart,
    /// Pace and burn.
    pub table: PaceTable,
    /// Risk.
    pub risk: RiskTable,
    /// The ports.
    pub harbours: Vec<Harbour>,
}

impl<'a> World<'a> {
    /// Makes the world of a scenario.
    ///
    /// # Errors
    ///
    /// [`PlanError::Faults`] where the scenario asks for what the chart cannot give (a port on land);
    /// [`PlanError::Error`] for what the plug-ins say.
    pub fn make(scenario: &'a Scenario, control: &Control) -> Result<Self, PlanError> {
        let tracks = make_tracks(scenario, control)?;
        let grid = make_grid(scenario, tracks.mean_positions())?;
        let craft = scenario.craft.object.as_ref();
        let mut wanted = craft.reads();
        for shown in [Quantity::ICE_CONCENTRATION, Quantity::LAND, Quantity::SHELF] {
            if !wanted.contains(&shown) {
                wanted.push(shown);
            }
        }
        let names = layer_names(scenario);
        let layers: Vec<NamedLayer<'_>> = names
            .iter()
            .zip(&scenario.layers)
            .map(|(name, built)| NamedLayer { name, layer: built.object.as_ref() })
            .collect();
        let chart =
            Chart::lay(grid, scenario.clock, scenario.window_hours, &layers, &wanted, control)?;
        let (table, risk) = pace_table(&chart, craft, control)?;
        let harbours = make_harbours(scenario, &table)?;
        let window_hours = scenario.window_hours;
        Ok(Self { scenario, window_hours, tracks, chart, table, risk, harbours })
    }

    /// The mean pole at an hour of the window, between the hourly positions along the geodesic.
    #[must_use]
    pub fn mean_pole(&self, hour: f64) -> Position {
        let positions = self.tracks.mean_positions();
        let last = positions.len().saturating_sub(1);
        let before = (hour.max(0.0).floor() as usize).min(last);
        let after = (before + 1).min(last);
        let fraction = (hour - before as f64).clamp(0.0, 1.0);
        match (positions.get(before), positions.get(after)) {
            (Some(&a), Some(&b)) => interpolate(a, b, fraction),
            _ => Position::new(f64::NAN, f64::NAN),
        }
    }

    /// The harbours where voyages may end.
    pub fn homes(&self) -> impl Iterator<Item = &Harbour> {
        self.harbours.iter().filter(|harbour| harbour.home)
    }
}

/// Names of the layers for messages and reports: the kind, with a number where it stands twice.
#[must_use]
pub fn layer_names(scenario: &Scenario) -> Vec<String> {
    let kinds: Vec<&str> = scenario.layers.iter().map(|built| built.kind.as_str()).collect();
    let named = kinds.iter().enumerate().map(|(index, kind)| {
        let number = kinds[..=index].iter().filter(|other| *other == kind).count();
        if kinds.iter().filter(|other| *other == kind).count() > 1 {
            format!("{kind} {number}")
        } else {
            (*kind).to_owned()
        }
    });
    named.collect()
}

fn make_tracks(scenario: &Scenario, control: &Control) -> Result<PoleTracks, Error> {
    let hours: Vec<f64> = (0..=scenario.window_hours.ceil() as u32).map(f64::from).collect();
    let request = TrackRequest {
        model: scenario.model.object.as_ref(),
        disturbance: scenario.disturbance.object.as_ref(),
        clock: scenario.clock,
        hours: &hours,
        hemisphere: scenario.keys.pole.hemisphere,
        height_km: scenario.keys.pole.height_km,
        members: scenario.keys.pole.members,
        seed: scenario.keys.seed,
    };
    pole_tracks(&request, control)
}

fn make_grid(scenario: &Scenario, pole: &[Position]) -> Result<Grid, PlanError> {
    let keys = &scenario.keys.chart;
    let (Some(&first), Some(&last)) = (pole.first(), pole.last()) else {
        return Err(Error::Unsolved("the pole has no track".to_owned()).into());
    };
    let refused = |error: dipward_geodesy::Error| {
        PlanError::Faults(Fault::at("/chart", format!("no grid can be laid: {error}")).into())
    };
    let projection = PolarStereographic::variant_b(
        scenario.keys.pole.hemisphere,
        keys.true_scale_latitude_deg * scenario.keys.pole.hemisphere.sign(),
        keys.central_meridian_deg.unwrap_or_else(|| first.x().round()),
        dipward_geodesy::Ellipsoid::WGS84,
    )
    .map_err(refused)?;
    // Each port is followed by the pole, so that the grid covers every geodesic between them.
    let mut reach: Vec<Position> = Vec::new();
    for port in &scenario.keys.voyage.ports {
        reach.extend([Scenario::port_position(port), last]);
    }
    reach.push(first);
    Grid::covering(projection, &reach, keys.cell_km, keys.margin_km).map_err(refused)
}

fn make_harbours(scenario: &Scenario, table: &PaceTable) -> Result<Vec<Harbour>, Faults> {
    let open = OpenCells::of(table);
    let voyage = &scenario.keys.voyage;
    let mut faults = Faults::default();
    let mut harbours = Vec::new();
    for (index, port) in voyage.ports.iter().enumerate() {
        let stated = Scenario::port_position(port);
        match open.nearest(stated, voyage.harbour_km) {
            Some(snap) => harbours.push(Harbour {
                name: port.name.clone(),
                position: snap.position,
                moved_km: snap.moved_km,
                depart: port.depart,
                home: port.home,
            }),
            None => faults.push(
                Fault::at(
                    format!("/voyage/ports/{index}"),
                    format!(
                        "{} lies where {} cannot be, and no open cell is within {} km",
                        port.name,
                        scenario.craft.object.name(),
                        voyage.harbour_km
                    ),
                )
                .help("check its position, raise `voyage.harbour_km` or take smaller cells"),
            ),
        }
    }
    for (may, message) in [
        (harbours.iter().any(|harbour| harbour.depart), "no port is one to leave from"),
        (harbours.iter().any(|harbour| harbour.home), "no port is one to return to"),
    ] {
        if !may && faults.is_empty() {
            faults.push(Fault::at("/voyage/ports", message));
        }
    }
    faults.into_result(harbours)
}
