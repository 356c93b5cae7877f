//! The program `dipward`: the command line with the kinds that come with it.

use std::process::ExitCode;

use dipward_plugin::DuplicateKind;

fn main() -> Result<ExitCode, DuplicateKind> {
    Ok(dipward_cli::run(dipward_cli::registry()?))
}
