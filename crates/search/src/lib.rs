//! The grid search: arrival fields, fuel-limited routes, distinct alternatives, bounds.

mod alternatives;
mod bound;
mod course;
mod face;
mod field;
mod fifo;
mod floor;
mod grid_search;
mod heading;
#[cfg(test)]
mod heap_reference;
mod kernel;
mod kind;
mod labels;
mod line;
mod mixture;
mod move_line;
mod openings;
mod padding;
mod passage;
mod prefetch;
mod proof;
mod question;
mod queue;
mod rows;
mod run;
mod sheet;
mod smooth;
mod stage;
mod stencil;
mod steps;
#[cfg(test)]
mod strips;
mod target;
mod to_go;
mod weight;
mod world;

/// Small worlds for tests, shared with those of `tests/`.
#[cfg(test)]
#[path = "../tests/tables/mod.rs"]
mod tables;

pub use alternatives::Distinct;
pub use course::evaluate;
pub use face::{Face, FaceEdge, Visited};
pub use field::Field;
pub use fifo::steepest_fall;
pub use grid_search::GridSearch;
pub use kind::{AlternativesSpec, GridSpec};
pub use stencil::Headings;
pub use steps::PassageStep;
pub use world::World;
