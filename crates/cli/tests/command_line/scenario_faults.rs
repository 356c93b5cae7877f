//! Wrong scenarios: every fault at its line, status 2, nothing written.

use std::fs;

use dipward::Scenario;
use dipward_plugin::Document;
use proptest::prelude::*;

use crate::program::{Ended, OPEN_WATER, folder_with, listing, run};

/// Plans a scenario that is wrong, and holds what must hold for every such one.
fn refused(scenario: &str, files: &[(&str, &[u8])]) -> Ended {
    let folder = folder_with(scenario);
    for (name, bytes) in files {
        fs::write(folder.path().join(name), bytes).unwrap();
    }
    let before = listing(folder.path());
    let ended = run(folder.path(), "plan scenario.yaml --out out");
    assert_eq!(ended.status, Some(2), "{}", ended.stderr);
    assert_eq!(ended.stdout, "");
    assert_eq!(listing(folder.path()), before, "nothing may be written");
    ended
}

/// Replaces a part of the scenario and expects a fault at the line of the new part.
#[track_caller]
fn expect(part: &str, by: &str, told: &str, files: &[(&str, &[u8])]) {
    assert_eq!(OPEN_WATER.matches(part).count(), 1, "{part}");
    let scenario = OPEN_WATER.replace(part, by);
    let at = scenario.find(by).unwrap() + by.find('^').map_or(0, |mark| mark);
    let scenario = scenario.replace('^', "");
    let line = scenario[..at].matches('\n').count() + 1;
    let ended = refused(&scenario, files);
    assert!(ended.stderr.contains(told), "{told}\n{}", ended.stderr);
    let place = format!("scenario.yaml:{line}:");
    assert!(ended.stderr.contains(&place), "{place}\n{}", ended.stderr);
    assert!(ended.stderr.contains("1 fault in scenario.yaml"), "{}", ended.stderr);
    assert!(!ended.stderr.contains('\u{1b}'));

    // `check` tells the same, word for word.
    let folder = folder_with(&scenario);
    for (name, bytes) in files {
        fs::write(folder.path().join(name), bytes).unwrap();
    }
    let checked = run(folder.path(), "check scenario.yaml --chart");
    assert_eq!((checked.status, checked.stderr), (Some(2), ended.stderr));
}

#[test]
fn unknown_key() {
    expect("beam_m: 21", "beem_m: 21\n    beam_m: 21", "did you mean `beam_m`?", &[]);
}

#[test]
fn unknown_kind() {
    expect("{ kind: igrf14 }", "{ kind: igrf41 }", "did you mean `igrf14`?", &[]);
}

#[test]
fn wrong_type() {
    expect("members: 20", "members: many", "the text `many` stands where", &[]);
}

#[test]
fn missing_key() {
    let part = "  hull:\n    length_m: 104\n";
    expect(part, "  ^hull:\n", "the key `length_m` is missing", &[]);
}

#[test]
fn repeated_key() {
    expect("seed: 7", "seed: 7\n^seed: 8", "second time", &[]);
}

#[test]
fn negative_number() {
    expect("beam_m: 21", "beam_m: -21", "too small", &[]);
}

#[test]
fn zero_fuel() {
    expect("capacity_t: 1150", "capacity_t: 0", "give more than 0", &[]);
}

#[test]
fn not_a_number() {
    expect("draught_m: 7.2", "draught_m: .nan", "not a finite number", &[]);
}

#[test]
fn empty_ensemble() {
    expect("members: 20", "members: 0", "too small", &[]);
}

#[test]
fn window_that_ends_before_it_begins() {
    // One fault: the departures are not told to lie outside a window that is none.
    let part = "until: 2027-02-04T00:00Z";
    expect(part, "until: 2026-02-04T00:00Z", "the window ends before it begins", &[]);
}

#[test]
fn dates_past_the_model() {
    let scenario = OPEN_WATER.replace("2027-", "2041-");
    let ended = refused(&scenario, &[]);
    assert!(ended.stderr.contains("answers for"), "{}", ended.stderr);
    assert!(ended.stderr.contains("scenario.yaml:5:"), "{}", ended.stderr);
}

#[test]
fn departure_after_the_window() {
    expect("until: 2027-01-08T00:00Z", "until: 2027-03-08T00:00Z", "after the window", &[]);
}

