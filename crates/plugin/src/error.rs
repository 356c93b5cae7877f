use std::{error, fmt, path::PathBuf};

/// What a plug-in or a room of the house could not do.
///
/// One type serves every extension point, because the host treats all failures alike: it names the
/// plug-in, prints the message and stops. What is wrong with the *scenario* is told by
/// [`Fault`](crate::Fault)s, which have places.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// The user stopped the run.
    Cancelled,
    /// A file is missing, unreadable or not what it should be.
    File {
        /// The file, as the scenario names it.
        path: PathBuf,
        /// What is wrong with it, and what would do.
        message: String,
    },
    /// The request lies outside what the model or the data cover.
    Outside(String),
    /// A computation did not come to an answer.
    Unsolved(String),
    /// A plug-in broke its contract.
    Contract {
        /// The kind at fault.
        kind: String,
        /// What it returned.
        message: String,
    },
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cancelled => f.write_str("stopped at the user's request"),
            Self::File { path, message } => write!(f, "{}: {message}", path.display()),
            Self::Outside(message) | Self::Unsolved(message) => f.write_str(message),
            Self::Contract { kind, message } => write!(f, "the plug-in `{kind}` {message}"),
        }
    }
}

impl error::Error for Error {}
