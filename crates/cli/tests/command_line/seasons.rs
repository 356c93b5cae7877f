//! Studies of seasons: slices, kills, torn parts.

use std::{
    fs,
    path::Path,
    process::{Child, Stdio},
    thread::sleep,
    time::{Duration, Instant},
};

use proptest::prelude::*;

use crate::program::{OPEN_WATER, dipward, folder_with, listing, run};

const STUDY: &str = "\
title: Open water through the years
notes: [All of it is invented.]
seed: 11
scenario: scenario.yaml
years: [{ year: 2027 }, { year: 2028 }, { year: 2029 }]
departures: { from: 2027-01-06T00:00Z, until: 2027-01-20T00:00Z, every_h: 24 }
policies:
  - { name: hold, policy: { kind: hold } }
  - { name: ambush, policy: { kind: ambush } }
";
/// 3 years, 15 days and 2 policies.
const CASES: u64 = 90;
const FILES: [&str; 5] =
    ["seasons.html", "seasons.json", "seasons.jsonl", "seasons.csv", "seasons.parquet"];

fn folder() -> tempfile::TempDir {
    let folder = folder_with(OPEN_WATER);
    fs::write(folder.path().join("study.yaml"), STUDY).unwrap();
    folder
}

fn succeeds(folder: &Path, line: &str) -> String {
    let ended = run(folder, line);
    assert_eq!(ended.status, Some(0), "{line}\n{}", ended.stderr);
    ended.stderr
}

fn files(folder: &Path, out: &str) -> Vec<Vec<u8>> {
    FILES.iter().map(|name| fs::read(folder.join(out).join(name)).unwrap()).collect()
}

