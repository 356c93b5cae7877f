//! The turning point from here: along the way that is left, and through the stay.

use dipward_geodesy::Position;
use dipward_plugin::{Approach, Control, Error, NoRoute, RoutePoint, TurnBack, TurningDecision};

use super::{record::Turning, remaining::Sailed};
use crate::{
    approach::{Lines, Lying},
    homeward::{Homeward, homeward_from},
    turn_back::{last_safe, margin_t},
    turning::{decision, position_at},
    voyage,
    world::World,
};

/// Decisions looked at under way, beside the present one: each costs a search of its own.
const UNDER_WAY: usize = 6;

/// Weighs the fuel aboard against the fuel home, now, under way and through the stay.
///
/// The way is that of the present plan; where it cannot be sailed, that of the best new approach.
///
/// # Errors
///
/// What the search says, other than that there is no way home.
pub(super) fn turning(
    world: &World<'_>,
    lines: &Lines<'_>,
    sailed: &Sailed,
    best: Option<&Approach>,
    homes: &[Homeward],
    control: &Control,
) -> Result<Turning, Error> {
    let clock = world.scenario.clock;
    let way = match (&sailed.way, best) {
        (Some(way), _) => voyage::points(&lines.steps(way)?, way.points.last()),
        (None, Some(best)) => best
            .waypoints
            .iter()
            .map(|point| RoutePoint {
                position: Position::new(point.longitude_deg, point.latitude_deg),
                hour: clock.hour(point.time),
                fuel_used_t: point.fuel_used_t,
                setting: 0,
            })
            .collect(),
        (None, None) => here_alone(world),
    };
    let along = match (&sailed.way, best) {
        (Some(_), _) => Some("the present plan".to_owned()),
        (None, best) => best.map(|best| best.id.clone()),
    };
    let mut decisions: Vec<TurningDecision> = Vec::new();
    let mut margins: Vec<(f64, Result<f64, NoRoute>)> = Vec::new();
    let places = under_way(&way);
    let here = world.harbours.iter().rfind(|harbour| harbour.depart);
    let return_to = here.and_then(|here| here.return_to);
    let starts: Vec<_> =
        places.iter().map(|point| (return_to, (point.hour, point.position))).collect();
    let search = world.scenario.search.object.as_ref();
    let ways_home = homeward_from(world, &starts, search, control)?;
    for (point, home) in places.iter().zip(&ways_home) {
        let start = (point.hour, point.position);
        decisions.push(decision(world, start, point.fuel_used_t, home));
        margins.push((point.hour, margin_t(world, point.fuel_used_t, home)));
    }
    let lying = sailed.planned.as_ref().map_or(&Lying::AtPole, |planned| &planned.lying);
    // Of a new approach in two stages nothing is known here of the ways home from its landing.
    let stays = sailed.way.is_some() || best.is_some_and(|best| best.last_leg.is_none());
    if let Some(end) = way.last().filter(|_| along.is_some() && stays) {
        for home in lying.homes(homes).iter().filter(|home| home.hour > end.hour) {
            let at = lying.position(world, home.hour);
            let burnt_t = end.fuel_used_t + lying.lying_t(world, end.hour, home.hour);
            decisions.push(decision(world, (home.hour, at), burnt_t, home));
            margins.push((home.hour, margin_t(world, burnt_t, home)));
        }
    }

    let too_late = !margins.first().is_some_and(|(_, now)| now.as_ref().is_ok_and(|t| *t >= 0.0));
    let last = last_safe(margins.into_iter()).filter(|_| !too_late).map(|(hour, limit)| {
        let at = position_at(&way, hour).unwrap_or_else(|| lying.position(world, hour));
        let time = clock.instant(hour);
        TurnBack { limit: Some(limit), time, latitude_deg: at.y(), longitude_deg: at.x() }
    });
    Ok(Turning { along, last, too_late, decisions })
}

/// The present moment as a way of one point.
fn here_alone(world: &World<'_>) -> Vec<RoutePoint> {
    let here = world.harbours.iter().rfind(|harbour| harbour.depart);
    here.zip(world.departures.first())
        .map(|(harbour, &hour)| RoutePoint {
            position: harbour.position,
            hour,
            fuel_used_t: 0.0,
            setting: 0,
        })
        .into_iter()
        .collect()
}

/// The present point, some on the way and the last.
fn under_way(way: &[RoutePoint]) -> Vec<RoutePoint> {
    let last = way.len().saturating_sub(1);
    let mut indices: Vec<usize> = (0..=UNDER_WAY).map(|part| part * last / UNDER_WAY).collect();
    indices.dedup();
    indices.into_iter().filter_map(|index| way.get(index).copied()).collect()
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;

    use super::*;

    fn way() -> Vec<RoutePoint> {
        [(0.0, 80.0), (10.0, 81.0), (20.0, 81.0), (30.0, 82.0)]
            .map(|(hour, latitude_deg)| RoutePoint {
                position: position(latitude_deg, 0.0),
                hour,
                fuel_used_t: hour,
                setting: 0,
            })
            .to_vec()
    }

    #[test]
    fn a_craft_is_between_its_points_and_waits_where_it_waits() {
        let at = |hour| position_at(&way(), hour).map(|at| at.y());
        assert_eq!(at(0.0), Some(80.0));
        assert!((at(5.0).unwrap() - 80.5).abs() < 1e-3);
        assert_eq!(at(15.0), Some(81.0));
        assert_eq!(at(31.0), None);
        assert_eq!(position_at(&[], 0.0), None);
    }

    #[test]
    fn decisions_hold_both_ends_once() {
        let way = way();
        let taken = under_way(&way);
        assert_eq!((taken.first(), taken.last()), (way.first(), way.last()));
        assert_eq!(taken.len(), 4);
        assert_eq!(under_way(&way[..1]).len(), 1);
        assert!(under_way(&[]).is_empty());
    }
}
