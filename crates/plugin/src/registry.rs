//! Kinds: how a plug-in says what it is and how the host finds it.

use std::{any::Any, collections::BTreeMap, fmt};

use schemars::JsonSchema;
use serde::{Serialize, de::DeserializeOwned};
use serde_json::{Map, Value, json};

use crate::{
    Activity, BuildContext, Craft, Criterion, Disturbance, DisturbanceByKp, Fault, Faults, LastLeg,
    Layer, MainField, Policy, Response, Search, Writer,
    document::pointer_to,
    schema::{choice, faults_by_schema, nearest, read_value, schema_of},
};

/// An extension point: where its kinds stand in a scenario, and what they make.
pub trait Point: 'static {
    /// What a kind of this point builds.
    type Object: ?Sized + Send + Sync + 'static;
    /// The slot in the scenario ("chart.layers[]").
    const SLOT: &'static str;
    /// The slots of the parts that a mapping without a `kind` may name in place of one, where this
    /// point's object can be put together from others.
    const PARTS: &'static [(&'static str, &'static str)] = &[];

    /// Puts the object together from the mapping's parts, where the point has any.
    ///
    /// # Errors
    ///
    /// As [`Registry::build`].
    fn assemble(
        _registry: &Registry,
        pointer: &str,
        _value: &Value,
        _context: &BuildContext,
    ) -> Result<Built<Self>, Faults>
    where
        Self: Sized,
    {
        Err(Fault::at(pointer, format!("`{}` has no parts", Self::SLOT)).into())
    }
}

