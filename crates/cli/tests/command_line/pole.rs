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
    let axis = |part: &str, axis: &str| number(&pole, &format!("/uncertainty/{part}/{axis}"));
    let squares =
        |part: &str| axis(part, "semi_major_km").powi(2) + axis(part, "semi_minor_km").powi(2);
    // The parts have shapes of their own: their covariances add up, and so do the squares of both axes.
    let parts: f64 = ["forecast", "crust", "disturbance"].into_iter().map(squares).sum();
    assert!((parts / squares("total") - 1.0).abs() < 1e-9);
    assert!(!pole["assumptions"].as_array().unwrap().is_empty());

    let ended = run(&repository(), "pole --hemisphere south --at 2027.5");
    for word in ["position", "drift", "Jacobian", "ellipse 95 %", "H 0.0000 nT"] {
        assert!(ended.stdout.contains(word), "{word} in {}", ended.stdout);
    }
}

/// IGRF is straight between epochs: at one of them the speed jumps, and both sides are told.
#[test]
fn the_drift_at_an_epoch_is_told_from_both_sides() {
    let at = json("--hemisphere north --at 2020-01-01T00:00Z");
    let before = json("--hemisphere north --at 2019-12-31T00:00Z");
    for (side, other) in [
        ("/drift_before/km_per_year", number(&before, "/drift_km_per_year")),
        ("/drift_after/km_per_year", number(&at, "/drift_km_per_year")),
    ] {
        assert!((number(&at, side) - other).abs() < 0.05, "{side} {other}");
    }
    let sides =
        ["/drift_before", "/drift_after"].map(|side| number(&at, &format!("{side}/km_per_year")));
    assert!((sides[0] - sides[1]).abs() > 0.3, "{sides:?}");
    assert!(before.get("drift_before").is_none() && before.get("drift_after").is_none());
    let text = run(&repository(), "pole --hemisphere north --at 2020-01-01T00:00Z").stdout;
    assert!(text.contains("up to then") && text.contains("from then on"), "{text}");
    let line = "pole --hemisphere north --from 2020-01-01 --to 2021-01-01 --step 1y";
    let rows = run(&repository(), line).stdout;
    let words: Vec<usize> =
        rows.lines().skip(2).map(|row| row.split_whitespace().count()).collect();
    assert_eq!(words, [11, 9], "{rows}");
}

/// A file of one epoch does not follow the field, and says so.
#[test]
fn a_file_of_a_single_epoch_ages_and_is_refused_far_off() {
    let folder = tempfile::tempdir().unwrap();
    let all = std::fs::read_to_string(repository().join("crates/field/data/IGRF14.shc")).unwrap();
    // The column of 2020, and the same as a WMM file without change.
    let rows: Vec<Vec<&str>> = all
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split_whitespace().collect())
        .collect();
    let column = rows[1].iter().position(|epoch| *epoch == "2020.0").unwrap();
    let mut shc = String::from("# IGRF of 2020\n1 13 1 1 1\n2020.0\n");
    let value = |n: &str, m: &str| {
        rows[2..].iter().find(|row| row[0] == n && row[1] == m).map_or("0", |row| row[column + 2])
    };
    let mut cof = String::from("    2020.0   ONE   1/1/2020\n");
    for row in &rows[2..] {
        let (n, m) = (row[0], row[1]);
        shc += &format!("{n} {m} {}\n", row[column + 2]);
        if !m.starts_with('-') {
            cof += &format!("{n} {m} {} {} 0 0\n", value(n, m), value(n, &format!("-{m}")));
        }
    }
    std::fs::write(folder.path().join("one.shc"), shc).unwrap();
    std::fs::write(folder.path().join("one.cof"), cof).unwrap();
    let truth = json("--hemisphere north --at 2025");
    for file in ["one.shc", "one.cof"] {
        let line = |year: &str, rest: &str| {
            let line = format!("pole --hemisphere north --at {year} --model {file} {rest}");
            run(folder.path(), &line)
        };
        let at = |year: &str| -> Value {
            let ended = line(year, "--format json");
            assert_eq!(ended.status, Some(0), "{}", ended.stderr);
            serde_json::from_str(&ended.stdout).unwrap()
        };
        let (own, late) = (at("2020"), at("2025"));
        let axis = |pole: &Value| number(pole, "/uncertainty/ellipse_95/semi_major_km");
        let degrees = (number(&late, "/latitude_deg") - number(&truth, "/latitude_deg")).abs();
        assert!(degrees > 0.5, "{degrees}");
        assert!(axis(&own) < 100.0 && axis(&late) > 300.0, "{} {}", axis(&own), axis(&late));
        assert!(late["assumptions"].to_string().contains("no secular variation"), "{late}");
        let refused = line("2026", "");
        assert_eq!(refused.status, Some(2), "{}", refused.stdout);
        for told in [file, "2020", "--extrapolate"] {
            assert!(refused.stderr.contains(told), "{told}: {}", refused.stderr);
        }
        assert_eq!(line("2026", "--extrapolate").status, Some(0));
    }
}

