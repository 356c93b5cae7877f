//! The program as its users run it: exit statuses, standard output, files, messages.

mod field;
mod interrupt;
mod kinds;
mod plan;
mod pole;
mod program;
mod scenario_faults;
mod schema;