macro_rules! points {
    ($($(#[$doc:meta])* $name:ident => $object:ident at $slot:literal;)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, Eq)]
            pub struct $name;
            impl Point for $name {
                type Object = dyn $object;
                const SLOT: &'static str = $slot;
            }
        )*
    };
}

/// The point of [`Disturbance`] kinds. A mapping without a kind names an activity and a response, whose
/// defaults are `history` and `learnt`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DisturbancePoint;

impl Point for DisturbancePoint {
    type Object = dyn Disturbance;
    const SLOT: &'static str = "pole.disturbance";
    const PARTS: &'static [(&'static str, &'static str)] =
        &[("activity", ActivityPoint::SLOT), ("response", ResponsePoint::SLOT)];

    fn assemble(
        registry: &Registry,
        pointer: &str,
        value: &Value,
        context: &BuildContext,
    ) -> Result<Built<Self>, Faults> {
        let mut faults = Faults::default();
        let known: Vec<&str> = Self::PARTS.iter().map(|(name, _)| *name).collect();
        for key in value.as_object().into_iter().flat_map(Map::keys) {
            if !known.contains(&key.as_str()) {
                let fault = Fault::at(pointer_to(pointer, key), format!("unknown key `{key}`"));
                faults.push(
                    fault.help("a disturbance has an `activity` and a `response`, or a `kind`"),
                );
            }
        }
        let part = |name: &str, default: &str| {
            let stated = value.get(name).cloned().unwrap_or_else(|| json!({ "kind": default }));
            (pointer_to(pointer, name), stated)
        };
        let (at, stated) = part("activity", "history");
        let activity = registry.build::<ActivityPoint>(&at, &stated, context);
        let (at, stated) = part("response", "learnt");
        let response = registry.build::<ResponsePoint>(&at, &stated, context);
        match (activity, response) {
            (Ok(activity), Ok(response)) if faults.is_empty() => Ok(Built {
                kind: format!("{} with {}", activity.kind, response.kind),
                resolved: json!({ "activity": activity.resolved, "response": response.resolved }),
                object: Box::new(DisturbanceByKp {
                    activity: activity.object.into(),
                    response: response.object.into(),
                }),
            }),
            (activity, response) => {
                faults.extend(activity.err().into_iter().flatten());
                faults.extend(response.err().into_iter().flatten());
                Err(faults)
            }
        }
    }
}

points! {
    /// The point of [`MainField`] kinds.
    MainFieldPoint => MainField at "pole.model";
    /// The point of [`Activity`] kinds.
    ActivityPoint => Activity at "pole.disturbance.activity";
    /// The point of [`Response`] kinds.
    ResponsePoint => Response at "pole.disturbance.response";
    /// The point of [`Layer`] kinds.
    LayerPoint => Layer at "chart.layers[]";
    /// The point of [`Craft`] kinds.
    CraftPoint => Craft at "craft";
    /// The point of [`LastLeg`] kinds.
    LastLegPoint => LastLeg at "last_leg[]";
    /// The point of [`Policy`] kinds.
    PolicyPoint => Policy at "station.policy";
    /// The point of [`Search`] kinds.
    SearchPoint => Search at "search";
    /// The point of [`Criterion`] kinds.
    CriterionPoint => Criterion at "ranking[]";
    /// The point of [`Writer`] kinds.
    WriterPoint => Writer at "outputs[]";
}

/// The slots of a scenario, in the order of the data's way.
pub const SLOTS: &[&str] = &[
    MainFieldPoint::SLOT,
    DisturbancePoint::SLOT,
    ActivityPoint::SLOT,
    ResponsePoint::SLOT,
    LayerPoint::SLOT,
    CraftPoint::SLOT,
    LastLegPoint::SLOT,
    PolicyPoint::SLOT,
    SearchPoint::SLOT,
    CriterionPoint::SLOT,
    WriterPoint::SLOT,
];

/// A kind: the keys that a scenario may write for it, and how to build it from them.
///
/// The type is a serde struct with `deny_unknown_fields`; the `kind` key itself is not one of its
/// fields. Limits that a JSON Schema can express stand on the fields (`#[schemars(range(...))]`) and
/// hold before [`Spec::build`] is called.
///
/// # Example
///
/// A layer that says that the whole chart is ice of one thickness:
///
/// ```
/// use dipward_plugin::*;
/// use schemars::JsonSchema;
/// use serde::{Deserialize, Serialize};
///
/// #[derive(Debug, Serialize, Deserialize, JsonSchema)]
/// #[serde(deny_unknown_fields)]
/// struct SlabSpec {
///     #[schemars(range(min = 0.0, max = 10.0))]
///     thickness_m: f32,
/// }
///
/// #[derive(Debug)]
/// struct Slab(f32);
///
/// impl Spec for SlabSpec {
///     type Point = LayerPoint;
///     const KIND: &'static str = "slab";
///     const SUMMARY: &'static str = "ice of one thickness everywhere";
///     const EXAMPLE: &'static str = "{kind: slab, thickness_m: 0.8}";
///     fn build(self, _: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
///         Ok(Box::new(Slab(self.thickness_m)))
///     }
/// }
///
/// impl Layer for Slab {
///     fn quantities(&self) -> Vec<Quantity> {
///         vec![Quantity::ICE_THICKNESS]
///     }
///     fn provenance(&self) -> Provenance {
///         Provenance { name: "slab".into(), source: "the scenario".into(), licence: None }
///     }
///     fn lay(&self, _: Ground<'_>, _: &Control) -> Result<Box<dyn Laid>, Error> {
///         Ok(Box::new(Slab(self.0)))
///     }
/// }
///
/// impl Laid for Slab {
///     fn hours(&self) -> &[f64] {
///         &[]
///     }
///     fn change(&self) -> Change {
///         Change::Step
///     }
///     fn beyond(&self) -> Beyond {
///         Beyond::Hold
///     }
///     fn fill(
///         &self,
///         _: Quantity,
///         _: usize,
///         _: std::ops::Range<u32>,
///         out: &mut [f32],
///     ) -> Result<(), Error> {
///         out.fill(self.0);
///         Ok(())
///     }
/// }
///
/// let mut registry = Registry::default();
/// registry.register::<SlabSpec>()?;
/// assert!(registry.register::<SlabSpec>().is_err());
/// # Ok::<(), DuplicateKind>(())
/// ```
pub trait Spec: DeserializeOwned + Serialize + JsonSchema + 'static {
    /// The point that it extends.
    type Point: Point;
    /// The word after `kind:`.
    const KIND: &'static str;
    /// One line for the list of kinds.
    const SUMMARY: &'static str;
    /// A mapping in YAML, `kind` included, that a test reads and builds.
    const EXAMPLE: &'static str;

    /// Makes the object.
    ///
    /// # Errors
    ///
    /// All that is wrong with the keys and the files they name; pointers start at this mapping.
    fn build(self, context: &BuildContext) -> Result<Box<<Self::Point as Point>::Object>, Faults>;

    /// What a record of the run writes in place of this mapping, where the kind is a short form of
    /// something longer; `None`, as by default, for the mapping itself with its defaults filled in.
    fn written_out(&self) -> Option<Value> {
        None
    }
}

