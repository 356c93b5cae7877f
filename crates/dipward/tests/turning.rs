//! Turning back in whole plans, against the closed forms of the steady case. Each follows from its own
//! definition; pilots and masters know them as point of no return, critical point (equal time point) and
//! endurance on station (from memory: U.S. Air Force, Air Navigation, AFPAM 11-216, under range control).

#![expect(
    clippy::panic,
    clippy::unwrap_used,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward_geodesy::{distance_km, position};
use dipward_plugin::{Approach, TurnBackLimit, TurningScan};
use dipward_tests::{BURN_T_PER_H, HOLD_T_PER_H, SPEED_KM_PER_H, Trial};
use jiff::Timestamp;
use trials::{planned, scenario};

/// The default trial's way: straight over the geographic pole.
fn way_km() -> f64 {
    let Trial { port, pole, .. } = Trial::default();
    distance_km(position(port.0, port.1), position(pole.0, pole.1))
}

/// The best approach of a trial with some keys of its scenario in other words.
fn best(trial: &Trial, changed: &[(&str, &str)]) -> Approach {
    let mut yaml = trial.yaml();
    for (from, to) in changed {
        assert!(yaml.contains(from), "{from}");
        yaml = yaml.replace(from, to);
    }
    let ranking = planned(&scenario(&yaml));
    let rejected = ranking.rejected;
    ranking.approaches.into_iter().next().unwrap_or_else(|| panic!("{rejected:?}"))
}

fn scan(approach: &Approach) -> &TurningScan {
    approach.turning.as_ref().unwrap()
}

fn hours_out(approach: &Approach, time: Timestamp) -> f64 {
    (time.as_millisecond() - approach.depart.as_millisecond()) as f64 / 3.6e6
}

/// How far from the port a place lies.
fn run_km(latitude_deg: f64, longitude_deg: f64) -> f64 {
    let port = Trial::default().port;
    distance_km(position(port.0, port.1), position(latitude_deg, longitude_deg))
}

#[track_caller]
fn assert_near(what: &str, found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected, "{what}: {found}, not {expected}");
}

/// Where the fuel for the days beset is not left on coming home, there is no plan; a tonne or two more and there
/// is one, from whose every decision it is left.
#[test]
fn fuel_for_the_days_beset_is_held_by_the_plan() {
    const BESET_DAYS: f64 = 16.0;
    let free = best(&Trial { capacity_t: 60.0, ..Trial::default() }, &[]).fuel_t;
    let held_t = BESET_DAYS * 24.0 * HOLD_T_PER_H;
    // The shortest stay ends at an instant of the lattice; the longest two of its steps later.
    let station_t = |steps: f64| steps * 4.0 * HOLD_T_PER_H;
    let least_t = free.out + free.home + free.station + held_t - station_t(1.0);
    let beset = format!("  routes: 1\n  beset_days: {BESET_DAYS}\n  turning_points: 9");
    let with = |capacity_t: f64| {
        let yaml = Trial { capacity_t, ..Trial::default() }.yaml();
        planned(&scenario(&yaml.replace("  routes: 1", &beset)))
    };
    let short = with(least_t - station_t(1.0));
    assert!(short.approaches.is_empty() && free.margin > 0.0);
    let reason = &short.rejected[0].reason;
    assert!(reason.contains("for the days beset") && reason.contains(" t are missing"), "{reason}");
    let enough = with(least_t + station_t(2.0));
    let best = &enough.approaches[0];
    assert!(best.fuel_t.margin_if_beset >= 0.0, "{:?}", best.fuel_t);
    assert!(scan(best).decisions.iter().all(|decision| decision.margin_t.unwrap() >= -1e-9));
    assert!(scan(best).crossings.is_empty());
    // The last moment to turn keeps them too.
    let turn = best.turn_back.unwrap();
    let spare_h = best.fuel_t.margin_if_beset / HOLD_T_PER_H;
    assert_eq!(turn.limit, Some(TurnBackLimit::Fuel));
    assert_near("h", hours_out(best, turn.time), hours_out(best, best.leave) + spare_h, 0.02);
}

