//! The Beaufort scale, from memory: `v = 0.836 B^1.5`, its limits in knots and the probable wave
//! heights of the open sea.

/// Lower limits of the forces 1 to 12, in knots.
const LOWER_LIMITS_KN: [f64; 12] =
    [1.0, 4.0, 7.0, 11.0, 17.0, 22.0, 28.0, 34.0, 41.0, 48.0, 56.0, 64.0];
/// Probable wave heights of the forces 0 to 12, in metres.
const WAVE_HEIGHTS_M: [f64; 13] =
    [0.0, 0.1, 0.2, 0.6, 1.0, 2.0, 3.0, 4.0, 5.5, 7.0, 9.0, 11.5, 14.0];

/// Wind at a force, which need not be whole.
#[must_use]
pub fn wind_m_s(beaufort: f64) -> f64 {
    0.836 * beaufort.max(0.0).powf(1.5)
}

/// The force of a wind, not rounded: the inverse of [`wind_m_s`], not a number for what is not.
#[must_use]
pub fn beaufort_of_wind(wind_m_s: f64) -> f64 {
    (wind_m_s.abs() / 0.836).powf(2.0 / 3.0)
}

/// The force that would raise waves of a significant height in the open sea, not rounded, 12 at
/// most; not a number for what is not.
#[must_use]
pub fn beaufort_of_waves(height_m: f64) -> f64 {
    if height_m.is_nan() {
        return f64::NAN;
    }
    let step = WAVE_HEIGHTS_M.iter().skip(1).take_while(|&&height| height_m > height).count();
    match WAVE_HEIGHTS_M.get(step..step + 2) {
        Some(&[low, high]) => step as f64 + ((height_m - low) / (high - low)).max(0.0),
        _ => 12.0,
    }
}

/// The least and the greatest whole knots of a force; the greatest is `None` for force 12. `None`
/// above 12.
#[must_use]
pub fn limits_kn(beaufort: usize) -> Option<(f64, Option<f64>)> {
    let low = match beaufort.checked_sub(1) {
        None => 0.0,
        Some(index) => *LOWER_LIMITS_KN.get(index)?,
    };
    Some((low, LOWER_LIMITS_KN.get(beaufort).map(|next| next - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_beaufort_from_memory() {
        for (force, mid_m_s) in [
            (1.0, 0.84),
            (2.0, 2.36),
            (3.0, 4.34),
            (4.0, 6.69),
            (5.0, 9.35),
            (6.0, 12.29),
            (7.0, 15.48),
            (8.0, 18.92),
            (9.0, 22.57),
            (10.0, 26.44),
            (11.0, 30.5),
            (12.0, 34.75),
        ] {
            assert!((wind_m_s(force) - mid_m_s).abs() < 0.006, "{force}");
            assert!((beaufort_of_wind(wind_m_s(force)) - force).abs() < 1e-12);
            // The mid speed lies within the force's limits.
            let (low, high) = limits_kn(force as usize).unwrap();
            let knots = mid_m_s * 3600.0 / 1852.0;
            assert!(knots >= low - 0.5 && high.is_none_or(|high| knots <= high + 0.5), "{force}");
        }
        assert_eq!(limits_kn(0), Some((0.0, Some(0.0))));
        assert_eq!(limits_kn(8), Some((34.0, Some(40.0))));
        assert_eq!(limits_kn(12), Some((64.0, None)));
        assert_eq!(limits_kn(13), None);
    }

    #[test]
    fn waves_tell_the_force() {
        for (height_m, force) in
            [(0.0, 0.0), (0.1, 1.0), (0.2, 2.0), (1.0, 4.0), (1.5, 4.5), (14.0, 12.0), (40.0, 12.0)]
        {
            assert!((beaufort_of_waves(height_m) - force).abs() < 1e-12, "{height_m}");
        }
        assert_eq!(beaufort_of_waves(-3.0), 0.0);
        assert!(beaufort_of_waves(f64::NAN).is_nan());
        assert_eq!(beaufort_of_waves(f64::INFINITY), 12.0);
    }
}
