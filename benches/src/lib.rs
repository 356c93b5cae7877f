//! Criterion benches against general-purpose libraries.
