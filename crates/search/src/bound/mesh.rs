//! The cells that a potential is made over.

use std::ops::Range;

use geo::Coord;

use crate::padding::Padding;

/// A part of the grid, its cells halved some times in each direction: a stretch of each row.
///
/// Values of the corners and of the cells lie row by row, each row from where it or the one below it begins; a
/// cell has the index of its first corner. A tongue of cells that lies across the grid so takes no more than a
/// band as wide as its widest row.
///
/// ```text
///    c | d     Where b and c are closed, a and d touch at a corner that no way leads through. It has two values:
///   ---+---    one for a, and one for the upper of the two, d, that lies behind those of all rows.
///    a | b
/// ```
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mesh {
    /// Columns of the grid.
    grid_columns: usize,
    /// The first row of the grid.
    low: usize,
    halvings: u32,
    /// The columns of each row of cells; empty where it has none.
    spans: Vec<Range<usize>>,
    /// The column at which each row of corners begins.
    first: Vec<usize>,
    /// From a row's beginning to the next one's.
    stride: usize,
    /// The corners that have two values.
    pinches: Vec<Pinch>,
    /// Whether a cell has one, by its index, 64 a word; empty where none has.
    pinched: Vec<u64>,
}

/// A corner with a second value, for the upper of the two cells that touch there.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Pinch {
    /// That cell's index.
    cell: usize,
    /// Whether it is the cell's lower right corner; else its lower left.
    right: bool,
}

impl Mesh {
    /// The least mesh that holds some cells of the grid and those about them; empty where there are none.
    pub(super) fn about(padding: Padding, halvings: u32, holds: impl Fn(usize) -> bool) -> Self {
        let (columns, rows) = (padding.columns, padding.rows);
        let of_row = |row: usize| {
            let mut held = (0..columns).filter(|column| holds(row * columns + column));
            let left = held.next()?;
            let right = held.next_back().unwrap_or(left);
            Some(left.saturating_sub(1)..(right + 2).min(columns))
        };
        let own: Vec<Option<Range<usize>>> = (0..rows).map(of_row).collect();
        // With those of the rows beside.
        let mut spans: Vec<Range<usize>> = (0..rows)
            .map(|row| join(own[row.saturating_sub(1)..(row + 2).min(rows)].iter().flatten()))
            .collect();
        let low = spans.iter().position(|span| !span.is_empty()).unwrap_or(0);
        let high = spans.iter().rposition(|span| !span.is_empty()).map_or(low, |row| row + 1);
        spans.truncate(high);
        spans.drain(..low);
        let spans: Vec<Range<usize>> = spans
            .iter()
            .flat_map(|span| {
                let halved = span.start << halvings..span.end << halvings;
                std::iter::repeat_n(halved, 1 << halvings)
            })
            .collect();
        let corners: Vec<Range<usize>> = (0..=spans.len())
            .map(|row| {
                let beside = &spans[row.saturating_sub(1)..(row + 1).min(spans.len())];
                join(beside.iter().filter(|span| !span.is_empty()))
            })
            .collect();
        let mut mesh = Self {
            grid_columns: columns,
            low,
            halvings,
            stride: corners.iter().map(|span| span.len() + 1).max().unwrap_or(1),
            first: corners.iter().map(|span| span.start).collect(),
            spans,
            pinches: Vec::new(),
            pinched: Vec::new(),
        };
        mesh.pinch(rows, holds);
        mesh
    }

    /// Gives the corners where held cells touch across others that are not a second value.
    fn pinch(&mut self, rows: usize, holds: impl Fn(usize) -> bool) {
        let columns = self.grid_columns;
        for row in 1..rows {
            for column in 1..columns {
                let above = row * columns + column;
                let [a, b, c, d] =
                    [above - columns - 1, above - columns, above - 1, above].map(&holds);
                let right = match (a, b, c, d) {
                    (true, false, false, true) => false,
                    (false, true, true, false) => true,
                    _ => continue,
                };
                let first = (column << self.halvings) - usize::from(right);
                let cell = self.at(first, (row - self.low) << self.halvings);
                self.pinches.push(Pinch { cell, right });
            }
        }
        self.pinches.sort_by_key(|pinch| pinch.cell);
        if !self.pinches.is_empty() {
            self.pinched = vec![0; self.rowed().div_ceil(64)];
            for pinch in &self.pinches {
                self.pinched[pinch.cell / 64] |= 1 << (pinch.cell % 64);
            }
        }
    }

