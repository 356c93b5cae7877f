//! A party's march in figures: its stretches, and where its ways pass its depots.

use dipward_geodesy::{Position, direct, inverse};
use dipward_plugin::{DepotPass, DepotRule, March, PaceTable, Route, RoutePoint, Stretch};

/// A way is looked at for depots at places no farther apart than this, km.
const LOOK_KM: f64 = 0.1;

/// A depot on the way out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Laid {
    place: Position,
    hour: f64,
    /// The way from the landing to it.
    way: Stretch,
}

impl Laid {
    /// Where it has drifted to.
    pub(super) fn at(&self, rule: &DepotRule, hour: f64) -> Position {
        let drifted_km = rule.drift_km_per_h * (hour - self.hour);
        direct(self.place, rule.drift_toward_deg, drifted_km).position
    }
}

/// The depots of a march where its way out passes them, in their order; nothing for one that would lie beyond
/// the pole.
pub(super) fn laid_along(rule: &DepotRule, out: &Route) -> Vec<Option<Laid>> {
    rule.at_km.iter().map(|&at_km| laid(out, at_km)).collect()
}

fn laid(out: &Route, at_km: f64) -> Option<Laid> {
    let first = out.points.first()?;
    let mut way = Stretch::default();
    for pair in out.points.windows(2) {
        let line = inverse(pair[0].position, pair[1].position);
        let hours = pair[1].hour - pair[0].hour;
        let ahead_km = at_km - way.distance_km;
        if line.distance_km > 0.0 && ahead_km <= line.distance_km {
            let hour = pair[0].hour + hours * ahead_km / line.distance_km;
            let place = direct(pair[0].position, line.initial_course_deg, ahead_km).position;
            let way = Stretch { distance_km: at_km, hours: hour - first.hour, ..way };
            return Some(Laid { place, hour, way });
        }
        way.distance_km += line.distance_km;
        way.waited_h += if line.distance_km > 0.0 { 0.0 } else { hours };
    }
    None
}

/// The march along a way out and a way home.
pub(super) fn march_along(rule: &DepotRule, out: &Route, home: &Route) -> March {
    let leave_hour = home.points.first().map_or(f64::NAN, |point| point.hour);
    let passes = laid_along(rule, out)
        .into_iter()
        .map(|laid| {
            let Some(laid) = laid else { return DepotPass::default() };
            let (off_way_km, way) = nearest(home, |hour| laid.at(rule, hour));
            let found = off_way_km <= rule.found_within_km;
            DepotPass { out: Some(laid.way), home: found.then_some(way), off_way_km }
        })
        .collect();
    let (out, home) = (stretch(out), stretch(home));
    let stay_h = leave_hour - out.1;
    March { out: out.0, stay_h, home: home.0, passes }
}

/// A whole way, and the hour at which it ends.
fn stretch(way: &Route) -> (Stretch, f64) {
    let first_hour = way.points.first().map_or(f64::NAN, |point| point.hour);
    let waited = |pair: &[RoutePoint]| {
        if pair[0].position == pair[1].position { pair[1].hour - pair[0].hour } else { 0.0 }
    };
    let arrive_hour = way.arrive_hour();
    let whole = Stretch {
        distance_km: way.distance_km,
        hours: arrive_hour - first_hour,
        waited_h: way.points.windows(2).map(waited).sum(),
    };
    (whole, arrive_hour)
}

/// How near a way comes to a place that moves, and the way until then.
fn nearest(way: &Route, place: impl Fn(f64) -> Position) -> (f64, Stretch) {
    let first_hour = way.points.first().map_or(0.0, |point| point.hour);
    let mut least = (f64::INFINITY, Stretch::default());
    let mut gone = Stretch::default();
    for pair in way.points.windows(2) {
        let line = inverse(pair[0].position, pair[1].position);
        let hours = pair[1].hour - pair[0].hour;
        let steps = (line.distance_km / LOOK_KM).ceil().max(1.0) as u32;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            let run_km = line.distance_km * share;
            let hour = pair[0].hour + hours * share;
            let here = direct(pair[0].position, line.initial_course_deg, run_km).position;
            let away_km = inverse(here, place(hour)).distance_km;
            if away_km < least.0 {
                let distance_km = gone.distance_km + run_km;
                least = (away_km, Stretch { distance_km, hours: hour - first_hour, ..gone });
            }
        }
        gone.distance_km += line.distance_km;
        gone.waited_h += if line.distance_km > 0.0 { 0.0 } else { hours };
    }
    least
}

/// The way between the berth and the place on the ice beside her.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beside {
    pub(super) distance_km: f64,
    pub(super) hours: f64,
    pub(super) fuel_t: f64,
}

impl Beside {
    /// The way at the pace of the cell beside her; nothing where that is closed at the hour.
    pub(super) fn of(
        table: &PaceTable,
        [berth, set_out]: [Position; 2],
        hour: f64,
    ) -> Option<Self> {
        let distance_km = inverse(berth, set_out).distance_km;
        if distance_km == 0.0 {
            return Some(Self { distance_km, hours: 0.0, fuel_t: 0.0 });
        }
        let cell = table.grid.cell_at(set_out)? as usize;
        let after = table.hours.partition_point(|&frame| frame <= hour);
        // Between two frames the slower of both, and closed where either is.
        let frames = [after.saturating_sub(1), after.min(table.hours.len().saturating_sub(1))];
        let [pace, burn] = [&table.pace_h_per_km, &table.burn_t_per_h].map(|values| {
            let at = frames.map(|frame| values.get(table.offset(0, 0, frame) + cell).copied());
            let [first, second] = at.map(|value| value.map_or(f64::INFINITY, f64::from));
            first.max(second)
        });
        let hours = pace * distance_km;
        hours.is_finite().then_some(Self { distance_km, hours, fuel_t: burn * hours })
    }

