//! Studies of seasons: cases depend on their number alone, and are what a plan of their own gives.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a failed expectation is the test's report, in its functions too"
)]

use std::{path::Path, sync::LazyLock};

use dipward::{
    Evaluated, Scenario, Study, StudyFaults, StudyKeys, evaluate, plan, registry, season_report,
};
use dipward_plugin::{Control, Document, Registry, SeasonCase};
use dipward_tests::Trial;
use proptest::prelude::*;
use serde_json::Value;

const STUDY: &str = "
title: a study of trials
seed: 5
scenario: trial.yaml
years: [{ year: 2027 }, { year: 2028 }, { year: 2028, name: again, layers_later_days: 2 }]
departures: { from: 2027-01-01T00:00Z, until: 2027-01-05T00:00Z, every_h: 48 }
craft:
  - { name: as built, craft: {} }
  - { name: short of fuel, craft: { fuel: { capacity_t: 21 } } }
policies:
  - { name: hold, policy: { kind: hold } }
  - { name: pursue, policy: { kind: pursue } }
";

static REGISTRY: LazyLock<Registry> = LazyLock::new(|| registry().expect("kinds are distinct"));

fn value(name: &str, text: &str) -> Value {
    Document::parse(name, text).expect("it is YAML").value().clone()
}

/// A trial whose pole wanders, and whose ice comes and goes.
fn trial() -> Value {
    let trial = Trial { cell_km: 8.0, ..Trial::default() };
    let text = trial
        .yaml()
        .replace("disturbance: { kind: quiet }", "disturbance: { kind: kp_history }")
        .replace("members: 3", "members: 12");
    value("trial.yaml", &text)
}

fn study_of(text: &str, scenario: &Value) -> Result<Study<'static>, StudyFaults> {
    let keys = StudyKeys::read(&value("study.yaml", text)).expect("the keys are right");
    Study::make(keys, scenario, Path::new("."), &REGISTRY)
}

fn cases(study: &Study<'_>, numbers: &[u64]) -> Vec<SeasonCase> {
    let mut found = Vec::new();
    let done = &mut |evaluated| {
        if let Evaluated::Cases(cases) = evaluated {
            found.extend(cases);
        }
        Ok(())
    };
    evaluate(study, numbers, &Control::default(), done).unwrap_or_else(|error| panic!("{error}"));
    found
}

static ALL: LazyLock<Vec<SeasonCase>> = LazyLock::new(|| {
    let study = study_of(STUDY, &trial()).expect("the study is right");
    cases(&study, &(0..study.len()).collect::<Vec<u64>>())
});

#[test]
fn cases_stand_in_their_order_and_tell_what_they_are() {
    assert_eq!(ALL.len(), 3 * 2 * 3 * 2);
    assert!(ALL.iter().zip(0..).all(|(case, number)| case.case == number));
    let case = &ALL[2 * 12 + 6 + 2 + 1];
    assert_eq!(
        [&case.year, &case.craft, &case.day, &case.policy],
        ["again", "short of fuel", "01-03", "pursue"]
    );
    assert_eq!(case.depart.to_string(), "2028-01-03T00:00:00Z");
    // One ensemble a year, another each year.
    let seed = |number: usize| ALL[number].seed;
    assert!(seed(0) == seed(11) && seed(0) != seed(12) && seed(12) != seed(24));
    assert!(ALL.iter().any(|case| case.outcome.is_some()));
    let short = ALL.iter().find(|case| case.outcome.is_none()).expect("fuel is short");
    assert!(short.reason.as_ref().is_some_and(|why| why.contains("fuel")), "{short:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn any_slice_gives_the_same_cases(
        picked in proptest::collection::btree_set(0_u64..36, 1..9),
        threads in 1_usize..4,
    ) {
        let study = study_of(STUDY, &trial()).expect("the study is right");
        let numbers: Vec<u64> = picked.into_iter().collect();
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        let found = pool.install(|| cases(&study, &numbers));
        let expected: Vec<SeasonCase> =
            numbers.iter().map(|&number| ALL[number as usize].clone()).collect();
        prop_assert_eq!(found, expected);
    }
}

#[test]
fn each_case_alone_is_to_the_byte_what_it_is_in_a_run() {
    let study = study_of(STUDY, &trial()).expect("the study is right");
    let bytes = |case: &SeasonCase| serde_json::to_vec(case).expect("a case is written");
    for case in ALL.iter() {
        let alone = cases(&study, &[case.case]);
        assert_eq!(alone.iter().map(bytes).collect::<Vec<_>>(), [bytes(case)], "{}", case.case);
    }
}

/// A stay that begins and ends at the same hours has the same bounds whatever the policy: the members are
/// the same.
#[test]
fn policies_are_compared_on_common_random_numbers() {
    let mut compared = 0;
    for pair in ALL.chunks(2) {
        let [Some(hold), Some(pursue)] = [&pair[0].outcome, &pair[1].outcome] else { continue };
        if (hold.arrive, hold.leave) == (pursue.arrive, pursue.leave) {
            assert_eq!(hold.if_holding, pursue.if_holding);
            assert_eq!(hold.if_clairvoyant, pursue.if_clairvoyant);
            assert_eq!(hold.attainment, hold.if_holding);
            compared += 1;
        }
    }
    assert!(compared > 0);
    // Other years are other draws.
    let chances: std::collections::BTreeSet<u64> = ALL
        .iter()
        .filter_map(|case| Some((case.outcome.as_ref()?.expected_closest_km * 1e6) as u64))
        .collect();
    assert!(chances.len() > 3, "{chances:?}");
}

