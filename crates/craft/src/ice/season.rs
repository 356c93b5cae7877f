//! Whether ice is cold or melts: knowledge of its own, which neither stage nor thickness replaces.

use dipward_geodesy::Hemisphere;
use dipward_plugin::BuildContext;
use jiff::tz::Offset;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The season of the ice, where the chart's `ice_melting` does not tell it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum IceSeason {
    /// Nobody says: whatever is the more cautious.
    #[default]
    Unknown,
    /// Cold ice.
    Cold,
    /// Ice that melts or has decayed.
    Melting,
}

impl IceSeason {
    /// Whether ice melts, by the chart's `ice_melting` where that is a number; `None` where nobody says, and
    /// between 0 and 1, where the chart changes from one to the other.
    #[must_use]
    pub fn melts(self, charted: f32) -> Option<bool> {
        match self {
            _ if charted >= 1.0 => Some(true),
            _ if charted <= 0.0 => Some(false),
            _ if !charted.is_nan() => None,
            Self::Unknown => None,
            Self::Cold => Some(false),
            Self::Melting => Some(true),
        }
    }
}

/// Whether any day of the window lies in the months in which ice melts: June to September in the north,
/// December to March in the south. From memory, and wide: the heart of the Arctic freezes from late
/// August, and melt begins there in mid-June.
#[must_use]
pub fn window_has_melt(context: &BuildContext) -> bool {
    let months: [i8; 4] = match context.hemisphere() {
        Hemisphere::North => [6, 7, 8, 9],
        Hemisphere::South => [12, 1, 2, 3],
    };
    // A year holds every month.
    let hours = context.window_hours().clamp(0.0, 366.0 * 24.0);
    let days = (hours / 24.0).ceil() as u32;
    (0..=days).map(|day| (24.0 * f64::from(day)).min(hours)).any(|hour| {
        months.contains(&Offset::UTC.to_datetime(context.clock().instant(hour)).month())
    })
}

#[cfg(test)]
mod tests {
    use dipward_plugin::Clock;

    use super::*;

    #[test]
    fn the_chart_goes_before_what_is_stated() {
        assert_eq!(IceSeason::Unknown.melts(f32::NAN), None);
        assert_eq!(IceSeason::Cold.melts(f32::NAN), Some(false));
        assert_eq!(IceSeason::Melting.melts(0.0), Some(false));
        assert_eq!(IceSeason::Cold.melts(1.0), Some(true));
        assert_eq!(IceSeason::Cold.melts(0.3), None);
    }

    #[test]
    fn months_of_melt_are_those_of_the_hemisphere() {
        let has = |hemisphere, from: &str, days: f64| {
            let clock = Clock::new(from.parse().unwrap());
            window_has_melt(&BuildContext::new(".", hemisphere, clock, 24.0 * days))
        };
        assert!(has(Hemisphere::North, "2027-08-01T00:00Z", 10.0));
        assert!(!has(Hemisphere::South, "2027-08-01T00:00Z", 10.0));
        assert!(has(Hemisphere::South, "2027-01-05T00:00Z", 69.0));
        assert!(!has(Hemisphere::North, "2027-04-01T00:00Z", 60.0));
        assert!(has(Hemisphere::North, "2027-04-01T00:00Z", 61.5));
        assert!(has(Hemisphere::North, "2027-10-01T00:00Z", 1e9));
    }
}
