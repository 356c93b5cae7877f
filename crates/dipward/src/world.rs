//! What a scenario becomes before any route is sought: pole tracks, chart, paces, harbours.

use std::ops::RangeInclusive;

use dipward_chart::{Chart, NamedLayer, OpenCells, RiskTable, pace_table};
use dipward_field::{PoleTracks, TrackRequest, pole_tracks_during};
use dipward_geodesy::{Grid, PolarStereographic, Position, position};
use dipward_plugin::{
    Control, Disturbance, Error, Fault, Faults, MainField, PaceTable, Quantity, Stores,
};

use crate::{
    PlanError,
    approach_ids::{stem, stems},
    pack::PackDrift,
    questions::closes_over,
    scenario::{ANY_HOME, SAME_HOME, Scenario},
    stages::{Ground, Leg, legs, reads},
    station::{Measure, Station, haunt},
    station_chart::StationChart,
};

/// A port as the grid knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Harbour {
    /// The port's name.
    pub name: String,
    /// What the ids of its approaches begin with; no two ports have the same.
    pub stem: String,
    /// Where the craft leaves and returns: the port itself, or the nearest open cell.
    pub position: Position,
    /// How far that lies from the stated position.
    pub moved_km: f64,
    /// Whether a craft lies in shelter here while the ice about it is closed: in a port it does, at sea not.
    pub shelter: bool,
    /// Whether voyages may begin here.
    pub depart: bool,
    /// Whether voyages may end here.
    pub home: bool,
    /// The one of [`World::homes`] where voyages from here end, by its number; any of them where there is none.
    pub return_to: Option<usize>,
}

/// A place of refuge as the grid knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Refuge {
    /// Its name.
    pub name: String,
    /// The place itself, or the nearest open cell.
    pub position: Position,
}

/// What the craft can do in each whole hour of the window at the mean pole.
#[derive(Debug)]
pub struct Moves<'a> {
    /// How far it can go.
    pub reach_km: Vec<f64>,
    /// What it burns per hour under way beyond keeping station.
    pub extra_t_per_h: Vec<f64>,
    /// The chart that it moves on; nothing where the paces at the mean pole hold all about it.
    pub chart: Option<StationChart<'a>>,
}

impl Moves<'_> {
    /// What a craft can do at the mean pole at full power, on an empty plane about it.
    pub(crate) fn at_mean_pole(tracks: &PoleTracks, table: &PaceTable) -> Self {
        let hours = 0..tracks.mean_track().len();
        let (reach_km, extra_t_per_h) = hours
            .map(|hour| {
                let frame = frame_at(table, hour as f64);
                let cell = tracks.mean(hour).and_then(|at| table.grid.cell_at(at));
                let at = cell.map(|cell| table.offset(0, 0, frame) + cell as usize);
                let value = |of: &[f32]| at.and_then(|at| of.get(at)).map(|&one| f64::from(one));
                let pace = value(&table.pace_h_per_km).unwrap_or(f64::INFINITY);
                let burn = value(&table.burn_t_per_h).unwrap_or(0.0);
                (1.0 / pace, (burn - table.hold_t_per_h).max(0.0))
            })
            .unzip();
        Moves { reach_km, extra_t_per_h, chart: None }
    }
}

/// The frame of a table that holds at an hour.
fn frame_at(table: &PaceTable, hour: f64) -> usize {
    table.hours.partition_point(|&frame| frame <= hour).saturating_sub(1)
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
    /// Places of refuge that are no ports of the voyage.
    pub refuges: Vec<Refuge>,
    /// The hours of departure, increasing.
    pub departures: Vec<f64>,
    /// Fuel at each departure, the reserve and the burn on station.
    pub stores: Stores,
    /// The last legs, made ready.
    pub(crate) legs: Vec<Leg<'a>>,
    /// The drift of the ice at the mean pole, where the chart knows of any.
    pub(crate) pack: Option<PackDrift>,
}

/// Where a voyage begins that does not begin in a port.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Start {
    /// What the place is called in the ranking.
    pub(crate) name: String,
    /// Where.
    pub(crate) position: Position,
    /// How far that lies from the stated position.
    pub(crate) moved_km: f64,
    /// Whether it lies in port.
    pub(crate) in_port: bool,
    /// When.
    pub(crate) hour: f64,
    /// Fuel aboard.
    pub(crate) fuel_t: f64,
}

