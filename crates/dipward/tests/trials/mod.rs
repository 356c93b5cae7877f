//! Trials read, planned, and taken up again as former plans.

#![allow(dead_code, reason = "each test file uses a part")]

use std::path::Path;

use dipward::{FormerPlan, Scenario, plan, registry};
use dipward_plugin::{Control, Document, Ranking};
use dipward_tests::Trial;

pub(crate) fn scenario(yaml: &str) -> Scenario {
    let document =
        Document::parse("trial.yaml", yaml).unwrap_or_else(|failed| panic!("{failed:?}"));
    Scenario::read(&document, ".".as_ref(), &registry().unwrap(), None)
        .unwrap_or_else(|faults| panic!("{faults}"))
}

pub(crate) fn planned(scenario: &Scenario) -> Ranking {
    plan(scenario, &Control::default()).unwrap().ranking
}

pub(crate) fn former(ranking: &Ranking) -> FormerPlan {
    let bytes = serde_json::to_vec(ranking).unwrap();
    FormerPlan::read(Path::new("ranking.json"), &bytes, "digest".to_owned(), None).unwrap()
}

/// A trial of last legs: a port 670 km north of a pole at 66 S.
pub(crate) fn staged_trial(cell_km: f64, layers: String, last_leg: &str) -> Trial {
    Trial {
        hemisphere: "south",
        port: (-60.0, 0.0),
        pole: (-66.0, 0.0),
        cell_km,
        margin_km: 120.0,
        layers,
        last_leg: last_leg.to_owned(),
        station: "{ within_km: 5, for_h: 1, at_least_h: 12, at_most_h: 24, leave_every_h: 12 }",
        ..Trial::default()
    }
}