/// With o and h the km to the tonne out and home, the fuel F beyond reserve and allowance is used up by
/// the way home from d = F o h / (o + h): fuel's `d = E O H / (O + H)`. The plan holds no allowance here, so that
/// the margins of its decisions are looked at with one.
#[test]
fn the_point_of_no_return_is_where_out_and_home_use_up_the_fuel() {
    const CAPACITY_T: f64 = 60.0;
    const BESET_DAYS: f64 = 16.0;
    let trial = Trial { capacity_t: CAPACITY_T, ..Trial::default() };
    let best = best(
        &trial,
        // The way home of least fuel is the slow one.
        &[
            ("power_settings: [1.0]", "power_settings: [1.0, 0.4]"),
            ("  routes: 1", "  routes: 1\n  turning_points: 9"),
        ],
    );
    let out_km_per_t = SPEED_KM_PER_H / BURN_T_PER_H;
    assert_near("fuel out", best.fuel_t.out, way_km() / out_km_per_t, 0.003);
    // A voyage at that power alone tells what it burns.
    let slow = self::best(&Trial::default(), &[("power_settings: [1.0]", "power_settings: [0.4]")]);
    let home_km_per_t = way_km() / slow.fuel_t.out;
    assert!(home_km_per_t > 1.2 * out_km_per_t, "out and home differ: {home_km_per_t}");

    let fuel_t = CAPACITY_T - BESET_DAYS * 24.0 * HOLD_T_PER_H;
    let expected_km = fuel_t * out_km_per_t * home_km_per_t / (out_km_per_t + home_km_per_t);
    assert!(expected_km < 0.9 * way_km(), "it lies under way");
    let allowance_t = CAPACITY_T - fuel_t;
    let decisions = &scan(&best).decisions;
    let short = decisions.iter().position(|one| one.margin_t.unwrap() < allowance_t).unwrap();
    let (before, after) = (&decisions[short - 1], &decisions[short]);
    let [early_t, late_t] = [before, after].map(|one| one.margin_t.unwrap() - allowance_t);
    let [early_km, late_km] =
        [before, after].map(|one| run_km(one.latitude_deg, one.longitude_deg));
    let km_out = early_km + (late_km - early_km) * early_t / (early_t - late_t);
    assert_near("km out", km_out, expected_km, 0.005);
    // Days beset at a decision use up the margin.
    for decision in decisions {
        let left_t = decision.fuel_t - decision.home_t.unwrap();
        let beset_days = decision.beset_days.unwrap();
        assert!((beset_days * 24.0 * HOLD_T_PER_H - left_t).abs() < 1e-9, "{decision:?}");
        assert!((decision.margin_t.unwrap() - left_t).abs() < 1e-9);
    }
}

/// Without days beset the same fuel brings the craft home from everywhere.
#[test]
fn fuel_for_the_whole_way_has_no_point_of_no_return() {
    let best = best(&Trial { capacity_t: 60.0, ..Trial::default() }, &[]);
    assert!(scan(&best).crossings.is_empty());
    assert!(scan(&best).decisions.iter().all(|decision| decision.margin_t.unwrap() > 0.0));
    assert!(scan(&best).critical_points.is_empty());
}

/// A refuge short of the pole, in the way's line.
const REFUGE: &str =
    "  refuges: [{ name: Hut, latitude_deg: 88.2, longitude_deg: 180 }]\n  routes: 1";

fn refuge_km() -> f64 {
    run_km(88.2, 180.0)
}

/// At equal speeds on and back `d = D H / (O + H)` is half of the way.
#[test]
fn the_critical_point_of_equal_speeds_is_halfway() {
    let best = best(&Trial::default(), &[("  routes: 1", REFUGE)]);
    let [critical] = &scan(&best).critical_points[..] else { panic!("{:?}", scan(&best)) };
    assert_eq!((critical.behind.as_str(), critical.ahead.as_str()), ("Trial Haven", "Hut"));
    let expected_km = refuge_km() / 2.0;
    assert_near(
        "km out",
        run_km(critical.latitude_deg, critical.longitude_deg),
        expected_km,
        0.005,
    );
    assert_near("h out", hours_out(&best, critical.time), expected_km / SPEED_KM_PER_H, 0.005);
}

/// Where the first half M of the way goes at half the speed, equal times on and back are at
/// x / s = (M - x) / s + (D - M) / v.
#[test]
fn the_critical_point_of_unequal_speeds_is_that_of_equal_times() {
    let slow = "    - kind: constant
      values: { speed_limit: 7.5 }
      inside: { box: { latitude_deg: [80, 90], longitude_deg: [-90, 90] } }
";
    let trial = Trial { layers: slow.to_owned(), ..Trial::default() };
    let best = best(&trial, &[("  routes: 1", REFUGE)]);
    let [critical] = &scan(&best).critical_points[..] else { panic!("{:?}", scan(&best)) };
    let slow_km = way_km() / 2.0;
    let expected_km = slow_km / 2.0 + (refuge_km() - slow_km) / 4.0;
    assert!((0.5 * slow_km..slow_km).contains(&expected_km));
    // A cell and a half at the joint of the two speeds.
    assert_near("km out", run_km(critical.latitude_deg, critical.longitude_deg), expected_km, 0.02);
    let expected_h = expected_km / (SPEED_KM_PER_H / 2.0);
    assert_near("h out", hours_out(&best, critical.time), expected_h, 0.02);
}

