//! A plan in two stages, sailed from here: the waypoints ahead to its landing, the last leg from there.

use dipward_geodesy::{Position, distance_km, position};
use dipward_plugin::{Approach, Control, Error, LastLegPlan, Route, RoutePoint};

use super::remaining::{LEAST_FUEL, Sailed, blocked, first_closed, without_stops};
use crate::{
    approach::{Lines, Planned},
    outward::{Outward, Way},
    questions::Sought,
    stages::{Landed, land_ways, plan_landed},
    world::{Harbour, World},
};

/// A landing is the same within this distance, km.
const SAME_KM: f64 = 0.01;

/// Sails a plan to its landing.
///
/// The landing stays as it is; the ship waits there until the last leg can be gone. The party's ways and
/// the ways home are sought anew, and the ship leaves when the plan leaves, or at the first moment after.
///
/// # Errors
///
/// What the search says.
pub(super) fn sail(
    world: &World<'_>,
    lines: &Lines<'_>,
    plan: &Approach,
    leg: &LastLegPlan,
    (harbour, hour): (&Harbour, f64),
    ahead: &[Position],
    control: &Control,
) -> Result<Sailed, Error> {
    let sparing = plan.sought == LEAST_FUEL;
    let mut sailed = Sailed { way: None, planned: Err(String::new()) };
    let landing = position(leg.landing_latitude_deg, leg.landing_longitude_deg);
    let mut line = vec![harbour.position];
    line.extend_from_slice(ahead);
    if ahead.is_empty() {
        line.push(landing);
    }
    let line = without_stops(line);
    let limit_t = world.stores.capacity_t - world.stores.reserve_t;
    let Some(route) = lines.sail(&line, hour, sparing, limit_t) else {
        sailed.planned = Err(first_closed(lines, &line, hour).map_or_else(
            || "the plan's way to its landing cannot be sailed".to_owned(),
            |at| blocked("out", at),
        ));
        return Ok(sailed);
    };
    let (route, landed) = match at_landing(world, leg, landing, route) {
        Ok(found) => found,
        Err(reason) => {
            sailed.planned = Err(reason);
            return Ok(sailed);
        }
    };
    sailed.way = Some(route.clone());
    let sought = if sparing { Sought::LeastFuel } else { Sought::Earliest };
    let return_to = harbour.return_to;
    let mut way = Way { sought, alternative: 0, route, landed: Some(landed), return_to };
    let search = world.scenario.search.object.as_ref();
    land_ways(world, &mut [&mut way], search, control)?;
    sailed.planned = whole_voyage(world, lines, plan, leg, &Outward::empty(harbour, hour), &way);
    Ok(sailed)
}

/// The route with a wait at its end until the last leg can be gone from there.
fn at_landing(
    world: &World<'_>,
    leg: &LastLegPlan,
    landing: Position,
    mut route: Route,
) -> Result<(Route, Landed), String> {
    let (index, ready) = world
        .legs
        .iter()
        .enumerate()
        .find(|(_, ready)| ready.leg.name() == leg.by)
        .ok_or_else(|| format!("the scenario has no last leg `{}`", leg.by))?;
    let arrive = route.arrive_hour();
    let berths = ready.landings.iter().flat_map(|set| set.berths.iter().zip(&set.set_out));
    let (berth, set_out) = berths
        .filter(|(berth, _)| arrive <= berth.until_hour)
        .filter(|(berth, _)| distance_km(berth.position, landing) < SAME_KM)
        .min_by(|a, b| a.0.from_hour.total_cmp(&b.0.from_hour))
        .ok_or_else(|| {
            format!("from the plan's landing {} can no longer go to the pole", leg.by)
        })?;
    if let Some(&last) = route.points.last()
        && berth.from_hour > arrive
    {
        let waited_t = (berth.from_hour - arrive) * world.stores.hold_t_per_h;
        route.points.push(RoutePoint {
            hour: berth.from_hour,
            fuel_used_t: last.fuel_used_t + waited_t,
            ..last
        });
    }
    if route.arrive_hour() > world.window_hours {
        return Err("the landing is reached only after the window ends".to_owned());
    }
    Ok((route, Landed::new(index, *berth, *set_out)))
}

fn whole_voyage(
    world: &World<'_>,
    lines: &Lines<'_>,
    plan: &Approach,
    leg: &LastLegPlan,
    outward: &Outward<'_>,
    way: &Way,
) -> Result<Planned, String> {
    let mut landed = way.landed.clone().ok_or("the plan has no landing")?;
    let leaves = world.scenario.clock.hour(leg.ship_leaves) + 1e-3;
    let in_time = landed.returns.partition_point(|one| one.home.hour <= leaves);
    landed.returns.truncate(in_time.max(1));
    let moves = world.moves_on_station();
    let station = world.station(&moves);
    let mut planned = plan_landed(world, outward, way, &landed, lines, &station)?;
    planned.approach.id.clone_from(&plan.id);
    planned.approach.sought.clone_from(&plan.sought);
    Ok(planned)
}
