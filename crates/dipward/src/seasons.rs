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
//! The seed is that of the year: all cases of a year meet the same ensemble of pole tracks, and so
//! craft, ports, days and policies are compared on common random numbers.

mod calendar;
mod choices;
mod evaluate;
mod faults;
mod keys;
mod study;

use dipward_plugin::{CAUTION, SCHEMA_VERSION, SeasonCase, SeasonReport};

pub use choices::choices;
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
        choices: choices(&axes, &cases),
        axes,
        cases,
    }
}
