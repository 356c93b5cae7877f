use std::{fmt::Write, path::Path};

use serde_json::Value;

use crate::program::{OPEN_WATER, run};

/// Invented hours: a vector that turns once a day, and what a small generator of numbers adds. The new year
/// of 2002 lies among them; one hour in forty is missing.
fn invented_hours(days: u32) -> String {
    let mut state: u32 = 7;
    let mut draw = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1_u32 << 24) - 0.5
    };
    let start: jiff::Timestamp = "2001-12-12T00:00Z".parse().unwrap();
    let mut table = "time_utc,north_nt,east_nt\n".to_owned();
    for hour in 0..24 * days {
        let at = start + jiff::Span::new().hours(hour);
        let angle = f64::from(hour % 24) * 15.0_f64.to_radians();
        let (north, east) =
            (60.0 * angle.cos() + 150.0 * draw(), 60.0 * angle.sin() + 150.0 * draw());
        if hour % 40 != 11 {
            writeln!(table, "{at},{north:.1},{east:.1}").unwrap();
        }
    }
    table
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("invented.csv"), invented_hours(40)).unwrap();
    folder
}

fn json(folder: &Path, line: &str) -> Value {
    let ended = run(folder, &format!("{line} --format json"));
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    serde_json::from_str(&ended.stdout).unwrap()
}

const LINE: &str = "verify invented.csv --place -66.665,140.007 --members 59";

#[test]
fn recorded_hours_are_scored_and_the_files_say_what_the_terminal_says() {
    let folder = folder();
    let told = json(folder.path(), &format!("{LINE} --knowing kp"));
    assert_eq!((&told["hours"], &told["hours_without_kp"]), (&936.into(), &0.into()));
    assert_eq!(told["knowing"], "kp");
    let share = |value: &Value| value.as_f64().filter(|share| (0.0..=1.0).contains(share)).unwrap();
    assert!(share(&told["coverage_95"]) > share(&told["coverage_50"]));
    assert!(told["crps_nt"].as_f64() > Some(0.0) && told["crps_climate_nt"].as_f64() > Some(0.0));
    let rows = |key: &str| told[key].as_array().unwrap().clone();
    let hours = |key: &str| rows(key).iter().map(|row| row["hours"].as_u64().unwrap()).sum::<u64>();
    assert_eq!([hours("by_kp"), hours("by_month"), hours("by_hour")], [936; 3]);
    assert_eq!((rows("by_month").len(), rows("by_hour").len()), (2, 24));
    assert_eq!(rows("events").len(), 6);
    for event in rows("events") {
        let starts: u64 = event["bins"]
            .as_array()
            .unwrap()
            .iter()
            .map(|bin| bin["starts"].as_u64().unwrap())
            .sum();
        assert_eq!(event["starts"], starts);
        share(&event["forecast"]);
        share(&event["observed"]);
    }
    let text = run(folder.path(), &format!("{LINE} --knowing kp --out v"));
    assert_eq!(text.status, Some(0), "{}", text.stderr);
    assert!(text.stdout.contains("936 recorded hours"), "{}", text.stdout);
    let read = |name: &str| std::fs::read_to_string(folder.path().join("v").join(name)).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&read("verification.json")).unwrap(), told);
    let page = read("verification.html");
    assert!(page.contains("Caution.") && page.contains("Within 10 km for 2 h"));
    assert!(!page.contains("<script") && !page.contains("href=\"http") && !page.contains("NaN"));
}

#[test]
fn hours_and_events_are_chosen() {
    let folder = folder();
    let of = |rest: &str| json(folder.path(), &format!("{LINE} --knowing climate {rest}"));
    let january = of("--months 1 --within 10 --for 0,3");
    assert_eq!((&january["hours"], &january["by_month"][0]["month"]), (&468.into(), &1.into()));
    let events = january["events"].as_array().unwrap();
    assert_eq!((events.len(), &events[1]["for_h"]), (2, &3.0.into()));
    assert_eq!((&events[0]["starts"], &events[0]["within_km"]), (&468.into(), &10.0.into()));
    assert_eq!(of("--season 12-30..01-02")["hours"], 4 * 24 - 2);
    let day = of("--from 2001-12-20 --until 2001-12-21");
    assert_eq!(
        (&day["first"], &day["last"]),
        (&"2001-12-20T00:00:00Z".into(), &"2001-12-20T23:00:00Z".into())
    );
    // One seed, one answer; the house's disturbance is that of the climate.
    assert_eq!(of("--threads 1")["coverage_95"], of("--threads 3")["coverage_95"]);
    assert_eq!(json(folder.path(), LINE)["crps_nt"], of("")["crps_nt"]);
}

