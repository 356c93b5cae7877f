//! The places in a scenario where a plug-in's own keys stand.

use std::{borrow::Cow, marker::PhantomData};

use dipward_plugin::{Fault, Point, Registry, faults_by_schema, pointer_to, schema_of};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Value, json};

use super::ScenarioKeys;

/// A mapping that one kind of the point `P` reads. Its schema is known only to the registry.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot<P>(pub Value, PhantomData<P>);

/// Marks a slot in the scenario's own schema, for [`combined_schema`].
const SLOT_MARK: &str = "x-dipward-slot";
/// And the parts that may stand in it in place of a kind.
const PARTS_MARK: &str = "x-dipward-parts";

impl<P> Slot<P> {
    /// A slot with the given mapping.
    #[must_use]
    pub const fn new(value: Value) -> Self {
        Self(value, PhantomData)
    }

    /// A slot with a kind and none of its keys.
    #[must_use]
    pub fn kind(kind: &str) -> Self {
        Self::new(json!({ "kind": kind }))
    }
}

impl<P> Serialize for Slot<P> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

impl<'de, P> Deserialize<'de> for Slot<P> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Value::deserialize(deserializer).map(Self::new)
    }
}

impl<P: Point> JsonSchema for Slot<P> {
    fn schema_name() -> Cow<'static, str> {
        P::SLOT.into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        // Says nothing of the content: the registry tells faults of a slot in better words.
        let parts: serde_json::Map<String, Value> = P::PARTS
            .iter()
            .map(|(name, slot)| ((*name).to_owned(), json!({ "x-dipward-slot": slot })))
            .collect();
        json_schema!({ "x-dipward-slot": P::SLOT, "x-dipward-parts": parts })
    }
}

/// The JSON Schema (draft 2020-12) of a scenario with all registered kinds.
#[must_use]
pub fn combined_schema(registry: &Registry) -> Value {
    let mut schema = schema_of::<ScenarioKeys>();
    fill_slots(&mut schema, registry);
    schema
}

/// Puts the schemas of all registered kinds where a schema has slots.
pub(crate) fn fill_slots(part: &mut Value, registry: &Registry) {
    match part {
        Value::Object(map) => {
            if let Some(slot) = map.shift_remove(SLOT_MARK) {
                let slot = slot.as_str().unwrap_or_default();
                let mut kinds: Vec<Value> =
                    registry.kinds_of(slot).map(|kind| kind.schema.clone()).collect();
                let parts = map.shift_remove(PARTS_MARK);
                if let Some(parts) =
                    parts.filter(|parts| parts.as_object().is_some_and(|p| !p.is_empty()))
                {
                    let mut of_parts = json!({
                        "type": "object",
                        "properties": parts,
                        "minProperties": 1,
                        "additionalProperties": false,
                    });
                    fill_slots(&mut of_parts, registry);
                    kinds.push(of_parts);
                }
                map.insert("oneOf".to_owned(), Value::Array(kinds));
            } else {
                map.values_mut().for_each(|value| fill_slots(value, registry));
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|value| fill_slots(value, registry)),
        _ => {}
    }
}

/// The faults, by schema, of all slots that can be found in a scenario whose other keys are wrong.
pub(super) fn faults_of_slots(registry: &Registry, scenario: &Value) -> Vec<Fault> {
    let single = [
        "/pole/model",
        "/pole/disturbance",
        "/pole/disturbance/activity",
        "/pole/disturbance/response",
        "/craft",
        "/station/policy",
        "/search",
    ];
    let lists = [
        ("/chart/layers", "chart.layers[]"),
        ("/last_leg", "last_leg[]"),
        ("/ranking", "ranking[]"),
        ("/outputs", "outputs[]"),
    ];
    let mut faults = Vec::new();
    let mut check = |slot: &str, pointer: &str, value: &Value| {
        let kind = value.get("kind").and_then(Value::as_str);
        if let Some(kind) = registry.kinds_of(slot).find(|known| Some(known.name) == kind) {
            let found = faults_by_schema(&kind.schema, value);
            faults.extend(found.into_iter().map(|fault| fault.within(pointer)));
        }
    };
    for pointer in single {
        if let Some(value) = scenario.pointer(pointer) {
            check(&pointer.trim_start_matches('/').replace('/', "."), pointer, value);
        }
    }
    for (pointer, slot) in lists {
        let items = scenario.pointer(pointer).and_then(Value::as_array);
        for (index, value) in items.into_iter().flatten().enumerate() {
            check(slot, &pointer_to(pointer, &index.to_string()), value);
        }
    }
    faults
}

/// The default of a list slot: one entry a kind, in the given order.
pub(super) fn kinds<P>(names: &[&str]) -> Vec<Slot<P>> {
    names.iter().map(|name| Slot::kind(name)).collect()
}
