//! The last moment to turn for home.

use dipward_plugin::TurnBack;

use crate::{homeward::Homeward, world::World};

/// The last moment at the pole at which the fuel left still suffices for the way home of least fuel
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
    homes: &[Homeward],
) -> TurnBack {
    let stores = world.scenario.craft.object.stores();
    let chase_t = world.scenario.keys.station.chase_fuel_t;
    let margin_t = |home: &Homeward| {
        home.least_fuel.as_ref().ok().map(|route| {
            let held_t = stores.hold_t_per_h * (home.hour - arrive_hour) + chase_t;
            stores.capacity_t - stores.reserve_t - out_t - held_t - route.fuel_t()
        })
    };
    let mut last = (arrive_hour, None);
    for home in homes.iter().filter(|home| home.hour >= arrive_hour) {
        match margin_t(home) {
            Some(margin) if margin >= 0.0 => last = (home.hour, Some(margin)),
            Some(short) => {
                if let (hour, Some(margin)) = last {
                    last.0 = hour + (home.hour - hour) * margin / (margin - short);
                }
                break;
            }
            None => break,
        }
    }
    let at = world.mean_pole(last.0);
    TurnBack {
        time: world.scenario.clock.instant(last.0),
        latitude_deg: at.y(),
        longitude_deg: at.x(),
    }
}
