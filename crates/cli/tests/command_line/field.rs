use std::{
    fmt::Write as _,
    fs,
    io::{BufRead, BufReader, Write as _},
    process::Stdio,
};

use crate::program::{dipward, listing, repository, run, run_with_input};

/// The test values of WMM2025: NOAA NCEI and British Geological Survey, doi 10.25923/prbc-s316,
/// file WMM2025_TestValues.
fn published_rows() -> Vec<Vec<f64>> {
    let fixture = repository().join("crates/field/tests/fixtures/wmm2025_test_values.csv");
    let text = fs::read_to_string(fixture).unwrap();
    let rows = text.lines().skip(1).map(|line| {
        line.split(',').map(|field| field.parse::<f64>().unwrap()).collect::<Vec<f64>>()
    });
    rows.collect()
}

#[test]
fn published_wmm2025_rows_come_out_in_their_order() {
    let folder = tempfile::tempdir().unwrap();
    let published = published_rows();
    assert_eq!(published.len(), 100);
    // Another order of columns, one that is not ours, and rows enough for several batches.
    let mut points = String::from("note,decimal_year,longitude_deg,latitude_deg,height_km\n");
    let count = 40_000;
    for (index, row) in published.iter().cycle().take(count).enumerate() {
        let [year, height, latitude, longitude] = [row[0], row[1], row[2], row[3]];
        writeln!(points, "\"row, {index}\",{year},{longitude},{latitude},{height}").unwrap();
    }
    fs::write(folder.path().join("points.csv"), points).unwrap();
    let line = "field --points points.csv --model wmm2025 --out field.csv";
    let ended = run(folder.path(), line);
    assert_eq!((ended.status, ended.stdout.as_str()), (Some(0), ""), "{}", ended.stderr);

    let mut reader = csv::Reader::from_path(folder.path().join("field.csv")).unwrap();
    let titles = reader.headers().unwrap().iter().collect::<Vec<_>>().join(",");
    assert_eq!(
        titles,
        "note,decimal_year,longitude_deg,latitude_deg,height_km,\
         x_nt,y_nt,z_nt,h_nt,f_nt,inclination_deg,declination_deg"
    );
    let mut seen = 0;
    for (index, record) in reader.records().enumerate() {
        let record = record.unwrap();
        assert_eq!(record[0], format!("row, {index}"));
        let expected = &published[index % 100];
        // Columns of both files: X, Y, Z, H, F in nT, inclination and declination in degrees.
        for (ours, theirs, tolerance) in [
            (5, 4, 0.00105),
            (6, 5, 0.00105),
            (7, 6, 0.00105),
            (8, 7, 0.00105),
            (9, 8, 0.00105),
            (10, 9, 0.0051),
            (11, 10, 0.0051),
        ] {
            let found: f64 = record[ours].parse().unwrap();
            assert!((found - expected[theirs]).abs() < tolerance, "row {index}: {record:?}");
        }
        seen += 1;
    }
    assert_eq!(seen, count);
    assert_eq!(listing(folder.path()), ["field.csv", "points.csv"]);
}

#[test]
fn standard_input_to_standard_output() {
    let folder = tempfile::tempdir().unwrap();
    let points = "latitude_deg,longitude_deg,time\n-64,136,2027-01-15T00:00Z\n";
    let ended = run_with_input(folder.path(), "field --points - --threads 2", points.as_bytes());
    assert_eq!((ended.status, ended.stderr.as_str()), (Some(0), ""));
    assert_eq!(ended.stdout.lines().count(), 2);
    assert!(ended.stdout.contains("-64,136,2027-01-15T00:00Z,"), "{}", ended.stdout);
    let same = run_with_input(folder.path(), "field --points - --threads 1", points.as_bytes());
    assert_eq!(ended.stdout, same.stdout);
}

