//! Square cells over a polar stereographic projection.
//!
//! ```text
//!   row 2   8   9  10  11     y
//!   row 1   4   5   6   7     ^
//!   row 0   0   1   2   3     +--> x      index = row * columns + column
//! ```
//!
//! The origin is the centre of cell 0. A cell holds its left and lower sides.

mod covering;
mod edge;
#[cfg(test)]
mod tests;

use geo::{Coord, Rect, coord};
use serde::{Deserialize, Serialize};

use crate::error::{Error, check};
use crate::position::Position;
use crate::projection::PolarStereographic;

/// The index of a cell: row times the number of columns plus column.
pub type Cell = u32;

/// Square cells of one size over a polar stereographic projection.
///
/// ```
/// use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
///
/// # fn main() -> Result<(), dipward_geodesy::Error> {
/// let polar = PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84)?;
/// let grid = Grid::covering(polar, &[position(86.0, 139.0), position(90.0, 0.0)], 2.0, 50.0)?;
///
/// let pole = grid.cell_at(position(90.0, 0.0)).expect("covered");
/// let above = grid.neighbour(pole, 0, 1).expect("inside");
/// let edge_km = grid.edge_km(pole, above).expect("both inside");
/// assert!((edge_km - 2.0 / grid.point_scale(pole).expect("inside")).abs() < 1e-6);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Parts")]
pub struct Grid {
    projection: PolarStereographic,
    /// Centre of cell 0, metres.
    origin: Coord<f64>,
    cell_m: f64,
    columns: u32,
    rows: u32,
}

/// A grid as it is read, before it is checked.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Parts {
    projection: PolarStereographic,
    origin: Coord<f64>,
    cell_m: f64,
    columns: u32,
    rows: u32,
}

impl TryFrom<Parts> for Grid {
    type Error = Error;

    fn try_from(parts: Parts) -> Result<Self, Error> {
        Self::new(parts.projection, parts.origin, parts.cell_m, parts.columns, parts.rows)
    }
}

impl Grid {
    /// The most cells a grid may have.
    pub const MAX_CELLS: u32 = 1 << 28;

    /// A grid given by the centre of its cell 0.
    ///
    /// # Arguments
    ///
    /// * `origin`: centre of the cell of row 0 and column 0, the lower left one, metres.
    /// * `cell_m`: side of a cell on the map, metres, at least 1.
    /// * `columns`, `rows`: how many cells along x and along y.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] when a number is not finite, the cell smaller than a metre, or a
    /// coordinate beyond 1e9 m; [`Error::CellCount`] when there are no cells or more than
    /// [`Grid::MAX_CELLS`].
    pub fn new(
        projection: PolarStereographic,
        origin: Coord<f64>,
        cell_m: f64,
        columns: u32,
        rows: u32,
    ) -> Result<Self, Error> {
        checked_cell_m(cell_m)?;
        let cells = u64::from(columns) * u64::from(rows);
        if cells == 0 || cells > u64::from(Self::MAX_CELLS) {
            return Err(Error::CellCount { columns: columns.into(), rows: rows.into() });
        }
        for (parameter, start_m, count) in
            [("x of the grid (m)", origin.x, columns), ("y of the grid (m)", origin.y, rows)]
        {
            let end_m = start_m + cell_m * f64::from(count);
            for value in [start_m, end_m] {
                check(parameter, value, "from -1e9 to 1e9", |value| value.abs() <= 1e9)?;
            }
        }
        Ok(Self { projection, origin, cell_m, columns, rows })
    }

    /// Number of cells.
    #[must_use]
    pub fn len(&self) -> usize {
        self.columns as usize * self.rows as usize
    }

    /// Whether there are no cells; a grid that was made always has some.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Number of cells along x.
    #[must_use]
    pub fn columns(&self) -> u32 {
        self.columns
    }

    /// Number of cells along y.
    #[must_use]
    pub fn rows(&self) -> u32 {
        self.rows
    }

    /// Side of a cell on the map, kilometres.
    #[must_use]
    pub fn cell_km(&self) -> f64 {
        self.cell_m / 1000.0
    }

    /// Side of a cell on the map, metres.
    #[must_use]
    pub fn cell_m(&self) -> f64 {
        self.cell_m
    }

    /// Centre of cell 0 on the map, metres.
    #[must_use]
    pub fn origin(&self) -> Coord<f64> {
        self.origin
    }

    /// The projection that the cells lie on.
    #[must_use]
    pub fn projection(&self) -> &PolarStereographic {
        &self.projection
    }

    /// Row and column of a cell, or nothing for an index outside the grid.
    #[must_use]
    pub fn row_column(&self, cell: Cell) -> Option<(u32, u32)> {
        let row = cell.checked_div(self.columns)?;
        (row < self.rows).then(|| (row, cell % self.columns))
    }

