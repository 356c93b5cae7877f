//! Ctrl-C.
#![cfg(unix)]

use std::{
    fs,
    io::Read,
    path::Path,
    process::{Child, Command, Stdio},
    thread::sleep,
    time::{Duration, Instant},
};

use crate::program::{OPEN_WATER, dipward, folder_with, listing};

/// The program has one second; the rest is for a machine that is busy with other tests.
const SOON: Duration = Duration::from_millis(2500);

fn interrupt(child: &Child) {
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
}

fn ended_soon(mut child: Child) -> (Option<i32>, String) {
    let start = Instant::now();
    loop {
        if let Some(status) = child.try_wait().unwrap() {
            let mut told = String::new();
            child.stderr.take().unwrap().read_to_string(&mut told).unwrap();
            return (status.code(), told);
        }
        if start.elapsed() > SOON {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("the program did not stop");
        }
        sleep(Duration::from_millis(10));
    }
}

fn start(folder: &Path, arguments: &[&str], stdin: Stdio) -> Child {
    let mut command = dipward();
    command.current_dir(folder).args(arguments).stdin(stdin);
    command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

#[test]
fn a_plan_stops_within_a_second_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    // Finer and more often than anybody needs: minutes of work.
    let long = OPEN_WATER
        .replace("cell_km: 25", "cell_km: 2")
        .replace("members: 20", "members: 2000")
        .replace("every_h: 48", "every_h: 0.5")
        .replace("routes: 1", "routes: 6");
    let elsewhere = folder_with(&long);
    let scenario = elsewhere.path().join("scenario.yaml");
    fs::create_dir(folder.path().join("there")).unwrap();
    fs::write(folder.path().join("there/mine.txt"), "mine").unwrap();
    for (out, delay_ms) in [("out", 300), ("out", 4000), ("there", 1500)] {
        let arguments = ["plan", scenario.to_str().unwrap(), "--out", out];
        let child = start(folder.path(), &arguments, Stdio::null());
        sleep(Duration::from_millis(delay_ms));
        interrupt(&child);
        let (status, told) = ended_soon(child);
        assert_eq!(status, Some(1), "{told}");
        assert_eq!(listing(folder.path()), ["there", "there/mine.txt"]);
    }
}

#[test]
fn a_second_ctrl_c_ends_at_once_and_takes_the_scratch_file_away() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["field", "--points", "-", "--out", "field.csv"];
    // The program waits for points that do not come: it cannot look at the flag.
    let mut child = start(folder.path(), &arguments, Stdio::piped());
    let kept_open = child.stdin.take();
    let start = Instant::now();
    while listing(folder.path()).is_empty() {
        assert!(start.elapsed() < Duration::from_secs(20), "no scratch file appears");
        sleep(Duration::from_millis(10));
    }
    sleep(Duration::from_millis(100));
    interrupt(&child);
    sleep(Duration::from_millis(100));
    interrupt(&child);
    let (status, told) = ended_soon(child);
    drop(kept_open);
    assert_eq!((status, told.as_str()), (Some(1), "stopped; no file was written\n"));
    assert!(listing(folder.path()).is_empty());
}
