//! `dipward plan`.

use std::{
    io::{self, Write},
    path::Path,
};

use dipward::Scenario;
use dipward_plugin::{Error, OutputFile, Ranking, Report};

use crate::{
    arguments::{Format, Plan},
    console,
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

pub(crate) fn plan(session: &Session<'_>, request: &Plan) -> Result<(), Failure> {
    let Session { console, control, stages, .. } = session;
    check_folder(&request.out)?;
    let file = ScenarioFile::open(&request.scenario, *console)?;
    let scenario = file.scenario(session.registry, request.seed)?;
    let report = dipward::plan(&scenario, control).map_err(|error| file.failure_of_plan(error))?;
    control.begin("output files", 0);
    let files = output_files(&scenario, &report, || control.check())?;
    session
        .interrupt
        .unbroken(|| dipward_report::write_all(&request.out, &files))?
        .map_err(|error| failure_of_writing(&request.out, &error))?;
    stages.end();
    if console.verbose {
        for (name, count) in &report.run.counts {
            console.say(&format!("{count:10}  {}", name.replace('_', " ")));
        }
    }
    print_ranking(&report.ranking, request.format)?;
    if report.ranking.approaches.is_empty() {
        return Err(Failure::NoApproach(format!(
            "{}no feasible approach; the reasons are in {} too",
            dipward_report::rejected_list(&report.ranking),
            request.out.display()
        )));
    }
    console.note(&format!("{} files written to {}", files.len(), request.out.display()));
    Ok(())
}

/// The files of all writers, in the order of the scenario.
pub(crate) fn output_files(
    scenario: &Scenario,
    report: &Report,
    check: impl Fn() -> Result<(), Error>,
) -> Result<Vec<OutputFile>, Failure> {
    let mut files = Vec::new();
    for writer in &scenario.outputs {
        check()?;
        files.extend(writer.object.files(report)?);
    }
    check()?;
    Ok(files)
}

fn print_ranking(ranking: &Ranking, format: Format) -> Result<(), Failure> {
    console::print(|out| match format {
        Format::Table => out.write_all(dipward_report::table(ranking, console::width()).as_bytes()),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, ranking).map_err(io::Error::from)?;
            writeln!(out)
        }
    })
}

/// Tells before anything is computed that nothing could be written.
pub(crate) fn check_folder(out: &Path) -> Result<(), Failure> {
    let refuse = |what: &str| {
        Failure::request(format_args!("{}: {what}; give another folder to --out", out.display()))
    };
    if out.as_os_str().is_empty() {
        return Err(refuse("no folder"));
    }
    // The nearest part of the path that is there decides: what is missing is made below it.
    let standing = out
        .ancestors()
        .map(|path| if path.as_os_str().is_empty() { Path::new(".") } else { path })
        .find(|path| path.symlink_metadata().is_ok());
    match standing {
        Some(folder) if folder.is_dir() => tempfile::Builder::new()
            .prefix(".dipward-")
            .tempfile_in(folder)
            .map(drop)
            .map_err(|error| refuse(&format!("cannot be written to: {}", error.kind()))),
        Some(other) => Err(refuse(&format!("{} is not a folder", other.display()))),
        None => Err(refuse("is nowhere")),
    }
}

pub(crate) fn failure_of_writing(out: &Path, error: &io::Error) -> Failure {
    match error.kind() {
        // Two writers that claim one name, or a folder where a file is to go.
        io::ErrorKind::InvalidInput
        | io::ErrorKind::IsADirectory
        | io::ErrorKind::NotADirectory
        | io::ErrorKind::PermissionDenied => Failure::request(error),
        _ => Failure::other(format_args!("{}: {error}", out.display())),
    }
}
