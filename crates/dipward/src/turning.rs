//! Turning back: fuel at each decision along the way out and on station, every point of no return, the
//! critical points between refuges.
//!
//! ```text
//!   port o---1---2---3---4---o pole   1...4: decisions under way, a search home from each
//!                            | every `leave_every_h` on station
//! ```
//!
//! The ice changes while the craft is out, so that the margin of fuel need not fall all the way: a point
//! of no return may be followed by one at which the fuel suffices again. Between two decisions the margin
//! is taken as linear in time.

use dipward_geodesy::{Position, direct, inverse};
use dipward_plugin::{
    Control, CriticalPoint, Error, RoutePoint, Search, TurningCrossing, TurningDecision,
    TurningEvent, TurningScan,
};

use crate::{
    approach::Planned,
    homeward::{Homeward, homeward_from},
    questions::{Question, To, ask, first_way},
    world::World,
};

/// Scans the way out and the stay of an approach.
///
/// # Arguments
///
/// `homes`: the ways home from the pole at the instants of leaving.
///
/// # Errors
///
/// What the search says, other than that there is no way home.
pub(crate) fn turning(
    world: &World<'_>,
    planned: &Planned,
    homes: &[Homeward],
    search: &dyn Search,
    control: &Control,
) -> Result<TurningScan, Error> {
    let keys = &world.scenario.keys;
    let clock = world.scenario.clock;
    let way = &planned.out;
    let lying = &planned.lying;
    let under_way = points_under_way(way, keys.voyage.turning_points);
    let starts: Vec<(f64, Position)> =
        under_way.iter().map(|point| (point.hour, point.position)).collect();
    let homeward_starts: Vec<_> = starts.iter().map(|&start| (planned.return_to, start)).collect();
    let ways_home = homeward_from(world, &homeward_starts, search, control)?;
    let refuges = Refuges::of(world);
    // Ways home to one port alone do not tell which is the nearest.
    let known = planned.return_to.is_none().then_some(&*ways_home);
    let nearest = refuges.nearest(world, &starts, known, search, control)?;

    let mut decisions: Vec<(f64, TurningDecision)> = Vec::new();
    for ((point, home), nearest) in under_way.iter().zip(&ways_home).zip(&nearest) {
        let mut made = decision(world, (point.hour, point.position), point.fuel_used_t, home);
        made.nearest_refuge = nearest.and_then(|index| refuges.name(index));
        decisions.push((point.hour, made));
    }
    if let Some(end) = way.last() {
        let leave_hour = clock.hour(planned.approach.leave);
        let on_station = |home: &&Homeward| home.hour > end.hour && home.hour <= leave_hour;
        for home in lying.homes(homes).iter().filter(on_station) {
            let at = lying.position(world, home.hour);
            let burnt_t = end.fuel_used_t + lying.lying_t(world, end.hour, home.hour);
            decisions.push((home.hour, decision(world, (home.hour, at), burnt_t, home)));
        }
    }
    let margins: Vec<(f64, Option<f64>)> =
        decisions.iter().map(|(hour, decision)| (*hour, decision.margin_t)).collect();
    let crossings = crossings(&margins)
        .into_iter()
        .map(|(hour, event)| {
            let at = position_at(way, hour).unwrap_or_else(|| lying.position(world, hour));
            let (latitude_deg, longitude_deg) = (at.y(), at.x());
            TurningCrossing { time: clock.instant(hour), latitude_deg, longitude_deg, event }
        })
        .collect();
    let critical_points =
        refuges.critical_points(world, way, &starts, &nearest, search, control)?;
    let under_way_every_h = match (way.first(), way.last(), under_way.len()) {
        (Some(first), Some(last), count) if count > 1 => {
            (last.hour - first.hour) / (count - 1) as f64
        }
        _ => 0.0,
    };
    Ok(TurningScan {
        under_way_every_h,
        on_station_every_h: keys.station.leave_every_h,
        beset_days: keys.voyage.beset_days,
        decisions: decisions.into_iter().map(|(_, decision)| decision).collect(),
        crossings,
        critical_points,
    })
}

