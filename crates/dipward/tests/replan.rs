//! Re-planning: nothing changed gives nothing new, and each change is told with its own cause.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use std::{path::Path, sync::OnceLock};

use dipward::{Difference, FormerPlan, PlanError, Replan, Scenario, Standing, replan};
use dipward_geodesy::{Position, position};
use dipward_plugin::{Approach, Control, Error, Ranking, Report};
use dipward_tests::{BURN_T_PER_H, HOLD_T_PER_H, SPEED_KM_PER_H, Trial};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use trials::{former, planned, scenario};

const SLOW_BOX: &str = "    - kind: constant
      values: { speed_limit: 7.5 }
      inside: { circle: { latitude_deg: 90, longitude_deg: 0, radius_km: 60 } }
";

fn at_start(best: &Approach) -> Standing {
    let first = &best.waypoints[0];
    Standing {
        position: position(first.latitude_deg, first.longitude_deg),
        at: best.depart,
        fuel_t: best.fuel_t.capacity,
    }
}

fn again(
    scenario: &Scenario,
    then: Option<&Scenario>,
    plan: &FormerPlan,
    standing: &Standing,
) -> (Replan, Report) {
    replan(scenario, then, plan, standing, &Control::default()).unwrap()
}

fn after(at: Timestamp, hours: f64) -> Timestamp {
    at + SignedDuration::from_millis((hours * 3_600_000.0).round() as i64)
}

#[track_caller]
fn assert_nothing(difference: &Difference) {
    let Difference { arrive_h, back_h, fuel_at_end_t, minimum_rio, attainment } = difference;
    assert!(arrive_h.abs() < 1e-3 && back_h.abs() < 1e-3, "{difference:?}");
    assert!(fuel_at_end_t.abs() < 1e-3 && *attainment == 0.0, "{difference:?}");
    assert!(minimum_rio.is_none_or(|rio| rio == 0.0), "{difference:?}");
}

/// A moving pole behind a slow place that is best gone round.
fn round_about() -> Trial {
    Trial {
        pole_km_per_h: 2.0,
        pole_bearing_deg: 60.0,
        layers: SLOW_BOX.to_owned(),
        ..Trial::default()
    }
}

#[test]
fn nothing_changed_returns_the_same_plan() {
    let scenario = scenario(&round_about().yaml());
    let ranking = planned(&scenario);
    let best = &ranking.approaches[0];
    let (answers, report) = again(&scenario, Some(&scenario), &former(&ranking), &at_start(best));

    let new = &report.ranking.approaches[0];
    assert_eq!((new.arrive, new.leave, new.back), (best.arrive, best.leave, best.back));
    assert_eq!((new.fuel_t, new.risk, new.attainment), (best.fuel_t, best.risk, best.attainment));
    assert_eq!((&new.waypoints, &new.home), (&best.waypoints, &best.home));

    assert!(answers.present.feasible && answers.present.still_best, "{:?}", answers.present);
    assert_nothing(&answers.change.unwrap());
    assert!(answers.causes.told_apart && answers.causes.remarks.is_empty());
    assert_eq!(answers.causes.each.len(), 3);
    for cause in &answers.causes.each {
        assert_nothing(&cause.difference.unwrap());
    }
    assert_nothing(&answers.causes.only_together.unwrap());
    let present = answers.present.approach.unwrap();
    assert_eq!((present.id, present.turn_back), (best.id.clone(), best.turn_back));
    // The present plan is held to the same bounds, the way home of both ranking and plan as well.
    let bound_h = |approach: &Approach| approach.home_bound.and_then(|bound| bound.lower_bound_h);
    assert_eq!(present.lower_bound_h, new.lower_bound_h);
    assert!(present.gap_percent.unwrap() < 5.0 && present.lower_bound_h.unwrap() > 0.0);
    assert!(present.home_bound.is_some_and(|bound| bound.gap_percent.unwrap() < 5.0));
    assert_eq!(
        (bound_h(new), present.home_bound.and_then(|it| it.lower_bound_h)),
        (bound_h(best), bound_h(best))
    );
}

