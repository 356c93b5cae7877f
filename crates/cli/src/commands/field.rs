//! `dipward field`.
//!
//! ```text
//!   read a batch of rows -> group its points by epoch -> sample each group -> write the batch
//! ```
//!
//! One batch is held at a time, so that a file of any length is computed in the same memory.

mod columns;
mod sampling;

use std::{
    fs::File,
    io::{self, BufReader, BufWriter, Read, Write},
    path::Path,
};

use csv::{ByteRecord, Reader, ReaderBuilder, Terminator, Trim, WriterBuilder};
use dipward_geodesy::Hemisphere;
use dipward_plugin::MainField;

use self::{
    columns::{ADDED, Columns, Point},
    sampling::sample,
};
use crate::{arguments::Field, commands::main_field::main_field, exit::Failure, run::Session};

/// Rows held at a time: enough for every thread to have its share of each epoch.
const BATCH: usize = 16_384;

pub(crate) fn field(session: &Session<'_>, request: &Field) -> Result<(), Failure> {
    // Only a pole has a hemisphere; a main field does not depend on it.
    let built = main_field(session, &request.model, Hemisphere::North)?;
    let name = if is_stdin(&request.points) {
        "standard input".to_owned()
    } else {
        request.points.display().to_string()
    };
    let points =
        open(&request.points).map_err(|error| Failure::request(format_args!("{name}: {error}")))?;
    let run = Run { session, model: built.object.as_ref(), name: &name };
    match &request.out {
        None => {
            let out = BufWriter::new(io::stdout().lock());
            run.copy(points, out, &|error| Failure::of_stdout(error))
        }
        Some(path) => run.copy_to_file(points, path),
    }
}

fn is_stdin(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn open(path: &Path) -> io::Result<Box<dyn Read>> {
    if is_stdin(path) {
        return Ok(Box::new(io::stdin().lock()));
    }
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "is a folder, not a file"));
    }
    Ok(Box::new(BufReader::new(file)))
}

struct Run<'a> {
    session: &'a Session<'a>,
    model: &'a dyn MainField,
    name: &'a str,
}

impl Run<'_> {
    /// Writes beside the target and puts the file in its place once it is whole.
    fn copy_to_file(&self, points: Box<dyn Read>, path: &Path) -> Result<(), Failure> {
        let failed = |error: &io::Error| {
            Failure::other(format_args!("{}: cannot be written: {error}", path.display()))
        };
        let refused = |error: &io::Error| {
            Failure::request(format_args!("{}: cannot be written: {error}", path.display()))
        };
        if path.is_dir() {
            return Err(refused(&io::Error::new(io::ErrorKind::IsADirectory, "it is a folder")));
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let scratch = new_file_in(folder).map_err(|error| refused(&error))?;
        self.session.interrupt.leave_no(Some(scratch.path()));
        self.copy(points, BufWriter::new(scratch.as_file()), &failed)?;
        scratch.as_file().sync_all().map_err(|error| failed(&error))?;
        let placed = self.session.interrupt.unbroken(|| scratch.persist(path))?;
        self.session.interrupt.leave_no(None);
        placed.map(drop).map_err(|error| failed(&error.error))
    }

    fn copy(
        &self,
        points: Box<dyn Read>,
        out: impl Write,
        failed: &dyn Fn(&io::Error) -> Failure,
    ) -> Result<(), Failure> {
        let control = self.session.control;
        let mut reader = ReaderBuilder::new().trim(Trim::Headers).from_reader(points);
        let headers = reader.byte_headers().map_err(|error| self.of_row(error))?.clone();
        let columns = Columns::of(&headers)
            .map_err(|message| Failure::request(format_args!("{}: {message}", self.name)))?;
        let mut writer = WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(out);
        let of_write = |error: csv::Error| failed(&into_io(error));
        for title in headers.iter().chain(ADDED.iter().map(|title| title.as_bytes())) {
            writer.write_field(title).map_err(of_write)?;
        }
        writer.write_record(None::<&[u8]>).map_err(of_write)?;

        control.begin("points", 0);
        let mut batch = Batch::default();
        loop {
            control.check()?;
            let more = batch.read(&mut reader, &columns, self)?;
            let vectors = sample(self.model, &batch.points, control)
                .map_err(|wrong| wrong.failure(self.name))?;
            for (record, vector) in batch.rows.iter().zip(&vectors) {
                columns::write_row(&mut writer, record, vector).map_err(of_write)?;
            }
            control.advance(vectors.len() as u64);
            if !more {
                break;
            }
        }
        writer.flush().map_err(|error| failed(&error))
    }

    fn of_row(&self, error: csv::Error) -> Failure {
        let line = error.position().map(|position| format!(":{}", position.line()));
        let message = match error.kind() {
            csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                format!("{len} fields stand where the heading has {expected_len}")
            }
            csv::ErrorKind::Io(error) => error.to_string(),
            _ => error.to_string(),
        };
        Failure::request(format_args!("{}{}: {message}", self.name, line.unwrap_or_default()))
    }
}

/// Rows and the points read off them; the records are used again for the next batch.
#[derive(Debug, Default)]
struct Batch {
    rows: Vec<ByteRecord>,
    spare: Vec<ByteRecord>,
    points: Vec<Point>,
}

impl Batch {
    /// Reads the next rows. Returns whether there may be more.
    fn read(
        &mut self,
        reader: &mut Reader<Box<dyn Read>>,
        columns: &Columns,
        run: &Run<'_>,
    ) -> Result<bool, Failure> {
        self.spare.append(&mut self.rows);
        self.points.clear();
        while self.rows.len() < BATCH {
            let mut record = self.spare.pop().unwrap_or_default();
            if !reader.read_byte_record(&mut record).map_err(|error| run.of_row(error))? {
                return Ok(false);
            }
            let line = record.position().map_or(0, csv::Position::line);
            let point = columns.point(&record, line).map_err(|message| {
                Failure::request(format_args!("{}:{line}: {message}", run.name))
            })?;
            self.points.push(point);
            self.rows.push(record);
        }
        Ok(true)
    }
}

/// A file that becomes the result, with the rights of any new file.
fn new_file_in(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".dipward-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The user's mask still applies.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

fn into_io(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}
