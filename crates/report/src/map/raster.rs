//! A column of the grid, cropped and thinned to what a picture can show.

use std::collections::VecDeque;

use dipward_geodesy::Grid;
use geo::{Coord, Rect, coord};

/// Values at the centres of square cells, row by row from the lower left.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raster {
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    /// Centre of the first cell, metres of the plane.
    pub(crate) origin: Coord<f64>,
    pub(crate) step_m: f64,
    pub(crate) values: Vec<f32>,
}

impl Raster {
    /// The part of a column within a window of the plane, with blocks of cells averaged so that a
    /// cell is not smaller than `least_step_m`. A block that is unknown for the greater part is
    /// unknown (not a number).
    ///
    /// `value` gives the value of a cell by its index in the grid.
    pub(crate) fn of(
        grid: &Grid,
        window: Rect<f64>,
        least_step_m: f64,
        value: impl Fn(usize) -> f32,
    ) -> Self {
        let cell_m = grid.cell_m();
        let thin = (least_step_m / cell_m).floor().clamp(1.0, 1e4) as usize;
        let (all_columns, all_rows) = (grid.columns() as usize, grid.rows() as usize);
        // One block more than the window on each side, so that its edge is right.
        let range = |low: f64, high: f64, start: f64, count: usize| {
            let first = ((low - start) / cell_m).floor().max(0.0) as usize;
            let last = ((high - start) / cell_m).ceil().max(0.0) as usize;
            let first = (first / thin).saturating_sub(1) * thin;
            (first.min(count), last.saturating_add(2 * thin).min(count))
        };
        let origin = grid.origin();
        let (left, right) = range(window.min().x, window.max().x, origin.x, all_columns);
        let (bottom, top) = range(window.min().y, window.max().y, origin.y, all_rows);
        let columns = (right - left).div_ceil(thin);
        let rows = (top - bottom).div_ceil(thin);
        let mut values = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                let (mut sum, mut known, mut all) = (0.0, 0_u32, 0_u32);
                for y in (bottom + row * thin)..(bottom + (row + 1) * thin).min(top) {
                    for x in (left + column * thin)..(left + (column + 1) * thin).min(right) {
                        let value = value(y * all_columns + x);
                        all += 1;
                        if !value.is_nan() {
                            sum += f64::from(value);
                            known += 1;
                        }
                    }
                }
                let mean = (sum / f64::from(known)) as f32;
                values.push(if known * 2 >= all { mean } else { f32::NAN });
            }
        }
        let middle_m = cell_m * (thin as f64 - 1.0) / 2.0;
        Self {
            columns,
            rows,
            origin: coord! {
                x: origin.x + left as f64 * cell_m + middle_m,
                y: origin.y + bottom as f64 * cell_m + middle_m,
            },
            step_m: cell_m * thin as f64,
            values,
        }
    }

    /// The value of a cell; nothing outside.
    pub(crate) fn at(&self, column: usize, row: usize) -> Option<f32> {
        if column >= self.columns {
            return None;
        }
        self.values.get(row * self.columns + column).copied()
    }

    /// 1 where a value satisfies, 0 elsewhere.
    pub(crate) fn mask(&self, satisfies: impl Fn(f32) -> bool) -> Self {
        let values =
            self.values.iter().map(|&value| if satisfies(value) { 1.0 } else { 0.0 }).collect();
        Self { values, ..self.clone() }
    }

    /// The same with each unknown cell given the value of a nearest known one, so that a contour does
    /// not end in the open. What is unknown must be drawn over it.
    pub(crate) fn filled(mut self) -> Self {
        let mut queue: VecDeque<usize> = self
            .values
            .iter()
            .enumerate()
            .filter(|(_, value)| !value.is_nan())
            .map(|(index, _)| index)
            .collect();
        while let Some(index) = queue.pop_front() {
            let Some(&value) = self.values.get(index) else { continue };
            let (column, row) = (index % self.columns, index / self.columns);
            let near = [
                (column > 0).then(|| index - 1),
                (column + 1 < self.columns).then(|| index + 1),
                (row > 0).then(|| index - self.columns),
                (row + 1 < self.rows).then(|| index + self.columns),
            ];
            for next in near.into_iter().flatten() {
                if let Some(other) = self.values.get_mut(next).filter(|other| other.is_nan()) {
                    *other = value;
                    queue.push_back(next);
                }
            }
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};

    use super::*;

    fn grid(columns: u32, rows: u32) -> Grid {
        let polar = PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84)
            .unwrap();
        Grid::new(polar, coord! { x: 0.0, y: 0.0 }, 1000.0, columns, rows).unwrap()
    }

    #[test]
    fn blocks_are_averaged_about_their_middle() {
        let grid = grid(5, 4);
        let raster = Raster::of(&grid, grid.bounds(), 2000.0, |index| index as f32);
        assert_eq!((raster.columns, raster.rows, raster.step_m), (3, 2, 2000.0));
        assert_eq!(raster.origin, coord! { x: 500.0, y: 500.0 });
        assert_eq!(raster.at(0, 0), Some((0.0 + 1.0 + 5.0 + 6.0) / 4.0));
        assert_eq!(raster.at(3, 0), None);
    }

    #[test]
    fn a_block_that_is_mostly_unknown_is_unknown() {
        let grid = grid(4, 2);
        let value = |index| if index % 4 == 3 || index == 2 { f32::NAN } else { 1.0 };
        let raster = Raster::of(&grid, grid.bounds(), 2000.0, value);
        assert_eq!(raster.at(0, 0), Some(1.0));
        assert!(raster.at(1, 0).is_some_and(f32::is_nan));
        assert_eq!(raster.filled().values, [1.0, 1.0]);
    }

    #[test]
    fn a_window_outside_the_grid_gives_no_cell_and_no_panic() {
        let grid = grid(4, 4);
        for at in [-1e6, 1e6] {
            let corner = coord! { x: at, y: at };
            let far = Rect::new(corner, corner + coord! { x: 10.0, y: 10.0 });
            let raster = Raster::of(&grid, far, 1.0, |_| 0.0);
            assert!(raster.values.len() <= 16);
        }
        let unknown = Raster::of(&grid, grid.bounds(), 1.0, |_| f32::NAN).filled();
        assert!(unknown.values.iter().all(|value| value.is_nan()));
    }
}