    /// The cell of a row and a column, or nothing outside the grid.
    #[must_use]
    pub fn cell(&self, row: u32, column: u32) -> Option<Cell> {
        // The product stays below MAX_CELLS inside the grid.
        (row < self.rows && column < self.columns).then(|| row * self.columns + column)
    }

    /// The cell some columns and rows away, or nothing outside the grid.
    #[must_use]
    pub fn neighbour(&self, cell: Cell, dcolumn: i32, drow: i32) -> Option<Cell> {
        let (row, column) = self.row_column(cell)?;
        self.cell(row.checked_add_signed(drow)?, column.checked_add_signed(dcolumn)?)
    }

    /// Centre of a cell on the map, metres.
    #[must_use]
    pub fn centre_coord(&self, cell: Cell) -> Option<Coord<f64>> {
        let (row, column) = self.row_column(cell)?;
        Some(self.coord_of(row, column))
    }

    /// Centre of a cell on the Earth.
    #[must_use]
    pub fn centre(&self, cell: Cell) -> Option<Position> {
        self.centre_coord(cell).map(|coord| self.projection.inverse(coord))
    }

    /// The cell that holds a place on the map, or nothing outside the grid.
    #[must_use]
    pub fn cell_at_coord(&self, coord: Coord<f64>) -> Option<Cell> {
        let index = |value_m: f64, start_m: f64, count: u32| {
            let index = ((value_m - start_m) / self.cell_m + 0.5).floor();
            // False for NaN too; the cast is then exact.
            (index >= 0.0 && index < f64::from(count)).then_some(index as u32)
        };
        let column = index(coord.x, self.origin.x, self.columns)?;
        let row = index(coord.y, self.origin.y, self.rows)?;
        self.cell(row, column)
    }

    /// The cell that holds a position, or nothing outside the grid.
    #[must_use]
    pub fn cell_at(&self, position: Position) -> Option<Cell> {
        self.cell_at_coord(self.coord(position))
    }

    /// Puts a position on the map, as [`PolarStereographic::forward`] does.
    #[must_use]
    pub fn coord(&self, position: Position) -> Coord<f64> {
        self.projection.forward(position)
    }

    /// Takes a place on the map to the Earth, as [`PolarStereographic::inverse`] does.
    #[must_use]
    pub fn position(&self, coord: Coord<f64>) -> Position {
        self.projection.inverse(coord)
    }

    /// The outer sides of the grid on the map, metres.
    #[must_use]
    pub fn bounds(&self) -> Rect<f64> {
        let half_m = self.cell_m / 2.0;
        let last = self.coord_of(self.rows - 1, self.columns - 1);
        Rect::new(
            coord! { x: self.origin.x - half_m, y: self.origin.y - half_m },
            coord! { x: last.x + half_m, y: last.y + half_m },
        )
    }

    /// The outer sides of the grid on the Earth: a closed ring, anticlockwise as seen from above,
    /// from the lower left corner, first and last equal.
    ///
    /// Each side is cut into pieces of at most 50 km, or 256 of them if that is fewer, so that the
    /// ring follows the sides when its positions are joined on another map. A grid that holds the
    /// pole has a ring about the pole, which has no inside in longitude and latitude until it is cut.
    #[must_use]
    pub fn outline(&self) -> Vec<Position> {
        const PIECE_M: f64 = 50_000.0;
        const MAX_PIECES: f64 = 256.0;

        let (low, high) = (self.bounds().min(), self.bounds().max());
        let corners =
            [low, coord! { x: high.x, y: low.y }, high, coord! { x: low.x, y: high.y }, low];
        let mut ring = vec![self.position(low)];
        for side in corners.windows(2) {
            let &[from, to] = side else { continue };
            let run = to - from;
            let pieces = (run.x.hypot(run.y) / PIECE_M).ceil().clamp(1.0, MAX_PIECES);
            // A sum to the far end could miss the corner by a rounding, so the corner is given.
            ring.extend(
                (1..pieces as u32)
                    .map(|piece| self.position(from + run * (f64::from(piece) / pieces))),
            );
            ring.push(self.position(to));
        }
        ring
    }

    /// Centre of the cell of a row and a column, which need not be in the grid.
    fn coord_of(&self, row: u32, column: u32) -> Coord<f64> {
        coord! {
            x: self.origin.x + f64::from(column) * self.cell_m,
            y: self.origin.y + f64::from(row) * self.cell_m,
        }
    }
}

/// Lets a cell size pass that keeps the centres apart and the arithmetic finite.
fn checked_cell_m(cell_m: f64) -> Result<f64, Error> {
    check("the cell size (m)", cell_m, "from 1 to 1e9", |value| (1.0..=1e9).contains(&value))
}
