//! Shortest lines on WGS84, through the series of Karney.
//!
//! # What a course means
//!
//! A course is the angle, clockwise as seen from above, from true north to the way the line goes, in
//! the range 0 to 360 degrees. The final course is the one held on arrival, not the bearing back.
//!
//! At a geographic pole north has no direction, and the longitude given with the pole takes its
//! place: courses there are the limit, reached along the meridian of that longitude, of the courses
//! of the same line. So from 90N with longitude L
//!
//! ```text
//!   course 0    crosses the pole and goes down the meridian L + 180
//!   course 90   goes down the meridian L + 90
//!   course 180  goes back down the meridian L
//! ```
//!
//! that is, course C goes down the meridian L + 180 - C; and from 90S with longitude L course C goes
//! up the meridian L + C. A line that runs over a pole turns its course from 0 to 180 there, or from
//! 180 to 0 at the South Pole, and its longitude by 180 degrees. The date line changes nothing:
//! longitudes that differ by whole turns are the same.
//!
//! Two positions at the same place have distance 0 and courses 0 by definition.
//!
//! Source: C. F. F. Karney, Algorithms for geodesics, Journal of Geodesy 87, 43-55 (2013),
//! doi 10.1007/s00190-012-0578-z.

use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic, InverseGeodesic};
use serde::{Deserialize, Serialize};

use crate::angle::normalise_course_deg;
use crate::position::{Position, position};

static WGS84: LazyLock<geographiclib_rs::Geodesic> =
    LazyLock::new(geographiclib_rs::Geodesic::wgs84);

/// Kilometres in a nautical mile, exactly, since the
/// International Hydrographic Conference of 1929 (from memory).
pub const KM_PER_NAUTICAL_MILE: f64 = 1.852;

/// The shortest line between two positions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Geodesic {
    /// Length in kilometres.
    pub distance_km: f64,
    /// Course at the start, degrees, 0 to 360.
    pub initial_course_deg: f64,
    /// Course held at the end, degrees, 0 to 360.
    pub final_course_deg: f64,
}

/// Where a line that was followed for a distance has come to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Arrival {
    /// The end of the line.
    pub position: Position,
    /// Course held at the end, degrees, 0 to 360.
    pub course_deg: f64,
}

/// The shortest line from `a` to `b`.
///
/// Where there are several (a pole to the other pole, or nearly opposite positions), one of them is
/// given, always the same. A position that is not on Earth gives NaN.
///
/// ```
/// use dipward_geodesy::{geodesic, position};
///
/// // Straight over the North Pole: out on course 0, in on course 180.
/// let over = geodesic::inverse(position(89.0, 40.0), position(89.0, -140.0));
/// assert!((over.distance_km - 223.387_730).abs() < 1e-6);
/// assert!(over.initial_course_deg < 1e-9);
/// assert!((over.final_course_deg - 180.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn inverse(a: Position, b: Position) -> Geodesic {
    let (distance_m, initial_deg, final_deg, _arc_deg): (f64, f64, f64, f64) =
        WGS84.inverse(a.y(), a.x(), b.y(), b.x());
    if distance_m == 0.0 {
        return Geodesic { distance_km: 0.0, initial_course_deg: 0.0, final_course_deg: 0.0 };
    }
    Geodesic {
        distance_km: distance_m / 1000.0,
        initial_course_deg: normalise_course_deg(initial_deg),
        final_course_deg: normalise_course_deg(final_deg),
    }
}

/// Follows the geodesic that leaves `from` on a course, for a distance.
///
/// A negative distance follows it backwards; the course at the end is still the one of the line's
/// own sense. A position that is not on Earth gives NaN.
///
/// ```
/// use dipward_geodesy::{geodesic, position};
///
/// let south = geodesic::direct(position(90.0, 30.0), 180.0, 100.0).position;
/// assert!((south.x() - 30.0).abs() < 1e-9);
/// assert!((south.y() - 89.104_696).abs() < 1e-6);
/// ```
#[must_use]
pub fn direct(from: Position, course_deg: f64, distance_km: f64) -> Arrival {
    let (latitude_deg, longitude_deg, end_course_deg): (f64, f64, f64) =
        WGS84.direct(from.y(), from.x(), course_deg, distance_km * 1000.0);
    Arrival {
        position: position(latitude_deg, longitude_deg),
        course_deg: normalise_course_deg(end_course_deg),
    }
}

/// Length of the shortest line between two positions, in kilometres.
#[must_use]
pub fn distance_km(a: Position, b: Position) -> f64 {
    let distance_m: f64 = WGS84.inverse(a.y(), a.x(), b.y(), b.x());
    distance_m / 1000.0
}

/// Positions along the shortest line from `a` to `b`, evenly spaced, both ends included as given.
///
/// # Arguments
///
/// * `max_spacing_km`: the greatest distance from one position to the next. Less than a metre counts
///   as a metre; what is not a positive number asks for nothing between the ends.
///
/// # Returns
///
/// At least two positions, the first `a` and the last `b`.
#[must_use]
pub fn points_along(a: Position, b: Position, max_spacing_km: f64) -> Vec<Position> {
    /// Keeps the number of positions bounded: half round the Earth gives twenty million.
    const MIN_SPACING_KM: f64 = 1e-3;

    let line = inverse(a, b);
    let pieces = if max_spacing_km > 0.0 {
        (line.distance_km / max_spacing_km.max(MIN_SPACING_KM)).ceil()
    } else {
        1.0
    };
    // A cast of NaN is 0, which leaves the two ends.
    let pieces = (pieces as u32).max(1);
    let mut points = Vec::with_capacity(pieces as usize + 1);
    points.push(a);
    points.extend((1..pieces).map(|piece| {
        let run_km = line.distance_km * f64::from(piece) / f64::from(pieces);
        direct(a, line.initial_course_deg, run_km).position
    }));
    points.push(b);
    points
}

/// The position at a fraction of the shortest line from `a` to `b`.
///
/// 0 gives `a` and 1 gives `b`, as they are; less than 0 or more than 1 follows the same geodesic
/// beyond its ends.
#[must_use]
pub fn interpolate(a: Position, b: Position, fraction: f64) -> Position {
    if fraction == 0.0 {
        return a;
    }
    if fraction == 1.0 {
        return b;
    }
    let line = inverse(a, b);
    direct(a, line.initial_course_deg, line.distance_km * fraction).position
}
