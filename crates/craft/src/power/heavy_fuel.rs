//! The bans on heavy fuel oil: MARPOL Annex I, regulations 43 (Antarctic) and 43A (Arctic).

use std::fmt;

use jiff::civil::{Date, date};
use serde::{Deserialize, Serialize};

use super::FuelKind;

/// A ban that a ship's fuel comes under.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeavyFuelBan {
    /// Regulation 43: neither carried nor used south of 60 S.
    Antarctic,
    /// Regulation 43A: neither used nor carried for use in Arctic waters.
    Arctic,
}

impl fmt::Display for HeavyFuelBan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Antarctic => {
                "heavy fuel oil may be neither carried nor used south of 60 S (MARPOL Annex I \
                 regulation 43)"
            }
            Self::Arctic => {
                "heavy fuel oil may be neither used nor carried for use in Arctic waters (MARPOL \
                 Annex I regulation 43A; waivers of coastal states end on 1 July 2029)"
            }
        })
    }
}

/// Whether an oil is heavy in the sense of the bans: over 900 kg/m3 at 15 C or over 180 mm2/s at 50
/// C, as seen in several notices of classification societies and insurers.
#[must_use]
pub fn is_heavy_oil(density_kg_m3: f64, viscosity_mm2_s: f64) -> bool {
    density_kg_m3 > 900.0 || viscosity_mm2_s > 180.0
}

impl HeavyFuelBan {
    /// The ban on a fuel in the waters about one pole on a day, if there is one.
    ///
    /// # Arguments
    ///
    /// `protected_tanks`: the ship's fuel tanks are protected as regulation 12A or the Polar Code
    /// (II-A 1.2.1) wants, which puts the Arctic ban off to 1 July 2029.
    ///
    /// # Source
    ///
    /// Days in force as seen in notices of classification societies and insurers: 1 August 2011, 1
    /// July 2024 (MEPC.329(76)), 1 July 2029. Ships in search and rescue or oil response are
    /// exempt.
    #[must_use]
    pub fn on(fuel: FuelKind, south: bool, day: Date, protected_tanks: bool) -> Option<Self> {
        if fuel != FuelKind::HeavyFuelOil {
            return None;
        }
        let (ban, from) = match (south, protected_tanks) {
            (true, _) => (Self::Antarctic, date(2011, 8, 1)),
            (false, false) => (Self::Arctic, date(2024, 7, 1)),
            (false, true) => (Self::Arctic, date(2029, 7, 1)),
        };
        (day >= from).then_some(ban)
    }
}

/// Whether a position is in the Antarctic area of MARPOL and SOLAS: south of 60 S.
#[must_use]
pub fn in_antarctic_area(latitude_deg: f64) -> bool {
    latitude_deg < -60.0
}

/// The line of SOLAS XIV/1 from the Bering Strait eastwards, longitude and latitude. From memory;
/// the curves between the corners of the open sea are drawn straight in latitude and longitude
/// here.
const ARCTIC_LINE: [(f64, f64); 12] = [
    (-180.0, 60.0),
    (-56.618, 60.0),
    (-42.0, 58.0),
    (-35.45, 64.617),
    (-26.557, 67.065),
    (-8.983, 70.817),
    (19.016, 73.522),
    (43.273, 68.637),
    (43.274, 66.0),
    (163.999, 66.0),
    (164.0, 60.0),
    (180.0, 60.0),
];

/// Whether a position at sea is in Arctic waters by SOLAS XIV/1 (from memory), to some tens of
/// kilometres. `false` for what is not a number.
#[must_use]
pub fn in_arctic_waters(latitude_deg: f64, longitude_deg: f64) -> bool {
    let longitude_deg = (longitude_deg + 180.0).rem_euclid(360.0) - 180.0;
    ARCTIC_LINE.windows(2).any(|pair| match *pair {
        [(west, from), (east, to)] if (west..=east).contains(&longitude_deg) => {
            latitude_deg > from + (to - from) * (longitude_deg - west) / (east - west)
        }
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_heavy_fuel_days() {
        let heavy = FuelKind::HeavyFuelOil;
        let on = HeavyFuelBan::on;
        assert_eq!(on(heavy, true, date(2011, 7, 31), false), None);
        assert_eq!(on(heavy, true, date(2011, 8, 1), true), Some(HeavyFuelBan::Antarctic));
        assert_eq!(on(heavy, false, date(2024, 6, 30), false), None);
        assert_eq!(on(heavy, false, date(2024, 7, 1), false), Some(HeavyFuelBan::Arctic));
        assert_eq!(on(heavy, false, date(2029, 6, 30), true), None);
        assert_eq!(on(heavy, false, date(2029, 7, 1), true), Some(HeavyFuelBan::Arctic));
        assert_eq!(on(FuelKind::MarineGasOil, true, date(2027, 1, 1), false), None);
        assert!(is_heavy_oil(900.1, 10.0) && is_heavy_oil(890.0, 181.0));
        assert!(!is_heavy_oil(900.0, 180.0));
    }

    #[test]
    fn waters_by_the_line_from_memory() {
        for (place, latitude, longitude, inside) in [
            ("Davis Strait", 65.0, -58.0, true),
            ("Cape Farewell", 59.8, -43.9, true),
            ("south of Iceland", 63.0, -20.0, false),
            ("Reykjavik", 64.2, -22.0, false),
            ("Longyearbyen", 78.2, 15.6, true),
            ("Tromso", 69.7, 19.0, false),
            ("Kara Sea", 74.0, 70.0, true),
            ("Anadyr", 64.0, 178.0, true),
            ("north of the Aleutians", 56.0, -170.0, false),
            ("Beaufort Sea", 71.0, -140.0, true),
            ("nowhere", f64::NAN, 0.0, false),
        ] {
            assert_eq!(in_arctic_waters(latitude, longitude), inside, "{place}");
        }
        assert!(in_antarctic_area(-60.1) && !in_antarctic_area(-60.0));
    }
}
