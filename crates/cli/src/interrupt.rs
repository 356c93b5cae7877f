//! Ctrl-C: a run stops within a second and leaves nothing half written.
//!
//! ```text
//!   first    the computation is asked to stop; after GRACE the process ends if it has not
//!   second   the process ends at once
//! ```
//!
//! While files are put in place neither ends the process: that takes as long as the disk needs, and
//! what is written is whole.

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
    process,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    thread,
    time::Duration,
};

use dipward_plugin::{Control, Error};

use crate::exit::{Failure, STOPPED};

/// How long a computation may take to stop when asked; less than a second with all that follows.
const GRACE: Duration = Duration::from_millis(800);

#[derive(Debug, Default, PartialEq, Eq)]
enum Phase {
    /// Nothing is lost when the process ends.
    #[default]
    Free,
    /// Files are being put in place.
    Writing,
    /// The run is over; the process may belong to somebody else's program.
    Over,
}

#[derive(Debug, Default)]
struct State {
    phase: Phase,
    asked: bool,
    /// A file that must not be left behind.
    scratch: Option<PathBuf>,
}

/// The hold that Ctrl-C has on a run. Dropping it lets go.
#[derive(Debug)]
pub(crate) struct Interrupt {
    control: Control,
    state: Arc<Mutex<State>>,
}

impl Interrupt {
    /// Lets Ctrl-C stop what `control` holds.
    ///
    /// A request to terminate and a hang-up keep their usual effect, so that `nohup` has its own.
    pub(crate) fn watch(control: &Control) -> Result<Self, Failure> {
        let state = Arc::default();
        let handler = on_signal(control.clone(), Arc::clone(&state));
        match ctrlc::set_handler(handler) {
            // The handler of a host program, or of an earlier run in this process, stays.
            Ok(()) | Err(ctrlc::Error::MultipleHandlers) => {}
            Err(error) => return Err(Failure::other(format_args!("Ctrl-C: {error}"))),
        }
        Ok(Self { control: control.clone(), state })
    }

    /// Does what must not be broken off half-way.
    ///
    /// # Errors
    ///
    /// [`Failure::Cancelled`], with nothing done, if the run was stopped before.
    pub(crate) fn unbroken<T>(&self, work: impl FnOnce() -> T) -> Result<T, Failure> {
        {
            let mut state = lock(&self.state);
            if self.control.is_cancelled() {
                return Err(Error::Cancelled.into());
            }
            state.phase = Phase::Writing;
        }
        let done = work();
        lock(&self.state).phase = Phase::Free;
        Ok(done)
    }

    /// Names a file to remove should the process end in haste; `None` once it is in its place.
    pub(crate) fn leave_no(&self, scratch: Option<&Path>) {
        lock(&self.state).scratch = scratch.map(Path::to_owned);
    }
}

impl Drop for Interrupt {
    fn drop(&mut self) {
        lock(&self.state).phase = Phase::Over;
    }
}

fn lock(state: &Mutex<State>) -> MutexGuard<'_, State> {
    // The state is plain values, each right by itself.
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

fn on_signal(control: Control, state: Arc<Mutex<State>>) -> impl FnMut() + Send + 'static {
    move || {
        control.cancel();
        let asked = std::mem::replace(&mut lock(&state).asked, true);
        if asked {
            end(&state);
        } else {
            let state = Arc::clone(&state);
            thread::spawn(move || {
                thread::sleep(GRACE);
                end(&state);
            });
        }
    }
}

/// Ends the process unless files are being put in place.
fn end(state: &Mutex<State>) {
    // The lock is held to the end, so that no writing begins meanwhile.
    let state = lock(state);
    if state.phase == Phase::Free {
        if let Some(scratch) = &state.scratch {
            let _ = fs::remove_file(scratch);
        }
        let _ = writeln!(io::stderr(), "{STOPPED}");
        process::exit(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn interrupt() -> Interrupt {
        Interrupt { control: Control::default(), state: Arc::default() }
    }

    #[test]
    fn writing_does_not_begin_after_a_stop() {
        let interrupt = interrupt();
        assert_eq!(interrupt.unbroken(|| 7), Ok(7));
        interrupt.control.cancel();
        assert_eq!(interrupt.unbroken(|| 7), Err(Failure::Cancelled));
    }

    #[test]
    fn neither_writing_nor_a_finished_run_is_broken_off() {
        let interrupt = interrupt();
        let state = Arc::clone(&interrupt.state);
        // Were these to end the process, the test would not return.
        interrupt.unbroken(|| end(&state)).unwrap();
        drop(interrupt);
        end(&state);
    }
}
