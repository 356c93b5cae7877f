use std::{error, fmt};

/// What a formula of this crate could not answer.
///
/// Two causes only: a number outside what the published relation covers, or a table that a user
/// supplied and that breaks the rules of such tables.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// A number outside the range of the relation.
    OutOfRange {
        /// What the number is, with its unit.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// The least that the relation covers.
        low: f64,
        /// The most that the relation covers.
        high: f64,
    },
    /// A table that is malformed, or that breaks the rules of such tables.
    Table(String),
}

impl Error {
    /// Passes a number that lies in a closed range.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] otherwise, and for what is not a number.
    pub fn check(quantity: &'static str, value: f64, low: f64, high: f64) -> Result<f64, Self> {
        if (low..=high).contains(&value) {
            Ok(value)
        } else {
            Err(Self::OutOfRange { quantity, value, low, high })
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { quantity, value, low, high } => {
                write!(f, "{quantity} is {value}, outside {low} to {high}")
            }
            Self::Table(message) => f.write_str(message),
        }
    }
}

impl error::Error for Error {}