#[test]
fn a_craft_that_keeps_to_its_plan_keeps_its_promise() {
    let scenario = scenario(&round_about().yaml());
    let ranking = planned(&scenario);
    let best = &ranking.approaches[0];
    assert!(best.waypoints.len() > 3, "the way is no straight line");
    let last = best.waypoints.len() - 1;
    for point in [1, last / 2, last - 1].map(|index| &best.waypoints[index]) {
        let standing = Standing {
            position: position(point.latitude_deg, point.longitude_deg),
            at: point.time,
            fuel_t: best.fuel_t.capacity - point.fuel_used_t,
        };
        let (answers, _) = again(&scenario, None, &former(&ranking), &standing);
        assert!(answers.present.feasible, "{:?}", answers.present.reason);
        let change = answers.change.unwrap();
        assert!(change.arrive_h.abs() < 0.01 && change.fuel_at_end_t.abs() < 0.02, "{change:?}");
        assert!(!answers.causes.told_apart && answers.causes.remarks.len() == 1);
    }
}

#[test]
fn each_cause_is_told_alone() {
    let then = Trial::default();
    let now = Trial {
        layers: SLOW_BOX.to_owned(),
        // 0.1 degrees nearer along the same meridian.
        pole: (88.1, 180.0),
        ..Trial::default()
    };
    let (then, now) = (scenario(&then.yaml()), scenario(&now.yaml()));
    let ranking = planned(&then);
    let best = &ranking.approaches[0];
    let late_h = 5.0;
    let standing = Standing {
        at: after(best.depart, late_h),
        fuel_t: best.fuel_t.capacity - 100.0,
        ..at_start(best)
    };
    let (answers, _) = again(&now, Some(&then), &former(&ranking), &standing);
    let alone = |name: &str| {
        answers.causes.each.iter().find(|cause| cause.changed == name).unwrap().difference.unwrap()
    };

    // 120 km at half speed, out and home.
    let slow_h = 120.0 / SPEED_KM_PER_H;
    assert!((alone("ice layers").arrive_h - slow_h).abs() < 0.1, "{:?}", alone("ice layers"));
    // A degree of the meridian at the pole is 111.7 km.
    let nearer_h = -11.17 / SPEED_KM_PER_H;
    assert!((alone("pole").arrive_h - nearer_h).abs() < 0.01, "{:?}", alone("pole"));
    assert!((alone("pole").fuel_at_end_t + 2.0 * nearer_h * BURN_T_PER_H).abs() < 0.5);
    let standing = alone("position and fuel");
    assert!((standing.arrive_h - late_h).abs() < 1e-3, "{standing:?}");
    assert!(standing.fuel_at_end_t < -99.0, "{standing:?}");

    // The slow place, the nearer pole and the lateness do not depend on each other on the way out.
    let change = answers.change.unwrap();
    assert!((change.arrive_h - (slow_h + nearer_h + late_h)).abs() < 0.1, "{change:?}");
    assert!(answers.causes.only_together.unwrap().arrive_h.abs() < 0.01);
}

#[test]
fn a_detour_stands_before_a_plan_that_now_leads_through_slow_ice() {
    // Wide enough to go round.
    let wide = Trial { margin_km: 200.0, cell_km: 4.0, ..Trial::default() };
    let then = scenario(&wide.yaml());
    let now = scenario(&Trial { layers: SLOW_BOX.to_owned(), ..wide.clone() }.yaml());
    let ranking = planned(&then);
    let (answers, report) = again(&now, None, &former(&ranking), &at_start(&ranking.approaches[0]));
    assert!(answers.present.feasible && !answers.present.still_best);
    assert_eq!(answers.best.as_ref(), Some(&report.ranking.approaches[0].id));
    assert!(answers.best_figures.unwrap().arrive < answers.now.unwrap().arrive);

    let closed = SLOW_BOX.replace("speed_limit: 7.5", "closed: 1");
    let now = scenario(&Trial { layers: closed, ..wide }.yaml());
    let (answers, report) = again(&now, None, &former(&ranking), &at_start(&ranking.approaches[0]));
    assert!(!answers.present.feasible && !report.ranking.approaches.is_empty());
    let reason = answers.present.reason.unwrap();
    assert!(reason.contains("way out is closed for good"), "{reason}");
    assert!(answers.turning.last.is_some());
}

