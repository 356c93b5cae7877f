use std::{fmt::Debug, ops::Range};

use dipward_geodesy::Grid;
use geo::MultiPolygon;

use crate::{Assumption, Clock, Control, Error, Provenance, Quantity};

/// The grid and the clock that a layer is laid on.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The chart's grid.
    pub grid: &'a Grid,
    /// The scenario's clock.
    pub clock: Clock,
}

/// How a layer's values change between its instants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// Linearly.
    Linear,
    /// Each instant's values hold until the next instant.
    Step,
}

/// What holds before a layer's first instant and after its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// The nearest instant's values.
    Hold,
    /// Nothing: the cells are not covered then.
    Uncovered,
    /// The plan must not ask: an error.
    Refuse,
}

/// An outline for the map, in the grid's projected metres.
#[derive(Debug, Clone)]
pub struct Outline {
    /// What it is the outline of.
    pub quantity: Quantity,
    /// The areas.
    pub areas: MultiPolygon<f64>,
}

/// One source of one or more quantities. YAML slot `chart.layers[]`.
pub trait Layer: Debug + Send + Sync {
    /// What the layer gives.
    fn quantities(&self) -> Vec<Quantity>;

    /// Name and source.
    fn provenance(&self) -> Provenance;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }

    /// Prepares the layer for a grid: reads, reprojects, rasterises.
    ///
    /// # Errors
    ///
    /// [`Error::File`] for data that cannot be read; [`Error::Outside`] where the layer cannot serve
    /// the grid at all; [`Error::Cancelled`].
    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error>;
}

/// A layer made ready for one grid.
pub trait Laid: Debug + Send + Sync {
    /// The hours of the layer's instants, increasing; empty for a layer that does not change.
    fn hours(&self) -> &[f64];

    /// How values change between the instants.
    fn change(&self) -> Change;

    /// What holds outside the instants.
    fn beyond(&self) -> Beyond;

    /// Fills `out` with one quantity of a run of cells at one instant.
    ///
    /// # Arguments
    ///
    /// `instant` indexes [`Laid::hours`] and is 0 for a layer that does not change. `out` has the
    /// length of `cells`. A value that is not a number means that the layer does not cover the cell:
    /// unknown, which is never the same as open water.
    ///
    /// # Errors
    ///
    /// [`Error::File`] for data that turn out to be unreadable.
    fn fill(
        &self,
        quantity: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error>;

    /// The hour of the data that an instant shows, which its age is reckoned from: the instant's own,
    /// unless the layer shows older data anew. Nothing where it shows none.
    fn data_hour(&self, instant: usize) -> Option<f64> {
        self.hours().get(instant).copied()
    }

    /// Outlines for the map, if the layer has better ones than its cells.
    fn outlines(&self) -> Vec<Outline> {
        Vec::new()
    }
}
