//! What every laid layer here has in common: a schedule, and something that it shows.

use std::{fmt::Debug, ops::Range};

use dipward_plugin::{Beyond, Change, Error, Laid, Outline, Quantity};

use super::schedule::Schedule;

/// Values of a layer on the grid, one set a state.
pub(super) trait Show: Debug + Send + Sync {
    /// Writes what a state shows of one quantity in a run of cells.
    ///
    /// `out` has the length of `cells` and comes as "not covered", which it stays where nothing is
    /// written.
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]);

    /// Outlines for the map, of the state shown first.
    fn outlines(&self, _first: Option<usize>) -> Vec<Outline> {
        Vec::new()
    }
}

/// A laid layer that shows its states by a schedule.
#[derive(Debug)]
pub(super) struct Scheduled<S> {
    pub(super) schedule: Schedule,
    pub(super) show: S,
}

impl<S: Show> Scheduled<S> {
    /// A layer that never changes: it shows its state 0.
    pub(super) fn always(show: S) -> Self {
        Self { schedule: Schedule::always(), show }
    }
}

impl<S: Show> Laid for Scheduled<S> {
    fn hours(&self) -> &[f64] {
        self.schedule.hours()
    }

    fn change(&self) -> Change {
        self.schedule.change()
    }

    fn beyond(&self) -> Beyond {
        self.schedule.beyond()
    }

    fn data_hour(&self, instant: usize) -> Option<f64> {
        self.schedule.data_hour(instant)
    }

    fn fill(
        &self,
        quantity: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        out.fill(f32::NAN);
        if let Some(state) = self.schedule.shows(instant) {
            self.show.show(state, quantity, cells, out);
        }
        Ok(())
    }

    fn outlines(&self) -> Vec<Outline> {
        self.show.outlines(self.schedule.shows(0))
    }
}