#[test]
fn a_table_has_a_row_an_instant() {
    let rows = json("--hemisphere north --from 2025 --to 2030 --step 1y");
    let times: Vec<&str> =
        rows.as_array().unwrap().iter().map(|row| row["time"].as_str().unwrap()).collect();
    assert_eq!(times.len(), 6);
    assert_eq!(times[1], "2026-01-01T00:00:00Z");
    let mut alone = json("--hemisphere north --at 2026");
    // A table tells the principal poles alone.
    alone.as_object_mut().unwrap().remove("further_poles");
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

#[test]
fn the_disturbance_is_told_for_a_kp_and_says_for_which() {
    let at = |rest: &str| json(&format!("--hemisphere north --at 2027-06-21T00:00Z {rest}"));
    let nt = |pole: &Value| number(pole, "/uncertainty/disturbance_nt");
    let usual = at("");
    let kp = number(&usual, "/uncertainty/disturbance_kp");
    assert!((1.0..3.0).contains(&kp), "{kp}");
    assert!(usual["uncertainty"]["disturbance_by"].as_str().unwrap().contains("median"));
    assert_eq!(nt(&at(&format!("--kp {kp}"))), nt(&usual));
    let (quiet, storm) = (at("--kp 0"), at("--kp 9"));
    assert!(nt(&quiet) < nt(&usual) && 3.0 * nt(&usual) < nt(&storm));
    // The mean pole is free of it; the total is not.
    let axis =
        |pole: &Value, part: &str| number(pole, &format!("/uncertainty/{part}/semi_major_km"));
    assert_eq!(axis(&quiet, "ellipse_95"), axis(&storm, "ellipse_95"));
    assert!(axis(&quiet, "total") < axis(&storm, "total"));
    assert_eq!(nt(&at("--disturbance-nt 40")), 40.0);
    let text = run(&repository(), "pole --hemisphere north --at 2027.5 --kp 4.67").stdout;
    assert!(text.contains("at Kp 4.67, as stated"), "{text}");
    for wrong in
        ["--kp 9.1", "--kp -1", "--kp nan", "--kp 3 --disturbance-nt 5", "--disturbance-nt -1"]
    {
        let ended = run(&repository(), &format!("pole --hemisphere north --at 2027 {wrong}"));
        assert_eq!(ended.status, Some(2), "{wrong}");
    }
}

/// A field of strong octupoles, invented.
#[test]
fn every_pole_of_a_field_with_several_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut file = String::from("1 3 2 2 1\n2020.0 2030.0\n");
    let mut value = 1_i64;
    for n in 1..=3 {
        for m in 0..=n {
            for sign in if m == 0 { vec![1] } else { vec![1, -1] } {
                value = value * 48_271 % 65_537;
                let strength = if n == 3 { 20_000 } else { 4_000 };
                let nt = value % (2 * strength) - strength;
                file.push_str(&format!("{n} {} {nt} {nt}\n", sign * m));
            }
        }
    }
    std::fs::write(folder.path().join("many.shc"), file).unwrap();
    let mut vertical = 0;
    let mut saddles = 0;
    for side in ["north", "south"] {
        let line = format!("pole --hemisphere {side} --at 2025 --model many.shc");
        let ended = run(folder.path(), &format!("{line} --format json"));
        assert_eq!(ended.status, Some(0), "{}", ended.stderr);
        let pole: Value = serde_json::from_str(&ended.stdout).unwrap();
        let further = pole["further_poles"].as_array().unwrap();
        vertical += 1 + further.len();
        saddles += further.iter().filter(|one| one["saddle"] == true).count();
        let text = run(folder.path(), &line).stdout;
        assert_eq!(text.matches("vertical too").count(), further.len());
    }
    // Poincare and Hopf: proper poles less saddles are two.
    assert!(vertical > 2, "{vertical}");
    assert_eq!(vertical - 2 * saddles, 2);
    let usual = json("--hemisphere south --at 2027");
    assert!(usual["further_poles"].as_array().unwrap().is_empty());
}
