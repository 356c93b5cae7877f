//! Checks a value against a JSON Schema and tells every fault in a planner's words.

use jsonschema::{Draft, ValidationError, error::ValidationErrorKind};
use schemars::{JsonSchema, generate::SchemaSettings};
use serde::de::DeserializeOwned;
use serde_json::Value;
use serde_path_to_error::Segment;

use crate::{Fault, document::pointer_to};

/// The JSON Schema (draft 2020-12) of a type, with nothing left to look up elsewhere.
#[must_use]
pub fn schema_of<T: JsonSchema>() -> Value {
    let settings =
        SchemaSettings::draft2020_12().with(|settings| settings.inline_subschemas = true);
    settings.into_generator().into_root_schema_for::<T>().to_value()
}

/// Reads a value into a type.
///
/// # Errors
///
/// The first fault, with its pointer from the value. Check the schema before, to have them all.
pub fn read_value<T: DeserializeOwned>(value: Value) -> Result<T, Fault> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let pointer = error.path().iter().fold(String::new(), |pointer, segment| match segment {
            Segment::Seq { index } => pointer_to(&pointer, &index.to_string()),
            Segment::Map { key } => pointer_to(&pointer, key),
            Segment::Enum { variant } => pointer_to(&pointer, variant),
            Segment::Unknown => pointer,
        });
        Fault::at(pointer, error.into_inner().to_string())
    })
}

/// All faults of `value` by `schema`; pointers start at the value.
#[must_use]
pub fn faults_by_schema(schema: &Value, value: &Value) -> Vec<Fault> {
    match jsonschema::options().with_draft(Draft::Draft202012).build(schema) {
        Ok(validator) => {
            validator.iter_errors(value).flat_map(|error| faults_of(&error, schema)).collect()
        }
        Err(error) => vec![Fault::at("", format!("the schema of this part is broken: {error}"))],
    }
}

fn faults_of(error: &ValidationError<'_>, schema: &Value) -> Vec<Fault> {
    let at = error.instance_path().as_str();
    let found = error.instance();
    let fault = |message: String| Fault::at(at, message);
    match error.kind() {
        ValidationErrorKind::AdditionalProperties { unexpected }
        | ValidationErrorKind::UnevaluatedProperties { unexpected } => {
            let known = known_keys(schema, error.schema_path().as_str());
            unexpected.iter().map(|key| unknown_key(at, key, &known)).collect()
        }
        ValidationErrorKind::Required { property } => {
            let key = property.as_str().unwrap_or_default();
            vec![fault(format!("the key `{key}` is missing")).help(format!("add `{key}:` here"))]
        }
        ValidationErrorKind::Type { .. } => {
            let wanted = error
                .to_string()
                .rsplit(" is not of type ")
                .next()
                .map(|names| names.replace(['"', '\''], ""))
                .map_or_else(|| "another type".to_owned(), |names| type_name(&names));
            vec![fault(format!("{} stands where {wanted} is wanted", describe(found)))]
        }
        ValidationErrorKind::Enum { options } => {
            let options: Vec<&str> = options
                .as_array()
                .map(|list| list.iter().filter_map(Value::as_str).collect())
                .unwrap_or_default();
            vec![choice(at, found, &options)]
        }
        ValidationErrorKind::OneOfNotValid { .. } | ValidationErrorKind::AnyOf { .. } => {
            let path = error.schema_path().as_str();
            let options = named_choices(schema.pointer(path));
            if options.is_empty() {
                vec![fault(format!("{} does not fit here", describe(found)))]
            } else {
                vec![choice(at, found, &options)]
            }
        }
        ValidationErrorKind::Minimum { limit } => {
            vec![fault(format!("{found} is too small")).help(format!("give at least {limit}"))]
        }
        ValidationErrorKind::ExclusiveMinimum { limit } => {
            vec![fault(format!("{found} is too small")).help(format!("give more than {limit}"))]
        }
        ValidationErrorKind::Maximum { limit } => {
            vec![fault(format!("{found} is too large")).help(format!("give at most {limit}"))]
        }
        ValidationErrorKind::ExclusiveMaximum { limit } => {
            vec![fault(format!("{found} is too large")).help(format!("give less than {limit}"))]
        }
        ValidationErrorKind::MinItems { limit } => {
            vec![fault(format!("the list is too short: {limit} or more are needed"))]
        }
        ValidationErrorKind::MaxItems { limit } => {
            vec![fault(format!("the list is too long: {limit} is the most"))]
        }
        ValidationErrorKind::MinLength { .. } => vec![fault("the text is empty".to_owned())],
        _ => vec![fault(error.to_string())],
    }
}

