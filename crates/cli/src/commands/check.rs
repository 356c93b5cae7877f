//! `dipward check`.

use std::io::Write;

use dipward::World;

use crate::{arguments::Check, console, exit::Failure, run::Session, scenario_file::ScenarioFile};

pub(crate) fn check(session: &Session<'_>, request: &Check) -> Result<(), Failure> {
    let file = ScenarioFile::open(&request.scenario, session.console)?;
    let scenario = file.scenario(session.registry, None)?;
    if request.chart {
        World::make(&scenario, session.control).map_err(|error| file.failure_of_plan(error))?;
    }
    session.stages.end();
    if session.console.quiet {
        return Ok(());
    }
    console::print(|out| writeln!(out, "{}: no fault found", request.scenario.display()))
}
