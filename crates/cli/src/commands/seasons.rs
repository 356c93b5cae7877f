//! `dipward seasons` and `dipward merge`.

mod journal;
mod left;
mod parts;

use std::{
    collections::BTreeSet,
    io::Write,
    ops::Range,
    path::Path,
    time::{Duration, Instant},
};

use dipward::{Evaluated, Study, StudyFaults, StudyKeys};
use dipward_plugin::Error;

use self::{journal::Journal, left::TimeLeft, parts::Parts};
use crate::{
    arguments::{Merge, Seasons},
    commands::output::{check_folder, write_files},
    console,
    exit::Failure,
    run::Session,
    scenario_file::ScenarioFile,
};

/// A study's two files, for showing faults at their lines.
struct StudyFiles {
    study: ScenarioFile,
    scenario: ScenarioFile,
}

pub(crate) fn seasons(session: &Session<'_>, request: &Seasons) -> Result<(), Failure> {
    let Session { console, stages, .. } = session;
    check_folder(&request.out)?;
    let files = StudyFiles::open(session, &request.study)?;
    let study = files.study(session)?;
    if request.count {
        return console::print(|out| writeln!(out, "{}", study.len()));
    }
    let wanted = request.cases.clone().map_or(0..study.len(), |cases| cases.0);
    if wanted.end > study.len() {
        return Err(Failure::request(format_args!(
            "--cases ends at {}, the study has {} cases, numbered from 0",
            wanted.end,
            study.len()
        )));
    }
    let parts = Parts::new(&request.out, &study.sha256);
    parts.make()?;
    let whole = parts.set_torn_aside(*console)?;
    let missing = parts::less(&wanted, &whole);
    let count: u64 = missing.iter().map(|range| range.end - range.start).sum();
    let skipped = wanted.end - wanted.start - count;
    if skipped > 0 {
        console.note(&format!("{skipped} cases are whole already"));
    }
    let mut progress = Progress::begin(session, &study, &missing);
    for range in missing {
        slice(session, &files, &study, &parts, range, &mut progress)?;
    }
    stages.end();
    if request.cases.is_some() {
        console.note(&format!("cases {}..{} are whole", wanted.start, wanted.end));
        return Ok(());
    }
    merge_into(session, &study, &request.out)
}

pub(crate) fn merge(session: &Session<'_>, request: &Merge) -> Result<(), Failure> {
    check_folder(&request.out)?;
    let study = StudyFiles::open(session, &request.study)?.study(session)?;
    merge_into(session, &study, &request.out)
}

/// Joins the parts of a study and writes its files.
fn merge_into(session: &Session<'_>, study: &Study<'_>, out: &Path) -> Result<(), Failure> {
    let cases = Parts::new(out, &study.sha256).all(study.len())?;
    let report = dipward::season_report(study, cases);
    let files = dipward_report::season_files(&report)?;
    write_files(session, out, &files)?;
    session.stages.end();
    console::print(|out| out.write_all(dipward_report::season_summary(&report).as_bytes()))?;
    session.console.note(&format!("{} files written to {}", files.len(), out.display()));
    Ok(())
}

/// Evaluates the cases of a range, but for those that a broken run left in its journal, and writes them
/// as a part.
fn slice(
    session: &Session<'_>,
    files: &StudyFiles,
    study: &Study<'_>,
    parts: &Parts,
    range: Range<u64>,
    progress: &mut Progress<'_>,
) -> Result<(), Failure> {
    let mut journal = Journal::open(parts.folder(), &study.sha256, &range)?;
    let mut cases = journal.take_cases();
    if !cases.is_empty() {
        session.console.note(&format!("{} cases are kept from a broken run", cases.len()));
        progress.cases(cases.len(), false);
    }
    let known: BTreeSet<u64> = cases.iter().map(|case| case.case).collect();
    let missing: Vec<u64> = range.clone().filter(|case| !known.contains(case)).collect();
    let done = &mut |evaluated| {
        match evaluated {
            Evaluated::World => progress.world(),
            Evaluated::Cases(new) => {
                journal.append(&new)?;
                progress.cases(new.len(), true);
                cases.extend(new);
            }
        }
        Ok(())
    };
    dipward::evaluate(study, &missing, session.control, done).map_err(|faults| match faults {
        StudyFaults::Error(Error::Cancelled) => {
            Failure::Other("stopped; the cases that are done are kept".to_owned())
        }
        faults => files.failure(faults),
    })?;
    cases.sort_by_key(|case| case.case);
    session.interrupt.unbroken(|| parts.write(range.start, &cases))??;
    journal.remove();
    Ok(())
}

/// How far the evaluation has come, for people.
struct Progress<'s> {
    session: &'s Session<'s>,
    left: TimeLeft,
    told: Instant,
}

/// Between lines where there is no bar.
const A_WHILE: Duration = Duration::from_secs(60);

impl<'s> Progress<'s> {
    fn begin(session: &'s Session<'s>, study: &Study<'_>, missing: &[Range<u64>]) -> Self {
        let cases: u64 = missing.iter().map(|range| range.end - range.start).sum();
        let worlds = missing.iter().map(|range| study.worlds_in(range)).sum();
        session.control.begin("cases", cases);
        Self { session, left: TimeLeft::new(worlds, cases), told: Instant::now() }
    }

    fn world(&mut self) {
        self.left.world();
    }

    /// Cases are done; `now` unless they were kept from an earlier run.
    fn cases(&mut self, count: usize, now: bool) {
        let Session { console, control, stages, .. } = self.session;
        control.advance(count as u64);
        if now {
            self.left.cases(count as u64);
        } else {
            self.left.kept(count as u64);
        }
        let Some(left) = self.left.told() else { return };
        stages.label(&format!("cases, {left}"));
        if !console.terminal && self.told.elapsed() >= A_WHILE {
            self.told = Instant::now();
            console.note(&format!("{} cases to go, {left}", self.left.cases_left()));
        }
    }
}

impl StudyFiles {
    fn open(session: &Session<'_>, path: &Path) -> Result<Self, Failure> {
        let study = ScenarioFile::open(path, session.console)?;
        let keys =
            StudyKeys::read(study.value()).map_err(|faults| study.failure_of_faults(&faults))?;
        let scenario = path.parent().unwrap_or(Path::new("")).join(&keys.scenario);
        let scenario = ScenarioFile::open(&scenario, session.console)?;
        Ok(Self { study, scenario })
    }

    fn study<'r>(&self, session: &Session<'r>) -> Result<Study<'r>, Failure> {
        let keys = StudyKeys::read(self.study.value())
            .map_err(|faults| self.study.failure_of_faults(&faults))?;
        Study::make(keys, self.scenario.value(), self.scenario.folder(), session.registry)
            .map_err(|faults| self.failure(faults))
    }

    fn failure(&self, faults: StudyFaults) -> Failure {
        match faults {
            StudyFaults::Faults { study, scenario } if study.is_empty() => {
                self.scenario.failure_of_faults(&scenario)
            }
            StudyFaults::Faults { study, scenario } if scenario.is_empty() => {
                self.study.failure_of_faults(&study)
            }
            StudyFaults::Faults { study, scenario } => {
                let both = [
                    self.study.failure_of_faults(&study).text(),
                    self.scenario.failure_of_faults(&scenario).text(),
                ];
                Failure::Request(both.join("\n\n"))
            }
            StudyFaults::Error(error) => error.into(),
            other => Failure::other(other),
        }
    }
}