/// A fault of a word that is none of the options, with the nearest one.
#[must_use]
pub(crate) fn choice(at: &str, found: &Value, options: &[&str]) -> Fault {
    let shown = found.as_str().map_or_else(|| describe(found), |word| format!("`{word}`"));
    let fault = Fault::at(at, format!("{shown} is none of the choices"));
    let all = options.iter().map(|option| format!("`{option}`")).collect::<Vec<_>>().join(", ");
    match found.as_str().and_then(|word| nearest(word, options)) {
        Some(near) => fault.help(format!("did you mean `{near}`? The choices are {all}")),
        None => fault.help(format!("the choices are {all}")),
    }
}

fn unknown_key(at: &str, key: &str, known: &[String]) -> Fault {
    let fault = Fault::at_key(pointer_to(at, key), format!("the key `{key}` is not known here"));
    let names: Vec<&str> = known.iter().map(String::as_str).collect();
    match nearest(key, &names) {
        Some(near) => fault.help(format!("did you mean `{near}`?")),
        None if names.is_empty() => fault,
        None => fault.help(format!("the keys here are {}", names.join(", "))),
    }
}

/// The option nearest to `word`, if one is near enough to have been meant.
#[must_use]
pub(crate) fn nearest<'a>(word: &str, options: &[&'a str]) -> Option<&'a str> {
    options
        .iter()
        .map(|option| (strsim::damerau_levenshtein(word, option), *option))
        .filter(|(distance, option)| *distance <= 1 + option.len().max(word.len()) / 4)
        .min()
        .map(|(_, option)| option)
}

/// The properties that the schema knows where an `additionalProperties` keyword refused one.
fn known_keys(schema: &Value, path: &str) -> Vec<String> {
    let parent = path.rfind('/').map_or("", |slash| &path[..slash]);
    schema
        .pointer(parent)
        .and_then(|part| part.get("properties"))
        .and_then(Value::as_object)
        .map(|properties| properties.keys().cloned().collect())
        .unwrap_or_default()
}

fn named_choices(part: Option<&Value>) -> Vec<&str> {
    let alternatives = part.and_then(Value::as_array);
    let Some(alternatives) = alternatives else { return Vec::new() };
    alternatives
        .iter()
        .flat_map(|alternative| {
            let listed = alternative.get("enum").and_then(Value::as_array);
            let one = alternative.get("const");
            listed.into_iter().flatten().chain(one).filter_map(Value::as_str)
        })
        .collect()
}

fn describe(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(flag) => format!("`{flag}`"),
        Value::Number(number) => format!("the number {number}"),
        Value::String(text) => format!("the text `{text}`"),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "a mapping".to_owned(),
    }
}

fn type_name(names: &str) -> String {
    let words = names.trim_start_matches("types ").split(", ").map(|name| match name.trim() {
        "object" => "a mapping",
        "array" => "a list",
        "string" => "a text",
        "number" => "a number",
        "integer" => "a whole number",
        "boolean" => "true or false",
        "null" => "nothing",
        _ => "another type",
    });
    words.collect::<Vec<_>>().join(" or ")
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;
    use serde_json::json;

    use super::*;

    #[derive(Deserialize, JsonSchema)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only its schema is looked at")]
    struct Sample {
        #[schemars(extend("exclusiveMinimum" = 0))]
        beam_m: f64,
        #[schemars(range(min = 1, max = 9))]
        count: u32,
        kind: Option<Choice>,
    }

    #[derive(Deserialize, JsonSchema)]
    #[serde(rename_all = "snake_case")]
    enum Choice {
        Cautious,
        Refuse,
    }

    #[test]
    fn every_fault_is_told_in_words() {
        let value = json!({"beam_n": 3, "beam_m": -1, "count": "x", "kind": "cautios"});
        let told: Vec<String> = faults_by_schema(&schema_of::<Sample>(), &value)
            .iter()
            .map(ToString::to_string)
            .collect();
        let all = told.join("\n");
        assert!(all.contains("did you mean `beam_m`"), "{all}");
        assert!(all.contains("give more than 0"), "{all}");
        assert!(all.contains("the text `x` stands where a whole number is wanted"), "{all}");
        assert!(all.contains("did you mean `cautious`"), "{all}");
    }

    #[test]
    fn a_missing_key_is_told() {
        let told = faults_by_schema(&schema_of::<Sample>(), &json!({"count": 2}));
        assert_eq!(told.len(), 1);
        assert!(told[0].message().contains("`beam_m` is missing"));
    }
}
