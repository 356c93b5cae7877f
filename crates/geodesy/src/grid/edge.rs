//! True lengths and true courses between cells.
//!
//! A step along a straight line of the map is ds / k on the Earth, with k the point scale along it.
//! Its length is h (1/k1 + 4/km + 1/k2) / 6, Simpson's rule over the two ends and the middle.
//!
//! # Accuracy
//!
//! A straight line of the map is not quite a shortest line: at a distance r from the pole a step of
//! length h is longer than the geodesic by the fraction (h r / 2 R^2)^2 / 24. Measured against
//! Karney's geodesics, with cells of 2 km, the worst over all directions:
//!
//! ```text
//!   step      80 deg     60 deg     30 deg     mean of the two ends only, at the pole
//!   (1, 0)    3.3e-11    2.7e-10    8.2e-10    4.3e-9
//!   (2, 1)    1.6e-10    1.3e-9     4.1e-9     2.2e-8
//!   (3, 2)    4.2e-10    3.5e-9     1.1e-8     5.6e-8
//!   (5, 5)    1.6e-9     1.4e-8     4.1e-8     2.2e-7
//! ```
//!
//! The errors grow with the square of the cell: with 25 km cells a step to the next cell is within
//! 2e-7. An edge is never shorter than the geodesic by more than 2e-10, the rule's own error with
//! cells of 25 km, so that a geodesic distance stays a lower bound for a search. The mean of the two
//! ends, h (1/k1 + 1/k2) / 2, errs to the short side near the pole, and by more than 1e-7 beyond
//! (3, 2): that is why the middle is taken too.

use geo::Coord;

use super::{Cell, Grid};
use crate::angle::normalise_course_deg;

impl Grid {
    /// The point scale at the centre of a cell: metres on the map for a metre on the Earth.
    #[must_use]
    pub fn point_scale(&self, cell: Cell) -> Option<f64> {
        self.centre_coord(cell).map(|coord| self.projection.point_scale_at(coord))
    }

    /// The true length in kilometres of the straight step between the centres of two cells, on the
    /// ellipsoid of the projection.
    ///
    /// Within 1e-7 of the geodesic for steps of up to five columns and rows of 2 km cells, poleward of
    /// 30 degrees; the source file has the measurements. The same to the last digit in both
    /// directions. Nothing when a cell is outside the grid.
    ///
    /// A grid on another figure than WGS84, such as [`Ellipsoid::HUGHES_1980`], has the lengths of
    /// that figure, which differ by some 2e-5.
    ///
    /// [`Ellipsoid::HUGHES_1980`]: crate::Ellipsoid::HUGHES_1980
    #[must_use]
    pub fn edge_km(&self, a: Cell, b: Cell) -> Option<f64> {
        let (from, to) = (self.centre_coord(a)?, self.centre_coord(b)?);
        let run = to - from;
        let stretch = |coord: Coord<f64>| self.projection.point_scale_at(coord).recip();
        let ends = stretch(from) + stretch(to);
        let mean = (ends + 4.0 * stretch((from + to) / 2.0)) / 6.0;
        Some(run.x.hypot(run.y) / 1000.0 * mean)
    }

    /// True kilometres for a kilometre on the map, one for each cell, in the order of the cells.
    ///
    /// The reciprocals of the point scales, for a search that takes the mean of the two ends of each
    /// step: with 2 km cells that is within 1e-7 of the geodesic for steps up to (3, 2), and within
    /// 3e-7 up to (5, 5). Use [`Grid::edge_km`] where that is not enough.
    ///
    /// # Complexity
    ///
    /// Linear in the cells, each a solution for the latitude, some 0.2 microseconds.
    #[must_use]
    pub fn scale_table(&self) -> Vec<f64> {
        let mut table = Vec::with_capacity(self.len());
        for row in 0..self.rows {
            table.extend(
                (0..self.columns).map(|column| {
                    self.projection.point_scale_at(self.coord_of(row, column)).recip()
                }),
            );
        }
        table
    }

    /// The true course, 0 to 360 degrees, of a step of some columns and rows, where it leaves the
    /// centre of a cell.
    ///
    /// On the pole itself, courses are reckoned from the central meridian, as [`Grid::centre`] gives
    /// it, so that they are the grid's own. Nothing for a cell outside the grid or a step of nothing.
    #[must_use]
    pub fn true_course_deg(&self, cell: Cell, dcolumn: i32, drow: i32) -> Option<f64> {
        if dcolumn == 0 && drow == 0 {
            return None;
        }
        let grid_course_deg = f64::from(dcolumn).atan2(f64::from(drow)).to_degrees();
        let convergence_deg = self.projection.convergence_deg(self.centre(cell)?);
        Some(normalise_course_deg(grid_course_deg - convergence_deg))
    }
}
