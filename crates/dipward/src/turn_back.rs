//! The last moment to turn for home, and what ends the time for it.

use dipward_plugin::{NoRoute, TurnBack, TurnBackLimit};

use crate::{approach::Lying, homeward::Homeward, world::World};

/// The last moment at the pole, or at the landing, to turn for home.
///
/// It is found by a forward scan over the instants of leaving, with the ice of each, from the first on from
/// which the craft comes home: the margin is [`World::margin_home_t`] with the way home of least fuel.
///
/// # Returns
///
/// Nothing where no limit is found: from the last instant looked at the way home is open, ends within the
/// window, and the fuel suffices for it.
#[must_use]
pub(crate) fn turn_back(
    world: &World<'_>,
    arrive_hour: f64,
    out_t: f64,
    lying: &Lying,
    homes: &[Homeward],
) -> Option<TurnBack> {
    let decisions = homes.iter().filter(|home| home.hour >= arrive_hour).map(|home| {
        let lying_t = lying.lying_t(world, arrive_hour, home.hour);
        (home.hour, margin_t(world, out_t + lying_t, home))
    });
    let (hour, limit) = last_safe(decisions)?;
    let at = lying.position(world, hour);
    Some(TurnBack {
        limit: Some(limit),
        time: world.scenario.clock.instant(hour),
        latitude_deg: at.y(),
        longitude_deg: at.x(),
    })
}

/// The margin of fuel on the way home of least fuel, or why no way leads home in time.
///
/// # Arguments
///
/// `burnt_t`: what has been burnt by then.
pub(crate) fn margin_t(world: &World<'_>, burnt_t: f64, home: &Homeward) -> Result<f64, NoRoute> {
    let way = home.least_fuel.as_ref().map_err(Clone::clone)?;
    Ok(world.margin_home_t(burnt_t, way.fuel_t()))
}

/// The last hour of the first stretch of safe decisions, and what ends it, by a forward scan over decisions,
/// each an hour and the margin with which the craft would come home from there, or why it would not come home
/// on any fuel. Between the last safe decision and one for which the fuel is short, the margin is taken as linear
/// in time; where the way home closes or leads beyond the window, the last safe decision stands.
///
/// # Returns
///
/// Nothing where no decision is safe, and where none after the first safe one is not.
pub(crate) fn last_safe(
    decisions: impl Iterator<Item = (f64, Result<f64, NoRoute>)>,
) -> Option<(f64, TurnBackLimit)> {
    let mut last: Option<(f64, f64)> = None;
    for (hour, margin_t) in decisions {
        match (margin_t, last) {
            (Ok(margin), _) if margin >= 0.0 => last = Some((hour, margin)),
            (Ok(short), Some((before, margin))) => {
                let hour = before + (hour - before) * margin / (margin - short);
                return Some((hour, TurnBackLimit::Fuel));
            }
            (Err(reason), Some((before, _))) => return Some((before, limit_of(&reason))),
            (_, None) => {}
        }
    }
    None
}

/// What ends the time for turning where no way leads home.
fn limit_of(reason: &NoRoute) -> TurnBackLimit {
    match reason {
        NoRoute::TooLate => TurnBackLimit::Window,
        NoRoute::TooMuchFuel => TurnBackLimit::Fuel,
        // A way that was open a decision before is closed now.
        _ => TurnBackLimit::Ice,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SAFE: Result<f64, NoRoute> = Ok(10.0);

    fn found(margins: &[Result<f64, NoRoute>]) -> Option<(f64, TurnBackLimit)> {
        let hours = (0..).map(|step| f64::from(step) * 24.0);
        last_safe(hours.zip(margins.iter().copied()))
    }

    #[test]
    fn fuel_binds_where_the_margin_passes_zero() {
        assert_eq!(found(&[SAFE, Ok(-10.0), SAFE]), Some((12.0, TurnBackLimit::Fuel)));
        assert_eq!(found(&[SAFE, Ok(0.0), Ok(-5.0)]), Some((24.0, TurnBackLimit::Fuel)));
    }

    #[test]
    fn the_window_binds_where_a_later_way_home_ends_after_it() {
        let late = Err(NoRoute::TooLate);
        assert_eq!(found(&[SAFE, SAFE, late]), Some((24.0, TurnBackLimit::Window)));
        // Fuel that runs out before it binds first.
        assert_eq!(found(&[SAFE, Ok(-30.0), late]), Some((6.0, TurnBackLimit::Fuel)));
    }

    #[test]
    fn ice_binds_where_the_way_home_closes() {
        let closed = Err(NoRoute::Enclosed);
        assert_eq!(found(&[SAFE, closed, SAFE]), Some((0.0, TurnBackLimit::Ice)));
        // It opens only after the arrival.
        assert_eq!(found(&[closed, SAFE, closed]), Some((24.0, TurnBackLimit::Ice)));
    }

    #[test]
    fn nothing_binds_where_the_last_decision_looked_at_is_safe() {
        assert_eq!(found(&[SAFE, SAFE, SAFE]), None);
        assert_eq!(found(&[Ok(-1.0), Err(NoRoute::TooLate)]), None);
        assert_eq!(found(&[]), None);
    }
}
