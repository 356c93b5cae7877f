//! The scenario: what a planner writes, read with its places and built into plug-ins.

mod keys;
mod slot;

use std::path::Path;

use dipward_geodesy::{Position, position};
use dipward_plugin::{
    BuildContext, Built, Clock, CraftMode, CraftPoint, CriterionPoint, DisturbancePoint, Document,
    Fault, Faults, LastLegPoint, LayerPoint, MainFieldPoint, Means, Point, PolicyPoint, Registry,
    SearchPoint, WriterPoint, faults_by_schema, pointer_to, read_value, schema_of,
};
use serde_json::Value;

use crate::station::Measure;
pub(crate) use keys::{ANY_HOME, SAME_HOME};
pub use keys::{
    ChartKeys, Departures, Order, PoleKeys, Port, RefugeKeys, ScenarioKeys, StationKeys,
    VoyageKeys, WhenClosed, Window,
};
pub(crate) use slot::fill_slots;
pub use slot::{Slot, combined_schema};

/// A scenario made ready: all keys are right, all plug-ins are built, all files are read.
#[derive(Debug)]
pub struct Scenario {
    /// What the planner wrote, defaults filled in.
    pub keys: ScenarioKeys,
    /// The scenario's clock; hour zero is the start of the window.
    pub clock: Clock,
    /// Length of the window.
    pub window_hours: f64,
    /// The hours of departure, increasing.
    pub departures: Vec<f64>,
    /// The main field.
    pub model: Built<MainFieldPoint>,
    /// The disturbance.
    pub disturbance: Built<DisturbancePoint>,
    /// The layers, the first wins.
    pub layers: Vec<Built<LayerPoint>>,
    /// The craft.
    pub craft: Built<CraftPoint>,
    /// What may carry a party from the ship to the pole.
    pub last_legs: Vec<Built<LastLegPoint>>,
    /// What the party does on station.
    pub policy: Built<PolicyPoint>,
    /// The search.
    pub search: Built<SearchPoint>,
    /// The criteria, in the order of their importance.
    pub criteria: Vec<Built<CriterionPoint>>,
    /// The writers.
    pub outputs: Vec<Built<WriterPoint>>,
    /// What the plug-ins were built with, and the inputs that they read.
    pub context: BuildContext,
}

/// More departures than anybody compares at once.
const MAX_DEPARTURES: usize = 400;
/// A window longer than this is a slip of the pen: no voyage lasts two years.
const MAX_WINDOW_HOURS: f64 = 2.0 * 366.0 * 24.0;

impl Scenario {
    /// Reads and builds a scenario.
    ///
    /// # Arguments
    ///
    /// Files that the scenario names are looked for in `folder`. `seed` replaces the scenario's own.
    ///
    /// # Errors
    ///
    /// Every fault that can be told without computing; [`Document::render`] shows each at its line.
    pub fn read(
        document: &Document,
        folder: &Path,
        registry: &Registry,
        seed: Option<u64>,
    ) -> Result<Self, Faults> {
        Self::of(document.value(), folder, registry, seed, false)
    }

    /// Builds the scenario that a value says.
    ///
    /// # Arguments
    ///
    /// `dates_moved`: whether the dates of its files have been moved to another year.
    ///
    /// # Errors
    ///
    /// As [`Scenario::read`].
    pub(crate) fn of(
        value: &Value,
        folder: &Path,
        registry: &Registry,
        seed: Option<u64>,
        dates_moved: bool,
    ) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        faults.extend(faults_by_schema(&schema_of::<ScenarioKeys>(), value));
        // Slots whose kind and keys can be read are checked even where other keys are wrong, so
        // that one run tells everything.
        if !faults.is_empty() {
            faults.extend(slot::faults_of_slots(registry, value));
            return Err(faults);
        }
        let mut keys: ScenarioKeys = read_value(value.clone()).map_err(Faults::from)?;
        let all_writers =
            || registry.kinds_of(WriterPoint::SLOT).map(|kind| Slot::kind(kind.name)).collect();
        let outputs = keys.outputs.get_or_insert_with(all_writers).clone();
        if let Some(seed) = seed {
            keys.seed = seed;
        }
        let clock = Clock::new(keys.window.from);
        let window_hours = clock.hour(keys.window.until);
        let of_window = faults_of_window(window_hours);
        // Against a wrong window every departure looks wrong too.
        let departures = match &of_window {
            None => departures(&keys, clock, window_hours, &mut faults),
            Some(_) => Vec::new(),
        };
        faults.extend(of_window);
        faults.extend(faults_of_station(&keys.station));
        faults.extend(faults_of_names(&keys.voyage.ports));
        faults.extend(faults_of_home(&keys.voyage));
        faults.into_result(())?;

