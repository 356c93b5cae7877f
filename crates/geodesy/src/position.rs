//! Positions on the ellipsoid.

use crate::angle::normalise_longitude_deg;

/// A geographic position: `x` is the longitude and `y` the latitude, in degrees on WGS84.
///
/// At a geographic pole every longitude names the same place, but the longitude still says which
/// meridian courses are reckoned from; see [`geodesic`](crate::geodesic).
pub type Position = geo::Point<f64>;

/// Makes a [`Position`] of a latitude and a longitude in degrees, in the order a navigator writes them.
///
/// The longitude is brought into the range -180 to 180 degrees (180 excluded). The latitude is taken
/// as it is: one beyond a pole names no place, and what is computed from it is NaN.
///
/// ```
/// let coast = dipward_geodesy::position(-67.6, 62.87);
/// assert_eq!((coast.x(), coast.y()), (62.87, -67.6));
/// ```
#[must_use]
pub fn position(latitude_deg: f64, longitude_deg: f64) -> Position {
    Position::new(normalise_longitude_deg(longitude_deg), latitude_deg)
}