#[test]
fn a_scenario_gives_its_disturbance_and_its_pole() {
    let folder = folder();
    std::fs::write(folder.path().join("s.yaml"), OPEN_WATER).unwrap();
    let quiet = json(folder.path(), &format!("{LINE} --scenario s.yaml"));
    // A quiet pole does not move; its region is a point.
    assert_eq!(
        (&quiet["coverage_95"], &quiet["events"][0]["forecast"]),
        (&0.0.into(), &1.0.into())
    );
    assert_eq!((&quiet["seed"], &quiet["knowing"]), (&7.into(), &"scenario".into()));
    // Another activity leaves the response as the scenario has it.
    let still = json(folder.path(), &format!("{LINE} --scenario s.yaml --knowing kp"));
    assert_eq!((&still["coverage_95"], &still["knowing"]), (&0.0.into(), &"kp".into()));
    let learnt = OPEN_WATER.replace("{ kind: quiet }", "{ kind: kp_history }");
    std::fs::write(folder.path().join("learnt.yaml"), learnt).unwrap();
    let known = json(folder.path(), &format!("{LINE} --scenario learnt.yaml --knowing kp"));
    assert!(known["coverage_95"].as_f64() > Some(0.2), "{known}");
    let north = run(folder.path(), "verify invented.csv --place 74.69,-94.895 --scenario s.yaml");
    assert_eq!(north.status, Some(2), "{}", north.stderr);
    assert!(north.stderr.contains("hemisphere"), "{}", north.stderr);
}

#[test]
fn wrong_requests_are_refused() {
    let folder = folder();
    for wrong in [
        "--months 0",
        "--months 13",
        "--months 1,,2",
        "--within 0",
        "--within -5",
        "--within nan",
        "--for 1.5",
        "--for -1",
        "--season 01-05",
        "--season 02-30..03-01",
        "--from 2002-01-01 --until 2001-12-30",
        "--from 2010-01-01",
        "--knowing all",
        "--members 10",
        "--out invented.csv",
    ] {
        let ended = run(folder.path(), &format!("{LINE} {wrong}"));
        assert_eq!(ended.status, Some(2), "{wrong}: {}", ended.stderr);
        assert!(!ended.stderr.is_empty() && ended.stdout.is_empty(), "{wrong}");
    }
    for line in ["verify", "verify no.csv --place -66,140", "verify invented.csv"] {
        let ended = run(folder.path(), line);
        assert_eq!(ended.status, Some(2), "{line}: {}", ended.stderr);
    }
}

/// Invented hours of two years are replayed through the whole planner, in short and by a pair beside it.
#[test]
fn a_plan_replays_recorded_hours() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("station.csv"), invented_hours(800)).unwrap();
    let plan = |disturbance: &str| {
        let scenario = OPEN_WATER.replace("{ kind: quiet }", disturbance);
        std::fs::write(folder.path().join("s.yaml"), scenario).unwrap();
        let ended = run(folder.path(), "plan s.yaml --out out --format json");
        assert_eq!(ended.status, Some(0), "{disturbance}: {}", ended.stderr);
        let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        let resolved = folder.path().join("out/scenario.resolved.yaml");
        (ended.stdout, page, std::fs::read_to_string(resolved).unwrap())
    };
    let (_, page, _) = plan(
        "{ kind: recorded, files: [station.csv], station: { latitude_deg: -66.665, longitude_deg: 140 } }",
    );
    assert!(page.contains("station.csv") || page.contains("recorded"), "{page}");
    // A short form is the pair that it stands for, and is written out as that.
    let (short, page, resolved) = plan("{ kind: kp_history, block_days: 30 }");
    let (pair, ..) =
        plan("{ activity: { kind: history, block_days: 30 }, response: { kind: learnt } }");
    assert_eq!(short, pair);
    assert!(resolved.contains("activity:") && resolved.contains("kind: learnt"), "{resolved}");
    assert!(page.contains("polar-cap observatories with Kp known"), "says how it was verified");
}

/// An invented hour and a half of minutes, IAGA-2002 times apart.
#[test]
fn minutes_are_scored_too() {
    let folder = tempfile::tempdir().unwrap();
    let start: jiff::Timestamp = "2001-12-12T00:00Z".parse().unwrap();
    let mut table = "time_utc,north_nt,east_nt\n".to_owned();
    for minute in 0..600 {
        let at = start + jiff::Span::new().minutes(minute);
        let angle = minute as f64 / 90.0;
        writeln!(table, "{at},{:.1},{:.1}", 60.0 * angle.cos(), 60.0 * angle.sin()).unwrap();
    }
    std::fs::write(folder.path().join("invented.csv"), table).unwrap();
    let told = json(folder.path(), &format!("{LINE} --knowing kp --within 10 --for 0.5"));
    assert_eq!((&told["intervals"], &told["hours"]), (&600.into(), &10.into()));
    assert_eq!(told["events"][0]["starts"], 600 - 30);
}
