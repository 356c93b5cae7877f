//! `dipward plan`.

use std::io::Write;

use dipward::Scenario;
use dipward_plugin::{Error, OutputFile, Ranking, Report};

use crate::{
    arguments::{Format, Plan},
    commands::output::{check_folder, print_as, write_files},
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
    write_files(session, &request.out, &files)?;
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
    print_as(format, ranking, |out| {
        out.write_all(dipward_report::table(ranking, console::width()).as_bytes())
    })
}