/// An object built from a scenario's slot.
pub struct Built<P: Point> {
    /// The kind.
    pub kind: String,
    /// The object.
    pub object: Box<P::Object>,
    /// The mapping with every default written out.
    pub resolved: Value,
}

impl<P: Point> fmt::Debug for Built<P> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Built").field("kind", &self.kind).finish_non_exhaustive()
    }
}

type AnyBuild = fn(Value, &BuildContext) -> Result<(Box<dyn Any>, Value), Faults>;

/// What the registry knows of a kind.
#[derive(Clone)]
pub struct Kind {
    /// The slot that it fills.
    pub slot: &'static str,
    /// The word after `kind:`.
    pub name: &'static str,
    /// One line about it.
    pub summary: &'static str,
    /// A mapping in YAML that builds it.
    pub example: &'static str,
    /// The Rust type that registered it.
    pub type_name: &'static str,
    /// The JSON Schema of its mapping, `kind` included.
    pub schema: Value,
    build: AnyBuild,
}

impl fmt::Debug for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Kind({} {})", self.slot, self.name)
    }
}

/// Two plug-ins claim one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DuplicateKind {
    slot: &'static str,
    kind: &'static str,
    first: &'static str,
    second: &'static str,
}

impl fmt::Display for DuplicateKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { slot, kind, first, second } = self;
        write!(f, "both `{first}` and `{second}` claim the kind `{kind}` of `{slot}`")
    }
}

impl std::error::Error for DuplicateKind {}

/// All kinds that a program knows. Registration is explicit: a program lists its kinds in `main`.
#[derive(Debug, Clone, Default)]
pub struct Registry {
    kinds: BTreeMap<(&'static str, &'static str), Kind>,
}

impl Registry {
    /// Adds a kind.
    ///
    /// # Errors
    ///
    /// [`DuplicateKind`] naming both types where the slot has a kind of that name already.
    pub fn register<S: Spec>(&mut self) -> Result<&mut Self, DuplicateKind> {
        let (slot, kind) = (<S::Point as Point>::SLOT, S::KIND);
        let type_name = std::any::type_name::<S>();
        if let Some(first) = self.kinds.get(&(slot, kind)) {
            let first = first.type_name;
            return Err(DuplicateKind { slot, kind, first, second: type_name });
        }
        let entry = Kind {
            slot,
            name: kind,
            summary: S::SUMMARY,
            example: S::EXAMPLE,
            type_name,
            schema: with_kind(schema_of::<S>(), kind),
            build: build_any::<S>,
        };
        self.kinds.insert((slot, kind), entry);
        Ok(self)
    }

    /// The kinds in the order of slots and names.
    pub fn kinds(&self) -> impl Iterator<Item = &Kind> {
        SLOTS.iter().flat_map(|slot| self.kinds_of(slot))
    }

    /// The kinds of one slot, by name.
    pub fn kinds_of(&self, slot: &str) -> impl Iterator<Item = &Kind> {
        self.kinds.values().filter(move |kind| kind.slot == slot)
    }