        let context = BuildContext::new(folder, keys.pole.hemisphere, clock, window_hours)
            .with_dates_moved(dates_moved);
        let mut builder = Builder { registry, context: &context, faults: Faults::default() };
        let model = builder.one::<MainFieldPoint>("/pole/model", &keys.pole.model.0);
        let disturbance =
            builder.one::<DisturbancePoint>("/pole/disturbance", &keys.pole.disturbance.0);
        let layers = builder.each::<LayerPoint>("/chart/layers", &keys.chart.layers);
        let craft = builder.one::<CraftPoint>("/craft", &keys.craft.0);
        let last_legs = builder.each::<LastLegPoint>("/last_leg", &keys.last_leg);
        let policy = builder.one::<PolicyPoint>("/station/policy", &keys.station.policy.0);
        let search = builder.one::<SearchPoint>("/search", &keys.search.0);
        let criteria = builder.each::<CriterionPoint>("/ranking", &keys.ranking);
        let outputs = builder.each::<WriterPoint>("/outputs", &outputs);
        let mut faults = builder.faults;
        if let (Some(craft), false) = (&craft, keys.last_leg.is_empty())
            && craft.object.mode() != CraftMode::Ship
        {
            faults.push(
                Fault::at("/last_leg", "only a ship lands a party for a last leg")
                    .help("leave `last_leg` out, or take a ship for the `craft`"),
            );
        }
        faults.extend(faults_of_ground(&last_legs, &keys.station));
        if let Some(model) = &model {
            faults.extend(faults_of_years(model, clock, window_hours));
        }
        match (model, disturbance, craft, policy, search) {
            (Some(model), Some(disturbance), Some(craft), Some(policy), Some(search))
                if faults.is_empty() =>
            {
                Ok(Self {
                    keys,
                    clock,
                    window_hours,
                    departures,
                    model,
                    disturbance,
                    layers,
                    craft,
                    last_legs,
                    policy,
                    search,
                    criteria,
                    outputs,
                    context,
                })
            }
            _ => Err(faults),
        }
    }

    /// The scenario with every default written out.
    #[must_use]
    pub fn resolved(&self) -> Value {
        let mut keys = self.keys.clone();
        keys.pole.model = Slot::new(self.model.resolved.clone());
        keys.pole.disturbance = Slot::new(self.disturbance.resolved.clone());
        keys.craft = Slot::new(self.craft.resolved.clone());
        keys.last_leg = resolved(&self.last_legs);
        keys.station.policy = Slot::new(self.policy.resolved.clone());
        keys.search = Slot::new(self.search.resolved.clone());
        keys.chart.layers = resolved(&self.layers);
        keys.ranking = resolved(&self.criteria);
        keys.outputs = Some(resolved(&self.outputs));
        // The keys are plain serde structs of numbers, texts and JSON values.
        serde_json::to_value(&keys).unwrap_or(Value::Null)
    }

    /// Where a port lies.
    #[must_use]
    pub fn port_position(port: &Port) -> Position {
        position(port.latitude_deg, port.longitude_deg)
    }
}

fn resolved<P: Point>(built: &[Built<P>]) -> Vec<Slot<P>> {
    built.iter().map(|built| Slot::new(built.resolved.clone())).collect()
}

struct Builder<'a> {
    registry: &'a Registry,
    context: &'a BuildContext,
    faults: Faults,
}

impl Builder<'_> {
    fn one<P: Point>(&mut self, pointer: &str, value: &Value) -> Option<Built<P>> {
        match self.registry.build::<P>(pointer, value, self.context) {
            Ok(built) => Some(built),
            Err(faults) => {
                self.faults.extend(faults);
                None
            }
        }
    }

    fn each<P: Point>(&mut self, pointer: &str, slots: &[Slot<P>]) -> Vec<Built<P>> {
        let each = slots.iter().enumerate();
        each.filter_map(|(index, slot)| {
            self.one::<P>(&pointer_to(pointer, &index.to_string()), &slot.0)
        })
        .collect()
    }
}

fn faults_of_window(window_hours: f64) -> Option<Fault> {
    if window_hours <= 0.0 {
        return Some(
            Fault::at("/window/until", "the window ends before it begins")
                .help("give an instant after `from`"),
        );
    }
    (window_hours > MAX_WINDOW_HOURS).then(|| {
        Fault::at("/window/until", "the window is longer than two years")
            .help("plan one season at a time")
    })
}

fn departures(
    keys: &ScenarioKeys,
    clock: Clock,
    window_hours: f64,
    faults: &mut Faults,
) -> Vec<f64> {
    let wanted = &keys.voyage.departures;
    let first = clock.hour(wanted.from);
    let last = clock.hour(wanted.until.unwrap_or(wanted.from));
    if first < 0.0 || first > window_hours {
        faults.push(
            Fault::at("/voyage/departures/from", "the first departure lies outside the window")
                .help(format!(
                    "the window runs from {} to {}",
                    keys.window.from, keys.window.until
                )),
        );
    }
    if last < first {
        faults.push(
            Fault::at("/voyage/departures/until", "the last departure lies before the first")
                .help("give an instant not before `from`"),
        );
    } else if last > window_hours {
        faults.push(
            Fault::at("/voyage/departures/until", "the last departure lies after the window")
                .help(format!("the window ends at {}", keys.window.until)),
        );
    }
    let count = ((last - first) / wanted.every_h).floor().max(0.0);
    if count >= MAX_DEPARTURES as f64 {
        faults.push(
            Fault::at("/voyage/departures/every_h", "there are too many departures")
                .help(format!("{MAX_DEPARTURES} is the most; take a longer step")),
        );
        return Vec::new();
    }
    (0..=count as usize).map(|step| first + step as f64 * wanted.every_h).collect()
}

