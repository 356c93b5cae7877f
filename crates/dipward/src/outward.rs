//! Ways out: from every port and departure to the moving pole, and to the landings of last legs.

use dipward_plugin::{Control, Error, NoRoute, Route, RouteSet, Search};

use crate::{
    proofs::proved,
    questions::{Question, Sought, To, ask},
    stages::{Landed, land},
    world::{Harbour, World},
};

/// The ways out of one port at one departure.
#[derive(Debug, Clone)]
pub(crate) struct Outward<'a> {
    /// The port.
    pub harbour: &'a Harbour,
    /// The departure.
    pub hour: f64,
    /// The ways, each with what it was sought for and its place among the answers to that.
    pub ways: Vec<Way>,
    /// Why there is none to the pole itself, if there is none.
    pub reason: Option<String>,
    /// Why there is none to a landing, for each last leg that has none: its name and the reason.
    pub unlanded: Vec<(String, String)>,
    /// No way to the pole itself takes fewer hours; nothing where there is no bound.
    pub lower_bound_h: Option<f64>,
    /// No such way burns less; nothing where there is no bound.
    pub lower_bound_t: Option<f64>,
}

/// One way out.
#[derive(Debug, Clone)]
pub(crate) struct Way {
    /// What it was sought for.
    pub sought: Sought,
    /// 0 for the best, then distinct alternatives.
    pub alternative: usize,
    /// The way.
    pub route: Route,
    /// What belongs to it where it ends at a landing.
    pub landed: Option<Landed>,
    /// Where the craft returns to: [`Harbour::return_to`].
    pub return_to: Option<usize>,
}

/// One question of a departure.
#[derive(Debug, Clone, Copy)]
struct Ask {
    sought: Sought,
    /// A last leg and a share of its reach; nothing where the craft goes all the way itself.
    landing: Option<(usize, usize)>,
}

/// Every port with every departure of a world, in that order.
pub(crate) fn departures<'a>(world: &'a World<'_>) -> Vec<(&'a Harbour, f64)> {
    world
        .harbours
        .iter()
        .filter(|harbour| harbour.depart)
        .flat_map(|harbour| world.departures.iter().map(move |&hour| (harbour, hour)))
        .collect()
}

/// Solves the ways out of ports at hours, in that order.
///
/// # Arguments
///
/// `bounds`: whether lower bounds on the ways to the pole itself are wanted, which cost as much as several
/// searches.
///
/// # Errors
///
/// What the search says, other than that there is no route.
pub(crate) fn outward<'a>(
    world: &World<'_>,
    starts: Vec<(&'a Harbour, f64)>,
    bounds: bool,
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Outward<'a>>, Error> {
    let asks = asks(world);
    let question = |(harbour, hour): &(&Harbour, f64), Ask { sought, landing }: Ask| {
        let (to, routes) = match (landing, sought) {
            (Some((leg, share)), _) => (To::Landings(leg, share), 1),
            (None, Sought::Earliest) => (To::Pole, world.scenario.keys.voyage.routes),
            (None, Sought::LeastFuel) => (To::Pole, 1),
        };
        let bounds = bounds && landing.is_none();
        Question { routes, bounds, ..Question::new((*hour, harbour.position), sought, to) }
    };
    let questions: Vec<Question> =
        starts.iter().flat_map(|start| asks.iter().map(|&ask| question(start, ask))).collect();
    control.begin("ways out", questions.len() as u64);
    let mut answers = ask(world, &questions, search, control)?.into_iter();
    let mut all = Vec::with_capacity(starts.len());
    for (harbour, hour) in starts {
        let mut one = Outward::empty(harbour, hour);
        for (&ask, answer) in asks.iter().zip(&mut answers) {
            match answer {
                Ok(set) => one.take(world, ask, set),
                Err(reason) => one.note(world, ask, reason),
            }
        }
        drop_twins(&mut one.ways);
        all.push(one);
    }
    land(world, &mut all, search, control)?;
    Ok(all)
}

/// What is asked of every departure: to the pole itself, and to the landings of every last leg.
fn asks(world: &World<'_>) -> Vec<Ask> {
    let both = [Sought::Earliest, Sought::LeastFuel];
    let mut asks: Vec<Ask> = both.map(|sought| Ask { sought, landing: None }).to_vec();
    for (leg, ready) in world.legs.iter().enumerate() {
        for share in 0..ready.landings.len() {
            let landing = Some((leg, share));
            asks.push(Ask { sought: Sought::Earliest, landing });
            // Of the greatest reach alone, where the ship sails least.
            if share == 0 {
                asks.push(Ask { sought: Sought::LeastFuel, landing });
            }
        }
    }
    asks
}

impl<'a> Outward<'a> {
    /// A departure without ways.
    pub(crate) fn empty(harbour: &'a Harbour, hour: f64) -> Self {
        Self {
            harbour,
            hour,
            ways: Vec::new(),
            reason: None,
            unlanded: Vec::new(),
            lower_bound_h: None,
            lower_bound_t: None,
        }
    }

    fn take(&mut self, world: &World<'_>, ask: Ask, set: RouteSet) {
        let greater = |own: Option<f64>, bound| match (own, proved(bound)) {
            (Some(own), Some(bound)) => Some(f64::max(own, bound)),
            (own, bound) => own.or(bound),
        };
        self.lower_bound_h = greater(self.lower_bound_h, set.lower_bound_h);
        self.lower_bound_t = greater(self.lower_bound_t, set.lower_bound_t);
        for (alternative, route) in set.routes.into_iter().enumerate() {
            let landed = ask.landing.and_then(|(leg, share)| {
                let landings = world.legs.get(leg)?.landings.get(share)?;
                let berth = *landings.berths.get(route.goal)?;
                Some(Landed::new(leg, berth, *landings.set_out.get(route.goal)?))
            });
            let return_to = self.harbour.return_to;
            self.ways.push(Way { sought: ask.sought, alternative, route, landed, return_to });
        }
    }

    /// Notes why there is no way; of a last leg for the greatest reach alone.
    fn note(&mut self, world: &World<'_>, ask: Ask, reason: NoRoute) {
        let Some((leg, share)) = ask.landing else {
            self.reason.get_or_insert_with(|| reason.to_string());
            return;
        };
        let Some(ready) = world.legs.get(leg) else { return };
        let told = match ready.landings.get(share) {
            Some(landings) if landings.berths.is_empty() => landings.hindrance.clone(),
            _ => format!("to its landings: {reason}"),
        };
        if share == 0 && ask.sought == Sought::Earliest {
            self.unlanded.push((ready.leg.name(), told));
        }
    }
}

/// The earliest way is often also the one of least fuel: it is then told once.
fn drop_twins(ways: &mut Vec<Way>) {
    let mut kept: Vec<Way> = Vec::with_capacity(ways.len());
    for way in ways.drain(..) {
        let twin = kept.iter().any(|other| {
            let hours = (other.route.arrive_hour() - way.route.arrive_hour()).abs();
            let tonnes = (other.route.fuel_t() - way.route.fuel_t()).abs();
            let same_way = (other.route.distance_km - way.route.distance_km).abs()
                < 0.002 * other.route.distance_km;
            let leg = |way: &Way| way.landed.as_ref().map(|landed| landed.leg);
            hours < 0.1 && tonnes < 0.1 && same_way && leg(other) == leg(&way)
        });
        if !twin {
            kept.push(way);
        }
    }
    *ways = kept;
}