/// Storms of October 2003 and the quiet of October 2009 in the same days of one study year.
#[test]
fn a_year_may_have_the_kp_that_was_observed_in_one() {
    let text = "
title: two past years
scenario: trial.yaml
change: { window: { from: 2027-10-29T00:00Z, until: 2027-11-05T00:00Z } }
departures: { from: 2027-10-29T00:00Z }
years:
  - { year: 2027, name: stormy, disturbance: { kind: kp_year, year: 2003 } }
  - { year: 2027, name: quiet, disturbance: { kind: kp_year, year: 2009 } }
";
    let study = study_of(text, &trial()).expect("the study is right");
    let found = cases(&study, &[0, 1]);
    let closest =
        |at: usize| found[at].outcome.as_ref().map(|outcome| outcome.worst_tenth_closest_km);
    let (Some(stormy), Some(quiet)) = (closest(0), closest(1)) else { panic!("{found:?}") };
    assert!(stormy > 2.0 * quiet, "{stormy} {quiet}");
    let said = season_report(&study, found).assumptions;
    assert!(said.iter().any(|one| one.text.contains("the same days from 2003 on")), "{said:?}");
    let wrong = text.replace("2009", "2026");
    match study_of(&wrong, &trial()) {
        Err(StudyFaults::Faults { study, .. }) => {
            assert_eq!(study.as_slice()[0].pointer(), "/years/1/disturbance/year");
        }
        other => panic!("{other:?}"),
    }
}

/// Oracle: the plan of a scenario that is written out by hand for one case.
#[test]
fn a_case_is_the_best_approach_of_a_plan_of_its_own() {
    let case = &ALL[3];
    assert_eq!((case.day.as_str(), case.policy.as_str()), ("01-03", "pursue"));
    let mut scenario = trial();
    scenario["seed"] = case.seed.into();
    scenario["voyage"]["departures"] = serde_json::json!({ "from": "2027-01-03T00:00Z" });
    scenario["station"]["policy"] = serde_json::json!({ "kind": "pursue" });
    let text = scenario.to_string();
    let document = Document::parse("case.yaml", &text).expect("JSON is YAML");
    let scenario =
        Scenario::read(&document, Path::new("."), &REGISTRY, None).expect("it is a scenario");
    let report = plan(&scenario, &Control::default()).expect("it is planned");
    let best = &report.ranking.approaches[0];
    let outcome = case.outcome.as_ref().expect("it is feasible");
    assert_eq!((outcome.arrive, outcome.leave, outcome.back), (best.arrive, best.leave, best.back));
    assert_eq!(outcome.attainment, best.attainment.probability);
    assert_eq!(outcome.margin_t, best.fuel_t.margin);
    assert_eq!(outcome.expected_closest_km, best.stay.closest_km.mean);
}

#[test]
fn the_seal_knows_every_change_but_that_of_order_and_remark() {
    let seal = |text: &str| study_of(text, &trial()).expect("the study is right").sha256;
    let sealed = seal(STUDY);
    assert_eq!(sealed, seal(&format!("# a remark\n{STUDY}")));
    let reordered = STUDY.replace("seed: 5\n", "") + "seed: 5\n";
    assert_eq!(sealed, seal(&reordered));
    for (from, to) in [("seed: 5", "seed: 6"), ("every_h: 48", "every_h: 24"), ("21", "22")] {
        assert_ne!(sealed, seal(&STUDY.replace(from, to)), "{from}");
    }
    let mut scenario = trial();
    scenario["station"]["for_h"] = 2.into();
    assert_ne!(sealed, study_of(STUDY, &scenario).expect("the study is right").sha256);
}

#[test]
fn faults_stand_where_they_are_written() {
    let at = |text: String| match study_of(&text, &trial()) {
        Err(StudyFaults::Faults { study, scenario }) => {
            let pointers = |faults: dipward_plugin::Faults| {
                // A craft is built for every year.
                let mut all: Vec<String> =
                    faults.as_slice().iter().map(|one| one.pointer().to_owned()).collect();
                all.dedup();
                all
            };
            (pointers(study), pointers(scenario))
        }
        other => panic!("{other:?}"),
    };
    let study = |pointer: &str| (vec![pointer.to_owned()], vec![]);
    let changed = |from: &str, to: &str| at(STUDY.replace(from, to));
    assert_eq!(
        changed("capacity_t: 21", "capacity_t: -1"),
        study("/craft/1/craft/fuel/capacity_t")
    );
    assert_eq!(changed("craft: {} }", "craft: { kind: none } }"), study("/craft/0/craft/kind"));
    assert_eq!(changed("kind: pursue", "kind: persue"), study("/policies/1/policy/kind"));
    assert_eq!(changed("until: 2027-01-05", "until: 2027-02-05"), study("/departures/until"));
    assert_eq!(changed("name: again", "name: '2027'"), study("/years/2"));
    assert_eq!(changed("name: pursue", "name: hold"), study("/policies/1"));
    assert_eq!(at(STUDY.to_owned() + "ports: [Elsewhere]\n"), study("/ports/0"));
    let wrong = "change: { chart: { cell_km: 0 } }\n";
    assert_eq!(at(STUDY.to_owned() + wrong), study("/change/chart/cell_km"));
    let mut scenario = trial();
    scenario["chart"]["cell_km"] = 0.into();
    match study_of(STUDY, &scenario) {
        Err(StudyFaults::Faults { study, scenario }) => {
            assert!(study.is_empty());
            assert_eq!(scenario.as_slice()[0].pointer(), "/chart/cell_km");
        }
        other => panic!("{other:?}"),
    }
}
