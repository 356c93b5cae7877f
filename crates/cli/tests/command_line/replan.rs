//! Planning again from the middle of a voyage.

use std::{fs, path::Path};

use dipward_tests::Trial;
use serde_json::Value;

use crate::program::{Ended, folder_with, listing, run};

const AT_START: &str = "--position 88,0 --at 2027-01-01T00:00Z --fuel 2000";

fn trial() -> Trial {
    Trial { cell_km: 5.0, ..Trial::default() }
}

/// A folder with a plan in `x`.
fn planned() -> tempfile::TempDir {
    let folder = folder_with(&trial().yaml());
    assert_eq!(run(folder.path(), "plan scenario.yaml --out x").status, Some(0));
    folder
}

fn again(folder: &Path, rest: &str) -> Ended {
    run(folder, &format!("replan scenario.yaml --plan x/ranking.json {rest}"))
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&fs::read(path).unwrap()).unwrap()
}

#[test]
fn answers_are_printed_and_written_with_the_usual_files() {
    let folder = planned();
    let table = again(folder.path(), &format!("{AT_START} --out y"));
    assert_eq!(table.status, Some(0), "{}", table.stderr);
    for part in [
        "still feasible      yes",
        "still best          yes",
        "cannot be told apart",
        "turn back by",
    ] {
        assert!(table.stdout.contains(part), "{part} in\n{}", table.stdout);
    }
    assert!(table.stdout.contains("\nrank"), "{}", table.stdout);
    let written = listing(&folder.path().join("y"));
    for name in ["ranking.json", "report.html", "replan.json", "history.json", "run.json"] {
        assert!(written.iter().any(|found| found == name), "{name} in {written:?}");
    }

    let printed = again(
        folder.path(),
        &format!("{AT_START} --out z --scenario-then scenario.yaml --format json --quiet"),
    );
    assert_eq!((printed.status, printed.stderr.as_str()), (Some(0), ""));
    let answers: Value = serde_json::from_str(&printed.stdout).unwrap();
    assert_eq!(answers, json(&folder.path().join("z/replan.json")));
    assert_eq!(answers["causes"]["told_apart"], true);
    // The plan is known by the digest that the run's record has too.
    let record = json(&folder.path().join("z/run.json"));
    assert_eq!(answers["plan"]["sha256"], record["inputs_sha256"]["x/ranking.json"]);
    assert_eq!(answers["plan"]["sha256"].as_str().unwrap().len(), 64);
}

#[test]
fn the_history_follows_the_voyage() {
    let folder = planned();
    let entries = |out: &str| {
        let history = json(&folder.path().join(out).join("history.json"));
        history.as_array().unwrap().clone()
    };
    let watch = "--position 88.5,0 --at 2027-01-01T02:00Z --fuel 1990";
    assert_eq!(again(folder.path(), &format!("{AT_START} --out y")).status, Some(0));
    // The next watch into the same folder, and the same watch once more.
    for _ in 0..2 {
        assert_eq!(again(folder.path(), &format!("{watch} --out y")).status, Some(0));
        assert_eq!(entries("y").len(), 2);
    }
    // The new ranking becomes the plan, in a folder of its own.
    let next = "replan scenario.yaml --plan y/ranking.json --position 89,0 --at 2027-01-01T04:00Z \
                --fuel 1985 --out z";
    let ended = run(folder.path(), next);
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    let all = entries("z");
    assert_eq!(all.len(), 3);
    assert_eq!(all[..2], entries("y"));
    assert_eq!(all[2]["plan"]["id"], all[1]["best"]);
}

#[test]
fn nothing_feasible_from_here_is_status_3_and_is_written() {
    let folder = planned();
    let ended = again(folder.path(), "--position 88,0 --at 2027-01-01T00:00Z --fuel 30 --out y");
    assert_eq!(ended.status, Some(3), "{}", ended.stderr);
    assert!(ended.stdout.contains("still feasible      no: the fuel"), "{}", ended.stdout);
    assert!(ended.stderr.contains("no feasible approach from here"), "{}", ended.stderr);
    assert!(ended.stdout.contains("best          no approach is feasible"), "{}", ended.stdout);
    let answers = json(&folder.path().join("y/replan.json"));
    assert_eq!(answers["present"]["feasible"], false);
}

const TRACK: &str = "<?xml version=\"1.0\"?>
<gpx version=\"1.1\" creator=\"a test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>
<trkpt lat=\"88\" lon=\"0\"><time>2027-01-01T00:00:00Z</time></trkpt>
<trkpt lat=\"88.5\" lon=\"0\"><time>2027-01-01T02:00:00Z</time></trkpt>
</trkseg></trk></gpx>
";
const REPORTS: &str = "\
time,latitude_deg,longitude_deg,rob_t,wind
2027-01-01T00:00Z,88,0,2000,calm
2027-01-01T02:00Z,88.5,0,1990,calm
";

