//! Rhumb lines on WGS84: lines of constant course, which a plotter draws between waypoints.
//!
//! A rhumb line is straight in longitude and isometric latitude psi. With M the length of the meridian
//! from the equator,
//!
//! ```text
//!   course    = atan2(d lambda, d psi)
//!   distance  = hypot(d lambda, d psi) * dM / d psi      (dM / d psi = N cos phi along a parallel)
//! ```
//!
//! Lengths of meridians are those of [`geodesic`]. Of the two ways round the Earth the shorter is taken;
//! where both are equal, the one to the east.
//!
//! Source: K. C. Carlton-Wippern, On loxodromic navigation, Journal of Navigation 45, 292-297 (1992)
//! for the formulas on an ellipsoid (from memory); `tests/properties_rhumb.rs` holds them to an
//! integration of their own and to published lines.

use crate::{
    angle::{normalise_course_deg, normalise_longitude_deg},
    conformal::Conformal,
    ellipsoid::Ellipsoid,
    geodesic::{self, KM_PER_NAUTICAL_MILE},
    position::{Position, position},
};

/// The rhumb line between two positions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rhumb {
    /// Length in kilometres.
    pub distance_km: f64,
    /// Its course, degrees, 0 to 360.
    pub course_deg: f64,
}

/// Differences of latitude below this, in radians, count as a parallel: there the quotient of the two
/// lengths loses more digits than the middle latitude's value is off, about 1e-11 of itself.
const PARALLEL: f64 = 2e-5;

/// The rhumb line from `a` to `b`.
///
/// # Returns
///
/// NaN for a position that is not on Earth, and where one end is a pole and the other on another
/// meridian: such a line winds round the pole for ever.
///
/// # Example
///
/// ```
/// use dipward_geodesy::{position, rhumb};
///
/// // Along the parallel of 60 N, 10 degrees of longitude.
/// let line = rhumb::inverse(position(60.0, 0.0), position(60.0, 10.0));
/// assert_eq!(line.course_deg, 90.0);
/// assert!((line.distance_km - 558.0).abs() < 0.1);
/// ```
#[must_use]
pub fn inverse(a: Position, b: Position) -> Rhumb {
    let east = normalise_longitude_deg(b.x() - a.x());
    // Half a turn goes to the east, whichever way it is written.
    let east = if east == -180.0 { 180.0 } else { east }.to_radians();
    let north = isometric(b) - isometric(a);
    if a.y() == b.y() && east == 0.0 {
        return Rhumb { distance_km: 0.0, course_deg: 0.0 };
    }
    // Along a meridian, from and to a pole too.
    if east == 0.0 {
        let course_deg = if b.y() > a.y() { 0.0 } else { 180.0 };
        return Rhumb { distance_km: meridian_km(a.y(), b.y()).abs(), course_deg };
    }
    // The tangent of a right angle in radians is a large number, not an infinite one.
    if !(a.y().abs() < 90.0 && b.y().abs() < 90.0) {
        return Rhumb { distance_km: f64::NAN, course_deg: f64::NAN };
    }
    let distance_km = east.hypot(north) * km_per_isometric(a.y(), b.y());
    Rhumb { distance_km, course_deg: normalise_course_deg(east.atan2(north).to_degrees()) }
}

/// Follows the rhumb line that leaves `from` on a course, for a distance.
///
/// # Returns
///
/// NaN where the line would reach a pole before.
///
/// # Example
///
/// ```
/// use dipward_geodesy::{distance_km, position, rhumb};
///
/// let (hobart, pole) = (position(-42.9, 147.3), position(-64.0, 135.0));
/// let line = rhumb::inverse(hobart, pole);
/// let there = rhumb::direct(hobart, line.course_deg, line.distance_km);
/// assert!(distance_km(there, pole) < 1e-6);
/// ```
#[must_use]
pub fn direct(from: Position, course_deg: f64, distance_km: f64) -> Position {
    let course = course_deg.to_radians();
    let (sine, cosine) = course.sin_cos();
    let latitude_deg = along_meridian(from.y(), distance_km * cosine);
    let (parallel, to) = ((latitude_deg - from.y()).to_radians().abs() < PARALLEL, latitude_deg);
    let north = if parallel {
        distance_km * cosine / km_per_isometric(from.y(), to)
    } else {
        isometric(position(to, 0.0)) - isometric(from)
    };
    let east = if parallel {
        distance_km * sine / km_per_isometric(from.y(), to)
    } else {
        north * course.tan()
    };
    let ended = north.is_finite() && latitude_deg.abs() < 90.0 || sine == 0.0;
    let longitude_deg = if ended { from.x() + east.to_degrees() } else { f64::NAN };
    position(latitude_deg, normalise_longitude_deg(longitude_deg))
}

