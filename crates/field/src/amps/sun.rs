//! Where the Sun stands.
//!
//! The low-precision position of J. Meeus, Astronomical Algorithms, 2nd ed. (1998), chapter 25, good
//! to 0.01 degrees, and the sidereal time of chapter 12. The difference of terrestrial and universal
//! time, some 70 s, moves the Sun by 0.001 degrees and is left out.

use jiff::Timestamp;

use crate::amps::vector::Vector;

/// 2000 January 1, 12 h UTC, seconds of the Unix epoch.
const J2000_S: f64 = 946_728_000.0;

/// Right ascension and declination, degrees, apparent.
fn apparent_position_deg(days: f64) -> [f64; 2] {
    let t = days / 36_525.0;
    let mean_longitude = 280.46646 + t * (36_000.769_83 + t * 0.000_303_2);
    let anomaly = (357.52911 + t * (35_999.050_29 - t * 0.000_153_7)).to_radians();
    let centre = (1.914602 - t * 0.004_817) * anomaly.sin()
        + (0.019993 - t * 0.000_101) * (2.0 * anomaly).sin()
        + 0.000_289 * (3.0 * anomaly).sin();
    let node = ascending_node_rad(t);
    let longitude = (mean_longitude + centre - 0.00569 - 0.00478 * node.sin()).to_radians();
    let obliquity = obliquity_rad(t);
    let right_ascension = (obliquity.cos() * longitude.sin()).atan2(longitude.cos());
    let declination = (obliquity.sin() * longitude.sin()).asin();
    [right_ascension.to_degrees(), declination.to_degrees()]
}

/// The Moon's ascending node, which rules the nutation.
fn ascending_node_rad(t: f64) -> f64 {
    (125.04 - 1934.136 * t).to_radians()
}

fn obliquity_rad(t: f64) -> f64 {
    (23.439_291 - 0.013_004_2 * t + 0.002_56 * ascending_node_rad(t).cos()).to_radians()
}

/// The direction of the Sun in the Earth-fixed frame: the unit vector to the subsolar point.
pub(crate) fn direction(instant: Timestamp) -> Vector {
    let days = (instant.as_millisecond() as f64 / 1000.0 - J2000_S) / 86_400.0;
    let t = days / 36_525.0;
    let [right_ascension, declination] = apparent_position_deg(days);
    let equinoxes = -0.00478 * ascending_node_rad(t).sin() * obliquity_rad(t).cos();
    let sidereal = 280.460_618_37 + 360.985_647_366_29 * days + 0.000_387_933 * t * t + equinoxes;
    let (sin_lon, cos_lon) = (right_ascension - sidereal).to_radians().sin_cos();
    let (sin_lat, cos_lat) = declination.to_radians().sin_cos();
    [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Meeus, example 25.a: 1992 October 13, 0 h TD (from memory).
    #[test]
    fn published_apparent_position() {
        let [right_ascension, declination] = apparent_position_deg(2_448_908.5 - 2_451_545.0);
        assert!((right_ascension.rem_euclid(360.0) - 198.38083).abs() < 1e-4, "{right_ascension}");
        assert!((declination + 7.78507).abs() < 1e-4, "{declination}");
    }

    /// At the equation of time's zero of mid-April the Sun stands over Greenwich at noon.
    #[test]
    fn noon_at_greenwich() {
        let [x, y, z] = direction("2027-04-15T12:00Z".parse().unwrap());
        assert!(y.atan2(x).to_degrees().abs() < 0.1);
        assert!((z.asin().to_degrees() - 9.7).abs() < 0.2);
    }
}