impl<'a> World<'a> {
    /// Makes the world of a scenario.
    ///
    /// # Errors
    ///
    /// [`PlanError::Faults`] where the scenario asks for what the chart cannot give (a port on land);
    /// [`PlanError::Error`] for what the plug-ins say.
    pub fn make(scenario: &'a Scenario, control: &Control) -> Result<Self, PlanError> {
        Self::blend(scenario, scenario, scenario, control)
    }

    /// Makes a world of three scenarios of one window: the ensemble of the pole is that of `pole`, the
    /// layers are those of `ice`, all else is that of `scenario`.
    ///
    /// # Errors
    ///
    /// As [`World::make`].
    pub(crate) fn blend(
        scenario: &'a Scenario,
        pole: &Scenario,
        ice: &Scenario,
        control: &Control,
    ) -> Result<Self, PlanError> {
        let tracks = make_tracks(pole, control)?;
        let grid = make_grid(scenario, tracks.mean_track())?;
        let craft = scenario.craft.object.as_ref();
        let mut wanted = craft.reads();
        for read in craft.caution_reads().into_iter().chain(reads(scenario)) {
            if !wanted.contains(&read) {
                wanted.push(read);
            }
        }
        let shown = [
            Quantity::ICE_CONCENTRATION,
            Quantity::LAND,
            Quantity::SHELF,
            Quantity::ICE_DRIFT_EAST,
            Quantity::ICE_DRIFT_NORTH,
        ];
        for shown in shown {
            if !wanted.contains(&shown) {
                wanted.push(shown);
            }
        }
        let names = layer_names(ice);
        let layers: Vec<NamedLayer<'_>> = names
            .iter()
            .zip(&ice.layers)
            .map(|(name, built)| NamedLayer { name, layer: built.object.as_ref() })
            .collect();
        let chart =
            Chart::lay(grid, scenario.clock, scenario.window_hours, &layers, &wanted, control)?;
        let (table, risk) = pace_table(&chart, craft, control)?;
        let (harbours, refuges) = make_harbours(scenario, &table)?;
        let ground = Ground { scenario, tracks: &tracks, chart: &chart, table: &table };
        let legs = legs(scenario, ground, control)?;
        let pack = PackDrift::of(&tracks, &chart, &table)?;
        Ok(Self {
            scenario,
            window_hours: scenario.window_hours,
            tracks,
            chart,
            table,
            risk,
            harbours,
            refuges,
            departures: scenario.departures.clone(),
            stores: craft.stores(),
            legs,
            pack,
        })
    }

    /// The same world with one departure alone, from the given start with the fuel aboard there. All
    /// homes stay.
    ///
    /// # Arguments
    ///
    /// `home_to`: the port to which the voyage returns where the scenario lets it return only to the port that it
    /// left.
    #[must_use]
    pub(crate) fn starting_from(mut self, start: Start, home_to: &str) -> Self {
        let same = self.scenario.keys.voyage.home == SAME_HOME;
        let return_to = self.homes().position(|home| same && home.name == home_to);
        for harbour in &mut self.harbours {
            harbour.depart = false;
        }
        // Last and no home, so that the homes keep their numbers.
        self.harbours.push(Harbour {
            stem: stem(&start.name),
            name: start.name,
            position: start.position,
            moved_km: start.moved_km,
            shelter: start.in_port,
            depart: true,
            home: false,
            return_to,
        });
        self.departures = vec![start.hour];
        self.stores.capacity_t = start.fuel_t;
        self
    }

    /// The mean pole at an hour of the window; the nearest end's outside it.
    #[must_use]
    pub fn mean_pole(&self, hour: f64) -> Position {
        let within = hour.clamp(0.0, self.window_hours);
        self.tracks.mean_at(within).unwrap_or_else(|| Position::new(f64::NAN, f64::NAN))
    }

