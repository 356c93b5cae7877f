//! What a kind may know of the scenario while it is built.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
};

use dipward_geodesy::Hemisphere;
use sha2::{Digest, Sha256};

use crate::{Clock, Error};

/// The scenario's frame, and the one door to its files.
#[derive(Debug, Clone)]
pub struct BuildContext {
    folder: PathBuf,
    hemisphere: Hemisphere,
    clock: Clock,
    window_hours: f64,
    dates_moved: bool,
    inputs: Arc<Mutex<BTreeMap<String, String>>>,
}

impl BuildContext {
    /// A context for a scenario in `folder`.
    #[must_use]
    pub fn new(
        folder: impl Into<PathBuf>,
        hemisphere: Hemisphere,
        clock: Clock,
        window_hours: f64,
    ) -> Self {
        Self {
            folder: folder.into(),
            hemisphere,
            clock,
            window_hours,
            dates_moved: false,
            inputs: Arc::default(),
        }
    }

    /// The same where the scenario's dates of files have been moved, as a study lets a year's charts stand for
    /// another's: what files say of their own dates is then not held against them.
    #[must_use]
    pub fn with_dates_moved(self, dates_moved: bool) -> Self {
        Self { dates_moved, ..self }
    }

    /// Whether the dates that the scenario states of its files have been moved.
    #[must_use]
    pub const fn dates_moved(&self) -> bool {
        self.dates_moved
    }

    /// Which pole the voyage goes to.
    #[must_use]
    pub const fn hemisphere(&self) -> Hemisphere {
        self.hemisphere
    }

    /// The scenario's clock; hour zero is the start of the window.
    #[must_use]
    pub const fn clock(&self) -> Clock {
        self.clock
    }

    /// Length of the window.
    #[must_use]
    pub const fn window_hours(&self) -> f64 {
        self.window_hours
    }

    /// Reads a file named by the scenario, relative to the scenario's folder, and notes its SHA-256
    /// for the run's record.
    ///
    /// # Errors
    ///
    /// [`Error::File`] with the name as the scenario gives it; for what is no file, such as a device or a
    /// pipe, which may never end, and for one of more than [`BuildContext::MAX_FILE_BYTES`].
    pub fn read(&self, path: &Path) -> Result<Vec<u8>, Error> {
        let wrong = |message: String| Error::File { path: path.to_owned(), message };
        let unreadable = |error: std::io::Error| wrong(format!("cannot be read: {error}"));
        let full = self.folder.join(path);
        // Asked before it is opened: to open a pipe is to wait for its writer.
        let kind = fs::metadata(&full).map_err(unreadable)?;
        if !kind.is_file() {
            let what = if kind.is_dir() { "a folder" } else { "a device or a pipe" };
            return Err(wrong(format!("cannot be read: it is {what}, and no file")));
        }
        if kind.len() > Self::MAX_FILE_BYTES {
            return Err(wrong(format!(
                "cannot be read: it has {} MiB, more than {}: cut out what is needed",
                kind.len() >> 20,
                Self::MAX_FILE_BYTES >> 20
            )));
        }
        let bytes = fs::read(full).map_err(unreadable)?;
        self.note(&path.to_string_lossy(), &bytes);
        Ok(bytes)
    }

    /// The most bytes that an input may have: 4 GiB.
    pub const MAX_FILE_BYTES: u64 = 4 << 30;

    /// Reads a file that lies beside another and belongs to it, where there is one.
    ///
    /// # Errors
    ///
    /// As [`BuildContext::read`], for one that is there.
    pub fn read_beside(&self, path: &Path) -> Result<Option<Vec<u8>>, Error> {
        match fs::exists(self.folder.join(path)) {
            Ok(false) => Ok(None),
            _ => self.read(path).map(Some),
        }
    }

    /// Notes an input by name.
    pub fn note(&self, name: &str, bytes: &[u8]) {
        let digest = Sha256::digest(bytes);
        let hex = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        // A panic elsewhere cannot leave the map half changed: insertion is its only change.
        let mut inputs = self.inputs.lock().unwrap_or_else(PoisonError::into_inner);
        inputs.insert(name.replace('\\', "/"), hex);
    }

    /// The files read so far, with their SHA-256 in hex.
    #[must_use]
    pub fn inputs(&self) -> BTreeMap<String, String> {
        self.inputs.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}