/// How far the rhumb line from `a` to `b` strays from the geodesic between them, in kilometres.
///
/// # Returns
///
/// The greatest of the distances between points that stand at the same share of the two lines, at fifteen
/// shares: never much less than the greatest distance of a point from the other line, and a little more.
#[must_use]
pub fn cross_track_km(a: Position, b: Position) -> f64 {
    const SHARES: u32 = 16;
    let (geodesic, rhumb) = (geodesic::inverse(a, b), inverse(a, b));
    (1..SHARES)
        .map(|share| {
            let share = f64::from(share) / f64::from(SHARES);
            let course_deg = geodesic.initial_course_deg;
            let shortest = geodesic::direct(a, course_deg, share * geodesic.distance_km).position;
            let constant = direct(a, rhumb.course_deg, share * rhumb.distance_km);
            geodesic::distance_km(shortest, constant)
        })
        // What is not a number strays without end.
        .fold(0.0, |most: f64, km| if km.is_nan() { f64::INFINITY } else { most.max(km) })
}

/// Poleward of this no plotter draws rhumb lines that a mariner could follow.
const NEAR_POLE_DEG: f64 = 89.9;
const MOST_HALVINGS: u32 = 24;

/// How the line from one waypoint to the next is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LegLine {
    /// A rhumb line: of constant course.
    Rhumb,
    /// A geodesic, where rhumb lines wind round the pole.
    Geodesic,
}

/// Cuts a geodesic so that the rhumb lines between the cuts keep within a distance of it.
///
/// # Arguments
///
/// `cross_track_km`: how far they may stray, above 0.
///
/// # Returns
///
/// The cuts after `a`, the last one `b` itself, each with the line that leads to it: a rhumb line, or a
/// piece of the geodesic of a nautical mile or less where one of its ends lies poleward of 89.9 degrees
/// or the rhumb line still strays.
///
/// # Example
///
/// ```
/// use dipward_geodesy::{position, rhumb};
///
/// let (hobart, pole) = (position(-42.9, 147.3), position(-64.0, 135.0));
/// assert!(rhumb::cross_track_km(hobart, pole) > 20.0);
/// let cuts = rhumb::cut(hobart, pole, 0.926);
/// assert!(cuts.len() > 3 && cuts.len() < 20);
/// ```
#[must_use]
pub fn cut(a: Position, b: Position, cross_track_km: f64) -> Vec<(Position, LegLine)> {
    let mut cuts = Vec::new();
    halve(a, b, cross_track_km, MOST_HALVINGS, &mut cuts);
    cuts
}

fn halve(a: Position, b: Position, limit_km: f64, left: u32, cuts: &mut Vec<(Position, LegLine)>) {
    let near_pole = a.y().abs().max(b.y().abs()) > NEAR_POLE_DEG;
    if !near_pole && cross_track_km(a, b) <= limit_km {
        cuts.push((b, LegLine::Rhumb));
    } else if left == 0 || geodesic::distance_km(a, b) <= KM_PER_NAUTICAL_MILE {
        cuts.push((b, LegLine::Geodesic));
    } else {
        let middle = geodesic::interpolate(a, b, 0.5);
        halve(a, middle, limit_km, left - 1, cuts);
        halve(middle, b, limit_km, left - 1, cuts);
    }
}

/// Isometric latitude, radians.
fn isometric(at: Position) -> f64 {
    Conformal::new(Ellipsoid::WGS84).conformal_tangent(at.y().to_radians().tan()).asinh()
}

/// Length of the meridian from one latitude to another, north positive.
fn meridian_km(from_deg: f64, to_deg: f64) -> f64 {
    let km = geodesic::distance_km(position(from_deg, 0.0), position(to_deg, 0.0));
    if to_deg < from_deg { -km } else { km }
}

/// The latitude that lies so far north along the meridian; beyond a pole one of more than 90 degrees.
fn along_meridian(from_deg: f64, north_km: f64) -> f64 {
    let to_pole_km = meridian_km(from_deg, 90.0_f64.copysign(north_km));
    if north_km.abs() > to_pole_km.abs() {
        return f64::NAN;
    }
    geodesic::direct(position(from_deg, 0.0), 0.0, north_km).position.y()
}

/// Kilometres of meridian to a radian of isometric latitude, on the mean between two latitudes.
fn km_per_isometric(from_deg: f64, to_deg: f64) -> f64 {
    if (to_deg - from_deg).to_radians().abs() >= PARALLEL {
        let north = isometric(position(to_deg, 0.0)) - isometric(position(from_deg, 0.0));
        return meridian_km(from_deg, to_deg) / north;
    }
    let (sine, cosine) = (0.5 * (from_deg + to_deg)).to_radians().sin_cos();
    let ellipsoid = Ellipsoid::WGS84;
    let curvature = (1.0 - ellipsoid.eccentricity_squared() * sine * sine).sqrt();
    ellipsoid.semi_major_m / 1000.0 * cosine / curvature
}
