use dipward_geodesy::Position;
use jiff::civil::Date;

use super::{CompassZone, GyroState};
use crate::{FuelKind, HeavyFuelBan, in_antarctic_area, in_arctic_waters};

/// Fuel as the bans on heavy oil see it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bunkers {
    /// Kind.
    pub kind: FuelKind,
    /// Whether the tanks are protected, which puts the Arctic ban off.
    pub protected_tanks: bool,
}

/// What holds at a place along a route that the bridge must know of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RouteMark {
    /// The magnetic compass.
    pub compass: CompassZone,
    /// The gyro compass.
    pub gyro: GyroState,
    /// The ban that the ship's fuel comes under, if there is one.
    pub heavy_fuel: Option<HeavyFuelBan>,
}

impl RouteMark {
    /// The mark of a place.
    ///
    /// # Arguments
    ///
    /// `horizontal_nt`: the field's horizontal intensity there. `bunkers`: nothing for a craft whose
    /// fuel is not known.
    #[must_use]
    pub fn at(place: Position, horizontal_nt: f64, day: Date, bunkers: Option<Bunkers>) -> Self {
        let south = in_antarctic_area(place.y());
        let within = south || in_arctic_waters(place.y(), place.x());
        let heavy_fuel = bunkers
            .filter(|_| within)
            .and_then(|own| HeavyFuelBan::on(own.kind, south, day, own.protected_tanks));
        Self { compass: CompassZone::of(horizontal_nt), gyro: GyroState::at(place.y()), heavy_fuel }
    }

    /// What must be heeded here, in words; one text for each thing that is not as usual.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let mut texts = Vec::new();
        if self.compass != CompassZone::Usable {
            texts.push(self.compass.to_string());
        }
        if self.gyro != GyroState::Specified {
            texts.push(self.gyro.to_string());
        }
        texts.extend(self.heavy_fuel.map(|ban| ban.to_string()));
        texts
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use jiff::civil::date;

    use super::*;

    #[test]
    fn marks_are_those_of_the_place_the_field_and_the_day() {
        let heavy = Bunkers { kind: FuelKind::HeavyFuelOil, protected_tanks: false };
        let shielded = Bunkers { protected_tanks: true, ..heavy };
        let light = Bunkers { kind: FuelKind::MarineGasOil, ..heavy };
        let day = date(2027, 1, 15);
        let near_pole = RouteMark::at(position(-64.0, 136.0), 900.0, day, Some(heavy));
        assert_eq!(near_pole.compass, CompassZone::Blackout);
        assert_eq!(near_pole.gyro, GyroState::Specified);
        assert_eq!(near_pole.heavy_fuel, Some(HeavyFuelBan::Antarctic));
        assert_eq!(near_pole.warnings().len(), 2);
        let hobart = RouteMark::at(position(-43.0, 147.0), 18_000.0, day, Some(heavy));
        assert!(hobart.warnings().is_empty());
        let fram = position(80.5, 0.0);
        assert_eq!(
            RouteMark::at(fram, 7000.0, day, Some(heavy)).heavy_fuel,
            Some(HeavyFuelBan::Arctic)
        );
        for bunkers in [Some(shielded), Some(light), None] {
            let mark = RouteMark::at(fram, 7000.0, day, bunkers);
            assert_eq!(mark.heavy_fuel, None);
            assert_eq!(mark.gyro, GyroState::Directional);
        }
        assert_eq!(
            RouteMark::at(fram, 7000.0, date(2030, 1, 1), Some(shielded)).heavy_fuel,
            Some(HeavyFuelBan::Arctic)
        );
    }
}
