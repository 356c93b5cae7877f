//! The keys of a kind, read off its JSON Schema.

use serde_json::{Map, Value};

/// A key as the reference page shows it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Row {
    /// The key with those it stands under: `hull.beam_m`, `powers[].fuel_t`.
    pub(super) name: String,
    /// What may stand there, in words.
    pub(super) type_name: String,
    /// The default as it would be written; `None` where the key is required.
    pub(super) default: Option<String>,
    /// The limits of a number or a list.
    pub(super) range: String,
    /// What it is.
    pub(super) description: String,
}

/// The keys of a mapping's schema, those of mappings within it after it, without `kind`.
pub(super) fn rows(schema: &Value) -> Vec<Row> {
    let mut rows = Vec::new();
    add_rows("", schema, &mut rows);
    rows
}

fn add_rows(prefix: &str, schema: &Value, rows: &mut Vec<Row>) {
    let required = schema.get("required").and_then(Value::as_array);
    let properties = schema.get("properties").and_then(Value::as_object);
    for (key, part) in properties.into_iter().flatten() {
        if prefix.is_empty() && key == "kind" {
            continue;
        }
        let name = format!("{prefix}{key}");
        let is_required =
            required.is_some_and(|list| list.iter().any(|item| item.as_str() == Some(key)));
        let nested = nested_of(part);
        let default = part.get("default");
        rows.push(Row {
            type_name: type_name(part),
            default: (!is_required).then(|| match default {
                // The rows below say it part by part.
                Some(Value::Object(_)) if !nested.is_empty() => String::new(),
                Some(value) => value.to_string(),
                None => "null".to_owned(),
            }),
            range: range(part),
            description: text_of(part),
            name: name.clone(),
        });
        for (suffix, inner) in nested {
            add_rows(&format!("{name}{suffix}."), inner, rows);
        }
    }
    for alternative in alternatives(schema) {
        add_rows(prefix, alternative, rows);
    }
}

/// The mappings within a value: itself, its items, or the mappings among its alternatives.
fn nested_of(part: &Value) -> Vec<(&'static str, &Value)> {
    if part.get("properties").is_some() {
        return vec![("", part)];
    }
    if let Some(items) = part.get("items") {
        let inner = nested_of(items).into_iter();
        return inner.filter(|(suffix, _)| suffix.is_empty()).map(|(_, it)| ("[]", it)).collect();
    }
    alternatives(part).flat_map(nested_of).collect()
}

fn alternatives(part: &Value) -> impl Iterator<Item = &Value> {
    ["oneOf", "anyOf", "allOf"]
        .into_iter()
        .filter_map(|word| part.get(word).and_then(Value::as_array))
        .flatten()
}

fn type_name(part: &Value) -> String {
    if let Some(options) = part.get("enum").and_then(Value::as_array) {
        return list(options.iter().map(|option| format!("`{}`", plain(option))));
    }
    if let Some(only) = part.get("const") {
        return format!("`{}`", plain(only));
    }
    let own = match part.get("type") {
        Some(Value::String(name)) => word(name, part),
        Some(Value::Array(names)) => {
            list(names.iter().filter_map(Value::as_str).map(|name| word(name, part)))
        }
        _ => String::new(),
    };
    if own.is_empty() { list(alternatives(part).map(type_name)) } else { own }
}

fn word(name: &str, part: &Value) -> String {
    match name {
        "object" => "mapping".to_owned(),
        "string" => "text".to_owned(),
        "integer" => "whole number".to_owned(),
        "boolean" => "true or false".to_owned(),
        "array" => {
            let inner = part.get("items").map(type_name).filter(|inner| !inner.is_empty());
            inner.map_or_else(|| "list".to_owned(), |inner| format!("list of {inner}"))
        }
        other => other.to_owned(),
    }
}

/// Alternatives with "or" between, each once.
fn list(names: impl Iterator<Item = String>) -> String {
    let mut distinct: Vec<String> = Vec::new();
    for name in names.filter(|name| !name.is_empty()) {
        if !distinct.contains(&name) {
            distinct.push(name);
        }
    }
    distinct.join(" or ")
}

