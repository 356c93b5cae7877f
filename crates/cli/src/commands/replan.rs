//! `dipward replan`.

mod noon_reports;
mod standing;
mod told;

use std::{
    fs::File,
    io::{self, Read, Write},
    path::Path,
};

use dipward::{
    FormerPlan, HistoryEntry, Replan as Answers, Scenario, append_to_history, read_history,
};
use dipward_plugin::Report;

use crate::{
    arguments::{Format, Replan},
    commands::{
        output::{check_folder, json_file, print_as, write_files},
        plan::output_files,
    },
    console,
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// A file larger than this is no ranking and no history; it is not read to its end.
const MAX_BYTES: u64 = 256 << 20;
/// The name of a history, beside its ranking.
const HISTORY: &str = "history.json";

pub(crate) fn replan(session: &Session<'_>, request: &Replan) -> Result<(), Failure> {
    let Session { console, control, stages, .. } = session;
    check_folder(&request.out)?;
    let file = ScenarioFile::open(&request.scenario, *console)?;
    let scenario = file.scenario(session.registry, request.seed)?;
    let former = match &request.scenario_then {
        None => None,
        Some(path) => {
            Some(ScenarioFile::open(path, *console)?.scenario(session.registry, request.seed)?)
        }
    };
    let plan = former_plan(&scenario, request)?;
    let mut history = history(request)?;
    let (standing, reckoned) = standing::standing(request)?;
    let (mut answers, report) =
        dipward::replan(&scenario, former.as_ref(), &plan, &standing, control)
            .map_err(|error| file.failure_of_plan(error))?;

    answers.notes.extend(reckoned);
    control.begin("output files", 0);
    append_to_history(&mut history, [HistoryEntry::from(&answers)]);
    let mut files = output_files(&scenario, &report, || control.check())?;
    files.push(json_file("replan.json", &answers)?);
    files.push(json_file(HISTORY, &history)?);
    write_files(session, &request.out, &files)?;
    stages.end();
    print(&answers, &report, request.format)?;
    if report.ranking.approaches.is_empty() {
        return Err(Failure::NoApproach(format!(
            "{}no feasible approach from here; the reasons are in {} too",
            dipward_report::rejected_list(&report.ranking),
            request.out.display()
        )));
    }
    console.note(&format!("{} files written to {}", files.len(), request.out.display()));
    Ok(())
}

/// Reads the plan, which is an input of the run like the files of the scenario.
fn former_plan(scenario: &Scenario, request: &Replan) -> Result<FormerPlan, Failure> {
    let bytes = read(&request.plan)?;
    let name = request.plan.to_string_lossy().replace('\\', "/");
    scenario.context.note(&name, &bytes);
    let sha256 = scenario.context.inputs().remove(&name).unwrap_or_default();
    Ok(FormerPlan::read(&request.plan, &bytes, sha256, request.approach.as_deref())?)
}

/// The voyage's history so far: that beside the plan, then what an earlier run into the output folder
/// added to it.
fn history(request: &Replan) -> Result<Vec<HistoryEntry>, Failure> {
    let mut history = Vec::new();
    let beside = request.plan.parent().unwrap_or(Path::new(""));
    for path in [beside.join(HISTORY), request.out.join(HISTORY)] {
        if path.try_exists().unwrap_or(true) {
            append_to_history(&mut history, read_history(&path, &read(&path)?)?);
        }
    }
    Ok(history)
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let refuse = |error: io::Error| Failure::request(format_args!("{}: {error}", path.display()));
    let file = File::open(path).map_err(refuse)?;
    let mut bytes = Vec::new();
    file.take(MAX_BYTES + 1).read_to_end(&mut bytes).map_err(refuse)?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(Failure::request(format_args!(
            "{}: larger than {} MiB, too large for what a voyage writes",
            path.display(),
            MAX_BYTES >> 20
        )));
    }
    Ok(bytes)
}

fn print(answers: &Answers, report: &Report, format: Format) -> Result<(), Failure> {
    print_as(format, answers, |out| {
        out.write_all(told::told(answers).as_bytes())?;
        if report.ranking.approaches.is_empty() {
            return Ok(());
        }
        writeln!(out)?;
        out.write_all(dipward_report::table(&report.ranking, console::width()).as_bytes())
    })
}
