//! What can be wrong with a projection or a grid.

use std::fmt;

/// Why a projection or a grid was refused.
///
/// Every variant carries the value that was given, so that a caller can name the entry of a scenario
/// that it came from.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// A parameter lies outside what it may be, or is not a finite number.
    OutOfRange {
        /// The parameter, with its unit.
        parameter: &'static str,
        /// What was given.
        value: f64,
        /// What is allowed, in words.
        allowed: &'static str,
    },
    /// A projection was described with both a latitude of true scale and a scale at the pole, or
    /// with neither.
    ScaleNotStatedOnce,
    /// A grid was asked to cover no positions at all.
    NoPositions,
    /// A position that a grid was asked to cover cannot be put on the projection: it is not a place
    /// on Earth, or it lies at or near the pole opposite to the projection's.
    NotOnProjection {
        /// Latitude as given, degrees.
        latitude_deg: f64,
        /// Longitude as given, degrees.
        longitude_deg: f64,
    },
    /// A grid would have no cells, or more than [`Grid::MAX_CELLS`](crate::Grid::MAX_CELLS).
    CellCount {
        /// Columns asked for.
        columns: u64,
        /// Rows asked for.
        rows: u64,
    },
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { parameter, value, allowed } => {
                write!(f, "{parameter} is {value}, but must be {allowed}")
            }
            Self::ScaleNotStatedOnce => {
                f.write_str("give either the latitude of true scale or the scale at the pole")
            }
            Self::NoPositions => f.write_str("there are no positions for the grid to cover"),
            Self::NotOnProjection { latitude_deg, longitude_deg } => write!(
                f,
                "latitude {latitude_deg}, longitude {longitude_deg} cannot be put on the projection"
            ),
            Self::CellCount { columns, rows } => write!(
                f,
                "a grid of {columns} columns by {rows} rows is not between 1 and {} cells",
                crate::Grid::MAX_CELLS
            ),
        }
    }
}

impl std::error::Error for Error {}

/// Lets a value pass when it is finite and `holds`, and says what was wrong with it otherwise.
pub(crate) fn check(
    parameter: &'static str,
    value: f64,
    allowed: &'static str,
    holds: impl FnOnce(f64) -> bool,
) -> Result<f64, Error> {
    if value.is_finite() && holds(value) {
        Ok(value)
    } else {
        Err(Error::OutOfRange { parameter, value, allowed })
    }
}