#[test]
fn a_track_and_noon_reports_stand_for_position_time_and_fuel() {
    let folder = planned();
    fs::write(folder.path().join("track.gpx"), TRACK).unwrap();
    fs::write(folder.path().join("noon.csv"), REPORTS).unwrap();
    let answers = |rest: &str| {
        let ended = again(folder.path(), &format!("{rest} --out y --format json --quiet"));
        assert_eq!(ended.status, Some(0), "{rest}\n{}", ended.stderr);
        serde_json::from_str::<Value>(&ended.stdout).unwrap()
    };
    let plain = answers("--position 88.5,0 --at 2027-01-01T02:00Z --fuel 1990");
    assert_eq!(answers("--noon noon.csv"), plain);
    assert_eq!(answers("--track track.gpx --noon noon.csv"), plain);
    assert_eq!(answers("--track track.gpx --fuel 1990"), plain);
    let between = answers("--track track.gpx --noon noon.csv --at 2027-01-01T01:00Z");
    assert_eq!(between["fuel_t"], 1995.0);
    assert!((between["latitude_deg"].as_f64().unwrap() - 88.25).abs() < 1e-4);
    let notes = between["notes"].to_string();
    assert!(
        notes.contains("1995.0 t of fuel at 2027-01-01T01:00:00Z by the noon reports"),
        "{notes}"
    );
    // The position by option, the fuel carried on after the last report.
    let later = answers("--noon noon.csv --position 88.8,0 --at 2027-01-01T03:00Z");
    assert_eq!(later["fuel_t"], 1985.0);

    fs::write(folder.path().join("torn.gpx"), &TRACK[..200]).unwrap();
    fs::write(folder.path().join("wrong.csv"), REPORTS.replace("88.5", "98.5")).unwrap();
    for (rest, told) in [
        ("--noon wrong.csv", "wrong.csv:3: `98.5` is no latitude"),
        ("--noon noon.csv --at 2027-01-01T04:00Z", "give --position"),
        ("--track torn.gpx --fuel 1990", "torn.gpx: not a GPX file"),
        ("--track noon.csv --fuel 1990", "noon.csv: not a GPX file"),
        ("--track track.gpx", "--fuel"),
        ("--track none.gpx --fuel 1990", "none.gpx: "),
        ("--fuel 1990", "--position"),
    ] {
        let ended = again(folder.path(), &format!("{rest} --out z"));
        assert_eq!(ended.status, Some(2), "{rest}");
        assert!(ended.stderr.contains(told), "{told} in\n{}", ended.stderr);
    }
}

#[test]
fn wrong_requests_are_status_2_and_write_nothing() {
    let folder = planned();
    fs::write(folder.path().join("other.json"), "{\"schema_version\": 99}").unwrap();
    let before = listing(folder.path());
    let right = "--position 88,0 --at 2027-01-01T00:00Z --fuel 2000 --out y --plan x/ranking.json";
    for (from, to, told) in [
        ("88,0", "-88,0", "off the chart"),
        ("88,0", "north", "latitude and longitude"),
        ("2027-01-01T00:00Z", "2028-01-01T00:00Z", "outside the window"),
        ("fuel 2000", "fuel 0", "above zero"),
        ("fuel 2000", "fuel -5", "above zero"),
        ("fuel 2000", "fuel 2001", "more than a trial ship holds"),
        ("x/ranking.json", "missing.json", "missing.json: "),
        ("x/ranking.json", "scenario.yaml", "not a ranking"),
        ("x/ranking.json", "other.json", "schema_version is 99"),
        ("--out y", "--out y --approach none", "has no approach `none`"),
        ("--out y", "--out y --scenario-then none.yaml", "none.yaml: "),
    ] {
        let line = format!("replan scenario.yaml {}", right.replace(from, to));
        let ended = run(folder.path(), &line);
        assert_eq!(ended.status, Some(2), "{line}\n{}", ended.stderr);
        assert!(ended.stderr.contains(told), "{told} in\n{}", ended.stderr);
        assert_eq!(ended.stdout, "");
    }
    fs::write(folder.path().join("x/history.json"), "[1]").unwrap();
    let ended = run(folder.path(), &format!("replan scenario.yaml {right}"));
    assert_eq!(ended.status, Some(2));
    assert!(ended.stderr.contains("not a history"), "{}", ended.stderr);
    assert_eq!(listing(folder.path()).len(), before.len() + 1);
}
