//! Where an image lies: its projection and its affine transform.

use dipward_geodesy::Position;

use crate::crs::{Listed, MapProjection};

/// Where an image lies.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Placement {
    /// The projection.
    pub(crate) projection: MapProjection,
    /// Map coordinates of the outer corner of the first pixel of the first row.
    pub(crate) corner: [f64; 2],
    /// The step to the next pixel of a row.
    pub(crate) along_row: [f64; 2],
    /// The step to the next row.
    pub(crate) along_column: [f64; 2],
}

impl Placement {
    /// The placement of an image on a map that counts its columns and rows.
    pub(crate) fn listed(listed: Listed) -> Self {
        Self {
            projection: MapProjection::Listed(listed),
            corner: [0.0, 0.0],
            along_row: [1.0, 0.0],
            along_column: [0.0, 1.0],
        }
    }

    /// Whether positions can be found on the image at all.
    pub(crate) fn is_regular(&self) -> bool {
        let size = |step: [f64; 2]| step[0].hypot(step[1]);
        let scale = size(self.along_row) * size(self.along_column);
        let finite = self.corner.iter().all(|value| value.is_finite()) && scale.is_finite();
        finite && self.determinant().abs() > 1e-9 * scale
    }

    /// How many columns go round the Earth, on an image in longitude and latitude (of the Earth's pole or
    /// another) whose rows run along parallels and whose columns divide the circle.
    pub(crate) fn pixels_around(&self) -> Option<i64> {
        let around = (360.0 / self.along_row[0]).abs();
        let whole = self.projection.goes_round()
            && self.along_row[1] == 0.0
            && (around - around.round()).abs() < 1e-6 * around;
        whole.then_some(around.round() as i64)
    }

    /// Column and row of a position in pixels: the first pixel goes from 0 to 1 in both.
    ///
    /// Not a number, or far outside the image, for a position that the map does not show.
    pub(crate) fn pixel(&self, at: Position) -> [f64; 2] {
        if self.projection.goes_round() {
            // The turn of longitude that puts the position on the image, if one does: images begin at -180,
            // at 0 or anywhere, and run east or west.
            let [x, y] = self.projection.coordinates(at);
            let edge = self.corner[0];
            let turned = if self.along_row[0] < 0.0 {
                edge - (edge - x).rem_euclid(360.0)
            } else {
                edge + (x - edge).rem_euclid(360.0)
            };
            self.pixel_of_map([turned, y])
        } else {
            self.pixel_of_map(self.projection.coordinates(at))
        }
    }

    fn pixel_of_map(&self, map: [f64; 2]) -> [f64; 2] {
        let [dx, dy] = [map[0] - self.corner[0], map[1] - self.corner[1]];
        let determinant = self.determinant();
        [
            (dx * self.along_column[1] - dy * self.along_column[0]) / determinant,
            (dy * self.along_row[0] - dx * self.along_row[1]) / determinant,
        ]
    }

    fn determinant(&self) -> f64 {
        self.along_row[0] * self.along_column[1] - self.along_row[1] * self.along_column[0]
    }
}