#[test]
fn port_beyond_the_pole() {
    expect("latitude_deg: -58", "latitude_deg: -98", "too small", &[]);
}

#[test]
fn port_on_land() {
    let constant = &OPEN_WATER
        [OPEN_WATER.find("    - kind: constant").unwrap()..OPEN_WATER.find("craft:").unwrap()];
    let real = "    - kind: coast\n    - kind: depth\n    - kind: constant\n      values: { ice_concentration: 0 }\n";
    let scenario =
        OPEN_WATER.replace(constant, real).replace("latitude_deg: -58", "latitude_deg: -72");
    let ended = refused(&scenario, &[]);
    assert!(ended.stderr.contains("Nowhere lies where"), "{}", ended.stderr);
    let line = 1 + scenario[..scenario.find("name: Nowhere").unwrap()].matches('\n').count();
    assert!(ended.stderr.contains(&format!("scenario.yaml:{line}:")), "{}", ended.stderr);
    assert!(!scenario.contains("latitude_deg: -58"));
    // Without the chart nobody can know it.
    let folder = folder_with(&scenario);
    assert_eq!(run(folder.path(), "check scenario.yaml").status, Some(0));
    assert_eq!(run(folder.path(), "check scenario.yaml --chart").status, Some(2));
}

const ICE_IMAGE: &str = "    - kind: concentration_geotiff
      ice: { stage: medium_first_year }
      images: [{ file: ^ice.tif, valid: 2027-01-05T00:00Z }]
    - kind: constant
      values: { land";

#[test]
fn missing_file() {
    expect("    - kind: constant\n      values: { land", ICE_IMAGE, "ice.tif", &[]);
}

#[test]
fn truncated_geotiff() {
    let whole = fs::read(
        crate::program::repository()
            .join("scenarios/data/austral-summer/concentration-20270104.tif"),
    );
    let whole = whole.unwrap();
    for length in [0, 4, 8, 200, whole.len() / 2] {
        let files: &[(&str, &[u8])] = &[("ice.tif", &whole[..length])];
        expect("    - kind: constant\n      values: { land", ICE_IMAGE, "ice.tif", files);
    }
}

#[test]
fn a_chart_that_is_no_geojson() {
    let layer = "    - kind: ice_chart
      charts: [{ file: ^ice.geojson, valid: 2027-01-05T00:00Z }]
    - kind: constant
      values: { land";
    let part = "    - kind: constant\n      values: { land";
    for text in ["", "{", "[1, 2]", "{\"type\": \"FeatureCollection\", \"features\": [7]}"] {
        expect(part, layer, "ice.geojson", &[("ice.geojson", text.as_bytes())]);
    }
}

/// A square of a GeoJSON file that is far from the voyage and far from its pole.
fn far_square(properties: &str) -> String {
    format!(
        r#"{{"type": "FeatureCollection", "features": [{{"type": "Feature", "properties": {properties},
        "geometry": {{"type": "Polygon", "coordinates":
        [[[0, -60], [5, -60], [5, -55], [0, -55], [0, -60]]]}}}}]}}"#
    )
}

