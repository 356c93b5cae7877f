//! The progress bar and the list of stages on standard error.

use std::{
    sync::{
        Mutex, PoisonError,
        mpsc::{self, RecvTimeoutError, Sender},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use dipward_plugin::Progress;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::console::Console;

/// What takes less than this needs no bar.
const PATIENCE: Duration = Duration::from_secs(1);
const TICK: Duration = Duration::from_millis(100);

/// Shows how far a run has come: a bar on a terminal once the run has lasted a second, and with
/// `--verbose` a line for each stage that has ended.
#[derive(Debug)]
pub(crate) struct Stages {
    console: Console,
    bar: ProgressBar,
    stage: Mutex<Option<(String, Instant)>>,
    /// Dropped to tell the thread that waits to show the bar that it need not.
    waiting: Mutex<Option<(Sender<()>, JoinHandle<()>)>>,
}

impl Stages {
    /// A listener that begins to wait for its first second now.
    pub(crate) fn new(console: Console) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        let waiting = (console.terminal && !console.quiet).then(|| {
            let (sender, receiver) = mpsc::channel::<()>();
            let shown = bar.clone();
            let thread = thread::spawn(move || {
                if receiver.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                    shown.set_draw_target(ProgressDrawTarget::stderr());
                    shown.enable_steady_tick(TICK);
                }
            });
            (sender, thread)
        });
        Self { console, bar, stage: Mutex::default(), waiting: Mutex::new(waiting) }
    }

    /// Ends the present stage and takes the bar away.
    pub(crate) fn end(&self) {
        self.turn(None);
        let waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some((sender, thread)) = waiting {
            drop(sender);
            // It only waits and shows the bar; a panic in there is not worth another.
            let _ = thread.join();
        }
        self.bar.finish_and_clear();
    }

    /// Changes what the bar says of the present stage.
    pub(crate) fn label(&self, text: &str) {
        self.bar.set_message(text.to_owned());
    }

    fn turn(&self, next: Option<&str>) {
        let next = next.map(|stage| (stage.to_owned(), Instant::now()));
        // A panic elsewhere cannot leave the stage half changed.
        let mut stage = self.stage.lock().unwrap_or_else(PoisonError::into_inner);
        let ended = std::mem::replace(&mut *stage, next);
        drop(stage);
        if let (true, Some((stage, since))) = (self.console.verbose, ended) {
            let line = format!("{:8.2} s  {stage}", since.elapsed().as_secs_f64());
            self.bar.suspend(|| self.console.say(&line));
        }
    }
}

impl Progress for Stages {
    fn begin(&self, stage: &str, total: u64) {
        self.turn(Some(stage));
        self.bar.set_style(style(total > 0));
        self.bar.reset();
        self.bar.set_length(total);
        self.bar.set_message(stage.to_owned());
    }

    fn advance(&self, steps: u64) {
        self.bar.inc(steps);
    }
}

impl Drop for Stages {
    fn drop(&mut self) {
        self.end();
    }
}

/// A bar where the number of steps is known, else a count.
fn style(total_known: bool) -> ProgressStyle {
    let template = if total_known {
        "{spinner} {msg} [{bar:30}] {percent:>3} % {elapsed}"
    } else {
        "{spinner} {msg} {human_pos} {elapsed}"
    };
    ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_run_ends_without_waiting_for_its_bar() {
        let console = Console { quiet: false, verbose: false, terminal: true, coloured: false };
        let start = Instant::now();
        let stages = Stages::new(console);
        stages.begin("a stage", 3);
        stages.advance(3);
        stages.end();
        assert!(stages.bar.is_hidden());
        drop(stages);
        assert!(start.elapsed() < PATIENCE);
    }
}
