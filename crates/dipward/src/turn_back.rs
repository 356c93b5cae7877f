//! The last moment to turn for home.

use dipward_plugin::TurnBack;

use crate::{approach::Lying, homeward::Homeward, world::World};

/// The last moment at the pole, or at the landing, at which the fuel left still suffices for the way home of least fuel
/// and the reserve.
///
/// It is found by a forward scan over the instants of leaving, with the ice of each, from the arrival
/// on; between the last instant that is safe and the first that is not, the margin is taken as linear
/// in time. Where the way home closes or leads beyond the window instead, the last safe instant
/// stands.
#[must_use]
pub(crate) fn turn_back(
    world: &World<'_>,
    arrive_hour: f64,
    out_t: f64,
    lying: &Lying,
    homes: &[Homeward],
) -> TurnBack {
    let stores = world.stores;
    let chase_t = lying.chase_t(world);
    let margin_t = |home: &Homeward| {
        home.least_fuel.as_ref().ok().map(|route| {
            let held_t = stores.hold_t_per_h * (home.hour - arrive_hour) + chase_t;
            stores.capacity_t - stores.reserve_t - out_t - held_t - route.fuel_t()
        })
    };
    let on_station = homes.iter().filter(|home| home.hour >= arrive_hour);
    let last = last_safe(on_station.map(|home| (home.hour, margin_t(home)))).unwrap_or(arrive_hour);
    let at = lying.position(world, last);
    TurnBack {
        time: world.scenario.clock.instant(last),
        latitude_deg: at.y(),
        longitude_deg: at.x(),
    }
}

/// The last hour before the margin of fuel first runs out, by a forward scan over decisions, each an
/// hour and the margin with which the craft would come home from there: nothing where it would not
/// come home on any fuel.
///
/// # Returns
///
/// Nothing where the first decision is too late already.
pub(crate) fn last_safe(decisions: impl Iterator<Item = (f64, Option<f64>)>) -> Option<f64> {
    let mut last: Option<(f64, f64)> = None;
    for (hour, margin_t) in decisions {
        match (margin_t, last) {
            (Some(margin), _) if margin >= 0.0 => last = Some((hour, margin)),
            (Some(short), Some((before, margin))) => {
                return Some(before + (hour - before) * margin / (margin - short));
            }
            _ => break,
        }
    }
    last.map(|(hour, _)| hour)
}
