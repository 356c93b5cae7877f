//! Maps whose coordinates a file lists: axes with uneven steps, and a longitude and latitude for each pixel.
//!
//! Their "map coordinates" are columns and rows: the first pixel goes from 0 to 1, and its own coordinates
//! are those of its middle.

mod axes;
mod surface;

use std::sync::Arc;

use dipward_geodesy::Position;

pub(crate) use axes::ListedAxes;
pub(crate) use surface::ListedSurface;

/// A listed map.
#[derive(Debug, Clone)]
pub(crate) enum Listed {
    /// One list for the columns and one for the rows.
    Axes(Arc<ListedAxes>),
    /// A position for each pixel.
    Surface(Arc<ListedSurface>),
}

impl Listed {
    /// Column and row; not a number, or outside the image, where it shows none.
    pub(crate) fn coordinates(&self, at: Position) -> [f64; 2] {
        match self {
            Self::Axes(axes) => axes.coordinates(at),
            Self::Surface(surface) => surface.coordinates(at),
        }
    }

    /// The position of a column and row.
    pub(crate) fn position(&self, at: [f64; 2]) -> Position {
        match self {
            Self::Axes(axes) => axes.position(at),
            Self::Surface(surface) => surface.position(at),
        }
    }
}

impl PartialEq for Listed {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Axes(a), Self::Axes(b)) => a == b,
            (Self::Surface(a), Self::Surface(b)) => Arc::ptr_eq(a, b),
            _ => false,
        }
    }
}
