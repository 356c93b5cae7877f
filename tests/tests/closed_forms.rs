//! Closed forms that the whole program must meet, through the library.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a failed expectation is the test's report, in its functions too"
)]

use dipward::{Scenario, plan, registry};
use dipward_plugin::{Control, Document, Ranking};
use dipward_tests::{
    Trial,
    closed_forms::{self, ClosedForm},
};

fn run(trial: &Trial) -> Ranking {
    let document = Document::parse("trial.yaml", &trial.yaml()).expect("the trial is YAML");
    let mut registry = registry().expect("the kinds are distinct");
    dipward_report::register(&mut registry).expect("the kinds are distinct");
    let scenario = Scenario::read(&document, ".".as_ref(), &registry, None)
        .unwrap_or_else(|faults| panic!("{faults}"));
    plan(&scenario, &Control::default()).unwrap_or_else(|error| panic!("{error}")).ranking
}

#[track_caller]
fn assert_met(form: &ClosedForm) {
    let ranking = run(&form.trial);
    let Some(best) = ranking.approaches.first() else {
        panic!("no approach: {:?}", ranking.rejected);
    };
    form.check(best).unwrap_or_else(|wrong| panic!("{wrong}"));
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
fn fuel_for_one_way_alone_is_no_approach() {
    for refused in closed_forms::too_little_fuel() {
        let ranking = run(&refused.trial);
        assert!(ranking.approaches.is_empty());
        let reason = &ranking.rejected[0].reason;
        assert!(reason.contains(refused.reason), "{reason}");
    }
    assert_met(&closed_forms::enough_fuel());
}
