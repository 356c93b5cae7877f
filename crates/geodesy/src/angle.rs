//! Angles in degrees: their ranges, and sines that are exact where they should be.

/// Brings a longitude into the half-open range -180 to 180 degrees, 180 itself becoming -180.
///
/// The result is exact: no rounding is added to the longitude. A value that is not finite gives NaN.
///
/// ```
/// use dipward_geodesy::normalise_longitude_deg;
///
/// assert_eq!(normalise_longitude_deg(190.0), -170.0);
/// assert_eq!(normalise_longitude_deg(180.0), -180.0);
/// assert_eq!(normalise_longitude_deg(-540.0), -180.0);
/// ```
#[must_use]
pub fn normalise_longitude_deg(longitude_deg: f64) -> f64 {
    let within_turn = longitude_deg % 360.0;
    // Both differences are exact (Sterbenz); the last sum turns -0 into +0.
    let normalised = if within_turn >= 180.0 {
        within_turn - 360.0
    } else if within_turn < -180.0 {
        within_turn + 360.0
    } else {
        within_turn
    };
    normalised + 0.0
}

/// Brings a course into the half-open range 0 to 360 degrees.
///
/// A value that is not finite gives NaN.
///
/// ```
/// use dipward_geodesy::normalise_course_deg;
///
/// assert_eq!(normalise_course_deg(-90.0), 270.0);
/// assert_eq!(normalise_course_deg(360.0), 0.0);
/// ```
#[must_use]
pub fn normalise_course_deg(course_deg: f64) -> f64 {
    let within_turn = course_deg % 360.0;
    let normalised = if within_turn < 0.0 { within_turn + 360.0 } else { within_turn };
    // A tiny negative course rounds up to the full turn, which is not in the range.
    if normalised >= 360.0 { 0.0 } else { normalised + 0.0 }
}

/// Sine and cosine of an angle in degrees, exact at every multiple of 90.
///
/// The angle is brought within 45 degrees of a quadrant before it becomes radians, so that the
/// rounding of pi does not leave a sine of 1e-16 where a meridian should run straight up the map.
pub(crate) fn sin_cos_deg(angle_deg: f64) -> (f64, f64) {
    let within_turn = angle_deg % 360.0;
    let quadrant = (within_turn / 90.0).round();
    let (sine, cosine) = (within_turn - 90.0 * quadrant).to_radians().sin_cos();
    // A cast of NaN is 0, and then the sine and cosine carry the NaN.
    match (quadrant as i32).rem_euclid(4) {
        0 => (sine, cosine),
        1 => (cosine, -sine),
        2 => (-sine, -cosine),
        _ => (-cosine, sine),
    }
}