#[test]
fn a_zone_off_the_grid() {
    let zones = far_square(r#"{"name": "the far park", "no_go": true}"#);
    let part = "    - kind: constant\n      values: { land";
    let layer = "    - kind: zones\n      file: ^zones.geojson\n";
    let told = "zones.geojson: feature 1 `the far park`: covers no cell of the grid";
    expect(part, &format!("{layer}{part}"), told, &[("zones.geojson", zones.as_bytes())]);
}

#[test]
fn an_ice_chart_off_the_grid() {
    let chart = far_square(r#"{"POLY_TYPE": "I", "CT": "90", "SA": "87"}"#);
    let part = "    - kind: constant\n      values: { land";
    let layer = "    - kind: ice_chart
      charts: [{ file: ^ice.geojson, valid: 2027-01-05T00:00Z }]
";
    let told = "ice.geojson: covers no cell of the grid, from feature 1 on";
    expect(part, &format!("{layer}{part}"), told, &[("ice.geojson", chart.as_bytes())]);
}

#[test]
fn all_faults_are_told_at_once_in_the_order_of_their_lines() {
    let scenario = OPEN_WATER
        .replace("capacity_t: 1150", "capacity_t: -1")
        .replace("beam_m: 21", "beem_m: 21")
        .replace("cell_km: 25", "cell_km: wide");
    let ended = refused(&scenario, &[]);
    // The misspelt key is missing under its right name too.
    assert!(ended.stderr.contains("4 faults in scenario.yaml"), "{}", ended.stderr);
    let places: Vec<usize> = ["wide", "beem_m", "capacity_t: -1"]
        .iter()
        .map(|part| ended.stderr.find(&format!("{part}\n")).or(ended.stderr.find(part)).unwrap())
        .collect();
    assert!(places.is_sorted(), "{}", ended.stderr);
}

#[test]
fn what_is_no_scenario_at_all() {
    for (bytes, told) in [
        (&b""[..], "scenario.yaml"),
        (b"a: [1,", "not YAML"),
        (b"title: x\nnotes: [\xff]\n", "scenario.yaml:2: not UTF-8"),
        (b"- a\n- b\n", "scenario.yaml:1"),
        (b"just a text", "scenario.yaml:1"),
    ] {
        let folder = folder_with("");
        fs::write(folder.path().join("scenario.yaml"), bytes).unwrap();
        for line in ["plan scenario.yaml --out out", "check scenario.yaml"] {
            let ended = run(folder.path(), line);
            assert_eq!((ended.status, ended.stdout.as_str()), (Some(2), ""), "{}", ended.stderr);
            assert!(ended.stderr.contains(told), "{told}: {}", ended.stderr);
        }
        assert_eq!(listing(folder.path()), ["scenario.yaml"]);
    }
    let folder = folder_with("");
    for missing in ["nowhere.yaml", "."] {
        let ended = run(folder.path(), &format!("check {missing}"));
        assert_eq!(ended.status, Some(2));
        assert!(ended.stderr.starts_with(&format!("error: {missing}")), "{}", ended.stderr);
    }
}

#[test]
fn a_sound_scenario_has_no_fault() {
    let folder = folder_with(OPEN_WATER);
    let ended = run(folder.path(), "check scenario.yaml");
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    assert_eq!(ended.stdout, "scenario.yaml: no fault found\n");
    let quiet = run(folder.path(), "check scenario.yaml --quiet");
    assert_eq!((quiet.status, quiet.stdout.as_str()), (Some(0), ""));
    // A mark that some editors put before the first line is no fault either.
    let marked = folder_with(&format!("\u{feff}{OPEN_WATER}"));
    assert_eq!(run(marked.path(), "check scenario.yaml").status, Some(0));
}

/// A scenario with one line changed, left out or written twice.
fn mangled() -> impl Strategy<Value = String> {
    let values = [
        "",
        "0",
        "-1",
        "1e308",
        "-1e308",
        "1e-320",
        ".inf",
        "~",
        "true",
        "x",
        "''",
        "[]",
        "{}",
        "[[0]]",
        "{kind: quiet}",
        "-9999-01-01T00:00Z",
        "9999-12-31T23:59Z",
        "18446744073709551616",
        "90",
        "-90",
        "360",
        "*a",
        "&a 1",
        "\u{0}",
    ];
    let lines: Vec<String> = OPEN_WATER.lines().map(str::to_owned).collect();
    (0..lines.len(), prop::sample::select(values.to_vec()), 0..4_u8).prop_map(
        move |(at, value, how)| {
            let mut lines = lines.clone();
            match (how, lines[at].split_once(": ")) {
                (0, _) => drop(lines.remove(at)),
                (1, _) => lines.insert(at, lines[at].clone()),
                (_, Some((key, _))) => lines[at] = format!("{key}: {value}"),
                (_, None) => lines[at].push_str(value),
            }
            lines.join("\n")
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn no_scenario_panics(text in mangled(), cut in prop::option::weighted(0.2, any::<prop::sample::Index>())) {
        let registry = dipward_cli::registry().unwrap();
        let end = cut.map_or(text.len(), |cut| cut.index(text.len()));
        let text = &text[..end];
        if let Ok(document) = Document::parse("scenario.yaml", text)
            && let Err(faults) = Scenario::read(&document, "".as_ref(), &registry, None)
        {
            prop_assert!(!faults.is_empty());
            for fault in faults.as_slice() {
                prop_assert!(document.line(fault) <= text.lines().count().max(1));
                prop_assert!(document.render(fault, false).contains("scenario.yaml"));
            }
        }
    }
}
