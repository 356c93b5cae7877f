//! The command line of dipward. No science is done here.
//!
//! A program that adds kinds of its own is the whole command line with those kinds:
//!
//! ```no_run
//! use std::process::ExitCode;
//!
//! fn main() -> Result<ExitCode, dipward_plugin::DuplicateKind> {
//!     let registry = dipward_cli::registry()?;
//!     // registry.register::<MySpec>()?;
//!     Ok(dipward_cli::run(registry))
//! }
//! ```
//!
//! # Exit status
//!
//! | status | meaning |
//! |---|---|
//! | 0 | done |
//! | 2 | the request or the scenario is wrong |
//! | 3 | no feasible approach |
//! | 1 | anything else, a stop by the user included |

mod arguments;
mod case_range;
mod commands;
mod console;
mod exit;
mod interrupt;
mod moment;
mod place;
mod progress;
mod run;
mod scenario_file;

pub use run::{registry, run, run_with};
