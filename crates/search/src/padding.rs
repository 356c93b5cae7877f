//! The grid with a rim of closed cells, so that no move needs to ask where the grid ends.

use dipward_geodesy::{Cell, Grid};

use crate::stencil::{REACH, offset_of};

/// Index arithmetic of the padded grid, row-major.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Padding {
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    /// One more than the rim asks for: windows are read four cells at a time.
    pub(crate) stride: usize,
}

impl Padding {
    pub(crate) fn new(grid: &Grid) -> Self {
        let (columns, rows) = (grid.columns() as usize, grid.rows() as usize);
        Self { columns, rows, stride: columns + 2 * REACH + 1 }
    }

    /// Cells with the rim.
    pub(crate) fn len(self) -> usize {
        self.stride * (self.rows + 2 * REACH)
    }

    /// Index of a row and column of the grid.
    pub(crate) fn at(self, row: usize, column: usize) -> usize {
        (row + REACH) * self.stride + column + REACH
    }

    /// Padded index of a cell of the grid.
    pub(crate) fn padded(self, cell: Cell) -> usize {
        let cell = cell as usize;
        self.at(cell / self.columns, cell % self.columns)
    }

    /// The cell of the grid at a padded index, or nothing in the rim.
    pub(crate) fn cell_at(self, index: usize) -> Option<Cell> {
        let row = (index / self.stride).checked_sub(REACH)?;
        let column = (index % self.stride).checked_sub(REACH)?;
        (row < self.rows && column < self.columns).then(|| (row * self.columns + column) as Cell)
    }

    /// The padded index a place of the window away.
    pub(crate) fn shifted(self, index: usize, place: u8) -> usize {
        let (dcolumn, drow) = offset_of(place);
        index.wrapping_add_signed(drow as isize * self.stride as isize + dcolumn as isize)
    }

    /// Index of the window's first place.
    #[inline]
    pub(crate) fn window_start(self, index: usize) -> usize {
        index - (REACH * self.stride + REACH)
    }
}
