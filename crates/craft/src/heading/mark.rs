use dipward_geodesy::Position;

use super::{CompassZone, GyroState};
use crate::in_antarctic_area;

/// What holds at a place along a route that any bridge must know of, whatever its craft.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RouteMark {
    /// The magnetic compass.
    pub compass: CompassZone,
    /// The gyro compass.
    pub gyro: GyroState,
    /// Whether the place is in the area of the Antarctic Treaty, south of 60 S (its Article VI).
    pub antarctic_treaty: bool,
}

impl RouteMark {
    /// The mark of a place; `horizontal_nt`: the field's horizontal intensity there.
    #[must_use]
    pub fn at(place: Position, horizontal_nt: f64) -> Self {
        Self {
            compass: CompassZone::of(horizontal_nt),
            gyro: GyroState::at(place.y()),
            antarctic_treaty: in_antarctic_area(place.y()),
        }
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
        if self.antarctic_treaty {
            texts.push(TREATY.to_owned());
        }
        texts
    }
}

/// As seen in notices of flag states on the Treaty (1959) and its Protocol (1991); the article from
/// memory.
const TREATY: &str = "the Antarctic Treaty area: ask the competent authority of the party's own state, before \
     leaving, for a permit and the environmental impact assessment (Protocol on Environmental \
     Protection of 1991, Article 8 and Annex I), and whether landings and protected areas want \
     permits of their own";

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;

    use super::*;

    #[test]
    fn marks_are_those_of_the_place_and_the_field() {
        let near_pole = RouteMark::at(position(-64.0, 136.0), 900.0);
        assert_eq!(near_pole.compass, CompassZone::Blackout);
        assert_eq!(near_pole.gyro, GyroState::Specified);
        assert_eq!(near_pole.warnings().len(), 2);
        let hobart = RouteMark::at(position(-43.0, 147.0), 18_000.0);
        assert!(hobart.warnings().is_empty());
        let fram = RouteMark::at(position(80.5, 0.0), 7000.0);
        assert_eq!(fram.gyro, GyroState::Directional);
        assert!(!fram.antarctic_treaty);
    }

    #[test]
    fn a_permit_is_to_be_asked_for_south_of_60() {
        let permit = |latitude_deg| {
            let mark = RouteMark::at(position(latitude_deg, 140.0), 20_000.0);
            mark.warnings().iter().any(|text| text.contains("permit"))
        };
        assert!(permit(-60.1) && !permit(-59.9) && !permit(75.0));
    }
}
