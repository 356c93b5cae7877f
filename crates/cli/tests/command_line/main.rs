//! The program as its users run it: exit statuses, standard output, files, messages.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod chart;
mod closed_forms;
mod field;
mod fix;
mod interrupt;
mod kinds;
mod plan;
mod pole;
mod program;
mod replan;
mod scenario_faults;
mod schema;
mod seasons;
mod verify;
mod windows;