    /// Values that lie row by row.
    fn rowed(&self) -> usize {
        self.stride * self.first.len()
    }

    /// Values of the corners, or of the cells.
    pub(super) fn len(&self) -> usize {
        self.rowed() + self.pinches.len()
    }

    /// Whether a cell has a corner with two values.
    pub(super) fn is_pinched(&self, cell: usize) -> bool {
        self.pinched.get(cell / 64).is_some_and(|word| word >> (cell % 64) & 1 == 1)
    }

    /// Whether any corner has.
    pub(super) fn has_pinches(&self) -> bool {
        !self.pinches.is_empty()
    }

    /// The columns and rows of the cells.
    pub(super) fn cells(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.spans
            .iter()
            .enumerate()
            .flat_map(|(row, span)| span.clone().map(move |column| (column, row)))
    }

    /// How many rows of cells there are.
    pub(super) fn rows(&self) -> usize {
        self.spans.len()
    }

    /// The columns of a row of cells.
    pub(super) fn span(&self, row: usize) -> Range<usize> {
        self.spans[row].clone()
    }

    /// Whether there is a cell.
    pub(super) fn holds(&self, column: usize, row: usize) -> bool {
        self.spans.get(row).is_some_and(|span| span.contains(&column))
    }

    /// The index of a cell and of its first corner, or of a corner of a cell.
    pub(super) fn at(&self, column: usize, row: usize) -> usize {
        row * self.stride + column - self.first[row]
    }

    /// The column and row of a corner.
    pub(super) fn place_of(&self, corner: usize) -> (usize, usize) {
        let (index, right) = match corner.checked_sub(self.rowed()) {
            Some(number) => (self.pinches[number].cell, usize::from(self.pinches[number].right)),
            None => (corner, 0),
        };
        let row = index / self.stride;
        (index % self.stride + self.first[row] + right, row)
    }

    /// The column and row of a cell; nothing where the index is that of a corner alone.
    pub(super) fn cell_of(&self, index: usize) -> Option<(usize, usize)> {
        let row = index / self.stride;
        let column = index % self.stride + self.first.get(row)?;
        self.holds(column, row).then_some((column, row))
    }

    /// The corners a b c d of a cell.
    pub(super) fn corners(&self, column: usize, row: usize) -> [usize; 4] {
        let (low, high) = (self.at(column, row), self.at(column, row + 1));
        let mut corners = [low, low + 1, high, high + 1];
        if self.is_pinched(low) {
            let first = self.pinches.partition_point(|pinch| pinch.cell < low);
            let own = self.pinches[first..].iter().take_while(|pinch| pinch.cell == low);
            for (number, pinch) in own.enumerate() {
                corners[usize::from(pinch.right)] = self.rowed() + first + number;
            }
        }
        corners
    }

    /// phi at the corners of a cell.
    pub(super) fn square(&self, phi: &[f32], column: usize, row: usize) -> [f32; 4] {
        let [a, b, c, d] = self.corners(column, row);
        [phi[a], phi[b], phi[c], phi[d]]
    }

    /// The part of a cell width that a cell of the mesh is wide.
    pub(super) fn width(&self) -> f64 {
        0.5_f64.powi(self.halvings as i32)
    }

    /// The cell of the grid that a cell is part of.
    pub(super) fn grid_cell(&self, column: usize, row: usize) -> usize {
        ((row >> self.halvings) + self.low) * self.grid_columns + (column >> self.halvings)
    }

    /// The cell of the grid at a place in cell widths.
    pub(super) fn grid_cell_at(&self, place: Coord<f64>) -> Option<usize> {
        let (column, row) = self.cell_at(self.of_place(place))?;
        Some(self.grid_cell(column, row))
    }

    /// A place in cell widths of the grid as one in cells of the mesh.
    pub(super) fn of_place(&self, place: Coord<f64>) -> Coord<f64> {
        let first = Coord { x: -0.5, y: self.low as f64 - 0.5 };
        (place - first) / self.width()
    }