#[test]
fn a_row_that_does_not_serve_is_told_with_its_line_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let heading = "latitude_deg,longitude_deg,height_km,time\n0,0,0,2027-01-15T00:00Z\n";
    for (row, told) in [
        ("north,0,0,2027-01-15T00:00Z", "latitude_deg `north`"),
        ("91,0,0,2027-01-15T00:00Z", "beyond a pole"),
        ("0,0,0,yesterday", "time `yesterday`"),
        ("0,0,0", "3 fields stand where the heading has 4"),
        ("0,0,0,2041-01-15T00:00Z", "IGRF-14"),
        ("0,0,-5000,2027-01-15T00:00Z", "-5000"),
        ("0,0,NaN,2027-01-15T00:00Z", "height_km `NaN`"),
    ] {
        fs::write(folder.path().join("points.csv"), format!("{heading}{row}\n")).unwrap();
        let ended = run(folder.path(), "field --points points.csv --out out.csv");
        assert_eq!((ended.status, ended.stdout.as_str()), (Some(2), ""), "{}", ended.stderr);
        assert!(ended.stderr.starts_with("error: points.csv:3: "), "{}", ended.stderr);
        assert!(ended.stderr.contains(told), "{told}: {}", ended.stderr);
        assert_eq!(listing(folder.path()), ["points.csv"]);
    }
}

#[test]
fn files_and_models_that_do_not_serve_are_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("points.csv"), "latitude_deg,longitude_deg,time\n").unwrap();
    fs::write(folder.path().join("model.shc"), "no model").unwrap();
    fs::write(folder.path().join("empty.csv"), "").unwrap();
    for (line, told) in [
        ("field --points nowhere.csv", "nowhere.csv"),
        ("field --points .", "is a folder"),
        ("field --points empty.csv", "is missing"),
        ("field --points points.csv --model igrf41", "neither a file nor one of"),
        ("field --points points.csv --model model.shc", "model.shc"),
        ("field --points points.csv --out nowhere/out.csv", "nowhere/out.csv"),
        ("field --points points.csv --out .", "folder"),
    ] {
        let ended = run(folder.path(), line);
        assert_eq!(
            (ended.status, ended.stdout.as_str()),
            (Some(2), ""),
            "{line}: {}",
            ended.stderr
        );
        assert!(ended.stderr.contains(told), "{told}: {}", ended.stderr);
    }
    assert_eq!(listing(folder.path()), ["empty.csv", "model.shc", "points.csv"]);
}

#[test]
fn a_file_of_coefficients_is_a_model() {
    let folder = tempfile::tempdir().unwrap();
    let points = "latitude_deg,longitude_deg,decimal_year\n-64,136,2026.5\n";
    for (name, file) in [("wmm2025", "WMM2025.COF"), ("igrf14", "IGRF14.shc")] {
        let path = repository().join("crates/field/data").join(file);
        fs::copy(path, folder.path().join(file)).unwrap();
        let ask = |model: &str| {
            let line = format!("field --points - --model {model}");
            let ended = run_with_input(folder.path(), &line, points.as_bytes());
            assert_eq!(ended.status, Some(0), "{}", ended.stderr);
            ended.stdout
        };
        assert_eq!(ask(name), ask(file));
    }
}

#[test]
fn extrapolation_must_be_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let points = b"latitude_deg,longitude_deg,decimal_year\n-64,136,2032\n";
    let refused = run_with_input(folder.path(), "field --points -", points);
    assert_eq!(refused.status, Some(2));
    assert!(refused.stderr.contains("--extrapolate"), "{}", refused.stderr);
    let asked = run_with_input(folder.path(), "field --points - --extrapolate", points);
    assert_eq!(asked.status, Some(0), "{}", asked.stderr);
}

#[test]
fn a_reader_that_leaves_early_is_no_failure() {
    let mut child = dipward()
        .args(["field", "--points", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let writing = std::thread::spawn(move || {
        let _ = pipe.write_all(b"latitude_deg,longitude_deg,decimal_year\n");
        for _ in 0..200_000 {
            if pipe.write_all(b"-64,136,2026.5\n").is_err() {
                return;
            }
        }
    });
    let mut first = String::new();
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    reader.read_line(&mut first).unwrap();
    drop(reader);
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap();
    assert!(first.starts_with("latitude_deg"));
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}
