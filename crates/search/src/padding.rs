//! The grid with a rim of closed cells, so that no move needs to ask where the grid ends, in strips.
//!
//! A front that runs down a wide grid has each of its cells in another page of memory, and the
//! processor keeps the addresses of a few thousand pages at hand. So a wide grid is laid out in strips
//! of columns, one after the other:
//!
//! ```text
//!     columns of the grid      0 1 2 3 4 5 6 7 8 9 A B
//!
//!     first strip        . . . 0 1 2 3 4 5|6 7 8 .        . rim, closed
//!     second strip       3 4 5|6 7 8 9 A B|. . . .
//! ```
//!
//! Where strips meet, the rim holds copies of the neighbour's columns: moves read them, and know of no
//! strips. A cell has one index that is its own; labels belong to that, and a label's cost is written to
//! the copy as well.

use std::ops::Range;

use dipward_geodesy::{Cell, Grid};

use crate::stencil::{REACH, offset_of};

/// Index arithmetic of the padded grid, row-major in strips.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Padding {
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    /// Cells of a strip's row, with its rim: one more than the rim asks for, as windows are read four
    /// cells at a time.
    pub(crate) stride: usize,
    /// Columns of the grid in a strip.
    width: usize,
    strips: usize,
    /// 2^64 over the stride, rounded up.
    per_stride: u64,
}

/// Columns of a strip: a page of 4 KiB holds five of its rows. Rows a power of two long would not do, for
/// the caches keep what lies that far apart in the same few places.
const WIDTH: usize = 201;

/// A rim on both sides, and one cell more.
const RIM: usize = 2 * REACH + 1;

impl Padding {
    pub(crate) fn new(grid: &Grid) -> Self {
        let columns = grid.columns() as usize;
        // Where rows are shorter than a page, strips cost as much as they give (measured at 1000 columns).
        Self::in_strips(grid, if columns > 5 * WIDTH { WIDTH } else { columns })
    }

    /// In strips of a width, at least twice the reach of a move.
    pub(crate) fn in_strips(grid: &Grid, width: usize) -> Self {
        let (columns, rows) = (grid.columns() as usize, grid.rows() as usize);
        let width = width.max(1);
        let stride = width + RIM;
        let strips = columns.div_ceil(width).max(1);
        Self { columns, rows, stride, width, strips, per_stride: u64::MAX / stride as u64 + 1 }
    }

    /// Cells of a strip with its rim.
    fn strip(self) -> usize {
        self.stride * (self.rows + 2 * REACH)
    }

    /// From a cell's own index to its copy in the strip before.
    #[inline(always)]
    fn back(self) -> usize {
        self.strip() - self.width
    }

    /// Cells with the rim.
    pub(crate) fn len(self) -> usize {
        self.strip() * self.strips
    }

    /// Index of a row and column of the grid.
    pub(crate) fn at(self, row: usize, column: usize) -> usize {
        let (strip, within) = (column / self.width, column % self.width);
        strip * self.strip() + (row + REACH) * self.stride + within + REACH
    }

    /// The parts of a row that lie side by side: their columns and the index of the first.
    pub(crate) fn parts(self, row: usize) -> impl Iterator<Item = (Range<usize>, usize)> {
        (0..self.columns).step_by(self.width).map(move |column| {
            (column..(column + self.width).min(self.columns), self.at(row, column))
        })
    }

    /// Padded index of a cell of the grid.
    pub(crate) fn padded(self, cell: Cell) -> usize {
        let cell = cell as usize;
        self.at(cell / self.columns, cell % self.columns)
    }

    /// The cell of the grid whose own index it is, or nothing in the rim.
    pub(crate) fn cell_at(self, index: usize) -> Option<Cell> {
        let (strip, place) = (index / self.strip(), index % self.strip());
        let row = (place / self.stride).checked_sub(REACH)?;
        let within = (place % self.stride).checked_sub(REACH)?;
        let column = strip * self.width + within;
        (row < self.rows && within < self.width && column < self.columns)
            .then(|| (row * self.columns + column) as Cell)
    }

    /// The padded index a place of the window away from a cell's own index; it may be a copy.
    pub(crate) fn shifted(self, index: usize, place: u8) -> usize {
        let (dcolumn, drow) = offset_of(place);
        index.wrapping_add_signed(drow as isize * self.stride as isize + dcolumn as isize)
    }

    /// The place of an index in its row: the remainder by the stride (D. Lemire, O. Kaser and N. Kurz,
    /// Faster remainder by direct computation, Software: Practice and Experience 49, 2019).
    #[inline(always)]
    fn within(self, index: usize) -> usize {
        let low = self.per_stride.wrapping_mul(index as u64);
        ((u128::from(low) * self.stride as u128) >> 64) as usize
    }

    /// Whether the grid lies in one piece, so that no cell has a copy.
    pub(crate) fn is_whole(self) -> bool {
        self.strips == 1
    }

    /// Whether an index is a cell's own and has no copy, which most have: all that is beside no rim.
    #[inline(always)]
    pub(crate) fn is_alone(self, index: usize) -> bool {
        self.within(index).wrapping_sub(2 * REACH) < self.width - 2 * REACH
    }

    /// The own index of the cell at an index that a move leads to.
    pub(crate) fn own(self, index: usize) -> usize {
        if self.strips == 1 {
            return index;
        }
        let within = self.within(index);
        let own = if within < REACH {
            index.wrapping_sub(self.back())
        } else if within >= self.width + REACH {
            index + self.back()
        } else {
            return index;
        };
        // Beyond the first and the last strip there is the rim alone.
        if own < self.len() { own } else { index }
    }

    /// Where the cell of an own index has its copy, if it has one. A state beyond the cells has none.
    pub(crate) fn copy_of(self, index: usize) -> Option<usize> {
        // Further states of a cell are numbered from the last index on.
        if self.strips == 1 || index >= self.len() {
            return None;
        }
        let within = self.within(index);
        let copy = if within < 2 * REACH {
            index.wrapping_sub(self.back())
        } else if within >= self.width {
            index + self.back()
        } else {
            return None;
        };
        (copy < self.len()).then_some(copy)
    }

    /// Copies what the own indices hold.
    pub(crate) fn copy_rims(self, values: &mut [f32]) {
        for column in (self.width..self.columns).step_by(self.width) {
            for row in 0..self.rows {
                let first = self.at(row, column);
                let before = self.at(row, column - REACH);
                let beside = self.columns.min(column + REACH) - column;
                values.copy_within(first..first + beside, before + REACH);
                values.copy_within(before..before + REACH, first - REACH);
            }
        }
    }
}
