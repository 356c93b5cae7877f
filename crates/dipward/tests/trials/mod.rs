//! Trials read, planned, and taken up again as former plans.

#![allow(dead_code, reason = "each test file uses a part")]

use std::path::Path;

use dipward::{FormerPlan, Scenario, plan, registry};
use dipward_plugin::{Control, Document, Ranking};

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
