//! From an image's pixels to a grid's cells.

use dipward_geodesy::Grid;
use dipward_plugin::{Control, Error};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Image, Placement, conservative::area_mean};

/// How a cell gets its value from pixels. What is not a number never takes part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Resampling {
    /// The pixel that holds the cell's centre: for codes, and for flags.
    Nearest,
    /// Between the four pixels about the cell's centre, those without a number left out; a cell whose
    /// own pixel has no number has none.
    #[default]
    Bilinear,
    /// The mean over the cell's area, with each pixel's exact share of it: for amounts on an image finer
    /// than the grid, whose sums it keeps. A cell of which less than half has a number has none.
    Conservative,
}

/// Points along each side of a cell beside a pole, where the image gives its corners no area.
const POINTS: u32 = 8;

/// Takes images to a grid, and keeps where the cells lie on one for the next of the same map.
///
/// Memory: 16 bytes a cell.
#[derive(Debug)]
pub(crate) struct Resampler<'a> {
    grid: &'a Grid,
    how: Resampling,
    /// Column and row of each cell's centre in pixels.
    places: Option<(Placement, Vec<[f64; 2]>)>,
}

impl<'a> Resampler<'a> {
    pub(crate) fn new(grid: &'a Grid, how: Resampling) -> Self {
        Self { grid, how, places: None }
    }

    /// Takes an image to the grid.
    ///
    /// # Returns
    ///
    /// One value a cell, not a number where the image shows none.
    ///
    /// # Errors
    ///
    /// [`Error::Cancelled`].
    pub(crate) fn raster(&mut self, image: &Image, control: &Control) -> Result<Vec<f32>, Error> {
        match self.how {
            Resampling::Nearest => self.at_centres(image, nearest, control),
            Resampling::Bilinear => self.at_centres(image, bilinear, control),
            Resampling::Conservative => self.of_cells(control, |cell| {
                area_mean(image, self.grid, cell)
                    .unwrap_or_else(|| mean_of_points(image, self.grid, cell))
            }),
        }
    }

    fn at_centres(
        &mut self,
        image: &Image,
        value: fn(&Image, [f64; 2]) -> f32,
        control: &Control,
    ) -> Result<Vec<f32>, Error> {
        let placement = image.placement.clone();
        let places = match self.places.take().filter(|(own, _)| *own == placement) {
            Some((_, places)) => places,
            None => self.of_cells(control, |cell| {
                self.grid.centre(cell).map_or([f64::NAN; 2], |at| placement.pixel(at))
            })?,
        };
        let values = self.of_cells(control, |cell| {
            places.get(cell as usize).map_or(f32::NAN, |place| value(image, *place))
        });
        self.places = Some((placement, places));
        values
    }

    /// Something of each cell, row by row on all threads.
    fn of_cells<T: Clone + Default + Send>(
        &self,
        control: &Control,
        of: impl Fn(u32) -> T + Sync,
    ) -> Result<Vec<T>, Error> {
        let columns = self.grid.columns() as usize;
        let mut all = vec![T::default(); self.grid.len()];
        all.par_chunks_mut(columns).zip(0..self.grid.rows()).try_for_each(|(run, row)| {
            control.check()?;
            for (column, one) in (0..self.grid.columns()).zip(run) {
                // Every column of every row is a cell.
                if let Some(cell) = self.grid.cell(row, column) {
                    *one = of(cell);
                }
            }
            Ok(())
        })?;
        Ok(all)
    }
}

fn nearest(image: &Image, [column, row]: [f64; 2]) -> f32 {
    // The cast of what is not a number is 0, so it must be told apart first.
    if column.is_nan() || row.is_nan() {
        return f32::NAN;
    }
    image.at(column.floor() as i64, row.floor() as i64)
}

fn bilinear(image: &Image, pixel: [f64; 2]) -> f32 {
    if nearest(image, pixel).is_nan() {
        return f32::NAN;
    }
    let [column, row] = pixel.map(|place| place - 0.5);
    let (left, above) = (column.floor(), row.floor());
    let (right_share, below_share) = ((column - left) as f32, (row - above) as f32);
    let (mut sum, mut weights) = (0.0, 0.0);
    for (dcolumn, column_share) in [(0, 1.0 - right_share), (1, right_share)] {
        for (drow, row_share) in [(0, 1.0 - below_share), (1, below_share)] {
            let value = image.at(left as i64 + dcolumn, above as i64 + drow);
            if !value.is_nan() {
                sum += value * column_share * row_share;
                weights += column_share * row_share;
            }
        }
    }
    // The pixel that holds the place has a number and a quarter of the weight at least.
    sum / weights
}

