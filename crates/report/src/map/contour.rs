//! Filled contours by marching squares.
//!
//! ```text
//!   corners of a square        edges        a corner counts as inside where value >= level
//!      3 --- 2                 +- 2 -+
//!      |     |                 3     1
//!      0 --- 1                 +- 0 -+
//! ```
//!
//! The raster is taken to be surrounded by outside, met halfway to the next cell centre, so that every
//! contour is closed and what is inside at the rim ends on the rim of the cells.
//!
//! Source: W. E. Lorensen and H. E. Cline, Marching Cubes, Computer Graphics 21, 163-169 (1987), in two
//! dimensions; saddles are decided by the mean of the corners.

use geo::{Coord, coord};

use super::raster::Raster;

/// No edge: the mark of an empty slot.
const NONE: usize = usize::MAX;

/// The closed rings about what is at least `level`, points of the plane, first and last equal.
///
/// Inside is on the left of a ring, so holes run clockwise. Values that are not numbers are outside.
pub(crate) fn rings(raster: &Raster, level: f32) -> Vec<Vec<Coord<f64>>> {
    // Corners are the cells and a rim of one cell about them.
    let (width, height) = (raster.columns + 2, raster.rows + 2);
    // Edge 2k runs from corner k to the right, edge 2k + 1 from corner k up.
    let mut next = vec![NONE; 2 * width * height];
    for row in 0..height - 1 {
        for column in 0..width - 1 {
            let corner = row * width + column;
            let edges = [2 * corner, 2 * (corner + 1) + 1, 2 * (corner + width), 2 * corner + 1];
            let values = [(0, 0), (1, 0), (1, 1), (0, 1)]
                .map(|(dx, dy)| corner_value(raster, column + dx, row + dy));
            for (from, to) in segments(values, level) {
                if let (Some(&from), Some(&to)) = (edges.get(from), edges.get(to))
                    && let Some(slot) = next.get_mut(from)
                {
                    *slot = to;
                }
            }
        }
    }
    let mut rings = Vec::new();
    for first in 0..next.len() {
        let mut ring = Vec::new();
        let mut edge = first;
        while let Some(slot) = next.get_mut(edge).filter(|slot| **slot != NONE) {
            ring.push(crossing(raster, level, edge, width));
            edge = std::mem::replace(slot, NONE);
        }
        if ring.len() > 2 {
            ring.extend(ring.first().copied());
            rings.push(ring);
        }
    }
    rings
}

/// The segments of a square as pairs of its edges, inside on the left.
fn segments(values: [Option<f32>; 4], level: f32) -> impl Iterator<Item = (usize, usize)> {
    let inside = values.map(|value| value.is_some_and(|value| value >= level));
    let case = inside.iter().enumerate().map(|(bit, &is)| usize::from(is) << bit).sum::<usize>();
    let known: f32 = values.iter().map(|value| value.unwrap_or(f32::MIN) / 4.0).sum();
    let joined = known >= level;
    let (one, other) = match case {
        1 => (Some((0, 3)), None),
        2 => (Some((1, 0)), None),
        3 => (Some((1, 3)), None),
        4 => (Some((2, 1)), None),
        5 if joined => (Some((0, 1)), Some((2, 3))),
        5 => (Some((0, 3)), Some((2, 1))),
        6 => (Some((2, 0)), None),
        7 => (Some((2, 3)), None),
        8 => (Some((3, 2)), None),
        9 => (Some((0, 2)), None),
        10 if joined => (Some((3, 0)), Some((1, 2))),
        10 => (Some((1, 0)), Some((3, 2))),
        11 => (Some((1, 2)), None),
        12 => (Some((3, 1)), None),
        13 => (Some((0, 1)), None),
        14 => (Some((3, 0)), None),
        _ => (None, None),
    };
    one.into_iter().chain(other)
}

/// The value of a corner; nothing on the rim and where it is not a number.
fn corner_value(raster: &Raster, column: usize, row: usize) -> Option<f32> {
    let (column, row) = (column.checked_sub(1)?, row.checked_sub(1)?);
    raster.at(column, row).filter(|value| !value.is_nan())
}

