//! Whole-program and cross-crate tests, oracles and published checks.
