use std::fs;

use serde_json::Value;

use crate::program::{OPEN_WATER, folder_with, listing, run};

const PLAN: &str = "plan scenario.yaml --out out";

#[test]
fn standard_output_carries_the_ranking_alone() {
    let folder = folder_with(OPEN_WATER);
    let table = run(folder.path(), PLAN);
    assert_eq!(table.status, Some(0), "{}", table.stderr);
    assert!(table.stdout.starts_with("rank"), "{}", table.stdout);
    assert!(table.stdout.lines().count() > 2, "{}", table.stdout);

    let json = run(folder.path(), "plan scenario.yaml --out again --format json --quiet");
    assert_eq!((json.status, json.stderr.as_str()), (Some(0), ""));
    let written = fs::read_to_string(folder.path().join("again/ranking.json")).unwrap();
    assert_eq!(json.stdout, written);
    let ranking: Value = serde_json::from_str(&json.stdout).unwrap();
    assert_eq!(ranking["seed"], 7);
    // Two lines of heading, one an approach, and what the first chance is worth.
    assert_eq!(table.stdout.lines().count(), 3 + ranking["approaches"].as_array().unwrap().len());
    assert_eq!(ranking["crust_sensitivity"]["approach"], ranking["approaches"][0]["id"]);
}

#[test]
fn every_output_is_written_and_the_scenario_is_an_input() {
    let folder = folder_with(OPEN_WATER);
    assert_eq!(run(folder.path(), PLAN).status, Some(0));
    let written = listing(&folder.path().join("out"));
    for name in [
        "map.svg",
        "ranking.json",
        "report.html",
        "routes.geojson",
        "run.json",
        "scenario.resolved.yaml",
    ] {
        assert!(written.iter().any(|found| found == name), "{name} in {written:?}");
    }
    assert!(written.iter().any(|name| name.ends_with(".gpx")), "{written:?}");
    let record: Value =
        serde_json::from_slice(&fs::read(folder.path().join("out/run.json")).unwrap()).unwrap();
    assert_eq!(record["inputs_sha256"]["scenario.yaml"].as_str().unwrap().len(), 64);
    assert_eq!(listing(folder.path()).iter().filter(|name| name.contains(".dipward-")).count(), 1);
}

#[test]
fn one_thread_and_two_write_the_same_bytes() {
    let folder = folder_with(OPEN_WATER);
    for threads in [1, 2] {
        let line = format!("plan scenario.yaml --out out{threads} --threads {threads}");
        assert_eq!(run(folder.path(), &line).status, Some(0));
    }
    let (one, two) = (folder.path().join("out1"), folder.path().join("out2"));
    assert_eq!(listing(&one), listing(&two));
    for name in listing(&one).iter().filter(|name| one.join(name).is_file()) {
        let [mut a, mut b] = [&one, &two].map(|out| fs::read(out.join(name)).unwrap());
        if name == "run.json" {
            // The timings are of the run, not of the result.
            [a, b] = [a, b].map(|bytes| {
                let mut record: Value = serde_json::from_slice(&bytes).unwrap();
                record["timings_s"] = Value::Null;
                serde_json::to_vec(&record).unwrap()
            });
        }
        assert!(a == b, "{name} differs");
    }
}

#[test]
fn the_seed_of_the_command_line_goes_before_the_scenario() {
    let folder = folder_with(OPEN_WATER);
    let ended = run(folder.path(), "plan scenario.yaml --out out --seed 99 --format json");
    let ranking: Value = serde_json::from_str(&ended.stdout).unwrap();
    assert_eq!(ranking["seed"], 99);
    let resolved = fs::read_to_string(folder.path().join("out/scenario.resolved.yaml")).unwrap();
    assert!(resolved.contains("seed: 99"));
}

