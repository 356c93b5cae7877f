//! Faults of a study, each in the file where it stands.

use std::fmt;

use dipward_plugin::{Error, Fault, Faults, SeasonAxes};
use serde_json::Value;

use super::keys::StudyKeys;
use crate::PlanError;

/// What is wrong with a study, with its scenario, or on the way.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum StudyFaults {
    /// The files are at fault; one of the two may be without fault.
    Faults {
        /// Of the study.
        study: Faults,
        /// Of the scenario.
        scenario: Faults,
    },
    /// Something failed on the way, or the run was cancelled.
    Error(Error),
}

impl fmt::Display for StudyFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Faults { study, scenario } => {
                study.fmt(f)?;
                if !(study.is_empty() || scenario.is_empty()) {
                    f.write_str("\n")?;
                }
                scenario.fmt(f)
            }
            Self::Error(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for StudyFaults {}

impl From<Error> for StudyFaults {
    fn from(error: Error) -> Self {
        Self::Error(error)
    }
}

impl StudyFaults {
    /// Faults of the study alone.
    pub(super) fn of_study(study: Faults) -> Self {
        Self::Faults { study, scenario: Faults::default() }
    }
}

/// Which case's scenario a fault was found in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found<'a> {
    pub(super) keys: &'a StudyKeys,
    pub(super) year: usize,
    pub(super) craft: usize,
}

impl Found<'_> {
    /// The faults of a case's scenario, each where the study or the scenario says what is wrong.
    pub(super) fn placed(self, faults: Faults) -> StudyFaults {
        let (mut study, mut scenario) = (Faults::default(), Faults::default());
        for fault in faults {
            match self.in_study(fault.pointer()) {
                Some(pointer) => study.push(restated(&fault, pointer, fault.message().to_owned())),
                None => scenario.push(fault),
            }
        }
        StudyFaults::Faults { study, scenario }
    }

    /// As [`Found::placed`], for a failure that may be a fault, which then says whose world shows it.
    pub(super) fn placed_failure(self, failure: PlanError, axes: &SeasonAxes) -> StudyFaults {
        let name = |names: &[String], at: usize| names.get(at).cloned().unwrap_or_default();
        match failure {
            PlanError::Faults(faults) => {
                let world =
                    format!("{}, {}", name(&axes.years, self.year), name(&axes.crafts, self.craft));
                let mut told = Faults::default();
                told.extend(faults.into_iter().map(|fault| {
                    let message = format!("{} ({world})", fault.message());
                    restated(&fault, fault.pointer().to_owned(), message)
                }));
                self.placed(told)
            }
            PlanError::Error(error) => StudyFaults::Error(error),
        }
    }

    /// Where the study says what stands at a pointer of a case's scenario; nothing where the scenario
    /// says it itself.
    fn in_study(self, pointer: &str) -> Option<String> {
        if let Some(rest) = pointer.strip_prefix("/voyage/departures")
            && self.keys.departures.is_some()
        {
            return Some(format!("/departures{rest}"));
        }
        if let Some(year) = self.keys.years.get(self.year) {
            let at_year = |rest: &str| format!("/years/{}{rest}", self.year);
            if let Some(rest) = pointer.strip_prefix("/chart/layers")
                && year.layers.is_some()
            {
                return Some(at_year("/layers") + rest);
            }
            if let Some(rest) = pointer.strip_prefix("/pole/disturbance")
                && year.disturbance.is_some()
            {
                return Some(at_year("/disturbance") + rest);
            }
            // The year has moved the window and the departures.
            if pointer.starts_with("/window") || pointer.starts_with("/voyage/departures") {
                return Some(at_year(""));
            }
        }
        if let Some(rest) = pointer.strip_prefix("/craft")
            && let Some(variant) =
                self.keys.craft.as_ref().and_then(|variants| variants.get(self.craft))
        {
            let own = &variant.craft.0;
            if own.get("kind").is_some() || (!rest.is_empty() && says(own, rest)) {
                return Some(format!("/craft/{}/craft{rest}", self.craft));
            }
        }
        let change = Value::Object(self.keys.change.clone());
        says(&change, pointer).then(|| format!("/change{pointer}"))
    }
}

fn says(part: &Value, pointer: &str) -> bool {
    part.pointer(pointer).is_some()
}

/// The same fault at another pointer, in other words.
fn restated(fault: &Fault, pointer: String, message: String) -> Fault {
    let restated =
        if fault.on_key() { Fault::at_key(pointer, message) } else { Fault::at(pointer, message) };
    match fault.help_text() {
        Some(help) => restated.help(help),
        None => restated,
    }
}
