//! Recorded hours of observatories: what the field over a station did beyond its quiet level.

mod record;

pub use record::StationRecord;