#[test]
fn no_feasible_approach_is_status_3_with_reasons_printed_and_written() {
    let folder = folder_with(&OPEN_WATER.replace("capacity_t: 1150", "capacity_t: 40"));
    let ended = run(folder.path(), PLAN);
    assert_eq!(ended.status, Some(3), "{}", ended.stderr);
    assert_eq!(ended.stdout, "");
    assert!(ended.stderr.contains("no feasible approach"), "{}", ended.stderr);
    assert!(ended.stderr.contains("Nowhere 2027-01-06"), "{}", ended.stderr);
    let written = fs::read(folder.path().join("out/ranking.json")).unwrap();
    let ranking: Value = serde_json::from_slice(&written).unwrap();
    assert_eq!(ranking["approaches"].as_array().unwrap().len(), 0);
    for rejected in ranking["rejected"].as_array().unwrap() {
        assert!(ended.stderr.contains(rejected["reason"].as_str().unwrap()), "{}", ended.stderr);
    }
}

#[test]
fn verbose_tells_stages_and_timings_on_standard_error() {
    let folder = folder_with(OPEN_WATER);
    let ended = run(folder.path(), &format!("{PLAN} --verbose"));
    assert_eq!(ended.status, Some(0));
    assert!(ended.stderr.contains(" s  approaches"), "{}", ended.stderr);
    assert!(ended.stderr.contains("  cells"), "{}", ended.stderr);
    assert!(!ended.stderr.contains('\u{1b}'), "no bar and no colour off a terminal");
}

#[test]
fn a_place_that_cannot_be_written_is_told_before_anything_is_computed() {
    let folder = folder_with(OPEN_WATER);
    fs::write(folder.path().join("file"), "mine").unwrap();
    for out in ["file", "file/deeper/out"] {
        let ended = run(folder.path(), &format!("plan scenario.yaml --out {out} --verbose"));
        assert_eq!(ended.status, Some(2), "{}", ended.stderr);
        assert!(ended.stderr.contains("is not a folder"), "{}", ended.stderr);
        assert!(!ended.stderr.contains(" s  "), "{}", ended.stderr);
    }
    assert_eq!(listing(folder.path()), ["file", "scenario.yaml"]);
}

#[test]
fn a_wrong_command_line_is_status_2_and_help_is_status_0() {
    let folder = folder_with(OPEN_WATER);
    for wrong in
        ["", "plan", "plan scenario.yaml", "sail", "plan scenario.yaml --out o --threads 0"]
    {
        let ended = run(folder.path(), wrong);
        assert_eq!((ended.status, ended.stdout.as_str()), (Some(2), ""), "{wrong}");
        assert!(!ended.stderr.is_empty());
    }
    for right in ["--help", "--version", "plan --help", "help pole"] {
        let ended = run(folder.path(), right);
        assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""), "{right}");
    }
}

#[test]
fn the_bridge_is_told_of_compass_and_fuel_along_the_first_approach() {
    let told = |scenario: &str| -> Vec<String> {
        let folder = folder_with(scenario);
        assert_eq!(run(folder.path(), &format!("{PLAN} --quiet")).status, Some(0));
        let text = fs::read_to_string(folder.path().join("out/ranking.json")).unwrap();
        let ranking: Value = serde_json::from_str(&text).unwrap();
        let warnings = ranking["approaches"][0]["warnings"].as_array().unwrap();
        let texts = warnings.iter().map(|one| {
            let at = one["latitude_deg"].as_f64().unwrap();
            format!("{} from {at:.0}", one["text"].as_str().unwrap())
        });
        texts.collect()
    };
    let any = |texts: &[String], word: &str| texts.iter().any(|text| text.contains(word));
    let light = told(OPEN_WATER);
    // From 58 S straight to the pole, whose own field has no horizontal part.
    assert!(any(&light, "H under 6000 nT") && any(&light, "H under 2000 nT"), "{light:?}");
    assert!(!any(&light, "gyro") && !any(&light, "heavy fuel"), "{light:?}");
    // South of 60 S the Antarctic Treaty wants a permit.
    assert!(any(&light, "Article 8"), "{light:?}");
    let heavy = told(&OPEN_WATER.replace("  fuel:\n", "  fuel:\n    kind: light_fuel_oil\n"));
    assert_eq!(heavy.len(), light.len() + 1, "{heavy:?}");
    assert!(any(&heavy, "regulation 43)") && any(&heavy, "from -60"), "{heavy:?}");
}
