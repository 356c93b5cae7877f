//! Means over the areas of cells, with the pixels' exact shares.
//!
//! ```text
//!   grid's plane      image's pixels            a cell's corners are taken to the image and joined by
//!   +----+            . . . . . .               straight lines; the four-sided figure is cut by the
//!   |cell|    -->     . /----/  .               rows and then by the columns of pixels
//!   +----+            ./----/ . .
//! ```
//!
//! Neighbouring cells share their corners, so that nothing is counted twice and nothing is left out:
//! amounts summed over the cells are those summed over the pixels.
//!
//! Source: the cut by a line, I. E. Sutherland and G. W. Hodgman, Reentrant polygon clipping,
//! Communications of the ACM 17, 32-42 (1974), exact for figures without dents.

use dipward_geodesy::Grid;
use geo::{Coord, coord};

use super::Image;
use crate::crs::MapProjection;

/// The mean of a cell; not a number where less than half of its area has a number.
///
/// # Returns
///
/// Nothing where the cell's corners do not bound it on the image: about a geographic pole on an image
/// in longitude and latitude.
pub(super) fn area_mean(image: &Image, grid: &Grid, cell: u32) -> Option<f32> {
    let corners = corners(image, grid, cell)?;
    let total = area(&corners);
    let (mut sum, mut known) = (0.0, 0.0);
    let turn = image.placement.pixels_around();
    let rows = whole_range(corners.iter().map(|corner| corner.y), 0.0, image.height as f64);
    for row in rows {
        let strip = cut(&cut(&corners, |at| at.y - row as f64), |at| (row + 1) as f64 - at.y);
        let west = if turn.is_some() { f64::MIN } else { 0.0 };
        let east = if turn.is_some() { f64::MAX } else { image.width as f64 };
        for column in whole_range(strip.iter().map(|corner| corner.x), west, east) {
            let part =
                cut(&cut(&strip, |at| at.x - column as f64), |at| (column + 1) as f64 - at.x);
            // Pixels go round the Earth where the image does.
            let own = turn.map_or(column, |turn| column.rem_euclid(turn));
            let value = image.at(own, row);
            if !value.is_nan() {
                let share = area(&part);
                sum += f64::from(value) * share;
                known += share;
            }
        }
    }
    Some(if 2.0 * known < total { f32::NAN } else { (sum / known) as f32 })
}

/// The corners of a cell in pixels, in order.
fn corners(image: &Image, grid: &Grid, cell: u32) -> Option<Vec<Coord<f64>>> {
    let centre = grid.centre_coord(cell)?;
    let half_m = grid.cell_m() / 2.0;
    let turn = image.placement.pixels_around().map(|turn| turn as f64);
    let pixel = |east: f64, north: f64| {
        let at = coord! { x: centre.x + east * half_m, y: centre.y + north * half_m };
        let [x, y] = image.placement.pixel(grid.position(at));
        (x.is_finite() && y.is_finite()).then_some(coord! { x: x, y: y })
    };
    let middle = pixel(0.0, 0.0)?;
    let mut corners = Vec::with_capacity(4);
    for (east, north) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
        let mut corner = pixel(east, north)?;
        if let Some(turn) = turn {
            corner.x -= ((corner.x - middle.x) / turn).round() * turn;
            // A cell that spans a quarter of the parallels lies about the pole or beside it.
            if (corner.x - middle.x).abs() > turn / 8.0 {
                return None;
            }
        } else if matches!(image.placement.projection, MapProjection::Listed(_)) {
            // Where a listed map closes on itself, neighbours lie at its opposite edges.
            let most = image.width.max(image.height).max(32) as f64 / 4.0;
            if (corner.x - middle.x).hypot(corner.y - middle.y) > most {
                return None;
            }
        }
        corners.push(corner);
    }
    Some(corners)
}

/// The whole numbers whose unit steps meet a range of values, within bounds.
fn whole_range(values: impl Iterator<Item = f64>, low: f64, high: f64) -> std::ops::Range<i64> {
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values {
        least = least.min(value);
        most = most.max(value);
    }
    // Casts of an empty range's infinities give an empty range.
    (least.max(low).floor() as i64)..(most.min(high).ceil() as i64)
}

/// The part of a figure on the side of a line where `inside` is not negative; `inside` changes
/// linearly.
fn cut(figure: &[Coord<f64>], inside: impl Fn(Coord<f64>) -> f64) -> Vec<Coord<f64>> {
    let mut kept = Vec::with_capacity(figure.len() + 1);
    for (index, &from) in figure.iter().enumerate() {
        let Some(&to) = figure.get(index + 1).or_else(|| figure.first()) else { continue };
        let (here, there) = (inside(from), inside(to));
        if here >= 0.0 {
            kept.push(from);
        }
        if (here > 0.0 && there < 0.0) || (here < 0.0 && there > 0.0) {
            kept.push(from + (to - from) * (here / (here - there)));
        }
    }
    kept
}

fn area(figure: &[Coord<f64>]) -> f64 {
    // From the first corner, so that far from the image's corner no digits are lost.
    let Some(&first) = figure.first() else { return 0.0 };
    let twice: f64 = figure
        .windows(2)
        .map(|pair| {
            let (a, b) = (pair[0] - first, pair[1] - first);
            a.x * b.y - b.x * a.y
        })
        .sum();
    twice.abs() / 2.0
}
