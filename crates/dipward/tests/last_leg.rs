//! Approaches in two stages planned again under way, and through the seasons.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use std::path::Path;

use dipward::{Evaluated, Standing, Study, StudyKeys, evaluate, registry, replan};
use dipward_geodesy::position;
use dipward_plugin::{Approach, Control, Document, SeasonCase};
use serde_json::Value;
use trials::{former, planned, scenario, staged_trial};

const LEGS: &str = "  - kind: helicopter
    machine: { airspeed_kn: 100, fuel_kg: 600, burn_kg_per_h: 200, contingency_fraction: 0, least_sun_deg: -18 }
    fuel_aboard_kg: 6000
    reach_shares: [1]
";

const PARTY: &str = "  - kind: over_ice_party
    party:
      name: a trial party
      vehicles: { speed_km_h: 12, heaviest_t: 2, payload_t: 2, empty_l_per_km: 2, per_tonne_l_per_km: 0.2 }
      fuel: { capacity_l: 1000, reserve_fraction: 0.25 }
      bearing: { convention: { gold: { a_kg_per_cm2: 4 } }, melt: { season: cold } }
      travel_hours_per_day: 12
    reach_shares: [1]
";

/// Ice that stops the ship 60 km short of the pole and bears the party.
fn trial(legs: &str, visibility: &str) -> String {
    let layers = format!(
        "    - kind: constant
      ice: {{ concentration: 1, stage: multi_year, thickness_m: 3 }}
      inside: {{ circle: {{ latitude_deg: -66, longitude_deg: 0, radius_km: 60 }} }}
{visibility}    - kind: constant
      values: {{ visibility: 20, wind_grid_east: 3, wind_grid_north: -2 }}
"
    );
    staged_trial(8.0, layers, legs).yaml()
}

fn at(best: &Approach, index: usize) -> Standing {
    let point = &best.waypoints[index];
    Standing {
        position: position(point.latitude_deg, point.longitude_deg),
        at: point.time,
        fuel_t: best.fuel_t.capacity - point.fuel_used_t,
    }
}

#[test]
fn nothing_changed_returns_the_same_plan_in_two_stages() {
    for legs in [LEGS, PARTY] {
        let scenario = scenario(&trial(legs, ""));
        let ranking = planned(&scenario);
        let best = &ranking.approaches[0];
        let leg = best.last_leg.as_ref().unwrap_or_else(|| panic!("{:?}", ranking.rejected));
        let (answers, report) = replan(
            &scenario,
            Some(&scenario),
            &former(&ranking),
            &at(best, 0),
            &Control::default(),
        )
        .unwrap();
        assert_eq!(report.ranking.approaches[0].last_leg.as_ref(), Some(leg));
        assert!(answers.present.feasible && answers.present.still_best, "{:?}", answers.present);
        let change = answers.change.unwrap();
        assert!(change.arrive_h.abs() < 1e-3 && change.back_h.abs() < 1e-3, "{change:?}");
        assert!(change.fuel_at_end_t.abs() < 1e-3 && change.attainment == 0.0, "{change:?}");
        assert!(answers.causes.told_apart && answers.causes.remarks.is_empty());
        let present = answers.present.approach.unwrap();
        assert_eq!(present.last_leg.unwrap().ship_leaves, leg.ship_leaves);
        assert!(answers.notes.iter().any(|note| note.contains("taken to be aboard")));
    }
}

#[test]
fn fog_that_comes_in_is_waited_out_at_the_landing_or_ends_the_plan() {
    let ranking = planned(&scenario(&trial(LEGS, "")));
    let best = &ranking.approaches[0];
    let fog = |until: &str| {
        format!(
            "    - kind: constant
      values: {{ visibility: 1 }}
{until}"
        )
    };
    let lifts = scenario(&trial(LEGS, &fog("      until: 2027-01-02T12:00Z\n")));
    let (answers, _) =
        replan(&lifts, None, &former(&ranking), &at(best, 0), &Control::default()).unwrap();
    let leg = answers.present.approach.unwrap().last_leg.unwrap();
    assert_eq!(leg.ship_arrives.to_string(), "2027-01-02T12:00:00Z");
    let stays = scenario(&trial(LEGS, &fog("")));
    let (answers, report) =
        replan(&stays, None, &former(&ranking), &at(best, 0), &Control::default()).unwrap();
    assert!(!answers.present.feasible && report.ranking.approaches.is_empty());
    let reason = answers.present.reason.unwrap();
    assert!(reason.contains("can no longer go to the pole"), "{reason}");
    let without = scenario(&trial("", "").replace("last_leg:\n", ""));
    let (answers, _) =
        replan(&without, None, &former(&ranking), &at(best, 0), &Control::default()).unwrap();
    let reason = answers.present.reason.unwrap();
    assert!(reason.contains("no last leg `helicopter`"), "{reason}");
}

/// A study's case is what a plan of its own gives.
#[test]
fn seasons_hold_approaches_in_two_stages() {
    let value =
        |name: &str, text: &str| -> Value { Document::parse(name, text).unwrap().value().clone() };
    let yaml = trial(LEGS, "");
    let study = "
title: a study of a trial
seed: 5
scenario: trial.yaml
years: [{ year: 2027 }]
departures: { from: 2027-01-01T00:00Z, until: 2027-01-03T00:00Z, every_h: 48 }
";
    let keys = StudyKeys::read(&value("study.yaml", study)).unwrap();
    let registry = registry().unwrap();
    let study = Study::make(keys, &value("trial.yaml", &yaml), Path::new("."), &registry).unwrap();
    let mut cases: Vec<SeasonCase> = Vec::new();
    evaluate(&study, &[0, 1], &Control::default(), &mut |evaluated| {
        if let Evaluated::Cases(found) = evaluated {
            cases.extend(found);
        }
        Ok(())
    })
    .unwrap();
    let ranking = planned(&scenario(&yaml));
    let best = &ranking.approaches[0];
    let outcome = cases[0].outcome.as_ref().unwrap_or_else(|| panic!("{:?}", cases[0].reason));
    assert_eq!((outcome.arrive, outcome.back), (best.arrive, best.back));
    assert_eq!(outcome.attainment, best.attainment.probability);
}
