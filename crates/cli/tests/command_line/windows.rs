use serde_json::Value;

use crate::program::{OPEN_WATER, run};

#[test]
fn stays_are_ranked_and_every_hour_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let scenario = OPEN_WATER.replace("{ kind: quiet }", "{ kind: kp_history }");
    std::fs::write(folder.path().join("s.yaml"), scenario).unwrap();
    let line = "windows s.yaml --within-km 15 --for-h 6 --best 3";
    let ended = run(folder.path(), &format!("{line} --format json"));
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    let told: Value = serde_json::from_str(&ended.stdout).unwrap();
    // 30 days, but for the last stay.
    assert_eq!(told["hours"].as_array().unwrap().len(), 30 * 24 + 1 - 6);
    let chance = |one: &Value| one["chance"].as_f64().unwrap();
    let best = told["best"].as_array().unwrap();
    assert_eq!(best.len(), 3);
    // Of the climate single days are not known: the best are hours of the day of a week.
    assert!(best.iter().all(|one| one["days"].as_u64().unwrap() >= 2), "{best:?}");
    let of_day = told["hours_of_day"].as_array().unwrap();
    assert_eq!(of_day.len(), 24);
    for one in of_day {
        let [low, high] = ["low", "high"].map(|key| one[key].as_f64().unwrap());
        assert!(low <= chance(one) && chance(one) <= high, "{one}");
    }
    // The scenario's own, two other activities and five other fits.
    assert_eq!(told["models"].as_array().unwrap().len(), 8);
    assert!(told["verified"].as_str().unwrap().contains("95 % region"));
    assert!(!told["assumptions"].as_array().unwrap().is_empty());

    let text = run(folder.path(), line).stdout;
    assert!(text.contains("within 15 km of its mean for 6 h"), "{text}");
    // 30 days are five weeks.
    assert_eq!(text.lines().filter(|line| line.starts_with("2027-")).count(), 5);
    assert!(text.contains("the hour and the season are known, not the day"), "{text}");
    let ended = run(folder.path(), &format!("{line} --out w"));
    assert_eq!(ended.status, Some(0), "{}", ended.stderr);
    let read = |name: &str| std::fs::read_to_string(folder.path().join("w").join(name)).unwrap();
    let written: Value = serde_json::from_str(&read("windows.json")).unwrap();
    assert_eq!(written, told);
    let picture = read("windows.svg");
    assert!(picture.contains("within 15 km of its mean for 6 h") && picture.contains("chance"));
    // A folder that cannot be one is told before the ensemble is drawn.
    assert_eq!(run(folder.path(), &format!("{line} --out s.yaml")).status, Some(2));
    for wrong in ["--within-km 0", "--within-km nan", "--for-h 1e9"] {
        assert_eq!(
            run(folder.path(), &format!("windows s.yaml {wrong}")).status,
            Some(2),
            "{wrong}"
        );
    }
}