fn range(part: &Value) -> String {
    let limits = std::iter::once(part).chain(alternatives(part)).find_map(own_range);
    limits.unwrap_or_default()
}

fn own_range(part: &Value) -> Option<String> {
    let part = part.as_object()?;
    // The limits that a machine word has say nothing to a planner.
    let of_a_word = |key: &str, value: &Value| {
        part.contains_key("format") && key == "maximum" && value.as_f64().is_some_and(|v| v > 1e9)
    };
    let limit = |key: &str| part.get(key).filter(|value| !of_a_word(key, value)).map(number);
    let both = |low: Option<String>, high: Option<String>| match (low, high) {
        (Some(low), Some(high)) => Some(format!("{low} and {high}")),
        (low, high) => low.or(high),
    };
    let low = limit("minimum")
        .map(|limit| format!("at least {limit}"))
        .or_else(|| limit("exclusiveMinimum").map(|limit| format!("more than {limit}")));
    let high = limit("maximum")
        .map(|limit| format!("at most {limit}"))
        .or_else(|| limit("exclusiveMaximum").map(|limit| format!("less than {limit}")));
    match (part.get("minimum"), part.get("maximum")) {
        (Some(low), Some(high)) if !of_a_word("maximum", high) => {
            Some(format!("{} to {}", number(low), number(high)))
        }
        _ => both(low, high),
    }
    .or_else(|| lengths(part))
}

fn lengths(part: &Map<String, Value>) -> Option<String> {
    match (part.get("minItems"), part.get("maxItems")) {
        (Some(low), Some(high)) if low == high => Some(format!("{low} items")),
        (Some(low), Some(high)) => Some(format!("{low} to {high} items")),
        (Some(low), None) => Some(format!("{low} items or more")),
        (None, Some(high)) => Some(format!("{high} items or fewer")),
        (None, None) => {
            part.get("minLength").filter(|&low| *low == 1).map(|_| "not empty".to_owned())
        }
    }
}

/// A number without a fraction that says nothing.
fn number(value: &Value) -> String {
    value.as_f64().map_or_else(|| value.to_string(), |number| number.to_string())
}

fn plain(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn text_of(part: &Value) -> String {
    part.get("description").and_then(Value::as_str).unwrap_or_default().to_owned()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn keys_within_keys_are_named_by_their_way() {
        let schema = json!({
            "type": "object",
            "properties": {
                "kind": {"const": "x"},
                "beam_m": {"type": "number", "format": "double", "exclusiveMinimum": 0,
                    "maximum": 60.0, "description": "Beam."},
                "class": {"oneOf": [{"const": "pc_1"}, {"const": "pc_2"}], "default": "pc_2"},
                "legs": {"type": "array", "minItems": 1, "items": {"type": "object",
                    "properties": {"n": {"type": ["integer", "null"], "format": "uint32",
                        "minimum": 0, "maximum": 4294967295_u64}}}},
                "inside": {"anyOf": [{"type": "null"}, {"oneOf": [
                    {"type": "object", "required": ["circle"], "properties": {"circle":
                        {"type": "object", "properties": {"radius_km": {"type": "number"}}}}},
                    {"type": "object", "properties": {"box": {"type": "array"}}}]}]}
            },
            "required": ["kind", "beam_m"]
        });
        let told: Vec<String> = rows(&schema)
            .iter()
            .map(|row| {
                let default = row.default.as_deref().unwrap_or("required");
                format!("{}|{}|{default}|{}", row.name, row.type_name, row.range)
            })
            .collect();
        assert_eq!(
            told,
            [
                "beam_m|number|required|more than 0 and at most 60",
                "class|`pc_1` or `pc_2`|\"pc_2\"|",
                "legs|list of mapping|null|1 items or more",
                "legs[].n|whole number or null|null|at least 0",
                "inside|null or mapping|null|",
                "inside.circle|mapping|required|",
                "inside.circle.radius_km|number|null|",
                "inside.box|list|null|",
            ]
        );
    }
}
