//! Where a craft can start and end: the nearest cell of the open sea.

use std::collections::BTreeMap;

use dipward_geodesy::{Cell, Grid, Position, distance_km};
use dipward_plugin::PaceTable;

/// The cells that a craft can be in at some frame and power setting, with the pieces that they form.
///
/// A harbour often lies in a cell that is mostly land, and the nearest open cell may be a lagoon of
/// the raster without a way out. So a place is taken to the nearest cell of a piece that is worth
/// calling sea. Cells hang together across their sides, not across their corners.
#[derive(Debug)]
pub struct OpenCells {
    grid: Grid,
    /// The piece of each cell, from 1; 0 where it is closed.
    piece: Vec<u32>,
    /// Cells in each piece.
    sizes: BTreeMap<u32, u64>,
}

/// A place taken to an open cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snap {
    /// The cell.
    pub cell: Cell,
    /// Its centre, or the place itself where its own cell is open.
    pub position: Position,
    /// How far the place was moved.
    pub moved_km: f64,
}

impl OpenCells {
    /// Finds the open cells of a table and the pieces that they form.
    ///
    /// # Complexity
    ///
    /// Linear in the table's size; 4 bytes a cell.
    #[must_use]
    pub fn of(table: &PaceTable) -> Self {
        let cells = table.grid.len();
        let mut open = vec![false; cells];
        for frame in table.pace_h_per_km.chunks(cells) {
            for (open, pace) in open.iter_mut().zip(frame) {
                *open |= pace.is_finite();
            }
        }
        let mut piece = vec![0; cells];
        let mut sizes = BTreeMap::new();
        let mut next = 1;
        let mut stack: Vec<Cell> = Vec::new();
        for start in 0..cells as u32 {
            if !open[start as usize] || piece[start as usize] != 0 {
                continue;
            }
            let mut size = 0;
            piece[start as usize] = next;
            stack.push(start);
            while let Some(cell) = stack.pop() {
                size += 1;
                for (dcolumn, drow) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                    if let Some(beside) = table.grid.neighbour(cell, dcolumn, drow)
                        && open[beside as usize]
                        && piece[beside as usize] == 0
                    {
                        piece[beside as usize] = next;
                        stack.push(beside);
                    }
                }
            }
            sizes.insert(next, size);
            next += 1;
        }
        Self { grid: table.grid.clone(), piece, sizes }
    }

    /// Whether a cell is open at some frame and setting.
    #[must_use]
    pub fn is_open(&self, cell: Cell) -> bool {
        self.piece.get(cell as usize).is_some_and(|&piece| piece != 0)
    }

    /// Whether two cells hang together by cells that are open at some frame.
    #[must_use]
    pub fn hang_together(&self, a: Cell, b: Cell) -> bool {
        self.is_open(a) && self.piece.get(a as usize) == self.piece.get(b as usize)
    }

    /// The open cell nearest to a position, within a distance, that belongs to the largest piece.
    ///
    /// Among equals the one of the lowest index. Nothing when the position is off the grid or no
    /// such cell is near enough.
    #[must_use]
    pub fn nearest(&self, from: Position, within_km: f64) -> Option<Snap> {
        let sea = *self.sizes.iter().max_by_key(|(piece, size)| (**size, u32::MAX - **piece))?.0;
        self.nearest_where(from, within_km, |piece| piece == sea)
    }

    /// The open cell nearest to a position, within a distance, from which `to` can be reached.
    #[must_use]
    pub fn nearest_reaching(&self, from: Position, to: Cell, within_km: f64) -> Option<Snap> {
        let sea = *self.piece.get(to as usize).filter(|piece| **piece != 0)?;
        self.nearest_where(from, within_km, |piece| piece == sea)
    }

    fn nearest_where(
        &self,
        from: Position,
        within_km: f64,
        wanted: impl Fn(u32) -> bool,
    ) -> Option<Snap> {
        let home = self.grid.cell_at(from)?;
        let holds = |cell: Cell| self.piece.get(cell as usize).is_some_and(|piece| wanted(*piece));
        if holds(home) {
            return Some(Snap { cell: home, position: from, moved_km: 0.0 });
        }
        if within_km.is_nan() || within_km <= 0.0 {
            return None;
        }
        let (row, column) = self.grid.row_column(home)?;
        // The map is stretched by the point scale, at most 2 in the own hemisphere.
        let reach_cells = 2.0 * within_km / self.grid.cell_km() + 1.0;
        let reach = reach_cells.min(f64::from(u32::MAX / 4)) as u32;
        let rows = row.saturating_sub(reach)..(row + reach + 1).min(self.grid.rows());
        let mut best: Option<Snap> = None;
        for row in rows {
            let columns =
                column.saturating_sub(reach)..(column + reach + 1).min(self.grid.columns());
            for cell in columns.filter_map(|column| self.grid.cell(row, column)) {
                if !holds(cell) {
                    continue;
                }
                let Some(position) = self.grid.centre(cell) else { continue };
                let moved_km = distance_km(from, position);
                if moved_km <= within_km && best.is_none_or(|best| moved_km < best.moved_km) {
                    best = Some(Snap { cell, position, moved_km });
                }
            }
        }
        best
    }
}
