use serde_json::Value;

use crate::program::{repository, run};

fn json(arguments: &str) -> Value {
    let ended = run(&repository(), &format!("pole {arguments} --format json"));
    assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""));
    serde_json::from_str(&ended.stdout).unwrap()
}

fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

/// Alken et al. 2021, Earth Planets Space 73:49, Table 4, to 0.01 degree; the definitive fields of
/// 1900 and 1930 are the same in IGRF-14.
#[test]
fn published_poles_of_1900_and_1930() {
    for (year, hemisphere, latitude, longitude) in [
        (1900, "north", 70.46, -96.19),
        (1900, "south", -71.72, 148.32),
        (1930, "north", 72.27, -98.68),
        (1930, "south", -69.52, 146.79),
    ] {
        let pole = json(&format!("--hemisphere {hemisphere} --at {year}-01-01T00:00Z"));
        assert!((number(&pole, "/latitude_deg") - latitude).abs() < 0.0051);
        assert!((number(&pole, "/longitude_deg") - longitude).abs() < 0.0051);
        assert!(number(&pole, "/h_nt") < 1e-3);
        assert_eq!(pole["hemisphere"], hemisphere);
    }
}

#[test]
fn everything_promised_is_told() {
    let pole = json("--hemisphere south --at 2027-01-15T00:00Z --model wmm2025");
    assert_eq!(pole["time"], "2027-01-15T00:00:00Z");
    for row in 0..2 {
        for column in 0..2 {
            let part = number(&pole, &format!("/jacobian_nt_per_km/{row}/{column}"));
            assert!(part.is_finite() && part != 0.0);
        }
    }
    assert!(number(&pole, "/drift_km_per_year") > 1.0);
    assert!((0.0..360.0).contains(&number(&pole, "/drift_bearing_deg")));
    let one = number(&pole, "/uncertainty/one_sigma/semi_major_km");
    let most = number(&pole, "/uncertainty/ellipse_95/semi_major_km");
    assert!((most / one - 2.4477).abs() < 1e-3);
    let squares = |part: &str| number(&pole, &format!("/uncertainty/{part}/semi_major_km")).powi(2);
    let parts: f64 = ["forecast", "crust", "disturbance"].into_iter().map(squares).sum();
    assert!((parts / squares("total") - 1.0).abs() < 1e-9);
    assert!(!pole["assumptions"].as_array().unwrap().is_empty());

    let ended = run(&repository(), "pole --hemisphere south --at 2027.5");
    for word in ["position", "drift", "Jacobian", "ellipse 95 %", "H 0.0000 nT"] {
        assert!(ended.stdout.contains(word), "{word} in {}", ended.stdout);
    }
}

#[test]
fn a_table_has_a_row_an_instant() {
    let rows = json("--hemisphere north --from 2025 --to 2030 --step 1y");
    let times: Vec<&str> =
        rows.as_array().unwrap().iter().map(|row| row["time"].as_str().unwrap()).collect();
    assert_eq!(times.len(), 6);
    assert_eq!(times[1], "2026-01-01T00:00:00Z");
    let alone = json("--hemisphere north --at 2026");
    assert_eq!(rows[1], alone);

    let line = "pole --hemisphere north --from 2027-01-01 --to 2027-03-01 --step 30d";
    let ended = run(&repository(), line);
    assert_eq!(ended.stdout.lines().count(), 2 + 2, "{}", ended.stdout);
}

#[test]
fn requests_that_cannot_be_met_are_status_2() {
    for (line, told) in [
        ("--at 2041", "IGRF-14"),
        ("--at 2027-01-15T00:00", "INSTANT"),
        ("--at 2027 --height-km nan", "height"),
        ("--from 2028 --to 2027 --step 1d", "--to lies before --from"),
        ("--from 2020 --to 2027 --step 1s", "take a longer --step"),
        ("--from 2027", "--to"),
    ] {
        let ended = run(&repository(), &format!("pole --hemisphere south {line}"));
        assert_eq!(
            (ended.status, ended.stdout.as_str()),
            (Some(2), ""),
            "{line}: {}",
            ended.stderr
        );
        assert!(ended.stderr.contains(told), "{told}: {}", ended.stderr);
    }
    let asked = run(&repository(), "pole --hemisphere south --at 2041 --extrapolate");
    assert_eq!(asked.status, Some(0), "{}", asked.stderr);
}