    /// How far the craft can go at full power in each whole hour of the window at the mean pole, km,
    /// and what it then burns beyond keeping station, t.
    #[must_use]
    pub fn moves_on_station(&self) -> Moves<'_> {
        let chart = StationChart::new(&self.tracks, &self.table);
        Moves { chart: Some(chart), ..Moves::at_mean_pole(&self.tracks, &self.table) }
    }

    /// The mean pole, hour by hour.
    #[must_use]
    pub(crate) fn mean_track(&self) -> Vec<(f64, Position)> {
        (0..).map(f64::from).zip(self.tracks.mean_track().iter().copied()).collect()
    }

    /// The frame of the tables that holds at an hour.
    #[must_use]
    pub fn frame_at(&self, hour: f64) -> usize {
        frame_at(&self.table, hour)
    }

    /// When the chart first closes over a craft that lies at a place from one hour to another; nothing
    /// where it does not.
    pub(crate) fn closes_at(
        &self,
        place: Position,
        from_hour: f64,
        until_hour: f64,
    ) -> Option<f64> {
        closes_over(&self.table, place, from_hour, until_hour)
    }

    /// The stay at the pole.
    #[must_use]
    pub fn station<'w>(&'w self, moves: &'w Moves<'w>) -> Station<'w> {
        let keys = &self.scenario.keys.station;
        let mut oval_km = [[0.0; 2]; 24];
        for (utc_hour, offset_km) in self.tracks.daily_oval() {
            oval_km[usize::from(utc_hour) % 24] = offset_km;
        }
        Station {
            tracks: &self.tracks,
            measure: Measure { within_km: keys.within_km, for_h: keys.for_h },
            policy: self.scenario.policy.object.as_ref(),
            reach_km: &moves.reach_km,
            chase_t_per_h: &moves.extra_t_per_h,
            chase_fuel_t: keys.chase_fuel_t,
            reading_range_km: keys.reading_range_km,
            oval_km,
            haunt_km: haunt(&self.tracks, keys.within_km),
            chart: moves.chart.as_ref(),
            pack: self.pack.as_ref(),
        }
    }

    /// What the craft burns from one hour to another between its ways: to lie still, and at the pole to keep its
    /// place against the drift of the ice and to move about.
    #[must_use]
    pub(crate) fn lying_t(&self, at_pole: bool, from_hour: f64, until_hour: f64) -> f64 {
        let held_t = self.stores.hold_t_per_h * (until_hour - from_hour);
        if !at_pole {
            return held_t;
        }
        let keeping_t =
            self.pack.as_ref().map_or(0.0, |pack| pack.keeping_t(from_hour, until_hour));
        held_t + keeping_t + self.scenario.keys.station.chase_fuel_t
    }

    /// What the craft burns if it is beset for the days that the scenario states.
    #[must_use]
    pub(crate) fn beset_t(&self) -> f64 {
        self.stores.hold_t_per_h * 24.0 * self.scenario.keys.voyage.beset_days
    }

    /// Fuel beyond the reserve, and beyond what the days burn that the craft may be beset, with which it comes
    /// home; below zero where it does not. Plan, last moment to turn and re-planning all go by it.
    ///
    /// # Arguments
    ///
    /// What is burnt before the way home begins, and on it.
    #[must_use]
    pub(crate) fn margin_home_t(&self, burnt_t: f64, home_t: f64) -> f64 {
        let Stores { capacity_t, reserve_t, .. } = self.stores;
        capacity_t - reserve_t - self.beset_t() - burnt_t - home_t
    }

    /// The harbours where voyages may end.
    pub fn homes(&self) -> impl Iterator<Item = &Harbour> {
        self.harbours.iter().filter(|harbour| harbour.home)
    }

    /// Names and positions of the places where the craft is safe: the ports to return to, then the refuges.
    pub(crate) fn safe_places(&self) -> impl Iterator<Item = (&str, Position)> {
        let homes = self.homes().map(|home| (home.name.as_str(), home.position));
        let refuges = self.refuges.iter().map(|refuge| (refuge.name.as_str(), refuge.position));
        homes.chain(refuges)
    }
}

/// Names of the layers for messages and reports: the kind, with a number where it stands twice.
pub(crate) fn layer_names(scenario: &Scenario) -> Vec<String> {
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
    tracks_of(scenario, &Ensemble::of(scenario), control)
}

/// What an ensemble of a scenario is drawn of, where something else is put in place of the scenario's.
#[derive(Debug, Clone)]
pub(crate) struct Ensemble<'a> {
    pub(crate) model: &'a dyn MainField,
    pub(crate) disturbance: &'a dyn Disturbance,
    pub(crate) members: u32,
    /// Whether the members' poles are sought in each whole hour of the window; in all where it is empty.
    pub(crate) sought: Vec<bool>,
}