/// Out at full speed and back at full speed on open water: half of the fuel is the turning point.
#[test]
fn the_turning_point_under_way_is_at_half_of_the_fuel() {
    let scenario = scenario(&Trial::default().yaml());
    let ranking = planned(&scenario);
    let best = &ranking.approaches[0];
    let standing = Standing { fuel_t: 1.5 * best.fuel_t.out, ..at_start(best) };
    let (answers, report) = again(&scenario, None, &former(&ranking), &standing);
    assert!(!answers.present.feasible && report.ranking.approaches.is_empty());
    assert!(answers.present.reason.unwrap().contains("way home"));
    let last = answers.turning.last.unwrap();
    let expected_h = standing.fuel_t / (2.0 * BURN_T_PER_H);
    let found_h = (last.time.as_millisecond() - best.depart.as_millisecond()) as f64 / 3.6e6;
    assert!((found_h - expected_h).abs() < 0.05, "{found_h} h for {expected_h} h");
    let run_km = dipward_geodesy::distance_km(
        standing.position,
        position(last.latitude_deg, last.longitude_deg),
    );
    assert!((run_km - expected_h * SPEED_KM_PER_H).abs() < 2.0);
}

/// On station the craft burns its hotel load: what is left above the way home and out lasts so long.
#[test]
fn the_turning_point_on_station_is_when_the_spare_fuel_is_burnt() {
    let scenario = scenario(&Trial::default().yaml());
    let ranking = planned(&scenario);
    let best = &ranking.approaches[0];
    let spare_t = 50.0 * HOLD_T_PER_H;
    let standing = Standing { fuel_t: 2.0 * best.fuel_t.out + spare_t, ..at_start(best) };
    let (answers, _) = again(&scenario, None, &former(&ranking), &standing);
    assert!(answers.present.feasible, "{:?}", answers.present.reason);
    let last = answers.turning.last.unwrap().time;
    let found_h = (last.as_millisecond() - best.arrive.as_millisecond()) as f64 / 3.6e6;
    assert!((found_h - 50.0).abs() < 0.5, "{found_h} h");
}

/// Ice that shuts over a ship at sea, and opens later: no plan counts on her lying in it. In port she may.
#[test]
fn a_ship_at_sea_does_not_wait_in_ice_that_has_shut_over_her() {
    let then = scenario(&Trial::default().yaml());
    let ranking = planned(&then);
    let best = &ranking.approaches[0];
    for (latitude_deg, after_h, at_sea) in [(89.0, 4.0, true), (88.0, 0.0, false)] {
        let shut = format!(
            "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ circle: {{ latitude_deg: {latitude_deg}, longitude_deg: 0, radius_km: 40 }} }}
      until: 2027-01-01T20:00Z
"
        );
        let now = scenario(&Trial { layers: shut, ..Trial::default() }.yaml());
        let standing = Standing {
            position: position(latitude_deg, 0.0),
            at: after(best.depart, after_h),
            fuel_t: best.fuel_t.capacity - 10.0,
        };
        let (answers, report) = again(&now, None, &former(&ranking), &standing);
        let new = &report.ranking;
        assert_eq!(new.approaches.is_empty(), at_sea, "{:?}", new.rejected);
        assert_eq!(answers.present.feasible, !at_sea, "{:?}", answers.present.reason);
        if at_sea {
            assert!(format!("{:?}", new.rejected).contains("closes over the craft"));
        }
    }
}

#[test]
fn a_wrong_standing_is_refused_in_words() {
    let closed = SLOW_BOX.replace("speed_limit: 7.5", "closed: 1");
    let trial = Trial { layers: closed, margin_km: 200.0, cell_km: 4.0, ..Trial::default() };
    let scenario = scenario(&trial.yaml());
    let ranking = planned(&scenario);
    let plan = former(&ranking);
    let right = at_start(&ranking.approaches[0]);
    let moved = |place: Position| Standing { position: place, ..right };
    let fuelled = |fuel_t: f64| Standing { fuel_t, ..right };
    for (standing, part) in [
        (moved(position(60.0, 0.0)), "off the chart"),
        (moved(position(-60.0, 0.0)), "off the chart"),
        (moved(position(89.9, 45.0)), "closed to a trial ship throughout the window: no-go zone"),
        (Standing { at: "2026-12-31T23:00Z".parse().unwrap(), ..right }, "outside the window"),
        (Standing { at: "2027-01-20T00:00Z".parse().unwrap(), ..right }, "outside the window"),
        (fuelled(0.0), "above zero"),
        (fuelled(-1.0), "above zero"),
        (fuelled(f64::NAN), "above zero"),
        (fuelled(f64::INFINITY), "above zero"),
        (fuelled(2000.1), "more than a trial ship holds"),
    ] {
        match replan(&scenario, None, &plan, &standing, &Control::default()) {
            Err(PlanError::Error(Error::Outside(message))) => {
                assert!(message.contains(part), "{message}");
            }
            other => panic!("{part}: {:?}", other.map(|(answers, _)| answers)),
        }
    }
}