#[test]
fn slices_merge_to_the_bytes_of_one_run() {
    let folder = folder();
    let at = folder.path();
    assert_eq!(run(at, "seasons study.yaml --out whole --count").stdout, format!("{CASES}\n"));
    succeeds(at, "seasons study.yaml --out whole --quiet");
    let whole = files(at, "whole");
    assert_eq!(whole[2].iter().filter(|&&byte| byte == b'\n').count() as u64, CASES);
    let page = String::from_utf8(whole[0].clone()).unwrap();
    assert!(page.contains("planning aid") && page.contains("All of it is invented"));
    assert!(!page.contains("<script") && !page.contains("://"));

    for slice in ["61..90", "0..1", "20..61"] {
        let line = format!("seasons study.yaml --out sliced --cases {slice} --threads 1");
        succeeds(at, &line);
    }
    let ended = run(at, "merge study.yaml --out sliced");
    assert_eq!(ended.status, Some(1), "{}", ended.stderr);
    assert!(ended.stderr.contains("1..20;"), "{}", ended.stderr);
    assert!(!at.join("sliced/seasons.jsonl").exists());
    // Overlapping slices are no harm, and what is whole is not evaluated again.
    let told = succeeds(at, "seasons study.yaml --out sliced --cases 0..30");
    assert!(told.contains("11 cases are whole already"), "{told}");
    succeeds(at, "merge study.yaml --out sliced");
    assert_eq!(files(at, "sliced"), whole);
    // A part is there for other programs in columns too, and no journal is left.
    let parts = listing(&at.join("sliced/parts"));
    assert!(parts.contains(&"cases-00000001-00000020.parquet".to_owned()), "{parts:?}");
    assert!(parts.iter().all(|name| !name.contains("journal")), "{parts:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any slices, in any order, overlapping or not, on any number of threads.
    #[test]
    fn any_slicing_merges_to_the_same_bytes(
        cuts in prop::collection::btree_set(1_u64..18, 0..5),
        more in prop::collection::vec((0_u64..18, 1_u64..18), 0..3),
        turned in any::<bool>(),
        threads in 1_u8..4,
    ) {
        let folder = folder();
        let at = folder.path();
        // A study of 18 cases.
        fs::write(at.join("study.yaml"), STUDY.replace("every_h: 24", "every_h: 168")).unwrap();
        succeeds(at, "seasons study.yaml --out whole --quiet");
        let ends: Vec<u64> = [0].into_iter().chain(cuts).chain([18]).collect();
        let mut slices: Vec<(u64, u64)> = ends.windows(2).map(|ends| (ends[0], ends[1])).collect();
        slices.extend(more.into_iter().map(|(from, count)| (from, (from + count).min(18))));
        if turned {
            slices.reverse();
        }
        for (from, until) in slices {
            let line = format!(
                "seasons study.yaml --out sliced --cases {from}..{until} --threads {threads} --quiet"
            );
            succeeds(at, &line);
        }
        succeeds(at, "merge study.yaml --out sliced");
        prop_assert_eq!(files(at, "sliced"), files(at, "whole"));
    }
}

fn start(folder: &Path, line: &str) -> Child {
    let mut command = dipward();
    command.current_dir(folder).args(line.split_whitespace()).stdin(Stdio::null());
    command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
}

fn noted(journal: &Path) -> usize {
    fs::read(journal).map_or(0, |bytes| bytes.iter().filter(|&&byte| byte == b'\n').count())
}

#[test]
fn a_killed_study_loses_the_cases_in_hand_alone() {
    let folder = folder();
    let at = folder.path();
    succeeds(at, "seasons study.yaml --out whole --quiet");
    let journal = at.join("killed/parts/cases-00000000-00000090.journal");
    let mut kept_before = 0;
    let mut kills = 0;
    loop {
        let mut child = start(at, "seasons study.yaml --out killed --threads 1");
        let begun = Instant::now();
        let ended = loop {
            if child.try_wait().unwrap().is_some() {
                break true;
            }
            // A few cases more than the last time.
            if noted(&journal) > kept_before + 20 {
                break false;
            }
            assert!(begun.elapsed() < Duration::from_secs(120), "the study does not go on");
            sleep(Duration::from_millis(1));
        };
        if ended {
            break;
        }
        // SIGKILL, which no program can catch.
        child.kill().unwrap();
        child.wait().unwrap();
        kills += 1;
        let kept = noted(&journal);
        assert!(kept > kept_before, "what was done is lost");
        assert!(!at.join("killed/seasons.jsonl").exists());
        kept_before = kept;
    }
    assert!(kills >= 2, "the study ended too soon to be killed twice: {kills}");
    assert_eq!(files(at, "killed"), files(at, "whole"));
    assert!(!journal.exists());
}

#[test]
fn a_torn_part_is_told_and_not_taken() {
    let folder = folder();
    let at = folder.path();
    succeeds(at, "seasons study.yaml --out x --cases 0..45 --quiet");
    succeeds(at, "seasons study.yaml --out x --cases 45..90 --quiet");
    let part = at.join("x/parts/cases-00000045-00000090.jsonl");
    let whole = fs::read(&part).unwrap();
    fs::write(&part, &whole[..whole.len() * 2 / 3]).unwrap();
    let ended = run(at, "merge study.yaml --out x");
    assert_eq!(ended.status, Some(1));
    assert!(ended.stderr.contains("cases-00000045-00000090.jsonl: "), "{}", ended.stderr);
    assert!(ended.stderr.contains("torn"), "{}", ended.stderr);
    let told = succeeds(at, "seasons study.yaml --out x");
    assert!(told.contains("set aside") && told.contains("45 cases are whole"), "{told}");
    assert_eq!(fs::read(&part).unwrap(), whole);
}

#[test]
fn parts_of_another_study_are_refused() {
    let folder = folder();
    let at = folder.path();
    succeeds(at, "seasons study.yaml --out x --cases 0..4 --quiet");
    fs::write(at.join("study.yaml"), STUDY.replace("seed: 11", "seed: 12")).unwrap();
    for line in ["merge study.yaml --out x", "seasons study.yaml --out x --cases 4..8"] {
        let ended = run(at, line);
        assert_eq!(ended.status, Some(2), "{}", ended.stderr);
        assert!(ended.stderr.contains("another study"), "{}", ended.stderr);
    }
}

#[test]
fn wrong_requests_are_status_2() {
    let folder = folder();
    let at = folder.path();
    for (line, told) in [
        ("seasons study.yaml --out x --cases 80..91", "has 90 cases"),
        ("seasons study.yaml --out x --cases 8..8", "empty"),
        ("seasons study.yaml --out x --cases all", "120..240"),
        ("seasons missing.yaml --out x", "missing.yaml"),
        ("seasons scenario.yaml --out x", "years"),
        ("merge missing.yaml --out x", "missing.yaml"),
    ] {
        let ended = run(at, line);
        assert_eq!(ended.status, Some(2), "{line}\n{}", ended.stderr);
        assert!(ended.stderr.contains(told), "{told} in\n{}", ended.stderr);
    }
    // A fault of the study is shown at its line, one of the scenario in the scenario's file.
    fs::write(at.join("study.yaml"), STUDY.replace("kind: ambush", "kind: ambushed")).unwrap();
    let ended = run(at, "seasons study.yaml --out x");
    assert!(ended.stderr.contains("study.yaml:9"), "{}", ended.stderr);
    fs::write(at.join("study.yaml"), STUDY).unwrap();
    fs::write(at.join("scenario.yaml"), OPEN_WATER.replace("pc5", "pc9")).unwrap();
    let ended = run(at, "seasons study.yaml --out x");
    assert!(ended.stderr.contains("scenario.yaml:21"), "{}", ended.stderr);
    assert_eq!(listing(at), ["scenario.yaml", "study.yaml"]);
}
