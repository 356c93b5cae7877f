//! The main field that `--model` names.

use std::path::Path;

use dipward_geodesy::Hemisphere;
use dipward_plugin::{BuildContext, Built, Clock, MainField, MainFieldPoint, Point};
use jiff::Timestamp;
use serde_json::{Value, json};

use crate::{arguments::Model, exit::Failure, run::Session};

/// The kind that reads a file of coefficients.
const COEFFICIENTS: &str = "coefficients";

/// Builds the main field: a registered kind by its name, else a file of coefficients.
///
/// It is built the way that a scenario's `pole.model` is, so that kinds of a third party serve too.
pub(crate) fn main_field(
    session: &Session<'_>,
    request: &Model,
    hemisphere: Hemisphere,
) -> Result<Built<MainFieldPoint>, Failure> {
    let registry = session.registry;
    let name = request.model.as_str();
    let kinds: Vec<&str> = registry
        .kinds_of(MainFieldPoint::SLOT)
        .map(|kind| kind.name)
        .filter(|&kind| kind != COEFFICIENTS)
        .collect();
    let mut value = if kinds.contains(&name) {
        json!({ "kind": name })
    } else if Path::new(name).is_file() {
        json!({ "kind": COEFFICIENTS, "file": name })
    } else {
        return Err(Failure::request(format_args!(
            "--model {name}: neither a file nor one of {}",
            kinds.join(", ")
        )));
    };
    if request.extrapolate {
        session.console.note(
            "note: beyond its years the model is carried on in straight lines, which nobody vouches for",
        );
        value["extrapolate"] = Value::Bool(true);
    }
    // No kind of main field asks for the window, and none is planned.
    let context = BuildContext::new("", hemisphere, Clock::new(Timestamp::UNIX_EPOCH), 0.0);
    registry
        .build::<MainFieldPoint>("", &value, &context)
        .map_err(|faults| Failure::request(format_args!("--model {name}: {faults}")))
}

/// Why a model does not answer for a decimal year, if it does not.
pub(crate) fn refusal(model: &dyn MainField, decimal_year: f64) -> Option<String> {
    let years = model.years();
    (!years.contains(&decimal_year)).then(|| {
        format!(
            "{} answers for {:.1} to {:.1}, not for {decimal_year:.3}; --extrapolate carries it \
             further",
            model.provenance().name,
            years.start(),
            years.end()
        )
    })
}
