use serde_json::Value;

use crate::program::{repository, run};

const READINGS: &str = "scenarios/data/austral-summer/readings.csv";

fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

/// The invented walk has its pole at -63.8314, 134.8331 (scenarios/data/make_readings.py).
#[test]
fn the_walk_in_finds_its_invented_pole() {
    let ended = run(&repository(), &format!("fix {READINGS} --format json"));
    assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""));
    let fix: Value = serde_json::from_str(&ended.stdout).unwrap();
    assert_eq!(fix["hemisphere"], "south");
    assert!((number(&fix, "/mean_pole/latitude_deg") + 63.8314).abs() < 0.01);
    assert!((number(&fix, "/mean_pole/longitude_deg") - 134.8331).abs() < 0.02);
    assert!(number(&fix, "/mean_pole/ellipse_95/semi_major_km") < 4.0);
    // The bearing that is 40 degrees wrong hardly counts.
    let residuals = fix["residuals"].as_array().unwrap();
    let wild: Vec<&Value> = residuals.iter().filter(|one| number(one, "/weight") < 0.1).collect();
    assert_eq!(wild.len(), 1);
    assert_eq!(
        (number(wild[0], "/reading"), wild[0]["element"].as_str()),
        (3.0, Some("declination"))
    );

    let text = run(&repository(), &format!("fix {READINGS}")).stdout;
    for word in ["mean pole", "instantaneous pole", "to go", "next reading", "assumed"] {
        assert!(text.contains(word), "{word} in {text}");
    }
}

#[test]
fn evidence_is_written_with_the_caution_first() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let ended =
        run(&repository(), &format!("evidence {READINGS} --within-km 6 --out {}", out.display()));
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    assert_eq!(ended.stdout.lines().count(), 3);
    let page = std::fs::read_to_string(out.join("evidence.html")).unwrap();
    let caution = page.find("A planning aid, not a navigation system").unwrap();
    assert!(caution < page.find("<h1>").unwrap());
    let json = std::fs::read(out.join("evidence.json")).unwrap();
    let record: Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(record["mean_pole"]["attained"], true);
    assert_eq!(record["mean_pole"]["beyond_doubt"], false);
    assert!(record["instantaneous_pole"]["attained"].is_boolean());
    assert_eq!(record["crossing"]["lines"].as_array().unwrap().len(), 1);
    assert_eq!(record["readings"].as_array().unwrap().len(), 12);
}

#[test]
fn readings_that_are_none_are_status_2() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("readings.csv");
    for (text, told) in [
        ("time,latitude_deg\n", "longitude_deg is missing"),
        ("time,latitude_deg,longitude_deg,h_nt,h_sigma_nt\n", "no reading"),
        (
            "time,latitude_deg,longitude_deg,h_nt,h_sigma_nt\n2027-01-01T00:00Z,-64,136,x,1\n",
            "line 2: h_nt `x` is no number",
        ),
        (
            "time,latitude_deg,longitude_deg,h_nt,h_sigma_nt\n2047-01-01T00:00Z,-64,136,100,1\n",
            "IGRF-14",
        ),
    ] {
        std::fs::write(&path, text).unwrap();
        for command in ["fix", "evidence --out out"] {
            let ended = run(folder.path(), &format!("{command} readings.csv"));
            assert_eq!(ended.status, Some(2), "{}", ended.stderr);
            assert!(ended.stderr.contains(told), "{told} in {}", ended.stderr);
        }
    }
    let ended = run(folder.path(), "fix nowhere.csv");
    assert_eq!(ended.status, Some(2));
}