    /// The column and row of a place in cells of the mesh; nothing where it is off the mesh.
    pub(super) fn cell_at(&self, place: Coord<f64>) -> Option<(usize, usize)> {
        // A cast of what is negative is 0.
        let (column, row) = (place.x as usize, place.y as usize);
        (place.x >= 0.0 && place.y >= 0.0 && self.holds(column, row)).then_some((column, row))
    }

    /// The first column and row of the part that a cell of the grid makes up, and its cells a side; nothing
    /// where it is off the mesh.
    pub(super) fn part(&self, grid_cell: usize) -> Option<(usize, usize, usize)> {
        let column = (grid_cell % self.grid_columns) << self.halvings;
        let row = (grid_cell / self.grid_columns).checked_sub(self.low)? << self.halvings;
        self.holds(column, row).then_some((column, row, 1 << self.halvings))
    }
}

/// From where the first of some ranges begins to where the last ends.
fn join<'r>(ranges: impl Iterator<Item = &'r Range<usize>>) -> Range<usize> {
    let both = |a: Range<usize>, b: &Range<usize>| a.start.min(b.start)..a.end.max(b.end);
    ranges
        .fold(None, |all, range| Some(all.map_or_else(|| range.clone(), |all| both(all, range))))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::tables::grid;

    proptest! {
        /// Every cell that is held, and those about it, are there once, halved as asked; each corner has one index
        /// for all its cells.
        #[test]
        fn a_mesh_holds_its_cells(
            held in prop::collection::vec(prop::bool::weighted(0.25), 12 * 9),
            halvings in 0..3_u32,
        ) {
            let padding = Padding::new(&grid(12, 9, 1000.0));
            let mesh = Mesh::about(padding, halvings, |cell| held[cell]);
            let side = 1 << halvings;
            for cell in (0..held.len()).filter(|&cell| held[cell]) {
                let (column, row) = (cell % 12, cell / 12);
                for beside in row.saturating_sub(1)..(row + 2).min(9) {
                    for along in column.saturating_sub(1)..(column + 2).min(12) {
                        prop_assert!(mesh.part(beside * 12 + along).is_some());
                    }
                }
            }
            let mut parts = vec![0; held.len()];
            let mut index_of = std::collections::BTreeMap::new();
            let mut seconds = Vec::new();
            for (column, row) in mesh.cells() {
                parts[mesh.grid_cell(column, row)] += 1;
                let middle = Coord { x: column as f64 + 0.5, y: row as f64 + 0.5 };
                prop_assert_eq!(mesh.cell_at(middle), Some((column, row)));
                prop_assert_eq!(mesh.cell_of(mesh.at(column, row)), Some((column, row)));
                for (corner, index) in mesh.corners(column, row).into_iter().enumerate() {
                    prop_assert!(index < mesh.len());
                    let place = (column + corner % 2, row + corner / 2);
                    prop_assert_eq!(mesh.place_of(index), place);
                    if index < mesh.rowed() {
                        prop_assert_eq!(*index_of.entry(place).or_insert(index), index);
                    } else {
                        seconds.push((index, held[mesh.grid_cell(column, row)]));
                    }
                }
            }
            prop_assert!(parts.iter().all(|&count| count == 0 || count == side * side));
            let mut indices: Vec<usize> = index_of.into_values().collect();
            indices.sort_unstable();
            prop_assert!(indices.windows(2).all(|pair| pair[0] < pair[1]));
            // Each second value belongs to one cell that is held; there are as many as held cells touch so.
            let touching = (1..9).flat_map(|row| (1..12).map(move |column| row * 12 + column));
            let pinches = touching.filter(|&d| {
                let of = [d - 13, d - 12, d - 1, d].map(|cell| held[cell]);
                of == [true, false, false, true] || of == [false, true, true, false]
            });
            seconds.sort_unstable();
            prop_assert!(seconds.iter().all(|(_, held)| *held));
            let numbers: Vec<usize> = seconds.iter().map(|second| second.0).collect();
            prop_assert_eq!(numbers, (mesh.rowed()..mesh.len()).collect::<Vec<_>>());
            prop_assert_eq!(seconds.len(), pinches.count());
        }
    }
}
