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
        Self { folder: folder.into(), hemisphere, clock, window_hours, inputs: Arc::default() }
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
    /// [`Error::File`] with the name as the scenario gives it.
    pub fn read(&self, path: &Path) -> Result<Vec<u8>, Error> {
        let bytes = fs::read(self.folder.join(path)).map_err(|error| Error::File {
            path: path.to_owned(),
            message: format!("cannot be read: {error}"),
        })?;
        self.note(&path.to_string_lossy(), &bytes);
        Ok(bytes)
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
