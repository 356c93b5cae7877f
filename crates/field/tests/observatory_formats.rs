//! The formats of observatories, on files of an invented station that other software wrote
//! (`fixtures/observatory/make_station.py`), and on what is wrong with files.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use std::{f64::consts::TAU, fs, io::Read};

use dipward_field::observatory::{StationRecord, read_station_files};
use dipward_geodesy::{Position, position};
use flate2::read::GzDecoder;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/observatory/");

fn fixture(name: &str) -> Vec<u8> {
    fs::read(format!("{FOLDER}{name}.gz")).unwrap()
}

fn plain(name: &str) -> String {
    let mut text = String::new();
    GzDecoder::new(&*fixture(name)).read_to_string(&mut text).unwrap();
    text
}

fn place() -> Position {
    position(-70.0, 140.0)
}

/// What is told of files that are refused.
fn refused(files: &[(&str, &str)]) -> String {
    // A record is too long to print.
    read(files).map(|_| ()).unwrap_err()
}

fn read(files: &[(&str, &str)]) -> Result<StationRecord, String> {
    read_station_files(files, Some(place())).map_err(|error| error.to_string())
}

/// The planted perturbation at an hour from 1995, as in `make_station.py`; `None` in a gap.
fn planted(hour: f64) -> Option<[f64; 2]> {
    let season = 0.5 + 0.5 * (TAU * (hour / 24.0 - 355.0) / 365.25).cos();
    let (sine, cosine) = (TAU * hour / 24.0).sin_cos();
    let length = 8.0 + 52.0 * season;
    let storm = if hour.floor() % 700.0 < 7.0 { 300.0 } else { 0.0 };
    (hour.floor() % 997.0 >= 5.0).then_some([length * cosine, storm - length * sine])
}

/// The greatest error of each component, nT, and the number of hours.
fn errors(record: &StationRecord) -> ([f64; 2], usize) {
    let epoch = "1995-01-01T00:00Z".parse::<jiff::Timestamp>().unwrap().as_second();
    let (mut worst, mut count) = ([0.0_f64; 2], 0);
    for (index, nt) in record.perturbation_nt.iter().enumerate() {
        let begin_h = (record.instant(index).as_second() - epoch) as f64 / 3600.0;
        match planted(begin_h + 0.5) {
            Some(planted) => {
                for part in 0..2 {
                    worst[part] = worst[part].max((f64::from(nt[part]) - planted[part]).abs());
                }
                count += 1;
            }
            None => assert!(nt.iter().all(|part| part.is_nan())),
        }
    }
    (worst, count)
}

#[test]
fn a_planted_perturbation_is_given_back() {
    for name in ["xin_hours_xyz.wdc", "xin_hours_dh.wdc", "xin_hours.iaga"] {
        let record = read_station_files(&[(name, fixture(name))], Some(place())).unwrap();
        assert_eq!((record.name.as_str(), record.cadence_h), ("XIN", 1.0), "{name}");
        assert_eq!(record.start.to_string(), "1995-05-01T00:00:00Z", "{name}");
        let (worst, count) = errors(&record);
        println!("{name}: {worst:?} nT in {count} hours; {:?}", record.remarks);
        assert_eq!((record.perturbation_nt.len(), count), (489 * 24, record.recorded()), "{name}");
        // Rounding, and medians of some hundred hours of a vector of 8 to 20 nT.
        assert!(worst.iter().all(|nt| *nt < 4.0), "{name}: {worst:?}");
        assert!(record.remarks.iter().any(|remark| remark.contains("2 winters")));
    }
}