    /// A way with this one before it.
    pub(super) fn before(self, berth: Position, mut way: Route) -> Route {
        if self.distance_km > 0.0
            && let Some(&first) = way.points.first()
        {
            for point in &mut way.points {
                point.fuel_used_t += self.fuel_t;
            }
            let hour = first.hour - self.hours;
            way.points.insert(0, RoutePoint { position: berth, hour, ..first });
            way.distance_km += self.distance_km;
        }
        way
    }

    /// A way with this one after it.
    pub(super) fn after(self, berth: Position, mut way: Route) -> Route {
        if self.distance_km > 0.0
            && let Some(&last) = way.points.last()
        {
            way.points.push(RoutePoint {
                position: berth,
                hour: last.hour + self.hours,
                fuel_used_t: last.fuel_used_t + self.fuel_t,
                setting: last.setting,
            });
            way.distance_km += self.distance_km;
        }
        way
    }
}

/// One way after another, which begins where and when it ends.
pub(super) fn joined(mut first: Route, then: Route) -> Route {
    let fuel_t = first.points.last().map_or(0.0, |point| point.fuel_used_t);
    first.points.extend(
        then.points
            .iter()
            .skip(1)
            .map(|point| RoutePoint { fuel_used_t: point.fuel_used_t + fuel_t, ..*point }),
    );
    Route { distance_km: first.distance_km + then.distance_km, goal: then.goal, ..first }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{distance_km, position};

    use super::*;

    /// Along geodesics at 3 km/h.
    fn way(hour: f64, places: &[Position]) -> Route {
        let mut gone_km = 0.0;
        let mut before = places[0];
        let points = places.iter().map(|&place| {
            gone_km += distance_km(before, place);
            before = place;
            RoutePoint { position: place, hour: hour + gone_km / 3.0, fuel_used_t: 0.0, setting: 0 }
        });
        let points = points.collect();
        Route { points, goal: 0, distance_km: gone_km }
    }

    fn rule(drift_km_per_h: f64) -> DepotRule {
        DepotRule {
            at_km: vec![30.0, 500.0],
            drift_km_per_h,
            drift_toward_deg: 90.0,
            found_within_km: 0.5,
        }
    }

    /// On the way, beside it, off it: of a way home along the way out, of the same on ice that drifts, of one
    /// two degrees farther east, and of one that goes to where the depot has drifted.
    #[test]
    fn a_depot_is_passed_where_it_lies_by_then() {
        let (berth, pole) = (position(85.0, 0.0), position(85.6, 0.0));
        let out = way(0.0, &[berth, pole]);
        let leave = out.arrive_hour() + 40.0;
        let home = way(leave, &[pole, berth]);
        let still = march_along(&rule(0.0), &out, &home);
        let passed = still.passes[0];
        assert!((passed.out.unwrap().distance_km - 30.0).abs() < 1e-9);
        assert!((passed.out.unwrap().hours - 10.0).abs() < 1e-9);
        let from_pole_km = out.distance_km - 30.0;
        assert!((passed.home.unwrap().distance_km - from_pole_km).abs() <= LOOK_KM);
        assert!((still.stay_h - 40.0).abs() < 1e-9);
        assert_eq!(still.passes[1], DepotPass::default());

        // Laid at 10 h, passed some 80 h later.
        let adrift = march_along(&rule(0.1), &out, &home).passes[0];
        let hours = leave + from_pole_km / 3.0 - 10.0;
        assert!(adrift.home.is_none());
        assert!((adrift.off_way_km / (0.1 * hours) - 1.0).abs() < 0.02, "{adrift:?}");
        let there =
            laid_along(&rule(0.1), &out)[0].unwrap().at(&rule(0.1), leave + from_pole_km / 3.0);
        let by_way_of_it = way(leave, &[pole, there, berth]);
        assert!(march_along(&rule(0.1), &out, &by_way_of_it).passes[0].home.is_some());

        let east = way(leave, &[pole, position(85.3, 2.0), berth]);
        let beside = march_along(&rule(0.0), &out, &east).passes[0];
        assert!(beside.home.is_none() && beside.off_way_km > 10.0, "{beside:?}");
    }

    #[test]
    fn waits_are_no_way() {
        let (berth, pole) = (position(85.0, 0.0), position(85.6, 0.0));
        let mut out = way(0.0, &[berth, position(85.2, 0.0), pole]);
        let waiting = out.points[1];
        for point in &mut out.points[2..] {
            point.hour += 6.0;
        }
        out.points.insert(2, RoutePoint { hour: waiting.hour + 6.0, ..waiting });
        let march = march_along(&rule(0.0), &out, &way(200.0, &[pole, berth]));
        assert!((march.out.waited_h - 6.0).abs() < 1e-9);
        let depot = march.passes[0].out.unwrap();
        assert!((depot.hours - 16.0).abs() < 1e-9, "{depot:?}");
    }
}
