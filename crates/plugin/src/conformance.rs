//! One call that a plug-in author makes in a test: does the kind keep its contract?

use serde_json::Value;

use crate::{BuildContext, Built, Document, Point, Registry, Spec};

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
    let second = build(&first.resolved)?;
    if second.resolved != first.resolved {
        return Err(format!("{name} changes when its resolved form is read again"));
    }
    if S::SUMMARY.is_empty() || <S::Point as Point>::SLOT.is_empty() {
        return Err(format!("the kind `{}` needs a summary", S::KIND));
    }
    Ok(first)
}
