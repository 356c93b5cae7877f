//! The grid that covers a set of positions.

use geo::{Coord, coord};

use super::{Grid, checked_cell_m};
use crate::error::{Error, check};
use crate::geodesic::points_along;
use crate::position::Position;
use crate::projection::PolarStereographic;

impl Grid {
    /// The smallest grid that covers the positions, the shortest lines from each to the next, and a
    /// margin about them.
    ///
    /// The cell centres lie on whole multiples of the cell size, so that grids of one projection and
    /// one cell size share their cells; the outermost centres are on or outside the margin.
    ///
    /// # Arguments
    ///
    /// * `positions`: at least one, in the order of the voyage.
    /// * `cell_km`: side of a cell on the map, kilometres, at least 0.001.
    /// * `margin_km`: added on every side, kilometres on the map, not negative.
    ///
    /// # Errors
    ///
    /// [`Error::NoPositions`]; [`Error::OutOfRange`] for the cell size or the margin;
    /// [`Error::NotOnProjection`] when a position or a line between two comes to the opposite pole;
    /// [`Error::CellCount`] when there would be more than [`Grid::MAX_CELLS`].
    pub fn covering(
        projection: PolarStereographic,
        positions: &[Position],
        cell_km: f64,
        margin_km: f64,
    ) -> Result<Self, Error> {
        let cell_m = checked_cell_m(cell_km * 1000.0)?;
        let margin_m = 1000.0
            * check("the margin (km)", margin_km, "from 0 to 1e6", |value| {
                (0.0..=1e6).contains(&value)
            })?;
        let first = *positions.first().ok_or(Error::NoPositions)?;
        let start = on_map(&projection, first)?;
        let (mut low, mut high) = (start, start);
        for leg in positions.windows(2) {
            let &[from, to] = leg else { continue };
            for position in points_along(from, to, spacing_km(cell_km)) {
                let place = on_map(&projection, position)?;
                low = coord! { x: low.x.min(place.x), y: low.y.min(place.y) };
                high = coord! { x: high.x.max(place.x), y: high.y.max(place.y) };
            }
        }

        let (left, columns) = snapped(low.x - margin_m, high.x + margin_m, cell_m);
        let (bottom, rows) = snapped(low.y - margin_m, high.y + margin_m, cell_m);
        let too_many = |_| Error::CellCount { columns, rows };
        Self::new(
            projection,
            coord! { x: left, y: bottom },
            cell_m,
            u32::try_from(columns).map_err(too_many)?,
            u32::try_from(rows).map_err(too_many)?,
        )
    }
}

/// How close to sample a line: as the cells are, within limits.
///
/// On the map a geodesic bends with a radius of at least twice the Earth's where the scale is near
/// 1, so a piece of length s stands off its chord by s^2 / 16 R: 25 m for the coarsest pieces, 1 cm
/// for the finest, and a small part of a cell in between.
fn spacing_km(cell_km: f64) -> f64 {
    const FINEST_KM: f64 = 1.0;
    const COARSEST_KM: f64 = 50.0;
    cell_km.clamp(FINEST_KM, COARSEST_KM)
}

/// Puts a position on the map, or says that it cannot be.
fn on_map(projection: &PolarStereographic, position: Position) -> Result<Coord<f64>, Error> {
    /// In radii of the equator: the map grows without bound from there to the opposite pole, and
    /// this is some 11 degrees short of it.
    const FARTHEST: f64 = 10.0;

    let place = projection.forward(position);
    let origin = projection.false_origin();
    // False for NaN too.
    if (place.x - origin.x).hypot(place.y - origin.y) <= FARTHEST * projection.equator_radius_m() {
        Ok(place)
    } else {
        Err(Error::NotOnProjection { latitude_deg: position.y(), longitude_deg: position.x() })
    }
}

/// The first multiple of the cell size at or below `low_m`, and how many there are up to the first
/// at or above `high_m`.
fn snapped(low_m: f64, high_m: f64, cell_m: f64) -> (f64, u64) {
    let first = (low_m / cell_m).floor();
    let last = (high_m / cell_m).ceil();
    // A cast of a float holds at the ends of the integer's range.
    (first * cell_m, (last - first) as u64 + 1)
}
