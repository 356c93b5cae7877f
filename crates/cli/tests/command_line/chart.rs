use std::fs;

use serde_json::Value;

use crate::program::{OPEN_WATER, folder_with, listing, run};

const CELL: &str = "chart scenario.yaml --at 2027-01-10T00:00Z --place -60,140";

#[test]
fn a_cell_is_told_with_value_layer_age_and_doubt() {
    let folder = folder_with(OPEN_WATER);
    let table = run(folder.path(), CELL);
    assert_eq!(table.status, Some(0), "{}", table.stderr);
    let json = run(folder.path(), &format!("{CELL} --format json"));
    let told: Value = serde_json::from_str(&json.stdout).unwrap();
    let quantities = told["quantities"].as_array().unwrap();
    let ice = quantities.iter().find(|one| one["quantity"] == "ice_concentration").unwrap();
    assert_eq!((&ice["value"], &ice["layer"]), (&Value::from(0.0), &Value::from("constant")));
    assert!(ice["age_h"].is_null(), "a constant has no instants: {ice}");
    // Each line of the table is a quantity of the JSON.
    for one in quantities {
        let name = one["quantity"].as_str().unwrap();
        assert!(table.stdout.lines().any(|line| line.starts_with(name)), "{name}");
    }
    // The cell's centre is no further than half a diagonal away.
    let off_deg = (told["latitude_deg"].as_f64().unwrap() + 60.0).abs();
    assert!(off_deg * 111.2 <= told["cell_km"].as_f64().unwrap() * 0.75, "{off_deg}");
    assert_eq!(listing(folder.path()), ["scenario.yaml"]);
}

#[test]
fn the_page_is_written_and_is_the_same_on_any_number_of_threads() {
    let folder = folder_with(OPEN_WATER);
    let draw = |threads: u8, out: &str| {
        let line = format!(
            "chart scenario.yaml --at 2027-01-10T00:00Z --out {out} --threads {threads} --quiet"
        );
        let ended = run(folder.path(), &line);
        assert_eq!((ended.status, ended.stderr.as_str(), ended.stdout.as_str()), (Some(0), "", ""));
        fs::read_to_string(folder.path().join(out).join("chart.html")).unwrap()
    };
    let page = draw(1, "one");
    assert_eq!(page, draw(2, "two"));
    assert!(page.contains("ice_concentration: 0.00 wherever it is known"), "open water");
}

#[test]
fn what_cannot_be_shown_is_refused_before_anything_is_written() {
    let folder = folder_with(OPEN_WATER);
    for (line, word) in [
        ("--at 2020-01-01T00:00Z --out out", "outside the scenario's window"),
        ("--at 2027-01-10T00:00Z --out out --place 80,0", "off the scenario's grid"),
        ("--at 2027-01-10T00:00Z", "--out"),
        ("--at soon --out out", "give a time in UTC"),
    ] {
        let ended = run(folder.path(), &format!("chart scenario.yaml {line}"));
        assert_eq!(ended.status, Some(2), "{line}");
        assert!(ended.stderr.contains(word), "{}", ended.stderr);
        assert_eq!(listing(folder.path()), ["scenario.yaml"], "{line}");
    }
}
