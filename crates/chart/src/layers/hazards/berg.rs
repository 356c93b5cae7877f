//! The berth that is due to a berg, by its length.

/// How far a ship keeps off a berg.
///
/// In a good view three lengths from its edge, at least half a nautical mile and at most one: from memory
/// of what ships do off bergs by day. What more a poor view asks is for the ship to say.
///
/// ```text
///   position --- edge ------ berth ------ 2 berths ...
///        half length   3 lengths, 0.5 to 1 nm
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BergBerth {
    /// From the position to the berg's edge.
    half_length_km: f64,
    /// From the edge on, in a good view.
    berth_km: f64,
}

/// The berths about a berg that are charted: beyond them it is out of the way of every ship.
pub(super) const CHARTED_BERTHS: f64 = 4.0;

const LENGTHS: f64 = 3.0;
const LEAST_KM: f64 = 0.926;
const GREATEST_KM: f64 = 1.852;

impl BergBerth {
    /// By the berg's length.
    pub(super) fn of_length(length_m: f64) -> Self {
        let length_km = length_m / 1000.0;
        Self {
            half_length_km: length_km / 2.0,
            berth_km: (LENGTHS * length_km).clamp(LEAST_KM, GREATEST_KM),
        }
    }

    /// As its file or the scenario states it, from the position on.
    pub(super) fn stated(radius_km: f64) -> Self {
        Self { half_length_km: 0.0, berth_km: radius_km }
    }

    /// From the position to the end of what is charted.
    pub(super) fn reach_km(self) -> f64 {
        self.half_length_km + CHARTED_BERTHS * self.berth_km
    }

    /// A distance from the position, in berths from the edge.
    pub(super) fn berths(self, distance_km: f64) -> f64 {
        ((distance_km - self.half_length_km) / self.berth_km).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_berth_grows_with_the_berg_between_its_bounds() {
        let berths = |length_m, distance_km| BergBerth::of_length(length_m).berths(distance_km);
        // A bergy bit: half a nautical mile. 400 m: 1.2 km. A tabular berg: a mile from its edge.
        assert!((berths(10.0, 0.931) - 1.0).abs() < 1e-9);
        assert!((berths(400.0, 1.4) - 1.0).abs() < 1e-9);
        assert!((berths(20_000.0, 11.852) - 1.0).abs() < 1e-9);
        assert_eq!(berths(20_000.0, 3.0), 0.0);
        assert_eq!(BergBerth::stated(5.0).berths(10.0), 2.0);
        assert_eq!(BergBerth::stated(5.0).reach_km(), 20.0);
    }
}
