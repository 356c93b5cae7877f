//! A study of seasons: one scenario through years, craft, ports, departure days and policies.
//!
//! ```text
//! study + base scenario -> Study: axes, numbered cases
//!   cases of one year and craft -> one world -> ways out, ways home, stays -> SeasonCase
//!   all cases -> choices (what a planner decides) against years (what nobody decides)
//! ```
//!
//! A case is a function of the study and of its number alone, so that any slice of a study can be
//! evaluated anywhere, in any order. Cases of one year and craft share a world, which is only faster.
//!
//! # Seeds
//!
//! A case has no seed of its own but that of its year, which is made of the study's seed and the year's
//! place ([`Study::seed_of`]). All cases of a year so meet the same ensemble of pole tracks, member by
//! member: what a planner chooses among - craft, ports, days and policies - is compared on common random
//! numbers, and a difference is not one of draws. Seeds by case would blur every such difference with the
//! noise of two ensembles. What nobody chooses, the years, is drawn apart from year to year, so that the
//! worst of them is not the same bad draw again. Nothing of a seed depends on the slice, on the order of
//! evaluation or on the threads, and every case carries its seed, so that a plan of its own repeats it.

mod calendar;
mod choices;
mod evaluate;
mod faults;
mod keys;
mod study;

use dipward_plugin::{CAUTION, SCHEMA_VERSION, SeasonCase, SeasonReport};

pub use choices::{ChoiceRule, choices};
pub use evaluate::{Evaluated, evaluate};
pub use faults::StudyFaults;
pub use keys::{CraftVariant, PolicyVariant, StudyKeys, StudyYear, study_schema};
pub use study::{CasePlace, Study};

/// The report of a study whose cases are all there.
#[must_use]
pub fn season_report(study: &Study<'_>, cases: Vec<SeasonCase>) -> SeasonReport {
    let axes = study.axes();
    SeasonReport {
        schema_version: SCHEMA_VERSION,
        dipward_version: crate::VERSION.to_owned(),
        title: study.keys.title.clone(),
        notes: study.notes(),
        caution: CAUTION.to_owned(),
        assumptions: study.assumptions.clone(),
        study_sha256: study.sha256.clone(),
        seed: study.keys.seed,
        within_km: study.station.within_km,
        for_h: study.station.for_h,
        confidence: study.rule.confidence,
        indifference: study.rule.indifference,
        choices: choices(&axes, &cases, study.rule),
        axes,
        cases,
    }
}
