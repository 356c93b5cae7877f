//! Dangers of following and quartering seas: IMO MSC.1/Circ.1228 (2007), revised guidance to the
//! master for avoiding dangerous situations in adverse weather and sea conditions.

use std::fmt;

/// The waves, and the ship among them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seaway {
    /// Length of the ship.
    pub ship_length_m: f64,
    /// Natural period of roll.
    pub roll_period_s: f64,
    /// Speed of the ship, knots.
    pub speed_kn: f64,
    /// Angle of encounter: 0 in head sea, 180 in following sea, 0 to 360.
    pub encounter_deg: f64,
    /// Mean period of the waves.
    pub wave_period_s: f64,
    /// Significant height of the waves.
    pub wave_height_m: f64,
}

/// A danger that the circular warns of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum WaveCaution {
    /// Surf-riding and broaching-to.
    SurfRiding,
    /// Successive high wave attack.
    SuccessiveHighWaves,
    /// Synchronous rolling.
    SynchronousRolling,
    /// Parametric rolling.
    ParametricRolling,
}

impl fmt::Display for WaveCaution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SurfRiding => "surf-riding and broaching-to",
            Self::SuccessiveHighWaves => "successive high wave attack",
            Self::SynchronousRolling => "synchronous rolling",
            Self::ParametricRolling => "parametric rolling",
        })
    }
}

/// Period at which the ship meets the waves, `3 Tw^2 / (3 Tw + V cos a)`, without sign; infinite
/// where the ship keeps pace with them. The convention of the angle was seen in the circular, the
/// formula is from memory of it.
#[must_use]
pub fn encounter_period_s(wave_period_s: f64, speed_kn: f64, encounter_deg: f64) -> f64 {
    let closing = 3.0 * wave_period_s + speed_kn * encounter_deg.to_radians().cos();
    (3.0 * wave_period_s * wave_period_s / closing).abs()
}

/// "Nearly equal" periods, which the circular leaves open: within this part of each other, a
/// choice.
const NEARLY: f64 = 0.1;

/// Waves under this part of the ship's length are no danger, a choice.
const NOTABLE_HEIGHT: f64 = 0.02;

impl Seaway {
    /// Mean length of the waves in deep water, `1.56 Tw^2`.
    #[must_use]
    pub fn wavelength_m(&self) -> f64 {
        1.56 * self.wave_period_s * self.wave_period_s
    }

    /// Speed above which surf-riding may come, `1.8 sqrt(L) / cos(180 - a)` knots (from memory);
    /// `None` unless the sea is from 135 to 225 degrees (as seen in the circular).
    #[must_use]
    pub fn surf_riding_speed_kn(&self) -> Option<f64> {
        let following = self.encounter_deg > 135.0 && self.encounter_deg < 225.0;
        following.then(|| {
            1.8 * self.ship_length_m.max(0.0).sqrt()
                / (180.0 - self.encounter_deg).to_radians().cos()
        })
    }

    /// The dangers, in the order of the circular: those whose numbers are known, and none in waves
    /// under 0.02 L, a choice, for the circular gives surf-riding and rolling no least height.
    ///
    /// Successive high waves: mean wavelength over 0.8 L, height over 0.04 L and encounter period
    /// 1.8 to 3 times the wave period, as seen in the circular. Synchronous rolling: encounter
    /// period nearly the roll period, as seen. Parametric rolling: that or nearly half of it, from
    /// memory.
    #[must_use]
    pub fn cautions(&self) -> Vec<WaveCaution> {
        let mut cautions = Vec::new();
        let notable_m = NOTABLE_HEIGHT * self.ship_length_m;
        if self.wave_height_m.is_nan() || self.wave_height_m < notable_m {
            return cautions;
        }
        let period_s = encounter_period_s(self.wave_period_s, self.speed_kn, self.encounter_deg);
        let ratio = period_s / self.wave_period_s;
        let nearly = |wanted_s: f64| (period_s / wanted_s - 1.0).abs() <= NEARLY;
        if self.surf_riding_speed_kn().is_some_and(|critical_kn| self.speed_kn > critical_kn) {
            cautions.push(WaveCaution::SurfRiding);
        }
        if self.wavelength_m() > 0.8 * self.ship_length_m
            && self.wave_height_m > 0.04 * self.ship_length_m
            && (1.8..=3.0).contains(&ratio)
        {
            cautions.push(WaveCaution::SuccessiveHighWaves);
        }
        if nearly(self.roll_period_s) {
            cautions.push(WaveCaution::SynchronousRolling);
        }
        if nearly(self.roll_period_s) || nearly(0.5 * self.roll_period_s) {
            cautions.push(WaveCaution::ParametricRolling);
        }
        cautions
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SEAWAY: Seaway = Seaway {
        ship_length_m: 100.0,
        roll_period_s: 30.0,
        speed_kn: 12.0,
        encounter_deg: 180.0,
        wave_period_s: 10.0,
        wave_height_m: 2.0,
    };

    /// Recomputed: waves of 10 s at 12 knots are met every 7.143 s ahead, 10 s abeam, 16.667 s
    /// astern.
    #[test]
    fn published_encounter_periods_recomputed() {
        for (angle, period_s) in [(0.0, 7.143), (90.0, 10.0), (180.0, 16.667)] {
            assert!((encounter_period_s(10.0, 12.0, angle) - period_s).abs() < 0.001);
        }
        assert_eq!(encounter_period_s(10.0, 30.0, 180.0), f64::INFINITY);
        assert!((SEAWAY.wavelength_m() - 156.0).abs() < 1e-9);
    }

    /// Recomputed: 18.0 knots for 100 m in following sea, 20.78 at 150 degrees.
    #[test]
    fn published_surf_riding_speeds_recomputed() {
        let at = |encounter_deg| Seaway { encounter_deg, ..SEAWAY }.surf_riding_speed_kn();
        assert!((at(180.0).unwrap() - 18.0).abs() < 1e-9);
        assert!((at(150.0).unwrap() - 20.78).abs() < 0.005);
        assert!((at(210.0).unwrap() - 20.78).abs() < 0.005);
        assert_eq!(at(135.0), None);
        assert_eq!(at(0.0), None);
    }

    #[test]
    fn cautions_come_one_by_one() {
        use WaveCaution as W;
        assert_eq!(SEAWAY.cautions(), []);
        assert_eq!(Seaway { speed_kn: 18.5, ..SEAWAY }.cautions(), [W::SurfRiding]);
        let steep = Seaway { speed_kn: 15.0, wave_height_m: 5.0, ..SEAWAY };
        assert_eq!(steep.cautions(), [W::SuccessiveHighWaves]);
        let rolling = Seaway { roll_period_s: 16.5, ..SEAWAY };
        assert_eq!(rolling.cautions(), [W::SynchronousRolling, W::ParametricRolling]);
        let half = Seaway { roll_period_s: 33.0, ..SEAWAY };
        assert_eq!(half.cautions(), [W::ParametricRolling]);
        let low = Seaway { speed_kn: 18.5, wave_height_m: 1.9, ..SEAWAY };
        assert_eq!(low.cautions(), []);
        let unknown = Seaway { wave_height_m: f64::NAN, ..low };
        assert_eq!(unknown.cautions(), []);
        // Surf-riding asks no period.
        let untimed = Seaway { wave_period_s: f64::NAN, speed_kn: 18.5, ..SEAWAY };
        assert_eq!(untimed.cautions(), [W::SurfRiding]);
        assert_eq!(Seaway { wave_period_s: f64::NAN, ..SEAWAY }.cautions(), []);
    }
}