#[test]
fn minutes_are_turned_to_true_north() {
    let name = "xin_minutes.iaga";
    let record = read_station_files(&[(name, fixture(name))], None).unwrap();
    assert_eq!((record.place, record.cadence_h), (place(), 1.0 / 60.0));
    assert_eq!(record.perturbation_nt.len(), 2880);
    assert!(record.remarks.iter().any(|remark| remark.contains("one quiet level")));
    // A level for want of a winter leaves a constant: differences must be the planted ones, but for 0.25 nT
    // of secular variation in two days.
    let first = 24.0 * 40.0 + 24.0 * 120.0;
    let planted = |minute: usize| planted(first + minute as f64 / 60.0).unwrap();
    for part in 0..2 {
        let own = |minute: usize| f64::from(record.perturbation_nt[minute][part]);
        for minute in (1..2880).step_by(7) {
            let wanted = planted(minute)[part] - planted(0)[part];
            assert!((own(minute) - own(0) - wanted).abs() < 0.3, "{minute}");
        }
    }
}

#[test]
fn files_join_in_any_order_and_overlap_where_they_agree() {
    let whole = plain("xin_hours_dh.wdc");
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    let (early, late) = (lines[..600].concat(), lines[500..].concat());
    let alone = read(&[("all", &whole)]).unwrap();
    let joined = read(&[("late", &late), ("early", &early)]).unwrap();
    assert_eq!(bits(&alone), bits(&joined));
    // CRLF or not, blank lines, trailing blanks, the mark of the end of a file, the order of records.
    let mut shuffled: Vec<String> = lines.iter().rev().map(|line| line.trim_end().into()).collect();
    shuffled.insert(3, String::new());
    shuffled[10].push_str("   ");
    let untidy = format!("{}\n\u{1a}", shuffled.join("\n"));
    assert_eq!(bits(&alone), bits(&read(&[("untidy", &untidy)]).unwrap()));

    let other = early.replace("XIN", "XOT");
    let told = read(&[("a", &other), ("b", &late)]).unwrap_err();
    assert!(told.contains("a and b: one is of XOT, the other of XIN"), "{told}");
    let hours = plain("xin_hours.iaga");
    let told = read(&[("a", &hours), ("b", &plain("xin_minutes.iaga"))]).unwrap_err();
    assert!(told.contains("60 minutes, the other of 1"), "{told}");
    // The one rounds to whole nT, the other does not.
    let told = read(&[("a", &hours), ("b", &whole)]).unwrap_err();
    assert!(told.contains("a and b: they disagree at 1995-05-01T"), "{told}");
    let table = "time_utc,north_nt,east_nt\n1995-05-01T00,1,2\n1995-05-01T01,1,2\n";
    let told = read(&[("a", &hours), ("b", table)]).unwrap_err();
    assert!(told.contains("the field, the other the perturbation"), "{told}");
    let bytes = [("a", fixture("xin_hours.iaga"))];
    let told = read_station_files(&bytes, Some(position(-72.0, 140.0))).unwrap_err().to_string();
    assert!(told.contains("223 km apart"), "{told}");
    let told = read_station_files(&[("a", whole)], None).unwrap_err().to_string();
    assert!(told.contains("give its place"), "{told}");
}

fn bits(record: &StationRecord) -> Vec<[u32; 2]> {
    record.perturbation_nt.iter().map(|nt| nt.map(f32::to_bits)).collect()
}

