//! What belongs to a ship's way to a landing: the party's ways, and the ways home from there.

use dipward_geodesy::{Position, inverse};
use dipward_plugin::{
    Berth, Control, DepotRule, Error, Means, NoRoute, OverIceParty, PaceTable, Route, Search,
};

use super::{
    Going,
    march::{Beside, Laid, joined, laid_along, march_along},
};
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
    /// The first moment of leaving the pole from which no ice bears the party home, and why.
    pub(crate) cut_off: Option<(f64, NoRoute)>,
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
        Self { leg, berth, set_out, out: None, returns: Vec::new(), hindrance: None, cut_off: None }
    }

    /// The way between the ship and the ice beside her.
    fn beside(&self, table: &PaceTable, hour: f64) -> Option<Beside> {
        Beside::of(table, [self.berth.position, self.set_out], hour)
    }

    /// A way home over the ice, and on from the ice beside the ship to her.
    ///
    /// # Errors
    ///
    /// Where that ice does not bear by then.
    fn to_ship(&self, world: &World<'_>, route: Route) -> Result<Route, NoRoute> {
        let Some(over_ice) = over_ice(world, self.leg) else { return Ok(route) };
        let beside = self.beside(over_ice.table, route.arrive_hour());
        beside.map(|beside| beside.after(self.berth.position, route)).ok_or(NoRoute::GoalClosed)
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
        let march = match march {
            Some(Ok(route)) => Some(route),
            Some(Err(why)) => {
                if let Some(landed) = ways.get_mut(index).and_then(|way| way.landed.as_mut()) {
                    landed.cut_off.get_or_insert((hour, why));
                }
                continue;
            }
            None => None,
        };
        let Some(landed) = ways.get(index).and_then(|way| way.landed.as_ref()) else { continue };
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

/// A last leg over the ice.
#[derive(Clone, Copy)]
struct OverIce<'w> {
    party: &'w dyn OverIceParty,
    table: &'w PaceTable,
}

/// A last leg, where it goes over the ice.
fn over_ice<'w>(world: &'w World<'_>, leg: usize) -> Option<OverIce<'w>> {
    let leg = world.legs.get(leg)?;
    match (leg.leg.means(), &leg.going) {
        (Means::OverIce(party), Going::OverIce(ground)) => {
            Some(OverIce { party, table: &ground.0 })
        }
        _ => None,
    }
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
        let Some(party) = over_ice(world, landed.leg) else { continue };
        let arrive = way.route.arrive_hour();
        // Where the ice beside her is closed as yet, the party waits aboard, at its pace when it opens.
        let beside = landed.beside(party.table, arrive);
        asked.push((index, beside));
        let leaves = (arrive + beside.map_or(0.0, |beside| beside.hours), landed.set_out);
        questions.push(Question::soonest(leaves, To::PoleOverIce(landed.leg)));
    }
    let answers = ask(world, &questions, search, control)?;
    for ((index, beside), answer) in asked.into_iter().zip(answers) {
        let Some(landed) = ways.get_mut(index).and_then(|way| way.landed.as_mut()) else {
            continue;
        };
        let berth = landed.berth.position;
        match first_way(answer) {
            Ok(route) => match beside {
                Some(beside) => landed.out = Some(beside.before(berth, route)),
                None => {
                    landed.hindrance =
                        Some("the ice beside the ship at the landing does not bear".to_owned());
                }
            },
            Err(why) => {
                landed.hindrance = Some(format!("from the landing over the ice: {why}"));
            }
        }
    }
    Ok(())
}

/// The marches home, for each moment of leaving, or why there is none; nothing where none is needed.
fn march_home(
    world: &World<'_>,
    ways: &[&mut Way],
    leaving: &[(usize, f64)],
    search: &dyn Search,
    control: &Control,
) -> Result<Vec<Option<Result<Route, NoRoute>>>, Error> {
    let mut found: Vec<Option<Result<Route, NoRoute>>> = leaving.iter().map(|_| None).collect();
    let mut asked = Vec::new();
    let mut questions = Vec::new();
    for (place, &(index, hour)) in leaving.iter().enumerate() {
        let Some(landed) = ways.get(index).and_then(|way| way.landed.as_ref()) else { continue };
        if over_ice(world, landed.leg).is_some() {
            asked.push(place);
            let to = To::PlaceOverIce(landed.leg, landed.set_out);
            questions.push(Question::soonest((hour, world.mean_pole(hour)), to));
        }
    }
    for (place, answer) in asked.into_iter().zip(ask(world, &questions, search, control)?) {
        let landed = leaving.get(place).and_then(|&(index, _)| ways.get(index)?.landed.as_ref());
        let to_ship = first_way(answer).and_then(|route| {
            landed.map_or(Ok(route.clone()), |landed| landed.to_ship(world, route))
        });
        found[place] = Some(to_ship);
    }
    by_way_of_depots(world, ways, leaving, &mut found, search, control)?;
    Ok(found)
}

