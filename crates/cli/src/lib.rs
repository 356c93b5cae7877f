//! The command line of dipward.