#[test]
fn what_is_wrong_with_a_record_of_hours_is_told() {
    let whole = plain("xin_hours_dh.wdc");
    let wrong = |from: &str, to: &str| {
        assert!(whole.contains(from), "{from}");
        refused(&[("f", &whole.replacen(from, to, 1))])
    };
    let line = |told: String, wanted: &str| assert!(told.contains(wanted), "{told}");
    line(wrong("XIN9505H01", "XIN9505H1"), "f: line 2: a WDC record of hours has 120 characters");
    line(wrong("XIN9505H01", "XIN9505H32"), "line 2: 1995-05-32 is no date");
    line(wrong("XIN9505H01", "XIN9505Q01"), "line 2: `Q` in column 8");
    line(wrong("XIN9505H01", "XOT9505H01"), "line 2: the station is XOT, and XIN before");
    line(wrong("XIN9505H02      ", "XIN9505H02    17"), "line 4: `17` in columns 15-16");
    line(wrong("XIN9505H02    ", "XIN9505H02  19"), "line 4: `  19` in columns 11-14");
    line(wrong("XIN9505D02", "XIN9505D01"), "line 3: D of 1995-05-01 differs from that of line 1");
    let base = whole.find("H01").unwrap() + 9;
    let told = refused(&[("f", &format!("{}  x1{}", &whole[..base], &whole[base + 4..]))]);
    line(told, "line 2: `  x1` in columns 17-20 is no tabular base");
    let told = read(&[("f", &format!("{}12  {}", &whole[..base + 8], &whole[base + 12..]))]);
    line(told.map(|_| ()).unwrap_err(), "line 2: `12  ` in columns 25-28 is no whole number");
    let alone: String = whole.split_inclusive('\n').filter(|line| &line[7..8] == "D").collect();
    line(refused(&[("f", &alone)]), "no hour has X and Y, or D and H; the file has D");

    // X, Y and D, H of one field agree; of two they do not.
    let both = plain("xin_hours_xyz.wdc") + &whole;
    assert!(read(&[("f", &both)]).is_ok());
    let apart = plain("xin_hours_xyz.wdc") + &whole.replace("      -28", "      -26");
    line(refused(&[("f", &apart)]), "disagree by");

    let old = whole.replace("XIN95", "XIN30").replace("XIN9602H29", "XIN9602H28");
    let told = read(&[("f", &old.lines().take(100).collect::<Vec<_>>().join("\n"))]);
    line(told.map(|_| ()).unwrap_err(), "no interval lies within the history of Kp");
}

#[test]
fn what_is_wrong_with_an_iaga_file_is_told() {
    let hours = plain("xin_hours.iaga");
    let wrong = |from: &str, to: &str| {
        assert!(hours.contains(from), "{from}");
        refused(&[("f", &hours.replace(from, to))])
    };
    let line = |told: String, wanted: &str| assert!(told.contains(wanted), "{told}");
    let titles = "    XINX      XINY      XINZ      XINF";
    let variometer = hours.replace(titles, "    XINH      XINE      XINZ      XINF");
    let told = refused(&[("f", &variometer.replace(" XYZF ", " HEZF "))]);
    line(told, "HEZF does not say where true north is");
    line(wrong(titles, "    XINH      XINE      XINZ      XINF"), "header's Reported is XYZF");
    line(wrong(titles, "    XOTX      XOTY      XOTZ      XOTF"), "not the IAGA CODE XIN");
    line(
        wrong("1995-05-01 01:30:00.000 121", "1995-05-01 01:30:00.000 122"),
        "is day 121 of its year",
    );
    line(wrong("1995-05-01 01:30:00.000", "1995-05-01 00:30:00.000"), "the time stands on line");
    line(wrong("1995-05-01 01:30:00.000", "1995-05-01 01:20:00.000"), "Data Interval Type");
    line(wrong("1-hour (00-59)", "1-minute      "), "3600 s after the one before");
    line(wrong("30:00.000", "10:00.000"), "stamps 10 minutes past");
    line(wrong("1995-05-01 01:30:00.000", "1995-05-01 01:30:00.0x0"), "is no date and time");
    line(wrong("-70.0 ", "-97.0 "), "is no place");
    let seconds = hours.replace("1-hour (00-59)", "1-second      ");
    let seconds: String = seconds
        .replace(":30:00.000", ":30:01.000")
        .lines()
        .take(22)
        .map(|line| line.to_owned() + "\n")
        .collect();
    let row = seconds.lines().last().unwrap().replace(":30:01", ":30:02");
    line(refused(&[("f", &(seconds + &row))]), "average them to minutes");

    // The hour that begins at the stamp.
    let at_begin = read(&[("f", &hours.replace(":30:00.000", ":00:00.000"))]).unwrap();
    assert_eq!(bits(&at_begin), bits(&read(&[("f", &hours)]).unwrap()));
    assert!(at_begin.remarks.iter().any(|remark| remark.contains("hh:00")));
    // The hour about the stamp.
    let about = hours.replace(":30:00.000", ":00:00.000").replace("(00-59)      ", "(00:30-01:29)");
    assert_eq!(read(&[("f", &about)]).unwrap().start.to_string(), "1995-04-30T23:30:00Z");
}

