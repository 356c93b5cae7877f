//! Closed forms that the whole program must meet, through the command line.

use std::fs;

use dipward_plugin::Ranking;
use dipward_tests::{
    Trial,
    closed_forms::{self, ClosedForm},
};
use serde_json::Value;

use crate::program::{Ended, folder_with, run};

/// Plans a trial; standard output must hold the ranking and nothing else.
#[track_caller]
fn plan(trial: &Trial) -> (Ended, Ranking) {
    let folder = folder_with(&trial.yaml());
    let ended = run(folder.path(), "plan scenario.yaml --out out --format json");
    let printed: Value = serde_json::from_str(&ended.stdout)
        .unwrap_or_else(|error| panic!("{error}\n{}\n{}", ended.stdout, ended.stderr));
    let written = fs::read(folder.path().join("out/ranking.json")).unwrap();
    assert_eq!(printed, serde_json::from_slice::<Value>(&written).unwrap());
    let ranking = serde_json::from_value(printed).unwrap();
    (ended, ranking)
}

#[track_caller]
fn assert_met(form: &ClosedForm) {
    let (ended, ranking) = plan(&form.trial);
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    form.check(&ranking.approaches[0]).unwrap_or_else(|wrong| panic!("{wrong}"));
}

#[test]
fn open_water_follows_the_geodesic() {
    assert_met(&closed_forms::open_water());
}

#[test]
fn two_half_planes_refract_by_snell() {
    assert_met(&closed_forms::two_half_planes());
}

#[test]
fn a_disc_is_passed_by_tangent_arc_tangent() {
    assert_met(&closed_forms::disc());
}

#[test]
fn a_steady_target_is_met_by_the_intercept_triangle() {
    assert_met(&closed_forms::intercept());
}

#[test]
fn a_closed_gate_is_waited_for_or_gone_round() {
    closed_forms::gate().iter().for_each(assert_met);
}

#[test]
fn fuel_for_one_way_alone_is_no_approach_and_the_reason_is_told() {
    for refused in closed_forms::too_little_fuel() {
        let (ended, ranking) = plan(&refused.trial);
        assert_eq!(ended.status, Some(3), "{}", ended.stderr);
        assert!(ranking.approaches.is_empty());
        assert!(ranking.rejected[0].reason.contains(refused.reason), "{:?}", ranking.rejected);
        assert!(ended.stderr.contains(refused.reason), "{}", ended.stderr);
    }
    assert_met(&closed_forms::enough_fuel());
}
