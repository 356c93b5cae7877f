use std::fmt;

use serde::{Deserialize, Serialize};

/// How much a gyro compass can be trusted, by latitude. From memory: gyros are specified to 70 or
/// 75 degrees, degrade beyond, and are used as directional gyros or replaced by satellite heading
/// above 80 to 85; the Polar Code wants satellite heading or its like above 80.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GyroState {
    /// To 70 degrees.
    Specified,
    /// 70 to 80 degrees.
    Degraded,
    /// Above 80 degrees.
    Directional,
}

impl GyroState {
    /// The state at a latitude; what is not a number is the worst.
    #[must_use]
    pub fn at(latitude_deg: f64) -> Self {
        let latitude_deg = latitude_deg.abs();
        if latitude_deg <= 70.0 {
            Self::Specified
        } else if latitude_deg <= 80.0 {
            Self::Degraded
        } else {
            Self::Directional
        }
    }
}

impl fmt::Display for GyroState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Specified => "gyro within its specification",
            Self::Degraded => "gyro degraded (above 70 degrees)",
            Self::Directional => "gyro directional or satellite heading (above 80 degrees)",
        })
    }
}

/// Error of a gyro that is not corrected for speed, while steaming north or south:
/// `tan e = V / (902.5 cos latitude)`, V in knots. 90 degrees at the poles.
#[must_use]
pub fn gyro_speed_error_deg(speed_kn: f64, latitude_deg: f64) -> f64 {
    // 902.5 knots is the speed of the equator.
    speed_kn.atan2(902.5 * latitude_deg.to_radians().cos().max(0.0)).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Recomputed for 12 knots.
    #[test]
    fn published_gyro_errors_recomputed() {
        for (latitude, error) in
            [(60.0, 1.52), (70.0, 2.23), (80.0, 4.38), (85.0, 8.67), (88.0, 20.86)]
        {
            assert!((gyro_speed_error_deg(12.0, latitude) - error).abs() < 0.006, "{latitude}");
        }
        assert!(gyro_speed_error_deg(12.0, -90.0) <= 90.0);
    }

    #[test]
    fn states_by_latitude() {
        assert_eq!(GyroState::at(-65.0), GyroState::Specified);
        assert_eq!(GyroState::at(75.0), GyroState::Degraded);
        assert_eq!(GyroState::at(-86.0), GyroState::Directional);
        assert_eq!(GyroState::at(f64::NAN), GyroState::Directional);
    }
}
