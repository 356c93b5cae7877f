use std::{error, fmt};

/// What is wrong with a file of coefficients, of readings or of observed values.
///
/// Its own type rather than [`dipward_plugin::Error`], because a reader sees bytes and knows lines
/// but not the file's name, which the caller adds.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum ReadError {
    /// A line cannot be read.
    Line {
        /// Counted from 1.
        line: usize,
        /// What is wrong with it.
        message: String,
    },
    /// The file as a whole is not what it should be.
    Whole(String),
}

impl ReadError {
    pub(crate) fn line(line: usize, message: impl Into<String>) -> Self {
        Self::Line { line, message: message.into() }
    }

    pub(crate) fn of_csv(error: &csv::Error) -> Self {
        match error.position() {
            Some(place) => Self::line(place.line() as usize, error.to_string()),
            None => Self::Whole(error.to_string()),
        }
    }
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line { line, message } => write!(f, "line {line}: {message}"),
            Self::Whole(message) => f.write_str(message),
        }
    }
}

impl error::Error for ReadError {}