impl<'a> Ensemble<'a> {
    /// The same with the members' poles sought in the hours of some stays alone.
    #[must_use]
    pub(crate) fn during(mut self, stays: &[RangeInclusive<usize>]) -> Self {
        let end = stays.iter().map(|stay| stay.end() + 1).max().unwrap_or(0);
        self.sought = (0..end).map(|hour| stays.iter().any(|stay| stay.contains(&hour))).collect();
        self
    }

    /// The scenario's own.
    pub(crate) fn of(scenario: &'a Scenario) -> Self {
        Self {
            model: scenario.model.object.as_ref(),
            disturbance: scenario.disturbance.object.as_ref(),
            members: scenario.keys.pole.members,
            sought: Vec::new(),
        }
    }
}

/// Draws an ensemble of a scenario.
pub(crate) fn tracks_of(
    scenario: &Scenario,
    ensemble: &Ensemble<'_>,
    control: &Control,
) -> Result<PoleTracks, Error> {
    let Ensemble { model, disturbance, members, ref sought } = *ensemble;
    let hours: Vec<f64> = (0..=scenario.window_hours.ceil() as u32).map(f64::from).collect();
    let request = TrackRequest {
        clock: scenario.clock,
        hours: &hours,
        hemisphere: scenario.keys.pole.hemisphere,
        height_km: scenario.keys.pole.height_km,
        members,
        seed: scenario.keys.seed,
        looks: scenario.keys.pole.looks_per_hour,
    };
    let sought = |hour: usize| sought.is_empty() || sought.get(hour) == Some(&true);
    pole_tracks_during(model, disturbance, &request, sought, control)
}

pub(crate) fn make_grid(scenario: &Scenario, pole: &[Position]) -> Result<Grid, PlanError> {
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
    for place in &scenario.keys.voyage.refuges {
        reach.extend([position(place.latitude_deg, place.longitude_deg), last]);
    }
    reach.push(first);
    Grid::covering(projection, &reach, keys.cell_km, keys.margin_km).map_err(refused)
}

fn make_harbours(
    scenario: &Scenario,
    table: &PaceTable,
) -> Result<(Vec<Harbour>, Vec<Refuge>), Faults> {
    let open = OpenCells::of(table);
    let voyage = &scenario.keys.voyage;
    let mut faults = Faults::default();
    let closed = |pointer: String, name: &str| {
        let message = format!(
            "{name} lies where {} cannot be, and no open cell is within {} km",
            scenario.craft.object.name(),
            voyage.harbour_km
        );
        Fault::at(pointer, message)
            .help("check its position, raise `voyage.harbour_km` or take smaller cells")
    };
    let mut harbours = Vec::new();
    let stems = stems(voyage.ports.iter().map(|port| port.name.as_str()));
    for ((index, port), stem) in voyage.ports.iter().enumerate().zip(stems) {
        match open.nearest(Scenario::port_position(port), voyage.harbour_km) {
            Some(snap) => harbours.push(Harbour {
                name: port.name.clone(),
                stem,
                position: snap.position,
                moved_km: snap.moved_km,
                shelter: true,
                depart: port.depart,
                home: port.home && [ANY_HOME, SAME_HOME, &port.name].contains(&&*voyage.home),
                return_to: None,
            }),
            None => faults.push(closed(format!("/voyage/ports/{index}"), &port.name)),
        }
    }
    if voyage.home == SAME_HOME {
        let homes = harbours.iter_mut().filter(|harbour: &&mut Harbour| harbour.home);
        homes.enumerate().for_each(|(number, harbour)| harbour.return_to = Some(number));
    }
    let mut refuges = Vec::new();
    for (index, place) in voyage.refuges.iter().enumerate() {
        let stated = position(place.latitude_deg, place.longitude_deg);
        match open.nearest(stated, voyage.harbour_km) {
            Some(snap) => {
                refuges.push(Refuge { name: place.name.clone(), position: snap.position });
            }
            None => faults.push(closed(format!("/voyage/refuges/{index}"), &place.name)),
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
    faults.into_result((harbours, refuges))
}
