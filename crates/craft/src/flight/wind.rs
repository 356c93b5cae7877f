//! Moving through a medium that moves.

/// Least time to a place through a uniform current (Zermelo's problem, where the best course is one
/// course): the positive root of `|d - w t| = V t`.
///
/// # Arguments
///
/// `speed` through the medium, `current` and `to` as vectors in one frame and matching units.
///
/// # Returns
///
/// `None` where the place cannot be reached, or an argument is not finite.
#[must_use]
pub fn crossing_time(speed: f64, current: [f64; 2], to: [f64; 2]) -> Option<f64> {
    let along = to[0] * current[0] + to[1] * current[1];
    let distance2 = to[0] * to[0] + to[1] * to[1];
    let excess = speed * speed - (current[0] * current[0] + current[1] * current[1]);
    if distance2 == 0.0 {
        return Some(0.0);
    }
    let discriminant = along * along + excess * distance2;
    if discriminant.is_nan() || discriminant < 0.0 || speed < 0.0 {
        return None;
    }
    // The root in the form that neither cancels nor divides by a vanishing excess.
    let root = discriminant.sqrt();
    let time = if along >= 0.0 { distance2 / (root + along) } else { (root - along) / excess };
    (time.is_finite() && time >= 0.0).then_some(time)
}

/// Speed over the ground along a course, held against the wind across it; `None` where the wind is
/// too strong to hold the course or to make way.
///
/// # Arguments
///
/// `airspeed` and `wind` in one unit; `wind_from_deg` and `course_deg` in one frame.
#[must_use]
pub fn ground_speed(airspeed: f64, wind: f64, wind_from_deg: f64, course_deg: f64) -> Option<f64> {
    let angle = (wind_from_deg - course_deg).to_radians();
    let (across, against) = (wind * angle.sin(), wind * angle.cos());
    let along = airspeed * airspeed - across * across;
    let speed = along.sqrt() - against;
    (speed > 0.0 && speed.is_finite()).then_some(speed)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Zermelo in a uniform current, recomputed: speed 5, current 1, distance 100 along, against
    /// and across.
    #[test]
    fn published_crossings_recomputed() {
        for (to, time) in
            [([100.0, 0.0], 16.6667), ([-100.0, 0.0], 25.0), ([0.0, 100.0], 20.412_415)]
        {
            assert!((crossing_time(5.0, [1.0, 0.0], to).unwrap() - time).abs() < 5e-5);
        }
        assert_eq!(crossing_time(5.0, [6.0, 0.0], [-100.0, 0.0]), None);
        assert_eq!(crossing_time(5.0, [5.0, 0.0], [-100.0, 0.0]), None);
        assert!(crossing_time(5.0, [5.0, 0.0], [100.0, 0.0]).is_some());
        assert_eq!(crossing_time(f64::NAN, [5.0, 0.0], [100.0, 0.0]), None);
    }

    #[test]
    fn the_wind_triangle() {
        assert_eq!(ground_speed(100.0, 20.0, 0.0, 0.0), Some(80.0));
        assert_eq!(ground_speed(100.0, 20.0, 180.0, 0.0), Some(120.0));
        assert!((ground_speed(100.0, 60.0, 90.0, 0.0).unwrap() - 80.0).abs() < 1e-9);
        assert_eq!(ground_speed(100.0, 120.0, 0.0, 0.0), None);
        assert_eq!(ground_speed(100.0, 120.0, 90.0, 0.0), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_triangle_and_the_crossing_agree(
            wind in 0.0..90.0, from in 0.0..360.0_f64, course in 0.0..360.0_f64,
        ) {
            let towards = (from + 180.0).to_radians();
            let current = [wind * towards.sin(), wind * towards.cos()];
            let to = [50.0 * course.to_radians().sin(), 50.0 * course.to_radians().cos()];
            let time = crossing_time(100.0, current, to).unwrap();
            let speed = ground_speed(100.0, wind, from, course).unwrap();
            prop_assert!((time * speed - 50.0).abs() < 1e-8);
        }
    }
}
