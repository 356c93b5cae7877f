//! States of the sea and forces of the wind that a bridge is warned of.

/// A state of the sea by significant height, WMO code table 3700 (from memory): warned of from 4 m
/// up. Nothing for a lower sea, or for what is not a number.
#[must_use]
pub fn high_sea(wave_height_m: f64) -> Option<&'static str> {
    match wave_height_m {
        height if height > 14.0 => Some("phenomenal sea, waves over 14 m"),
        height if height > 9.0 => Some("very high sea, waves of 9 to 14 m"),
        height if height > 6.0 => Some("high sea, waves of 6 to 9 m"),
        height if height > 4.0 => Some("very rough sea, waves of 4 to 6 m"),
        _ => None,
    }
}

/// A wind of gale force or more, by the limits in knots of the Beaufort scale (from memory).
/// Nothing for less wind, or for what is not a number.
#[must_use]
pub fn strong_wind(wind_m_s: f64) -> Option<&'static str> {
    match wind_m_s * 3600.0 / 1852.0 {
        knots if knots >= 64.0 => Some("hurricane, wind of force 12"),
        knots if knots >= 48.0 => Some("storm, wind of force 10 or 11"),
        knots if knots >= 34.0 => Some("gale, wind of force 8 or 9"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_states_from_memory() {
        for (height_m, word) in
            [(4.1, "very rough"), (6.1, "high"), (9.1, "very high"), (15.0, "ph")]
        {
            assert!(high_sea(height_m).unwrap().starts_with(word), "{height_m}");
        }
        assert_eq!((high_sea(4.0), high_sea(f64::NAN)), (None, None));
        for (wind_m_s, word) in [(17.6, "gale"), (24.8, "storm"), (33.0, "hurricane")] {
            assert!(strong_wind(wind_m_s).unwrap().starts_with(word), "{wind_m_s}");
        }
        assert_eq!((strong_wind(17.0), strong_wind(f64::NAN)), (None, None));
    }
}
