//! Writes the sample's files to the folder that the variable names, for looking at them.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use std::{env, path::Path};

use dipward_plugin::{OutputFile, Report, Writer};
use dipward_report::*;

fn all(report: &Report) -> Vec<OutputFile> {
    let writers: [&dyn Writer; 7] = [
        &RankingJson,
        &RoutesGeoJson,
        &GpxRoutes::default(),
        &MapSvg::default(),
        &ReportHtml::default(),
        &ResolvedScenario,
        &RunJson,
    ];
    writers.iter().flat_map(|writer| writer.files(report).unwrap()).collect()
}

#[test]
#[ignore = "writes files to DIPWARD_PICTURES to look at"]
fn pictures_to_look_at() {
    let folder = env::var("DIPWARD_PICTURES").unwrap();
    write_all(&Path::new(&folder).join("sample"), &all(&sample::report())).unwrap();
    write_all(&Path::new(&folder).join("north"), &all(&sample::north_report())).unwrap();
    write_all(&Path::new(&folder).join("empty"), &all(&sample::empty_report())).unwrap();
}
