use std::fs;

use dipward_plugin::Document;
use jsonschema::Validator;
use serde_json::{Value, json};

use crate::program::{OPEN_WATER, repository, run};

fn schema() -> Value {
    let ended = run(&repository(), "schema");
    assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""));
    serde_json::from_str(&ended.stdout).unwrap()
}

fn validator() -> Validator {
    jsonschema::draft202012::new(&schema()).unwrap()
}

fn read(text: &str) -> Value {
    Document::parse("scenario.yaml", text).unwrap().value().clone()
}

#[test]
fn the_schema_is_a_schema() {
    let schema = schema();
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    jsonschema::meta::validate(&schema).unwrap();
    assert!(!schema.to_string().contains("x-dipward"), "a slot is left open");
}

#[test]
fn the_schema_accepts_the_demonstration_scenarios() {
    let validator = validator();
    for name in ["austral-summer.yaml", "arctic-late-summer.yaml"] {
        let text = fs::read_to_string(repository().join("scenarios").join(name)).unwrap();
        let told: Vec<String> =
            validator.iter_errors(&read(&text)).map(|error| error.to_string()).collect();
        assert!(told.is_empty(), "{name}: {told:#?}");
    }
}

#[test]
fn the_schema_refuses_what_the_program_refuses() {
    let validator = validator();
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
