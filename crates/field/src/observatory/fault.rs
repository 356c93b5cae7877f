use std::{error, fmt};

use crate::ReadError;

/// What is wrong with the files of a station.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum StationFileError {
    /// One file cannot be read.
    File {
        /// The file's name.
        name: String,
        /// What is wrong with it.
        error: ReadError,
    },
    /// Two files do not belong together.
    Pair {
        /// The names of the two.
        names: [String; 2],
        /// What sets them apart.
        message: String,
    },
    /// The files as a whole do not give what is wanted.
    Whole(String),
}

impl fmt::Display for StationFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File { name, error } => write!(f, "{name}: {error}"),
            Self::Pair { names: [first, second], message } => {
                write!(f, "{first} and {second}: {message}")
            }
            Self::Whole(message) => f.write_str(message),
        }
    }
}

impl error::Error for StationFileError {}
