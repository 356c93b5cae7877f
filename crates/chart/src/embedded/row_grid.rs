//! Values at the nodes of rows of latitude, with fewer nodes on the shorter rows.

use dipward_geodesy::{Hemisphere, Position};

/// ```text
///  pole  .   .   .   .     row n - 1, fewest nodes
///        . . . . . . . .
///        . . . . . . . .
///        ................  row 0, first latitude
///        ^ Greenwich, then eastward once round
/// ```
///
/// Each row's nodes are every node of the row before, or every second, fourth ... one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RowGrid {
    pub(crate) hemisphere: Hemisphere,
    /// Without sign.
    pub(crate) first_latitude_deg: f64,
    pub(crate) rows_per_degree: f64,
    /// At least two.
    pub(crate) rows: Vec<Row>,
    /// Of row after row.
    pub(crate) values: Vec<i16>,
}

/// Where a row's values lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Row {
    pub(crate) start: usize,
    /// At least one.
    pub(crate) nodes: usize,
}

impl RowGrid {
    /// The value between the four nodes about a position, or nothing outside the grid.
    pub(crate) fn bilinear(&self, position: Position) -> Option<f32> {
        let row = self.row(position)?;
        let below = (row as usize).min(self.rows.len() - 2);
        let weight = row - below as f64;
        let turn = turn(position)?;
        let (here, poleward) = (self.along(below, turn), self.along(below + 1, turn));
        Some((here + (poleward - here) * weight) as f32)
    }

    /// The value of the nearest node, or nothing outside the grid.
    pub(crate) fn nearest(&self, position: Position) -> Option<i16> {
        let row = self.rows[self.row(position)?.round() as usize];
        let column = (turn(position)? * row.nodes as f64).round() as usize % row.nodes;
        Some(self.values[row.start + column])
    }

    /// Rows from the first latitude to the position, from 0 to the last row.
    fn row(&self, position: Position) -> Option<f64> {
        let latitude_deg = self.hemisphere.sign() * position.y();
        let row = (latitude_deg - self.first_latitude_deg) * self.rows_per_degree;
        // Written so that a latitude that is not a number is outside as well.
        (row >= 0.0 && row <= (self.rows.len() - 1) as f64).then_some(row)
    }

    /// The value within a row, linear between its nodes.
    fn along(&self, row: usize, turn: f64) -> f64 {
        let row = self.rows[row];
        let column = turn * row.nodes as f64;
        // A turn just short of the whole may round up to it.
        let west = column as usize % row.nodes;
        let east = (west + 1) % row.nodes;
        let value = |column| f64::from(self.values[row.start + column]);
        value(west) + (value(east) - value(west)) * column.fract()
    }
}

/// Longitude as a part of the whole circle, 0 to 1, whichever way it was counted.
fn turn(position: Position) -> Option<f64> {
    let turn = (position.x() / 360.0).rem_euclid(1.0);
    turn.is_finite().then_some(turn)
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use geo::Point;
    use proptest::prelude::*;

    use super::*;

    /// Rows at 88, 89 and 90 degrees of 4, 4 and 2 nodes.
    fn small() -> RowGrid {
        RowGrid {
            hemisphere: Hemisphere::South,
            first_latitude_deg: 88.0,
            rows_per_degree: 1.0,
            rows: [(0, 4), (4, 4), (8, 2)].map(|(start, nodes)| Row { start, nodes }).to_vec(),
            values: vec![0, 10, 20, 30, 100, 110, 120, 130, 200, 200],
        }
    }

    #[test]
    fn at_nodes_and_between() {
        let grid = small();
        let at = |latitude_deg, longitude_deg| grid.bilinear(position(latitude_deg, longitude_deg));
        assert_eq!(at(-88.0, 90.0), Some(10.0));
        assert_eq!(at(-88.0, 45.0), Some(5.0));
        assert_eq!(at(-88.5, 45.0), Some(55.0));
        assert_eq!(at(-89.5, -90.0), Some(165.0));
        assert_eq!(at(-90.0, 12.3), Some(200.0));
        // Across Greenwich: from 30 at 270 degrees back to 0 at 360.
        assert_eq!(at(-88.0, -45.0), Some(15.0));
    }

    #[test]
    fn nearest_node() {
        let grid = small();
        let at = |latitude_deg, longitude_deg| grid.nearest(position(latitude_deg, longitude_deg));
        assert_eq!(at(-88.4, 44.0), Some(0));
        assert_eq!(at(-88.6, 46.0), Some(110));
        assert_eq!(at(-88.0, -44.0), Some(0));
        assert_eq!(at(-88.0, -46.0), Some(30));
        assert_eq!(at(-90.0, 170.0), Some(200));
    }

    #[test]
    fn outside_is_nothing() {
        let grid = small();
        for (x, y) in [
            (0.0, -87.9),
            (0.0, 89.0),
            (0.0, -90.1),
            (0.0, f64::NAN),
            (f64::NAN, -89.0),
            (f64::INFINITY, -89.0),
        ] {
            assert_eq!(grid.bilinear(Point::new(x, y)), None, "{x} {y}");
            assert_eq!(grid.nearest(Point::new(x, y)), None, "{x} {y}");
        }
    }

    proptest! {
        #[test]
        fn every_way_of_counting_longitude_is_one(
            latitude_deg in -90.0..=-88.0, longitude_deg in 0.0..360.0, turns in -3..=3,
        ) {
            let grid = small();
            let counted = Point::new(longitude_deg + 360.0 * f64::from(turns), latitude_deg);
            let once = grid.bilinear(Point::new(longitude_deg, latitude_deg)).unwrap();
            prop_assert!((grid.bilinear(counted).unwrap() - once).abs() < 1e-3);
        }

        #[test]
        fn a_hair_west_of_greenwich_is_as_greenwich(hair in 0.0..1e-12_f64) {
            let grid = small();
            prop_assert!(grid.bilinear(Point::new(-hair, -88.0)).unwrap().abs() < 1e-3);
        }

        #[test]
        fn any_numbers_pass(x in any::<f64>(), y in any::<f64>()) {
            let _ = small().bilinear(Point::new(x, y));
            let _ = small().nearest(Point::new(x, y));
        }
    }
}
