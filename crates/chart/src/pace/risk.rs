//! The risk of each cell, kept beside the pace for the report.

use dipward_geodesy::{Cell, Grid, Position};
use dipward_plugin::{Closure, Travel};

/// Risk index, elevated risk and closure of every cell at the frames of a pace table.
///
/// Where power settings or heading sectors differ, a cell has the lowest risk index of them, is under
/// elevated risk if any is, and is closed only if all are.
///
/// Memory: 6 bytes a cell and frame.
#[derive(Debug, Clone, PartialEq)]
pub struct RiskTable {
    /// The grid.
    pub grid: Grid,
    /// The frames' hours, those of the pace table.
    pub hours: Vec<f64>,
    /// Risk index outcome, shape `[frame][cell]`; not a number where it has no meaning.
    pub risk_index: Vec<f32>,
    /// Whether operation is subject to elevated risk, shape as the index.
    pub elevated: Vec<bool>,
    /// Why the cell is closed, shape as the index.
    pub closure: Vec<Closure>,
}

/// The risk of one cell at one hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RiskSample {
    /// Risk index outcome, not a number where it has no meaning.
    pub risk_index: f32,
    /// Whether operation is subject to elevated risk.
    pub elevated: bool,
    /// Why the cell is closed, if it is.
    pub closure: Closure,
}

impl RiskTable {
    pub(super) fn of_frames(
        grid: Grid,
        hours: Vec<f64>,
        frames: impl Iterator<Item = RiskFrame>,
    ) -> Self {
        let size = hours.len() * grid.len();
        let mut all = RiskFrame::with_capacity(size);
        for frame in frames {
            all.append(frame);
        }
        let RiskFrame { risk_index, elevated, closure } = all;
        Self { grid, hours, risk_index, elevated, closure }
    }

    /// The risk of the cell that holds a position, at an hour.
    ///
    /// Between two frames it is the worse of the two in each respect, because pace is read between
    /// them too. Nothing off the grid.
    #[must_use]
    pub fn sample(&self, hour: f64, at: Position) -> Option<RiskSample> {
        self.of_cell(hour, self.grid.cell_at(at)?)
    }

    /// The same of a cell.
    #[must_use]
    pub fn of_cell(&self, hour: f64, cell: Cell) -> Option<RiskSample> {
        let begun = self.hours.partition_point(|&begin| begin <= hour);
        let before = begun.saturating_sub(1);
        let here = self.at(before, cell)?;
        let at_frame = self.hours.get(before).is_some_and(|&begin| begin >= hour);
        match self.at(begun, cell) {
            Some(next) if !at_frame => Some(RiskSample {
                risk_index: worse(here.risk_index, next.risk_index),
                elevated: here.elevated || next.elevated,
                closure: if here.closure == Closure::Open { next.closure } else { here.closure },
            }),
            _ => Some(here),
        }
    }

    /// The risk of a cell at a frame; nothing for one that the table has not.
    #[must_use]
    pub fn at(&self, frame: usize, cell: Cell) -> Option<RiskSample> {
        if cell as usize >= self.grid.len() {
            return None;
        }
        let place = frame.checked_mul(self.grid.len())?.checked_add(cell as usize)?;
        Some(RiskSample {
            risk_index: *self.risk_index.get(place)?,
            elevated: *self.elevated.get(place)?,
            closure: *self.closure.get(place)?,
        })
    }
}

/// The lower of two risk indices; one that has no meaning gives way.
pub(super) fn worse(a: f32, b: f32) -> f32 {
    a.min(b)
}

/// The risk of a run of cells.
#[derive(Debug)]
pub(super) struct RiskFrame {
    risk_index: Vec<f32>,
    elevated: Vec<bool>,
    closure: Vec<Closure>,
}

impl RiskFrame {
    pub(super) fn with_capacity(cells: usize) -> Self {
        Self {
            risk_index: Vec::with_capacity(cells),
            elevated: Vec::with_capacity(cells),
            closure: Vec::with_capacity(cells),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.risk_index.len()
    }

    pub(super) fn push(&mut self, travel: &Travel) {
        self.risk_index.push(travel.risk_index);
        self.elevated.push(travel.elevated);
        self.closure.push(travel.closure);
    }

    pub(super) fn append(&mut self, mut next: Self) {
        self.risk_index.append(&mut next.risk_index);
        self.elevated.append(&mut next.elevated);
        self.closure.append(&mut next.closure);
    }
}

impl PartialEq for RiskFrame {
    /// Equal bit by bit: an index without meaning equals another.
    fn eq(&self, other: &Self) -> bool {
        let bits = |frame: &Self| -> Vec<u32> {
            frame.risk_index.iter().map(|index| index.to_bits()).collect()
        };
        self.elevated == other.elevated
            && self.closure == other.closure
            && bits(self) == bits(other)
    }
}