#[test]
fn what_is_wrong_with_a_table_is_told() {
    let titles = "time_utc,north_nt,east_nt";
    let table = |rows: &str| read(&[("t.csv", &format!("{titles}\n{rows}"))]);
    let record = table(
        "2003-10-29T01,2,NaN\r\n2003-10-29T00:00:00Z,1,-1\r\n2003-10-29 03:00,,\r\n\
                        2003-10-29T02:00z,3,4\n",
    )
    .unwrap();
    assert_eq!(record.name, "t");
    let told: Vec<bool> = record.perturbation_nt.iter().map(|nt| nt[1].is_finite()).collect();
    assert_eq!(told, [true, false, true]);
    assert!(record.remarks[0].contains("1 intervals have one component"));
    let minutes =
        table("2003-10-29T00:05,1,1\n2003-10-29T00:00,1,1\n2003-10-29T01:00,1,1").unwrap();
    assert_eq!((minutes.perturbation_nt.len(), minutes.recorded()), (13, 3));
    let marked =
        read(&[("t", "\u{feff}time_utc,north_nt,east_nt\n2003-10-29T00,1,1\n2003-10-29T01,1,1")]);
    assert!(marked.is_ok());

    let line = |rows: &str, wanted: &str| {
        let told = table(rows).unwrap_err();
        assert!(told.contains(wanted), "{told}");
    };
    let first = "2003-10-29T00:00,1,1\n";
    line(
        &format!("{first}2003-10-29T00:00,1,1"),
        "line 3: the time 2003-10-29T00:00:00Z stands on line 2",
    );
    line(
        &format!("{first}2003-10-29T02:00,1,1"),
        "line 3: the smallest step between two times is 120",
    );
    line(
        &format!("{first}2003-10-29T01:00,1,1\n2003-10-29T02:30,1,1"),
        "no whole number of steps of 60",
    );
    line(
        &format!("{first}2003-10-29T00:10,1,1\n2003-10-29T00:25,1,1"),
        "no whole number of steps of 10",
    );
    line(&format!("{first}2003-10-29T01:00,1,20001"), "line 3: east_nt `20001` is beyond");
    line(&format!("{first}2003-10-29T01:00,x,1"), "line 3: north_nt `x` is no number");
    line(&format!("{first}2003-10-29T01:00+02:00,1,1"), "no time of UTC");
    line(&format!("{first}2003-10-29,1,1"), "no time of UTC");
    line(&format!("{first}2003-10-29T01:00:30,1,1"), "no whole minute");
    line(&format!("{first}0003-10-29T01:00,1,1"), "not within 1830 to 2100");
    line(&format!("{first}2003-10-29T01:00,1"), "line: 3");
    line(first, "fewer than two times");
    line("2003-10-29T00:00,,\n2003-10-29T01:00,,\n", "no recorded interval");
    let told = read(&[("t", "time,north,east\n")]).unwrap_err();
    assert!(
        told.contains("line 1: the columns are `time,north,east`, not `time_utc,north_nt"),
        "{told}"
    );
    for (bytes, wanted) in [("", "empty"), ("hello", "none of: hourly records")] {
        assert!(read(&[("t", bytes)]).unwrap_err().contains(wanted));
    }
    assert!(read(&[]).unwrap_err().contains("no file"));
}
