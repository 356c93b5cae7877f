use std::fs;

use dipward_plugin::Document;
use jsonschema::Validator;
use serde_json::{Value, json};

use crate::program::{OPEN_WATER, repository, run};

const SCENARIO: &str = "schema";
const STUDY: &str = "schema --study";

fn schema(command: &str) -> Value {
    let ended = run(&repository(), command);
    assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""));
    serde_json::from_str(&ended.stdout).unwrap()
}

fn validator(command: &str) -> Validator {
    jsonschema::draft202012::new(&schema(command)).unwrap()
}

fn demonstration(name: &str) -> Value {
    read(&fs::read_to_string(repository().join("scenarios").join(name)).unwrap())
}

fn read(text: &str) -> Value {
    Document::parse("scenario.yaml", text).unwrap().value().clone()
}

#[test]
fn the_schemas_are_schemas() {
    for (command, title) in [(SCENARIO, "A scenario of dipward"), (STUDY, "A study of dipward")] {
        let schema = schema(command);
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert_eq!(schema["title"], title);
        jsonschema::meta::validate(&schema).unwrap();
        assert!(!schema.to_string().contains("x-dipward"), "a slot is left open");
    }
}

#[test]
fn the_schemas_accept_the_demonstrations() {
    let (scenario, study) = (validator(SCENARIO), validator(STUDY));
    for (validator, name) in [
        (&scenario, "austral-summer.yaml"),
        (&scenario, "arctic-late-summer.yaml"),
        (&study, "austral-seasons.yaml"),
    ] {
        let told: Vec<String> =
            validator.iter_errors(&demonstration(name)).map(|error| error.to_string()).collect();
        assert!(told.is_empty(), "{name}: {told:#?}");
    }
}

#[test]
fn the_schema_of_a_study_refuses_what_is_none() {
    let validator = validator(STUDY);
    let sound = demonstration("austral-seasons.yaml");
    for (pointer, wrong) in [
        ("", demonstration("austral-summer.yaml")),
        ("/years", json!([])),
        ("/years/0/year", json!(1066)),
        ("/policies/0/policy/kind", json!("hould")),
        ("/policies/2/policy/leash_km", json!(-1)),
        ("/craft/0/craft", json!("a raft")),
        ("/departures/every_h", json!(-5)),
    ] {
        let mut value = sound.clone();
        *value.pointer_mut(pointer).unwrap() = wrong;
        assert!(!validator.is_valid(&value), "{pointer}");
    }
}

#[test]
fn the_schema_refuses_what_the_program_refuses() {
    let validator = validator(SCENARIO);
    let sound = read(OPEN_WATER);
    assert!(validator.is_valid(&sound));
    for (pointer, wrong) in [
        ("/pole/members", json!(0)),
        ("/craft/fuel/capacity_t", json!(0)),
        ("/craft/kind", json!("raft")),
        ("/pole/model", json!({"kind": "igrf14", "degre": 3})),
        ("/chart/layers/0/kind", json!("coost")),
        ("/title", json!(7)),
    ] {
        let mut value = sound.clone();
        *value.pointer_mut(pointer).unwrap() = wrong;
        assert!(!validator.is_valid(&value), "{pointer}");
    }
}
