//! Cancelling and progress, handed down to every long computation.

use std::{
    fmt,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

use crate::Error;

/// Receives the progress of a long computation. Calls may come from any thread.
pub trait Progress: Send + Sync {
    /// A stage of `total` steps begins; it replaces the stage before.
    fn begin(&self, stage: &str, total: u64);
    /// `steps` more steps of the present stage are done.
    fn advance(&self, steps: u64);
}

/// The caller's hold on a running computation: a flag to stop it and a listener for its progress.
#[derive(Clone, Default)]
pub struct Control {
    cancelled: Arc<AtomicBool>,
    progress: Option<Arc<dyn Progress>>,
}

impl fmt::Debug for Control {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Control").field("cancelled", &self.is_cancelled()).finish_non_exhaustive()
    }
}

impl Control {
    /// A control that reports to `progress`.
    #[must_use]
    pub fn with_progress(progress: Arc<dyn Progress>) -> Self {
        Self { progress: Some(progress), ..Self::default() }
    }

    /// The same hold without the listener, for the parts of a computation that tells its progress by
    /// steps of its own.
    #[must_use]
    pub fn unheard(&self) -> Self {
        Self { cancelled: Arc::clone(&self.cancelled), progress: None }
    }

    /// Asks the computation to stop; it does so at its next [`Control::check`].
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    /// Whether stopping was asked for.
    #[must_use]
    pub fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }

    /// Call at least every few tens of milliseconds in a long computation.
    ///
    /// # Errors
    ///
    /// [`Error::Cancelled`] once stopping was asked for.
    pub fn check(&self) -> Result<(), Error> {
        if self.is_cancelled() { Err(Error::Cancelled) } else { Ok(()) }
    }

    /// Tells the listener, if any, that a stage begins.
    pub fn begin(&self, stage: &str, total: u64) {
        if let Some(progress) = &self.progress {
            progress.begin(stage, total);
        }
    }

    /// Tells the listener, if any, that steps are done.
    pub fn advance(&self, steps: u64) {
        if let Some(progress) = &self.progress {
            progress.advance(steps);
        }
    }
}