/// Sends those by way of their depots who do not come home on their fuel without them.
fn by_way_of_depots(
    world: &World<'_>,
    ways: &[&mut Way],
    leaving: &[(usize, f64)],
    found: &mut [Option<Result<Route, NoRoute>>],
    search: &dyn Search,
    control: &Control,
) -> Result<(), Error> {
    let mut detours: Vec<Detour<'_>> = Vec::new();
    for (place, &(index, hour)) in leaving.iter().enumerate() {
        let Some(landed) = ways.get(index).and_then(|way| way.landed.as_ref()) else { continue };
        let (Some(over_ice), Some(out)) = (over_ice(world, landed.leg), &landed.out) else {
            continue;
        };
        let Some(Ok(direct)) = found.get(place).and_then(Option::as_ref) else { continue };
        let rule = over_ice.party.depots();
        let march = march_along(&rule, out, direct);
        let passed_by = march.passes.iter().any(|pass| pass.out.is_some() && pass.home.is_none());
        if !passed_by || over_ice.party.march(&march).is_ok() {
            continue;
        }
        let laid: Vec<Laid> = laid_along(&rule, out).into_iter().flatten().collect();
        let km_per_h = out.distance_km / (march.out.hours - march.out.waited_h);
        detours.push(Detour {
            place,
            landed,
            rule,
            laid,
            km_per_h,
            here: (hour, world.mean_pole(hour)),
            way: None,
        });
    }
    let most = detours.iter().map(|detour| detour.laid.len()).max().unwrap_or(0);
    for _ in 0..most {
        detours.retain(|detour| detour.way.as_ref().is_none_or(Result::is_ok));
        // Twice: the depot drifts on for as long as the way to it takes.
        let mut aims: Vec<Option<Position>> = detours.iter().map(Detour::next_aim).collect();
        let mut answers = Vec::new();
        for _ in 0..2 {
            let questions: Vec<Question> = detours
                .iter()
                .zip(&aims)
                .filter_map(|(detour, aim)| {
                    let to = To::PlaceOverIce(detour.landed.leg, (*aim)?);
                    Some(Question::soonest(detour.here, to))
                })
                .collect();
            let mut each = ask(world, &questions, search, control)?.into_iter().map(first_way);
            answers = aims.iter().map(|aim| aim.and_then(|_| each.next())).collect();
            for ((detour, aim), answer) in detours.iter().zip(&mut aims).zip(&answers) {
                if let Some(Ok(route)) = answer {
                    *aim =
                        detour.laid.last().map(|depot| depot.at(&detour.rule, route.arrive_hour()));
                }
            }
        }
        for (detour, answer) in detours.iter_mut().zip(answers) {
            if let Some(answer) = answer {
                detour.laid.pop();
                detour.go_on(answer);
            }
        }
    }
    let questions: Vec<Question> = detours
        .iter()
        .map(|detour| {
            let to = To::PlaceOverIce(detour.landed.leg, detour.landed.set_out);
            Question::soonest(detour.here, to)
        })
        .collect();
    let answers = ask(world, &questions, search, control)?;
    for (mut detour, answer) in detours.into_iter().zip(answers) {
        detour.go_on(first_way(answer));
        if let (Some(Ok(route)), Some(found)) = (detour.way, found.get_mut(detour.place))
            && let Ok(route) = detour.landed.to_ship(world, route)
        {
            *found = Some(Ok(route));
        }
    }
    Ok(())
}

/// A way home by way of depots.
struct Detour<'w> {
    /// Which of the moments of leaving.
    place: usize,
    landed: &'w Landed,
    rule: DepotRule,
    /// The depots that are still ahead, the next one last.
    laid: Vec<Laid>,
    /// How fast the party went on its way out.
    km_per_h: f64,
    /// When and where the way so far ends.
    here: (f64, Position),
    /// The way so far.
    way: Option<Result<Route, NoRoute>>,
}

impl Detour<'_> {
    /// Where the next depot will be on arrival, at the speed of the way out.
    fn next_aim(&self) -> Option<Position> {
        let depot = self.laid.last()?;
        let (hour, here) = self.here;
        let away_km = inverse(here, depot.at(&self.rule, hour)).distance_km;
        Some(depot.at(&self.rule, hour + away_km / self.km_per_h))
    }

    fn go_on(&mut self, answer: Result<Route, NoRoute>) {
        let way = match (self.way.take(), answer) {
            (None, answer) => answer,
            (Some(Ok(way)), Ok(then)) => Ok(joined(way, then)),
            (Some(Err(why)), _) | (_, Err(why)) => Err(why),
        };
        if let Ok(Some(end)) = way.as_ref().map(|way| way.points.last()) {
            self.here = (end.hour, end.position);
        }
        self.way = Some(way);
    }
}
