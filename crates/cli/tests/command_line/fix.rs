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

#[test]
fn the_prior_can_be_stated_and_says_so() {
    let fix = |rest: &str| -> Value {
        let ended = run(&repository(), &format!("fix {READINGS} --format json {rest}"));
        assert_eq!(ended.status, Some(0), "{}", ended.stderr);
        serde_json::from_str(&ended.stdout).unwrap()
    };
    let model = |fix: &Value| {
        let axis = |name: &str| number(fix, &format!("/model_pole/ellipse_95/semi_{name}_km"));
        axis("major").hypot(axis("minor")) / 2.447_747
    };
    let (usual, sure, open) = (fix(""), fix("--prior-sigma-km 0.05"), fix("--prior-sigma-km 300"));
    assert!((model(&sure) - 0.05).abs() < 1e-6 && (model(&open) - 300.0).abs() < 1e-3);
    // Who is sure of the model stays with it; who believes nothing goes by the readings.
    let off = |fix: &Value| {
        let part = |name: &str| {
            number(fix, &format!("/mean_pole/{name}_deg"))
                - number(fix, &format!("/model_pole/{name}_deg"))
        };
        part("latitude").hypot(0.44 * part("longitude"))
    };
    assert!(off(&sure) < 0.01 && off(&usual) > 0.02 && off(&open) > 0.02);
    let told = sure["assumptions"].to_string();
    assert!(told.contains("0.05 km from the model's"), "{told}");
    for wrong in ["--prior-sigma-km -1", "--prior-sigma-km nan", "--disturbance-nt x"] {
        assert_eq!(
            run(&repository(), &format!("fix {READINGS} {wrong}")).status,
            Some(2),
            "{wrong}"
        );
    }
}

/// Eight headings of a ship with A 0.5, B -3, C 2, D 1.5, E -0.3 degrees and a tenth of noise.
const SWING: &str = "\
heading_deg,deviation_deg
000,2.3
045,1.2
090,-2.1
135,-4.6
180,-1.9
225,2.8
270,3.7
315,2.5
";

#[test]
fn a_swing_gives_the_deviation_that_a_fix_takes_off() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    write("swing.csv", SWING);
    let ended = run(folder.path(), "swing swing.csv --h-nt 18000 --format json");
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    let ship: Value = serde_json::from_str(&ended.stdout).unwrap();
    for (at, planted) in [0.5, -3.0, 2.0, 1.5, -0.3].into_iter().enumerate() {
        let found = number(&ship, &format!("/coefficients_deg/{at}"));
        assert!((found - planted).abs() < 0.15, "{at}: {found}");
    }
    assert!((number(&ship, "/least_horizontal_nt") - 3245.0).abs() < 150.0);
    assert_eq!(ship["table"].as_array().unwrap().len(), 24);
    write("ship.json", &ended.stdout);

    let text =
        run(folder.path(), "swing swing.csv --position -43,147.5 --at 2026-12-20 --for-h-nt 1500");
    assert_eq!(text.status, Some(0), "{}", text.stderr);
    assert_eq!(text.stdout.matches("   means nothing").count(), 24, "{}", text.stdout);
    assert!(text.stdout.contains("blackout zone"));

    write(
        "readings.csv",
        "time,latitude_deg,longitude_deg,declination_deg,declination_sigma_deg,inclination_deg,\
         inclination_sigma_deg,heading_deg\n\
         2027-01-10T00:00Z,-56,146,20,1,-82,0.1,90\n\
         2027-01-14T00:00Z,-63,137,20,2,-89.3,0.05,90\n",
    );
    let plain = run(folder.path(), "fix readings.csv");
    assert!(plain.stderr.contains("without --deviation"), "{}", plain.stderr);
    let ended = run(folder.path(), "fix readings.csv --deviation ship.json --format json");
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    assert!(ended.stderr.contains("reading 2: H is"), "{}", ended.stderr);
    let fix: Value = serde_json::from_str(&ended.stdout).unwrap();
    let corrections = fix["bearing_corrections"].as_array().unwrap();
    assert!(number(&corrections[0], "/deviation_deg") < -4.0);
    assert!(corrections[1]["deviation_deg"].is_null());
    let bearings = fix["residuals"].as_array().unwrap().iter();
    assert_eq!(bearings.filter(|one| one["element"] == "declination").count(), 1);

    write(
        "wrong.json",
        r#"{"coefficients_deg": [0, 0, 0, 0, 0], "sigma_deg": null, "horizontal_nt": -1}"#,
    );
    write("few.csv", "heading_deg,deviation_deg\n0,1\n90,2\n");
    for wrong in [
        "fix readings.csv --deviation wrong.json",
        "fix readings.csv --deviation swing.csv",
        "fix readings.csv --deviation nowhere.json",
        "swing few.csv --h-nt 18000",
        "swing swing.csv",
        "swing swing.csv --position -43,147.5",
        "swing swing.csv --h-nt 0",
        "swing swing.csv --position -43,147.5 --at 2055",
    ] {
        assert_eq!(run(folder.path(), wrong).status, Some(2), "{wrong}");
    }
}