/// Where the contour crosses an edge, by linear interpolation.
fn crossing(raster: &Raster, level: f32, edge: usize, width: usize) -> Coord<f64> {
    let corner = edge / 2;
    let (column, row) = (corner % width, corner / width);
    let (dx, dy) = if edge.is_multiple_of(2) { (1, 0) } else { (0, 1) };
    let ends = (corner_value(raster, column, row), corner_value(raster, column + dx, row + dy));
    let share = match ends {
        (Some(from), Some(to)) if from != to => f64::from((level - from) / (to - from)),
        _ => 0.5,
    };
    coord! {
        x: raster.origin.x + (column as f64 - 1.0 + dx as f64 * share) * raster.step_m,
        y: raster.origin.y + (row as f64 - 1.0 + dy as f64 * share) * raster.step_m,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn raster(columns: usize, values: &[f32]) -> Raster {
        Raster {
            columns,
            rows: values.len() / columns,
            origin: coord! { x: 0.5, y: 0.5 },
            step_m: 1.0,
            values: values.to_vec(),
        }
    }

    fn area(ring: &[Coord<f64>]) -> f64 {
        ring.windows(2).map(|pair| pair[0].x * pair[1].y - pair[1].x * pair[0].y).sum::<f64>() / 2.0
    }

    #[test]
    fn all_inside_is_the_rim_of_the_cells_with_its_corners_cut() {
        let found = rings(&raster(3, &[1.0; 6]), 0.5);
        assert_eq!(found.len(), 1);
        // Each corner loses a triangle of half by half a cell.
        assert!((area(&found[0]) - (6.0 - 4.0 * 0.125)).abs() < 1e-12);
        assert!(rings(&raster(3, &[0.0; 6]), 0.5).is_empty());
    }

    #[test]
    fn a_slope_is_cut_where_it_passes_the_level() {
        let found = rings(&raster(3, &[0.0, 0.4, 0.8, 0.0, 0.4, 0.8]), 0.6);
        let left = found[0].iter().map(|point| point.x).fold(f64::INFINITY, f64::min);
        // Halfway between the centres at 1.5 and 2.5.
        assert!((left - 2.0).abs() < 1e-6);
    }

    #[test]
    fn a_hole_runs_clockwise() {
        let mut values = [1.0; 25];
        values[12] = 0.0;
        let areas: Vec<f64> =
            rings(&raster(5, &values), 0.5).iter().map(|ring| area(ring)).collect();
        assert_eq!(areas.len(), 2);
        assert!(areas.iter().any(|&area| area > 20.0) && areas.iter().any(|&area| area < 0.0));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(500))]

        /// Whatever the values, the rings are closed and wind once about each inside centre and not
        /// about any outside one.
        #[test]
        fn rings_part_inside_from_outside(
            columns in 1..8_usize,
            cells in prop::collection::vec(prop_oneof![0.0..1.0_f32, Just(f32::NAN)], 1..64),
        ) {
            let rows = cells.len() / columns;
            let cells = &cells[..rows * columns];
            prop_assume!(rows > 0);
            prop_assume!(cells.iter().all(|value| (value - 0.5).abs() > 1e-3 || value.is_nan()));
            let raster = raster(columns, cells);
            let found = rings(&raster, 0.5);
            for (index, value) in cells.iter().enumerate() {
                let x = (index % columns) as f64 + 0.5;
                let y = (index / columns) as f64 + 0.5;
                let turns: f64 = found.iter().map(|ring| winding(ring, x, y)).sum();
                let expected = if *value >= 0.5 { 1.0 } else { 0.0 };
                prop_assert!((turns - expected).abs() < 1e-6);
            }
            for ring in &found {
                prop_assert_eq!(ring.first(), ring.last());
            }
        }
    }

    fn winding(ring: &[Coord<f64>], x: f64, y: f64) -> f64 {
        let angle = |p: &Coord<f64>| (p.y - y).atan2(p.x - x);
        let turn: f64 = ring
            .windows(2)
            .map(|pair| {
                let step = angle(&pair[1]) - angle(&pair[0]);
                step - (step / std::f64::consts::TAU).round() * std::f64::consts::TAU
            })
            .sum();
        turn / std::f64::consts::TAU
    }
}
