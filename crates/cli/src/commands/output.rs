//! Where the files of a command go.

use std::{
    io::{self, BufWriter, StdoutLock, Write},
    path::Path,
};

use dipward_plugin::OutputFile;
use serde::Serialize;

use crate::{arguments::Format, console, exit::Failure, run::Session};

/// Tells before anything is computed that nothing could be written.
pub(crate) fn check_folder(out: &Path) -> Result<(), Failure> {
    let refuse = |what: &str| {
        Failure::request(format_args!("{}: {what}; give another folder to --out", out.display()))
    };
    if out.as_os_str().is_empty() {
        return Err(refuse("no folder"));
    }
    // The nearest part of the path that is there decides: what is missing is made below it.
    let standing = out
        .ancestors()
        .map(|path| if path.as_os_str().is_empty() { Path::new(".") } else { path })
        .find(|path| path.symlink_metadata().is_ok());
    match standing {
        Some(folder) if folder.is_dir() => tempfile::Builder::new()
            .prefix(".dipward-")
            .tempfile_in(folder)
            .map(drop)
            .map_err(|error| refuse(&format!("cannot be written to: {}", error.kind()))),
        Some(other) => Err(refuse(&format!("{} is not a folder", other.display()))),
        None => Err(refuse("is nowhere")),
    }
}

/// Writes the files into a folder, all or none: an interruption waits for the last of them.
pub(crate) fn write_files(
    session: &Session<'_>,
    out: &Path,
    files: &[OutputFile],
) -> Result<(), Failure> {
    session
        .interrupt
        .unbroken(|| dipward_report::write_all(out, files))?
        .map_err(|error| failure_of_writing(out, &error))
}

/// A file of JSON.
pub(crate) fn json_file(name: &str, value: &impl Serialize) -> Result<OutputFile, Failure> {
    let mut bytes = serde_json::to_vec_pretty(value)
        .map_err(|error| Failure::other(format_args!("{name} cannot be written: {error}")))?;
    bytes.push(b'\n');
    Ok(OutputFile { name: name.to_owned(), bytes })
}

/// Prints what was found as a table or as JSON.
pub(crate) fn print_as<T: Serialize>(
    format: Format,
    found: &T,
    table: impl FnOnce(&mut BufWriter<StdoutLock<'static>>) -> io::Result<()>,
) -> Result<(), Failure> {
    console::print(|out| match format {
        Format::Table => table(out),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, found).map_err(io::Error::from)?;
            writeln!(out)
        }
    })
}

fn failure_of_writing(out: &Path, error: &io::Error) -> Failure {
    match error.kind() {
        // Two writers that claim one name, or a folder where a file is to go.
        io::ErrorKind::InvalidInput
        | io::ErrorKind::IsADirectory
        | io::ErrorKind::NotADirectory
        | io::ErrorKind::PermissionDenied => Failure::request(error),
        _ => Failure::other(format_args!("{}: {error}", out.display())),
    }
}
