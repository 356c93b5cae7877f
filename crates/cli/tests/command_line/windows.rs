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
    assert!(best.windows(2).all(|pair| chance(&pair[0]) >= chance(&pair[1])));
    let most = told["hours"].as_array().unwrap().iter().map(chance).fold(0.0, f64::max);
    assert_eq!(chance(&best[0]), most);
    assert!(!told["assumptions"].as_array().unwrap().is_empty());

    let text = run(folder.path(), line).stdout;
    assert!(text.contains("within 15 km of its mean for 6 h"), "{text}");
    assert_eq!(text.lines().filter(|line| line.starts_with("2027-")).count(), 30);
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
