//! What is said on standard error, and results on standard output.

use std::io::{self, BufWriter, IsTerminal, StdoutLock, Write};

use crate::{arguments::General, exit::Failure};

/// How much is said, and whether in colour.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Console {
    pub(crate) quiet: bool,
    pub(crate) verbose: bool,
    /// Whether standard error is a terminal.
    pub(crate) terminal: bool,
    /// Whether standard error may be coloured.
    pub(crate) coloured: bool,
}

impl Console {
    pub(crate) fn new(general: &General) -> Self {
        let terminal = io::stderr().is_terminal();
        // https://no-color.org: the variable counts where it is set and not empty.
        let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
            || std::env::var_os("TERM").is_some_and(|value| value == "dumb");
        Self {
            quiet: general.quiet,
            verbose: general.verbose,
            terminal,
            coloured: terminal && !plain,
        }
    }

    /// Says what must be said.
    pub(crate) fn say(&self, text: &str) {
        // Where standard error is closed there is nobody left to tell.
        let _ = writeln!(io::stderr().lock(), "{text}");
    }

    /// Says what a quiet run leaves out.
    pub(crate) fn note(&self, text: &str) {
        if !self.quiet {
            self.say(text);
        }
    }
}

/// Writes a result to standard output.
pub(crate) fn print(
    write: impl FnOnce(&mut BufWriter<StdoutLock<'static>>) -> io::Result<()>,
) -> Result<(), Failure> {
    let mut out = BufWriter::new(io::stdout().lock());
    write(&mut out).and_then(|()| out.flush()).map_err(|error| Failure::of_stdout(&error))
}

/// Characters in a line of standard output, where that is a terminal.
pub(crate) fn width() -> Option<usize> {
    terminal_size::terminal_size_of(io::stdout()).map(|(width, _)| usize::from(width.0))
}