/// Turning for home at an hour and a place.
///
/// # Arguments
///
/// `burnt_t`: what has been burnt by then of the fuel at the start. The nearest refuge is left open.
pub(crate) fn decision(
    world: &World<'_>,
    (hour, at): (f64, Position),
    burnt_t: f64,
    home: &Homeward,
) -> TurningDecision {
    let stores = world.stores;
    let beset_t = world.beset_t();
    let fuel_t = stores.capacity_t - burnt_t;
    let home_t = home.least_fuel.as_ref().ok().map(dipward_plugin::Route::fuel_t);
    let margin_t = home_t.map(|home_t| world.margin_home_t(burnt_t, home_t));
    TurningDecision {
        time: world.scenario.clock.instant(hour),
        latitude_deg: at.y(),
        longitude_deg: at.x(),
        fuel_t,
        home_t,
        margin_t,
        beset_days: margin_t
            .filter(|_| stores.hold_t_per_h > 0.0)
            .map(|margin_t| (margin_t + beset_t) / (24.0 * stores.hold_t_per_h)),
        nearest_refuge: None,
    }
}

/// Where the margin passes zero, and where the way home closes or opens, in the order of time.
///
/// # Arguments
///
/// `margins`: hours, increasing, each with the margin of fuel; nothing where no way leads home.
fn crossings(margins: &[(f64, Option<f64>)]) -> Vec<(f64, TurningEvent)> {
    margins
        .windows(2)
        .filter_map(|pair| {
            let ((early, before), (late, after)) = (pair[0], pair[1]);
            match (before, after) {
                (Some(before), Some(after)) if (before >= 0.0) != (after >= 0.0) => {
                    let event = if before >= 0.0 {
                        TurningEvent::NoReturn
                    } else {
                        TurningEvent::ReturnAgain
                    };
                    Some((early + (late - early) * before / (before - after), event))
                }
                (Some(_), None) => Some((early, TurningEvent::WayHomeCloses)),
                (None, Some(_)) => Some((late, TurningEvent::WayHomeOpens)),
                _ => None,
            }
        })
        .collect()
}

/// The share of a stretch at which two differences of time, at its ends, pass zero.
fn share_of_zero(before: f64, after: f64) -> f64 {
    if before == after { 0.5 } else { (before / (before - after)).clamp(0.0, 1.0) }
}

/// Points of a way at equal steps of time, both ends included.
fn points_under_way(way: &[RoutePoint], steps: u32) -> Vec<RoutePoint> {
    let (Some(first), Some(last)) = (way.first(), way.last()) else { return Vec::new() };
    if steps == 0 {
        return Vec::new();
    }
    let hours = (0..=steps)
        .map(|step| first.hour + (last.hour - first.hour) * f64::from(step) / f64::from(steps));
    let point = |hour: f64| {
        let after = way.iter().position(|point| point.hour >= hour).unwrap_or(way.len() - 1);
        let (near, far) = (way.get(after.checked_sub(1)?)?, way.get(after)?);
        let share = (hour - near.hour) / (far.hour - near.hour);
        Some(RoutePoint {
            position: position_at(way, hour)?,
            hour,
            fuel_used_t: near.fuel_used_t + share * (far.fuel_used_t - near.fuel_used_t),
            setting: near.setting,
        })
    };
    let mut points: Vec<RoutePoint> = vec![*first];
    points.extend(hours.skip(1).take(steps.saturating_sub(1) as usize).filter_map(point));
    points.push(*last);
    points
}

/// Places where the craft is safe: the ports to return to and the refuges of the scenario.
struct Refuges {
    names: Vec<String>,
    places: Vec<Position>,
    /// How many of them are ports to return to; these come first.
    homes: usize,
}

