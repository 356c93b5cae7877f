//! From the command line to the exit status.

use std::{
    ffi::OsString,
    panic::{AssertUnwindSafe, catch_unwind},
    process::ExitCode,
    sync::Arc,
};

use clap::Parser;
use dipward_plugin::{Control, DuplicateKind, Registry};
use rayon::ThreadPoolBuilder;

use crate::{
    arguments::{Arguments, Command, General},
    commands,
    console::Console,
    exit::Failure,
    interrupt::Interrupt,
    progress::Stages,
};

/// What every command is given.
#[derive(Debug)]
pub(crate) struct Session<'a> {
    pub(crate) registry: &'a Registry,
    pub(crate) console: Console,
    pub(crate) control: &'a Control,
    pub(crate) interrupt: &'a Interrupt,
    pub(crate) stages: &'a Stages,
}

/// A registry with every kind that comes with the program, writers included.
///
/// # Errors
///
/// [`DuplicateKind`] where two of them claim one name, which a test rules out.
pub fn registry() -> Result<Registry, DuplicateKind> {
    let mut registry = dipward::registry()?;
    dipward_report::register(&mut registry)?;
    Ok(registry)
}

/// Runs the command line of this process with the kinds of `registry`.
///
/// # Returns
///
/// The exit status; see the crate's page.
#[must_use = "the exit status is for `main` to return"]
pub fn run(registry: Registry) -> ExitCode {
    run_with(&registry, std::env::args_os())
}

/// Runs a command line, whose first word is the program's name.
///
/// # Returns
///
/// The exit status; see the crate's page.
#[must_use = "the exit status is for `main` to return"]
pub fn run_with(registry: &Registry, arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(answer) => {
            // Help and version come this way too, with status 0. Where they cannot be printed
            // nobody reads them.
            let _ = answer.print();
            return ExitCode::from(u8::try_from(answer.exit_code()).unwrap_or(2));
        }
    };
    let console = Console::new(&arguments.general);
    // A plug-in that panics has been reported by the panic's own message; the status must still be
    // one of those promised.
    let ended = catch_unwind(AssertUnwindSafe(|| serve(registry, &arguments, console)));
    match ended {
        Ok(Ok(())) => ExitCode::SUCCESS,
        Ok(Err(failure)) => {
            let text = failure.text();
            if !text.is_empty() {
                console.say(&text);
            }
            failure.code()
        }
        Err(_) => ExitCode::FAILURE,
    }
}

fn serve(registry: &Registry, arguments: &Arguments, console: Console) -> Result<(), Failure> {
    let stages = Arc::new(Stages::new(console));
    let control = Control::with_progress(Arc::clone(&stages) as _);
    let interrupt = Interrupt::watch(&control)?;
    let session =
        Session { registry, console, control: &control, interrupt: &interrupt, stages: &stages };
    let result = with_threads(&arguments.general, || match &arguments.command {
        Command::Plan(plan) => commands::plan(&session, plan),
        Command::Replan(replan) => commands::replan(&session, replan),
        Command::Chart(chart) => commands::chart(&session, chart),
        Command::Seasons(seasons) => commands::seasons(&session, seasons),
        Command::Merge(merge) => commands::merge(&session, merge),
        Command::Check(check) => commands::check(&session, check),
        Command::Pole(pole) => commands::pole(&session, pole),
        Command::Field(field) => commands::field(&session, field),
        Command::Fix(fix) => commands::fix(&session, fix),
        Command::Swing(swing) => commands::swing(&session, swing),
        Command::Evidence(evidence) => commands::evidence(&session, evidence),
        Command::Verify(verify) => commands::verify(&session, verify),
        Command::Windows(windows) => commands::windows(&session, windows),
        Command::Kinds(kinds) => commands::kinds(&session, kinds),
        Command::Schema(schema) => commands::schema(&session, schema),
    });
    stages.end();
    result
}

fn with_threads<T: Send>(
    general: &General,
    work: impl FnOnce() -> Result<T, Failure> + Send,
) -> Result<T, Failure> {
    let Some(threads) = general.threads else { return work() };
    let pool = ThreadPoolBuilder::new().num_threads(usize::from(threads)).build();
    pool.map_err(|error| Failure::other(format_args!("{threads} threads: {error}")))?.install(work)
}