/// What is left of the fuel after both ways, burnt at the rate of keeping station.
#[test]
fn the_latest_time_to_leave_is_when_the_spare_fuel_is_burnt() {
    const CAPACITY_T: f64 = 50.0;
    let best = best(&Trial { capacity_t: CAPACITY_T, ..Trial::default() }, &[]);
    let passage_h = way_km() / SPEED_KM_PER_H;
    let spare_t = CAPACITY_T - 2.0 * passage_h * BURN_T_PER_H;
    let expected_h = passage_h + spare_t / HOLD_T_PER_H;
    let turn = best.turn_back.unwrap();
    assert_eq!(turn.limit, Some(TurnBackLimit::Fuel));
    assert_near("h out", hours_out(&best, turn.time), expected_h, 0.02);
    assert!(
        (scan(&best).decisions.last().unwrap().margin_t.unwrap() - best.fuel_t.margin).abs() < 0.2
    );
}

/// Ice that lies on all the water from before the stay until after it. Who leaves in it burns least by lying
/// still until it goes, and then sails home in open water.
#[test]
fn the_way_home_waits_for_the_ice_to_ease() {
    let from_h = 20.0;
    let until_h = 60.0;
    let trial = Trial {
        layers: "    - kind: constant
      ice: { concentration: 0.9, stage: thin_first_year, thickness_m: 0.6 }
      from: 2027-01-01T20:00Z
      until: 2027-01-03T12:00Z
"
        .to_owned(),
        station: "{ within_km: 5, for_h: 1, at_least_h: 4, at_most_h: 56, leave_every_h: 8 }",
        ..Trial::default()
    };
    let best = best(&trial, &[]);
    let passage_t = way_km() / SPEED_KM_PER_H * BURN_T_PER_H;
    let on_station = |hour: f64| hour > way_km() / SPEED_KM_PER_H;
    let mut waited = 0;
    for decision in &scan(&best).decisions {
        let hour = hours_out(&best, decision.time);
        if on_station(hour) && hour > from_h {
            let wait_t = (until_h - hour).max(0.0) * HOLD_T_PER_H;
            assert_near("t home", decision.home_t.unwrap(), wait_t + passage_t, 0.01);
            waited += usize::from(wait_t > 0.0);
        }
    }
    assert!(waited > 2, "{:?}", scan(&best).decisions);
    // Waiting at sea burns what waiting on station does, so that the margin is the same until the ice goes.
    let margins: Vec<f64> = scan(&best).decisions.iter().filter_map(|it| it.margin_t).collect();
    assert!(margins.windows(2).all(|pair| pair[1] <= pair[0] + 0.2), "{margins:?}");
}

/// With fuel to spare a later way home than the last one looked at ends after the window; where ice closes the
/// water for good before that, the ice ends the time.
#[test]
fn the_last_moment_to_turn_tells_what_ends_the_time() {
    let trial = Trial { until: "2027-01-06T00:00Z", ..Trial::default() };
    let passage_h = way_km() / SPEED_KM_PER_H;
    let turn = best(&trial, &[]).turn_back.unwrap();
    assert_eq!(turn.limit, Some(TurnBackLimit::Window));
    let free = best(&trial, &[]);
    let hour = hours_out(&free, turn.time);
    assert!((120.0 - passage_h - 4.0..=120.0 - passage_h).contains(&hour), "{hour}");

    let ice = "    - kind: constant
      values: { closed: 1 }
      from: 2027-01-03T12:00Z
";
    let closed = best(&Trial { layers: ice.to_owned(), ..trial.clone() }, &[]);
    let turn = closed.turn_back.unwrap();
    assert_eq!(turn.limit, Some(TurnBackLimit::Ice), "{turn:?}");
    let hour = hours_out(&closed, turn.time);
    assert!((60.0 - passage_h - 4.0..=60.0 - passage_h).contains(&hour), "{hour}");
}
