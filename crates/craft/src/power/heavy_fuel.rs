//! The bans on heavy fuel oil: MARPOL Annex I, regulations 43 (Antarctic) and 43A (Arctic).

use std::fmt;

use jiff::civil::{Date, date};
use serde::{Deserialize, Serialize};

use super::in_arctic_waters;

/// A ban that a ship comes under whose fuel is heavy by law ([`Oil::is_heavy`](super::Oil)).
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
                "fuel that is heavy by law may be neither carried nor used south of 60 S (MARPOL \
                 Annex I regulation 43); exempt are ships that secure the safety of ships or are in \
                 search and rescue, and tanks need not be cleaned of earlier fuel"
            }
            Self::Arctic => {
                "fuel that is heavy by law may be neither used nor carried for use in Arctic waters \
                 (MARPOL Annex I regulation 43A); exempt are ships that secure the safety of ships, \
                 are in search and rescue or are dedicated to oil spills; until 1 July 2029 a coastal \
                 state may waive it for ships of its flag in its own waters: ask, and carry the waiver"
            }
        })
    }
}

impl HeavyFuelBan {
    /// The ban on heavy fuel in the waters about one pole on a day, if there is one.
    ///
    /// # Arguments
    ///
    /// `protected_tanks`: the ship's fuel tanks are protected as regulation 12A or the Polar Code
    /// (II-A 1.2.1) wants, which puts the Arctic ban off to 1 July 2029.
    ///
    /// # Source
    ///
    /// MARPOL Annex I regulation 43, in force 1 August 2011, and regulation 43A (MEPC.329(76)), 1
    /// July 2024 and 1 July 2029: days and exemptions as seen in notices of classification societies
    /// and insurers.
    #[must_use]
    pub fn on(south: bool, day: Date, protected_tanks: bool) -> Option<Self> {
        let (ban, from) = match (south, protected_tanks) {
            (true, _) => (Self::Antarctic, date(2011, 8, 1)),
            (false, false) => (Self::Arctic, date(2024, 7, 1)),
            (false, true) => (Self::Arctic, date(2029, 7, 1)),
        };
        (day >= from).then_some(ban)
    }

    /// The ban on heavy fuel at a place on a day, if there is one.
    #[must_use]
    pub fn at(
        latitude_deg: f64,
        longitude_deg: f64,
        day: Date,
        protected_tanks: bool,
    ) -> Option<Self> {
        let south = in_antarctic_area(latitude_deg);
        (south || in_arctic_waters(latitude_deg, longitude_deg))
            .then(|| Self::on(south, day, protected_tanks))
            .flatten()
    }
}

/// Whether a position is in the Antarctic area of MARPOL and SOLAS: south of 60 S.
#[must_use]
pub fn in_antarctic_area(latitude_deg: f64) -> bool {
    latitude_deg < -60.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FuelKind, Oil};

    #[test]
    fn published_heavy_fuel_days() {
        let on = HeavyFuelBan::on;
        assert_eq!(on(true, date(2011, 7, 31), false), None);
        assert_eq!(on(true, date(2011, 8, 1), true), Some(HeavyFuelBan::Antarctic));
        assert_eq!(on(false, date(2024, 6, 30), false), None);
        assert_eq!(on(false, date(2024, 7, 1), false), Some(HeavyFuelBan::Arctic));
        assert_eq!(on(false, date(2029, 6, 30), true), None);
        assert_eq!(on(false, date(2029, 7, 1), true), Some(HeavyFuelBan::Arctic));
    }

    #[test]
    fn bans_are_those_of_the_place_and_the_day() {
        let (day, later) = (date(2027, 1, 15), date(2030, 1, 1));
        let at = HeavyFuelBan::at;
        assert_eq!(at(-64.0, 136.0, day, true), Some(HeavyFuelBan::Antarctic));
        assert_eq!(at(-43.0, 147.0, day, false), None);
        assert_eq!(at(80.5, 0.0, day, false), Some(HeavyFuelBan::Arctic));
        assert_eq!(at(80.5, 0.0, day, true), None);
        assert_eq!(at(80.5, 0.0, later, true), Some(HeavyFuelBan::Arctic));
        assert_eq!(at(f64::NAN, 0.0, later, true), None);
    }

    /// Regression: only the kind `heavy_fuel_oil` came under the bans.
    #[test]
    fn published_limits_make_most_residual_fuels_heavy() {
        let heavy = |kind: FuelKind| kind.heaviest_grade().map(|oil| oil.is_heavy());
        assert_eq!(heavy(FuelKind::MarineGasOil), Some(false));
        assert_eq!(heavy(FuelKind::LightFuelOil), Some(true));
        assert_eq!(heavy(FuelKind::VeryLowSulphurFuelOil), Some(true));
        assert_eq!(heavy(FuelKind::HeavyFuelOil), Some(true));
        assert_eq!(heavy(FuelKind::Methanol), None);
        let oil = |density_kg_m3, viscosity_mm2_s| Oil { density_kg_m3, viscosity_mm2_s };
        assert!(oil(900.1, 10.0).is_heavy() && oil(890.0, 181.0).is_heavy());
        assert!(!oil(900.0, 180.0).is_heavy());
    }
}