    /// Builds the object of one slot.
    ///
    /// # Arguments
    ///
    /// `pointer` is where the slot's mapping stands in the scenario; `value` is that mapping.
    ///
    /// # Errors
    ///
    /// All faults of the mapping, with pointers from the scenario's root.
    pub fn build<P: Point>(
        &self,
        pointer: &str,
        value: &Value,
        context: &BuildContext,
    ) -> Result<Built<P>, Faults> {
        let names_parts = |map: &Map<String, Value>| {
            !map.contains_key("kind") && P::PARTS.iter().any(|(name, _)| map.contains_key(*name))
        };
        if value.as_object().is_some_and(names_parts) {
            return P::assemble(self, pointer, value, context);
        }
        let kind = self.kind_of::<P>(pointer, value)?;
        let mut faults = Faults::default();
        faults.extend(faults_by_schema(&kind.schema, value));
        faults.within(pointer).into_result(())?;
        let mut spec = value.clone();
        if let Some(map) = spec.as_object_mut() {
            map.shift_remove("kind");
        }
        let (object, resolved) =
            (kind.build)(spec, context).map_err(|faults| faults.within(pointer))?;
        let object = object.downcast::<Box<P::Object>>().map_err(|_| {
            // Kinds are stored under the slot of their own point, so this is another point that
            // claims the same slot.
            Fault::at(
                pointer,
                format!("the kind `{}` belongs to another extension point", kind.name),
            )
        })?;
        Ok(Built { kind: kind.name.to_owned(), object: *object, resolved })
    }

    fn kind_of<P: Point>(&self, pointer: &str, value: &Value) -> Result<&Kind, Fault> {
        let names: Vec<&str> = self.kinds_of(P::SLOT).map(|kind| kind.name).collect();
        let Some(map) = value.as_object() else {
            return Err(Fault::at(
                pointer,
                format!("a mapping with a `kind` is wanted at `{}`", P::SLOT),
            )
            .help(format!("the kinds are {}", names.join(", "))));
        };
        let Some(name) = map.get("kind") else {
            let fault = Fault::at(pointer, "the key `kind` is missing");
            let near = map.keys().find(|key| nearest(key, &["kind"]).is_some());
            return Err(match near {
                Some(key) => fault.help(format!("did you mean `kind` where `{key}` stands?")),
                None => fault.help(format!("the kinds here are {}", names.join(", "))),
            });
        };
        name.as_str()
            .and_then(|name| self.kinds_of(P::SLOT).find(|kind| kind.name == name))
            .ok_or_else(|| choice(&pointer_to(pointer, "kind"), name, &names))
    }
}

fn build_any<S: Spec>(
    value: Value,
    context: &BuildContext,
) -> Result<(Box<dyn Any>, Value), Faults> {
    // The schema has passed, so what serde still refuses is a value that the schema cannot express.
    let spec: S = read_value(value)?;
    let resolved = match spec.written_out() {
        Some(longer) => longer,
        None => {
            let mut map = Map::from_iter([("kind".to_owned(), Value::from(S::KIND))]);
            let rest =
                serde_json::to_value(&spec).map_err(|error| Fault::at("", error.to_string()))?;
            if let Value::Object(rest) = rest {
                map.extend(rest);
            }
            Value::Object(map)
        }
    };
    let object: Box<<S::Point as Point>::Object> = spec.build(context)?;
    Ok((Box::new(object), resolved))
}

/// Adds the `kind` key to a mapping's schema.
fn with_kind(mut schema: Value, kind: &str) -> Value {
    if let Some(map) = schema.as_object_mut() {
        map.shift_remove("$schema");
        let mut properties = Map::from_iter([("kind".to_owned(), json!({ "const": kind }))]);
        if let Some(Value::Object(own)) = map.shift_remove("properties") {
            properties.extend(own);
        }
        map.insert("properties".to_owned(), Value::Object(properties));
        let mut required = vec![Value::from("kind")];
        if let Some(Value::Array(own)) = map.shift_remove("required") {
            required.extend(own);
        }
        map.insert("required".to_owned(), Value::Array(required));
    }
    schema
}