#[test]
fn a_file_that_is_no_ranking_of_this_layout_is_refused_in_words() {
    let ranking = planned(&scenario(&Trial::default().yaml()));
    let text = serde_json::to_string(&ranking).unwrap();
    let read = |text: &str, id: Option<&str>| {
        FormerPlan::read(Path::new("r.json"), text.as_bytes(), String::new(), id)
            .unwrap_err()
            .to_string()
    };
    let none =
        serde_json::to_string(&Ranking { approaches: Vec::new(), ..ranking.clone() }).unwrap();
    for (told, part) in [
        (read("", None), "r.json: not a ranking"),
        (read("[1]", None), "no schema_version"),
        (read("{\"schema_version\": 1}", None), "not a ranking: missing field"),
        (read(&text.replace("\"schema_version\":2", "\"schema_version\":7"), None), "is 7"),
        (read(&text, Some("elsewhere")), "has no approach `elsewhere`; it has trial-haven"),
        (read(&none, None), "no feasible approach"),
        (read(&text.replace("\"latitude_deg\":", "\"latitude_deg\":1"), None), "not a line"),
    ] {
        assert!(told.contains(part), "{told} for {part}");
    }
}

/// The first layout has 0 where there is no bound, and no groups.
#[test]
fn a_ranking_of_the_first_layout_is_read() {
    let ranking = planned(&scenario(&Trial::default().yaml()));
    let mut value = serde_json::to_value(&ranking).unwrap();
    value["schema_version"] = 1.into();
    for approach in value["approaches"].as_array_mut().unwrap() {
        let keys = approach.as_object_mut().unwrap();
        keys.remove("group");
        keys.insert("lower_bound_h".to_owned(), 0.0.into());
        keys.insert("lower_bound_t".to_owned(), 0.0.into());
        keys.insert("gap_percent".to_owned(), 0.0.into());
    }
    let bytes = value.to_string().into_bytes();
    let plan = FormerPlan::read(Path::new("r.json"), &bytes, String::new(), None).unwrap();
    let read = &plan.approach;
    assert_eq!((read.group, read.lower_bound_h, read.lower_bound_t), (0, None, None));
}

/// The plan of the property test, made once.
static RANKING: OnceLock<Ranking> = OnceLock::new();

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// From anywhere about the track, at any hour and with any fuel there is an answer, and what is
    /// called feasible comes home with its fuel and within the window.
    #[test]
    fn what_is_feasible_comes_home(
        x_km in -260.0..260.0_f64,
        y_km in -260.0..260.0_f64,
        hour in 0.0..400.0_f64,
        fuel_t in 1.0..60.0_f64,
    ) {
        let trial = Trial { cell_km: 10.0, margin_km: 300.0, ..round_about() };
        let scenario = scenario(&trial.yaml());
        let ranking = RANKING.get_or_init(|| planned(&scenario));
        let (latitude_deg, longitude_deg) = Trial::near_pole(x_km, y_km);
        let standing = Standing {
            position: position(latitude_deg, longitude_deg),
            at: after(ranking.approaches[0].depart, hour),
            fuel_t,
        };
        let (answers, report) = again(&scenario, None, &former(ranking), &standing);
        let present = answers.present.approach.iter().filter(|_| answers.present.feasible);
        for approach in report.ranking.approaches.iter().chain(present) {
            prop_assert!(approach.fuel_t.margin >= -1e-9);
            prop_assert_eq!(approach.fuel_t.capacity, fuel_t);
            prop_assert!(approach.depart == standing.at && approach.arrive >= approach.depart);
            prop_assert!(approach.back <= scenario.keys.window.until);
        }
        prop_assert_eq!(answers.present.feasible, answers.present.reason.is_none());
        let decisions = &answers.turning.decisions;
        prop_assert!(decisions.is_sorted_by_key(|decision| decision.time));
        prop_assert_eq!(
            answers.turning.last.is_some(),
            decisions[0].margin_t.is_some_and(|margin| margin >= 0.0)
        );
    }
}
