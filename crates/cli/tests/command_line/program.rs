//! Running the built program.

use std::{
    fs,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

/// A voyage over open water of one depth: small enough to be planned in a moment.
pub(crate) const OPEN_WATER: &str = "\
title: Open water
notes: [All of it is invented.]
seed: 7
window:
  from: 2027-01-05T00:00Z
  until: 2027-02-04T00:00Z
pole:
  hemisphere: south
  model: { kind: igrf14 }
  disturbance: { kind: quiet }
  members: 20
chart:
  cell_km: 25
  margin_km: 100
  layers:
    - kind: constant
      values: { land: 0, shelf: 0, elevation: -4000, depth_doubt: 1, ice_concentration: 0 }
craft:
  kind: icebreaker
  name: RV Nowhere
  ice_class: pc5
  hull:
    length_m: 104
    beam_m: 21
    draught_m: 7.2
    stem_angle_deg: 25
    waterline_angle_deg: 26
    parallel_midbody_m: 38
    bow_length_m: 34
  machinery:
    propulsion_kw: 9600
    propellers: { number: 2, diameter_m: 4.2 }
    open_water_speed_kn: 15.5
    hotel_kw: 900
    specific_consumption_g_per_kwh: 195
  fuel:
    capacity_t: 1150
voyage:
  ports:
    - { name: Nowhere, latitude_deg: -58, longitude_deg: 140 }
  departures: { from: 2027-01-06T00:00Z, until: 2027-01-08T00:00Z, every_h: 48 }
  routes: 1
station:
  at_least_h: 24
  at_most_h: 48
";

pub(crate) fn dipward() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dipward"));
    command.env_remove("NO_COLOR").stdin(Stdio::null());
    command
}

/// How the program ended: status, standard output, standard error.
#[derive(Debug)]
pub(crate) struct Ended {
    pub(crate) status: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl From<Output> for Ended {
    fn from(output: Output) -> Self {
        Self {
            status: output.status.code(),
            stdout: String::from_utf8(output.stdout).unwrap(),
            stderr: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Runs the program with arguments that hold no blanks, in a folder.
pub(crate) fn run(folder: &Path, arguments: &str) -> Ended {
    let words = arguments.split_whitespace();
    dipward().current_dir(folder).args(words).output().unwrap().into()
}

/// Runs the program with a text on its standard input.
pub(crate) fn run_with_input(folder: &Path, arguments: &str, input: &[u8]) -> Ended {
    let words = arguments.split_whitespace();
    let mut child = dipward()
        .current_dir(folder)
        .args(words)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_vec();
    // The program may end before it has read everything.
    let writing = std::thread::spawn(move || drop(pipe.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap();
    output.into()
}

/// A folder with a scenario in it, `scenario.yaml`.
pub(crate) fn folder_with(scenario: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("scenario.yaml"), scenario).unwrap();
    folder
}

/// The repository's own folder.
pub(crate) fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The names of everything below a folder, `/` between, sorted.
pub(crate) fn listing(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path.clone());
            }
            names.push(path.strip_prefix(folder).unwrap().to_string_lossy().replace('\\', "/"));
        }
    }
    names.sort();
    names
}