/// Ports of one name could not be told apart, in a table or as the port to return to.
fn faults_of_names(ports: &[Port]) -> Vec<Fault> {
    let plain = |port: &Port| port.name.split_whitespace().collect::<Vec<_>>().join(" ");
    let twin = |(index, port): (usize, &Port)| {
        let first = ports.iter().take(index).position(|other| plain(other) == plain(port))?;
        let message = format!(
            "the port `{}` has the name of the port at voyage.ports.{first}, `{}`",
            port.name,
            ports.get(first)?.name
        );
        Some(Fault::at(format!("/voyage/ports/{index}/name"), message).help(format!(
            "give each port a name of its own, such as `{} 2`; one port need not stand twice",
            plain(port)
        )))
    };
    ports.iter().enumerate().filter_map(twin).collect()
}

/// The port to return to is there, and returned to.
fn faults_of_home(voyage: &VoyageKeys) -> Vec<Fault> {
    let (ports, wanted) = (&voyage.ports, voyage.home.as_str());
    let reserved = |(index, port): (usize, &Port)| {
        let word = [ANY_HOME, SAME_HOME].contains(&port.name.as_str()).then_some(&port.name)?;
        let message = format!("`{word}` is a word of the key `voyage.home`, not a port's name");
        let help = "give the port a longer name";
        Some(Fault::at(format!("/voyage/ports/{index}/name"), message).help(help))
    };
    let mut faults: Vec<Fault> = ports.iter().enumerate().filter_map(reserved).collect();
    let homes: Vec<&str> =
        ports.iter().filter(|port| port.home).map(|port| port.name.as_str()).collect();
    let named = format!("give `any`, `same` or a port with `home: true`: {}", homes.join(", "));
    let mut refuse = |message: String| {
        faults.push(Fault::at("/voyage/home", message).help(named.clone()));
    };
    match wanted {
        ANY_HOME => {}
        SAME_HOME => {
            for port in ports.iter().filter(|port| port.depart && !port.home) {
                refuse(format!("voyages leave `{}`, and may not return there", port.name));
            }
        }
        name => match ports.iter().find(|port| port.name == name) {
            Some(port) if port.home => {}
            Some(_) => refuse(format!("`{name}` has `home: false`")),
            None => refuse(format!("no port is called `{name}`")),
        },
    }
    faults
}

fn faults_of_station(station: &StationKeys) -> Option<Fault> {
    (station.at_most_h < station.at_least_h).then(|| {
        Fault::at("/station/at_most_h", "the longest stay is shorter than the shortest")
            .help(format!("give at least {}", station.at_least_h))
    })
}

/// An aircraft that may not stand on the ice for as long as the pole must be near attains nothing.
fn faults_of_ground(legs: &[Built<LastLegPoint>], station: &StationKeys) -> Vec<Fault> {
    let measure = Measure { within_km: station.within_km, for_h: station.for_h };
    let ground_h = measure.whole_hours() - 1;
    let of_leg = |(index, leg): (usize, &Built<LastLegPoint>)| {
        let Means::Air(aircraft) = leg.object.means() else { return None };
        let most_h = aircraft.stores().most_ground_h;
        let pointer = pointer_to("/last_leg", &index.to_string());
        (ground_h as f64 > most_h).then(|| {
            let message = format!(
                "{} stands on the ice for up to {most_h} h, and the pole must be near for {} h, which takes \
                 {ground_h} whole hours there",
                leg.object.name(),
                station.for_h
            );
            Fault::at(pointer, message)
                .help("raise `most_ground_h`, or shorten `for_h` at `station`")
        })
    };
    legs.iter().enumerate().filter_map(of_leg).collect()
}

fn faults_of_years(
    model: &Built<MainFieldPoint>,
    clock: Clock,
    window_hours: f64,
) -> Option<Fault> {
    let years = model.object.years();
    let ends = [("from", 0.0), ("until", window_hours)];
    ends.iter().find(|(_, hour)| !years.contains(&clock.decimal_year(*hour))).map(|(end, hour)| {
        let message = format!(
            "the model {} answers for {:.1} to {:.1}, not for {:.2}",
            model.object.provenance().name,
            years.start(),
            years.end(),
            clock.decimal_year(*hour)
        );
        Fault::at(format!("/window/{end}"), message).help(
            "take a model that covers the window, or ask for extrapolation at `pole.model` by name",
        )
    })
}
