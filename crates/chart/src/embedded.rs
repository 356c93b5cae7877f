//! Coast, ice shelves, depths and heights that the library carries, poleward of 40 degrees.
//!
//! They make a chart possible before any file is at hand, and no more than that: the coast is good to
//! a few kilometres, shelf fronts are those of 2003 and 2004, and depths are samples some ten
//! kilometres apart, in waters that are mostly unsurveyed. [`depth::doubt`] tells where two
//! compilations of soundings disagree. What is in each file, where it comes from, and what was
//! measured about it is told in `data/README.md` of this crate.
//!
//! Files are decoded once, at first use. They are part of the program; should one be damaged all the
//! same, every call that needs it says so.

pub mod coast;
pub mod depth;
mod packed;
mod polygon_file;
mod row_grid;
mod row_grid_file;
