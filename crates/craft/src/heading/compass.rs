use std::fmt;

use serde::{Deserialize, Serialize};

/// How much a magnetic compass can be trusted, by the horizontal intensity of the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CompassZone {
    /// 6000 nT and more.
    Usable,
    /// 2000 to 6000 nT: unreliable. The upper limit is from memory of the WMM reports.
    Caution,
    /// Under 2000 nT: the blackout zone, as seen in a quotation of the WMM Annual Report 2023.
    Blackout,
}

impl CompassZone {
    /// The zone of a horizontal intensity; what is not a number is blackout.
    #[must_use]
    pub fn of(horizontal_nt: f64) -> Self {
        if horizontal_nt >= 6000.0 {
            Self::Usable
        } else if horizontal_nt >= 2000.0 {
            Self::Caution
        } else {
            Self::Blackout
        }
    }
}

impl fmt::Display for CompassZone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Usable => "compass usable",
            Self::Caution => "compass unreliable (H under 6000 nT)",
            Self::Blackout => "compass useless (H under 2000 nT)",
        })
    }
}

/// How far a field of the ship's own, across the meridian, turns the compass: `atan(K/H)`. Where K
/// is greater than H the compass points to the ship's iron on every heading.
#[must_use]
pub fn deflection_deg(across_nt: f64, horizontal_nt: f64) -> f64 {
    across_nt.atan2(horizontal_nt).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_by_intensity() {
        for (h, zone) in [
            (6000.0, CompassZone::Usable),
            (5999.0, CompassZone::Caution),
            (2000.0, CompassZone::Caution),
            (1999.0, CompassZone::Blackout),
            (f64::NAN, CompassZone::Blackout),
        ] {
            assert_eq!(CompassZone::of(h), zone);
        }
    }

    /// Recomputed: at F 57,000 nT the limits lie at dips of 87.989 and 83.958 degrees; a residual
    /// of 100 nT turns the compass by 2.86 degrees at H 2000 and by 11.3 at 500.
    #[test]
    fn published_compass_figures_recomputed() {
        for (h, dip) in [(2000.0_f64, 87.989), (6000.0, 83.958)] {
            assert!(((h / 57_000.0).acos().to_degrees() - dip).abs() < 0.001);
        }
        assert!((deflection_deg(100.0, 2000.0) - 2.86).abs() < 0.005);
        assert!((deflection_deg(100.0, 500.0) - 11.3).abs() < 0.05);
    }
}
