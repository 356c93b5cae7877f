//! The cells that a potential is made over.

use geo::Coord;

use crate::padding::Padding;

/// A rectangle of the grid, its cells halved some times in each direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mesh {
    /// Columns of the grid.
    grid_columns: usize,
    /// The first column and row of the grid.
    left: usize,
    low: usize,
    halvings: u32,
    /// Cells across and along.
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Mesh {
    /// The least mesh that holds some cells of the grid; empty where there are none.
    pub(super) fn about(padding: Padding, halvings: u32, holds: impl Fn(usize) -> bool) -> Self {
        let (mut left, mut right, mut low, mut high) = (usize::MAX, 0, usize::MAX, 0);
        for row in 0..padding.rows {
            for column in 0..padding.columns {
                if holds(row * padding.columns + column) {
                    (left, right) = (left.min(column), right.max(column + 1));
                    (low, high) = (low.min(row), high.max(row + 1));
                }
            }
        }
        Self {
            grid_columns: padding.columns,
            left,
            low,
            halvings,
            columns: right.saturating_sub(left) << halvings,
            rows: high.saturating_sub(low) << halvings,
        }
    }

    /// Cells.
    pub(super) fn len(&self) -> usize {
        self.columns * self.rows
    }

    /// Corners of a row.
    pub(super) fn stride(&self) -> usize {
        self.columns + 1
    }

    /// Corners.
    pub(super) fn corners(&self) -> usize {
        self.stride() * (self.rows + 1)
    }

    /// The part of a cell width that a cell of the mesh is wide.
    pub(super) fn width(&self) -> f64 {
        0.5_f64.powi(self.halvings as i32)
    }

    /// The cell of the grid that a cell is part of.
    pub(super) fn grid_cell(&self, cell: usize) -> usize {
        let (column, row) = (cell % self.columns, cell / self.columns);
        ((row >> self.halvings) + self.low) * self.grid_columns
            + (column >> self.halvings)
            + self.left
    }

    /// The cell of the grid at a place in cell widths.
    pub(super) fn grid_cell_at(&self, place: Coord<f64>) -> Option<usize> {
        let (column, row) = self.cell_at(self.of_place(place))?;
        Some(self.grid_cell(row * self.columns + column))
    }

    /// A place in cell widths of the grid as one in cells of the mesh, from its first corner.
    pub(super) fn of_place(&self, place: Coord<f64>) -> Coord<f64> {
        let first = Coord { x: self.left as f64 - 0.5, y: self.low as f64 - 0.5 };
        (place - first) / self.width()
    }

    /// The column and row of a place in cells of the mesh; nothing where it is off the mesh.
    pub(super) fn cell_at(&self, place: Coord<f64>) -> Option<(usize, usize)> {
        let inside = place.x >= 0.0
            && place.y >= 0.0
            && place.x < self.columns as f64
            && place.y < self.rows as f64;
        inside.then_some((place.x as usize, place.y as usize))
    }

    /// The first column and row of the part that a cell of the grid makes up, and its cells a side; nothing
    /// where it is off the mesh.
    pub(super) fn part(&self, grid_cell: usize) -> Option<(usize, usize, usize)> {
        let column = (grid_cell % self.grid_columns).checked_sub(self.left)? << self.halvings;
        let row = (grid_cell / self.grid_columns).checked_sub(self.low)? << self.halvings;
        (column < self.columns && row < self.rows).then_some((column, row, 1 << self.halvings))
    }
}
