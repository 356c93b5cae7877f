//! One call that a plug-in author makes in a test: does the kind keep its contract?
//!
//! [`check_example`] holds for every kind; each extension point has a function of its own, which runs
//! what the example built through the promises of the point's trait. An author's one test:
//!
//! ```ignore
//! let built = check_example::<MySpec>(&context)?;
//! check_craft(built.object.as_ref())?;
//! ```
//!
//! All of them answer with a sentence that says which promise is broken.

mod craft;
mod criterion;
mod disturbance;
mod last_leg;
mod layer;
mod main_field;
mod policy;
mod response;
mod search;
pub mod specimen;
mod writer;

pub use craft::check_craft;
pub use criterion::check_criterion;
pub use disturbance::check_disturbance;
pub use last_leg::check_last_leg;
pub use layer::check_layer;
pub use main_field::check_main_field;
pub use policy::check_policy;
pub use response::{check_activity, check_response};
pub use search::check_search;
pub use writer::check_writer;

use serde_json::Value;

use crate::{Assumption, BuildContext, Built, Document, Point, Provenance, Registry, Spec};

/// Reads and builds a kind's [`Spec::EXAMPLE`], and builds it again from the resolved mapping.
///
/// # Errors
///
/// A sentence that says which promise the kind breaks.
pub fn check_example<S: Spec>(context: &BuildContext) -> Result<Built<S::Point>, String> {
    let mut registry = Registry::default();
    registry.register::<S>().map_err(|error| error.to_string())?;
    let name = format!("the example of `{}`", S::KIND);
    let example = Document::parse(&name, S::EXAMPLE).map_err(|failed| failed.1.to_string())?;
    let build = |value: &Value| {
        registry
            .build::<S::Point>("", value, context)
            .map_err(|faults| format!("{name} does not build: {faults}"))
    };
    let first = build(example.value())?;
    // What a short form stands for is other kinds, which need not be known here.
    if first.resolved.get("kind").is_some() && build(&first.resolved)?.resolved != first.resolved {
        return Err(format!("{name} changes when its resolved form is read again"));
    }
    if S::SUMMARY.is_empty() || <S::Point as Point>::SLOT.is_empty() {
        return Err(format!("the kind `{}` needs a summary", S::KIND));
    }
    Ok(first)
}

/// An error with the sentence where the promise does not hold.
fn promise(holds: bool, broken: impl FnOnce() -> String) -> Result<(), String> {
    if holds { Ok(()) } else { Err(broken()) }
}

/// A provenance and assumptions say something.
fn told(provenance: &Provenance, assumptions: &[Assumption]) -> Result<(), String> {
    promise(!provenance.name.is_empty() && !provenance.source.is_empty(), || {
        format!("the provenance lacks a name or a source: {provenance:?}")
    })?;
    told_assumptions(assumptions)
}

/// Assumptions say what they are and whose.
fn told_assumptions(assumptions: &[Assumption]) -> Result<(), String> {
    let empty = assumptions.iter().find(|said| said.part.is_empty() || said.text.is_empty());
    promise(empty.is_none(), || format!("an assumption says nothing: {empty:?}"))
}

#[cfg(test)]
mod tests;
