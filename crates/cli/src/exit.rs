//! How a command ends.

use std::{io, process::ExitCode};

use dipward_plugin::Error;

/// What is said when the user stops a run.
pub(crate) const STOPPED: &str = "stopped; no file was written";

/// Why a command did not do all that it was asked for.
#[derive(Debug, PartialEq)]
pub(crate) enum Failure {
    /// The request or the scenario is wrong: exit status 2.
    Request(String),
    /// No approach is feasible: exit status 3.
    NoApproach(String),
    /// The user stopped the run: exit status 1.
    Cancelled,
    /// Whoever read standard output has seen enough: no failure to them.
    ReaderGone,
    /// Anything else: exit status 1.
    Other(String),
}

impl Failure {
    /// The text for standard error; empty where nothing is to be said.
    pub(crate) fn text(&self) -> String {
        match self {
            Self::Request(text) | Self::NoApproach(text) | Self::Other(text) => text.clone(),
            Self::Cancelled => STOPPED.to_owned(),
            Self::ReaderGone => String::new(),
        }
    }

    /// The exit status.
    pub(crate) fn code(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::ReaderGone => 0,
            Self::Cancelled | Self::Other(_) => 1,
            Self::Request(_) => 2,
            Self::NoApproach(_) => 3,
        })
    }

    /// A wrong request, in a sentence.
    pub(crate) fn request(message: impl std::fmt::Display) -> Self {
        Self::Request(format!("error: {message}"))
    }

    /// Any other failure, in a sentence.
    pub(crate) fn other(message: impl std::fmt::Display) -> Self {
        Self::Other(format!("error: {message}"))
    }

    /// A failure to write standard output.
    pub(crate) fn of_stdout(error: &io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Self::ReaderGone
        } else {
            Self::other(format_args!("standard output: {error}"))
        }
    }
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        match error {
            Error::Cancelled => Self::Cancelled,
            // A file that is not what it should be and a request beyond the data are the user's to
            // mend; the rest is not.
            Error::File { .. } | Error::Outside(_) => Self::request(error),
            _ => Self::other(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_that_leaves_is_no_failure() {
        let gone = io::Error::from(io::ErrorKind::BrokenPipe);
        assert_eq!(Failure::of_stdout(&gone), Failure::ReaderGone);
        assert!(Failure::ReaderGone.text().is_empty());
        let full = io::Error::from(io::ErrorKind::StorageFull);
        assert!(matches!(Failure::of_stdout(&full), Failure::Other(_)));
    }
}