impl Refuges {
    fn of(world: &World<'_>) -> Self {
        let (names, places) =
            world.safe_places().map(|(name, place)| (name.to_owned(), place)).unzip();
        Self { names, places, homes: world.homes().count() }
    }

    fn name(&self, index: usize) -> Option<String> {
        self.names.get(index).cloned()
    }

    /// The refuge that is reached first from each start, if any is.
    fn nearest(
        &self,
        world: &World<'_>,
        starts: &[(f64, Position)],
        ways_home: Option<&[Homeward]>,
        search: &dyn Search,
        control: &Control,
    ) -> Result<Vec<Option<usize>>, Error> {
        if let Some(ways_home) = ways_home.filter(|_| self.places.len() == self.homes) {
            let goal = |home: &Homeward| home.earliest.as_ref().ok().map(|route| route.goal);
            return Ok(ways_home.iter().map(goal).collect());
        }
        let questions: Vec<_> =
            starts.iter().map(|&start| Question::soonest(start, To::Refuges)).collect();
        let goal = |answer| first_way(answer).ok().map(|route| route.goal);
        Ok(ask(world, &questions, search, control)?.into_iter().map(goal).collect())
    }

    /// Between two decisions from which different refuges are reached first, the moment from which the
    /// later one is as near in time as the earlier one.
    fn critical_points(
        &self,
        world: &World<'_>,
        way: &[RoutePoint],
        starts: &[(f64, Position)],
        nearest: &[Option<usize>],
        search: &dyn Search,
        control: &Control,
    ) -> Result<Vec<CriticalPoint>, Error> {
        let mut points = Vec::new();
        for (pair, stretch) in nearest.windows(2).zip(starts.windows(2)) {
            let (Some(behind), Some(ahead)) = (pair[0], pair[1]) else { continue };
            let (Some(place_behind), Some(place_ahead)) =
                (self.places.get(behind), self.places.get(ahead))
            else {
                continue;
            };
            if behind == ahead {
                continue;
            }
            let [early, late] = [stretch[0], stretch[1]];
            let mut lead_h = [0.0; 2];
            for (lead_h, start) in lead_h.iter_mut().zip([early, late]) {
                let both = [place_behind, place_ahead]
                    .map(|&place| Question::soonest(start, To::Place(place)));
                let mut hours = [f64::INFINITY; 2];
                for (hours, answer) in hours.iter_mut().zip(ask(world, &both, search, control)?) {
                    *hours = first_way(answer).map_or(f64::INFINITY, |route| route.arrive_hour());
                }
                *lead_h = hours[1] - hours[0];
            }
            if !lead_h.iter().all(|lead_h| lead_h.is_finite()) {
                continue;
            }
            let hour = early.0 + (late.0 - early.0) * share_of_zero(lead_h[0], lead_h[1]);
            let at = position_at(way, hour).unwrap_or(late.1);
            points.push(CriticalPoint {
                time: world.scenario.clock.instant(hour),
                latitude_deg: at.y(),
                longitude_deg: at.x(),
                behind: self.name(behind).unwrap_or_default(),
                ahead: self.name(ahead).unwrap_or_default(),
            });
        }
        Ok(points)
    }
}