fn mean_of_points(image: &Image, grid: &Grid, cell: u32) -> f32 {
    let Some(centre) = grid.centre_coord(cell) else { return f32::NAN };
    let step_m = grid.cell_m() / f64::from(POINTS);
    let offset_m = |point: u32| (f64::from(point) + 0.5) * step_m - grid.cell_m() / 2.0;
    let (mut sum, mut known) = (0.0_f64, 0);
    for across in 0..POINTS {
        for up in 0..POINTS {
            let place = geo::coord! { x: centre.x + offset_m(across), y: centre.y + offset_m(up) };
            let value = nearest(image, image.placement.pixel(grid.position(place)));
            if !value.is_nan() {
                sum += f64::from(value);
                known += 1;
            }
        }
    }
    if 2 * known < POINTS * POINTS { f32::NAN } else { (sum / f64::from(known)) as f32 }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};
    use geo::coord;
    use proptest::prelude::*;

    use super::*;
    use crate::crs::MapProjection;

    fn polar() -> PolarStereographic {
        PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84).unwrap()
    }

    /// An image whose pixels are the grid's cells, `times` finer, with y down.
    fn image(times: usize, value: impl Fn(usize, usize) -> f32) -> (Image, Grid) {
        let grid = Grid::new(polar(), coord! { x: 1e5, y: -2e5 }, 10_000.0, 12, 9).unwrap();
        let (width, height) = (12 * times, 9 * times);
        let pixel_m = 10_000.0 / times as f64;
        let values = (0..width * height).map(|at| value(at % width, at / width)).collect();
        let placement = Placement {
            projection: MapProjection::Polar(polar()),
            corner: [grid.bounds().min().x, grid.bounds().max().y],
            along_row: [pixel_m, 0.0],
            along_column: [0.0, -pixel_m],
        };
        (Image { width, height, values, placement }, grid)
    }

    fn all(image: &Image, grid: &Grid, how: Resampling) -> Vec<f32> {
        Resampler::new(grid, how).raster(image, &Control::default()).unwrap()
    }

    #[test]
    fn every_way_gives_pixels_that_are_cells_back() {
        let (image, grid) = image(1, |column, row| (column * 100 + row) as f32);
        for how in [Resampling::Nearest, Resampling::Bilinear, Resampling::Conservative] {
            let values = all(&image, &grid, how);
            for (cell, value) in values.iter().enumerate() {
                let (row, column) = grid.row_column(cell as u32).unwrap();
                assert!((value - (column * 100 + 8 - row) as f32).abs() < 1e-2, "{how:?} {cell}");
            }
        }
    }

    #[test]
    fn conservative_keeps_the_sum_and_bilinear_keeps_a_plane() {
        let (image, grid) = image(4, |column, row| (column * 3 + row * 7) as f32);
        let values = all(&image, &grid, Resampling::Conservative);
        let sum: f32 = values.iter().sum::<f32>() * 16.0;
        let whole: f32 = image.values.iter().sum();
        assert!((sum / whole - 1.0).abs() < 1e-5);
        let values = all(&image, &grid, Resampling::Bilinear);
        for (cell, value) in values.iter().enumerate() {
            let (row, column) = grid.row_column(cell as u32).unwrap();
            let expected = 3.0 * (4.0 * column as f32 + 1.5) + 7.0 * (4.0 * (8 - row) as f32 + 1.5);
            assert!((value - expected).abs() < 1e-2, "{value} {expected}");
        }
    }

    /// Cells that lie across the pixels of another map: what all cells hold together is what the pixels
    /// under them hold, since those beyond the grid are empty.
    #[test]
    fn conservative_keeps_the_sum_of_pixels_that_lie_across_cells() {
        let (mut image, grid) = image(1, |column, row| {
            let inside = (3..9).contains(&column) && (3..6).contains(&row);
            if inside { (column * 7 + row * 3) as f32 } else { 0.0 }
        });
        let turned =
            PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84)
                .unwrap();
        // Pixels turned by 30 degrees about the grid's middle and half as large again.
        let (sine, cosine) = 0.5_f64.sin_cos();
        let size = 10_000.0 * 0.6;
        let middle = grid.bounds().center();
        image.placement = Placement {
            projection: MapProjection::Polar(turned),
            along_row: [size * cosine, size * sine],
            along_column: [size * sine, -size * cosine],
            corner: [
                middle.x - size * (6.0 * cosine + 4.5 * sine),
                middle.y - size * (6.0 * sine - 4.5 * cosine),
            ],
        };
        // Empty all round, so that no cell is cut off by the half rule.
        let padded = padded(&image, 12);
        let values = all(&padded, &grid, Resampling::Conservative);
        let held: f64 = values.iter().map(|value| f64::from(*value) * 1e8).sum();
        let pixels: f64 = image.values.iter().map(|value| f64::from(*value) * size * size).sum();
        assert!((held / pixels - 1.0).abs() < 1e-6, "{held} {pixels}");
    }

    /// The image with pixels of nothing about it.
    fn padded(image: &Image, by: usize) -> Image {
        let (width, height) = (image.width + 2 * by, image.height + 2 * by);
        let values = (0..width * height)
            .map(|at| {
                let (column, row) = ((at % width) as i64, (at / width) as i64);
                let value = image.at(column - by as i64, row - by as i64);
                if value.is_nan() { 0.0 } else { value }
            })
            .collect();
        let Placement { corner, along_row, along_column, .. } = image.placement.clone();
        let moved =
            [0, 1].map(|part| corner[part] - by as f64 * (along_row[part] + along_column[part]));
        Image {
            width,
            height,
            values,
            placement: Placement { corner: moved, ..image.placement.clone() },
        }
    }

    #[test]
    fn constants_are_kept_round_the_earth_and_over_the_pole() {
        let polar =
            PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
        // Over the pole, Greenwich and the date line.
        let grid = Grid::new(polar, coord! { x: -1e6, y: -1e6 }, 80_000.0, 26, 26).unwrap();
        for west in [-180.0, 0.0] {
            let placement = Placement {
                projection: MapProjection::LonLat,
                corner: [west, 0.0],
                along_row: [0.25, 0.0],
                along_column: [0.0, -0.25],
            };
            let image =
                Image { width: 1440, height: 360, values: vec![0.75; 1440 * 360], placement };
            for how in [Resampling::Nearest, Resampling::Bilinear, Resampling::Conservative] {
                for value in all(&image, &grid, how) {
                    assert!((value - 0.75).abs() < 1e-6, "{how:?} {value}");
                }
            }
        }
    }

    #[test]
    fn longitudes_are_found_whichever_way_the_image_counts() {
        for west in [-180.0, 0.0, 20.0] {
            let placement = Placement {
                projection: MapProjection::LonLat,
                corner: [west, 90.0],
                along_row: [1.0, 0.0],
                along_column: [0.0, -1.0],
            };
            let values = (0..360 * 180).map(|at| (at % 360) as f32 + west as f32 + 0.5).collect();
            let image = Image { width: 360, height: 180, values, placement };
            for longitude in [-179.5, -90.5, 0.5, 19.5, 100.5, 179.5] {
                let at = dipward_geodesy::position(80.0, longitude);
                let value = nearest(&image, image.placement.pixel(at));
                assert!(
                    (f64::from(value) - longitude).rem_euclid(360.0) < 1e-3,
                    "{west} {longitude}"
                );
            }
        }
    }

    proptest! {
        /// A gap in the image is a gap on the grid, and never becomes a number of its own.
        #[test]
        fn values_stay_between_those_of_the_image(seed: u64, gaps in 0u64..10) {
            let (image, grid) = image(3, |column, row| {
                let mixed = (seed ^ (column as u64 * 7919 + row as u64 * 104_729)).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 32;
                if mixed % 10 < gaps { f32::NAN } else { 0.25 + (mixed % 64) as f32 / 128.0 }
            });
            for how in [Resampling::Nearest, Resampling::Bilinear, Resampling::Conservative] {
                for value in all(&image, &grid, how) {
                    prop_assert!(value.is_nan() || (0.249..0.751).contains(&value));
                }
            }
        }
    }
}