/// Where a way is at an hour; nothing after its end.
pub(crate) fn position_at(way: &[RoutePoint], hour: f64) -> Option<Position> {
    let next = way.iter().position(|point| point.hour >= hour)?;
    let after = way.get(next)?;
    let Some(before) = next.checked_sub(1).and_then(|index| way.get(index)) else {
        return Some(after.position);
    };
    let share = (hour - before.hour) / (after.hour - before.hour);
    if !(0.0..=1.0).contains(&share) {
        return Some(after.position);
    }
    let leg = inverse(before.position, after.position);
    Some(direct(before.position, leg.initial_course_deg, share * leg.distance_km).position)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An endurance of 6.5 h at 240 kn out and 210 kn home: the published point of no return is at
    /// 182 min and 728 nm (aerofile, Point of no return). The margin is linear in time, so that any scan
    /// finds it.
    #[test]
    fn published_point_of_no_return() {
        let margin_h = |hour: f64| 6.5 - hour - 240.0 * hour / 210.0;
        for steps in [1, 2, 7, 50] {
            let scan: Vec<(f64, Option<f64>)> = (0..=steps)
                .map(|step| 5.0 * f64::from(step) / f64::from(steps))
                .map(|hour| (hour, Some(margin_h(hour))))
                .collect();
            let [(hour, TurningEvent::NoReturn)] = crossings(&scan)[..] else {
                unreachable!("one crossing of {scan:?}")
            };
            assert!((hour * 60.0 - 182.0).abs() < 1e-9, "{hour}");
            assert!((hour * 240.0 - 728.0).abs() < 1e-9, "{hour}");
        }
    }

    /// Endurance 10 h; any steady wind brings the point of no return nearer: 500, 375 and 375 nm
    /// (Canadian Aviation forum, PNR with wind).
    #[test]
    fn published_points_of_no_return_with_wind() {
        for (out_kn, home_kn, expected_nm) in
            [(100.0, 100.0, 500.0), (50.0, 150.0, 375.0), (150.0, 50.0, 375.0)]
        {
            let margin = |hour: f64| Some(10.0 - hour - out_kn * hour / home_kn);
            let scan = [(0.0, margin(0.0)), (9.0, margin(9.0))];
            let (hour, _) = crossings(&scan)[0];
            assert!((hour * out_kn - expected_nm).abs() < 1e-9, "{hour}");
        }
    }

    /// 920 nm at 240 kn on and 210 kn back: the critical point is at 429.33 nm and 107.3 min.
    #[test]
    fn published_critical_point() {
        let lead_h = |run_nm: f64| (920.0 - run_nm) / 240.0 - run_nm / 210.0;
        let share = share_of_zero(lead_h(200.0), lead_h(700.0));
        let at_nm = 200.0 + 500.0 * share;
        assert!((at_nm - 429.333_333).abs() < 1e-5, "{at_nm}");
        assert!((at_nm / 240.0 * 60.0 - 107.333).abs() < 1e-3);
    }

    #[test]
    fn every_crossing_is_told_where_the_ice_opens_and_closes() {
        let scan = [
            (0.0, Some(10.0)),
            (10.0, Some(-10.0)),
            (20.0, Some(30.0)),
            (30.0, None),
            (40.0, None),
            (50.0, Some(5.0)),
            (60.0, Some(0.0)),
            (70.0, Some(-5.0)),
        ];
        assert_eq!(
            crossings(&scan),
            [
                (5.0, TurningEvent::NoReturn),
                (12.5, TurningEvent::ReturnAgain),
                (20.0, TurningEvent::WayHomeCloses),
                (50.0, TurningEvent::WayHomeOpens),
                (60.0, TurningEvent::NoReturn),
            ]
        );
        assert!(crossings(&[(0.0, Some(1.0))]).is_empty() && crossings(&[]).is_empty());
    }

    #[test]
    fn points_under_way_hold_both_ends_and_equal_steps() {
        let way: Vec<RoutePoint> = [(0.0, 80.0), (10.0, 81.0), (20.0, 81.0), (40.0, 82.0)]
            .map(|(hour, latitude_deg)| RoutePoint {
                position: dipward_geodesy::position(latitude_deg, 0.0),
                hour,
                fuel_used_t: 2.0 * hour,
                setting: 0,
            })
            .to_vec();
        let points = points_under_way(&way, 8);
        let hours: Vec<f64> = points.iter().map(|point| point.hour).collect();
        assert_eq!(hours, [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0]);
        assert!(points.iter().all(|point| (point.fuel_used_t - 2.0 * point.hour).abs() < 1e-12));
        assert!((points[1].position.y() - 80.5).abs() < 1e-3);
        assert_eq!(points[3].position.y(), 81.0);
        assert!(points_under_way(&way, 0).is_empty() && points_under_way(&[], 4).is_empty());
    }
}
