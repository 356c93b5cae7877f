//! A position as people write it.

use std::str::FromStr;

use dipward_geodesy::{Position, position};

/// A position, given as latitude and longitude in degrees: `-66.5,142.25`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place(pub(crate) Position);

impl FromStr for Place {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let unfit =
            || "give latitude and longitude in degrees, south and west negative: -66.5,142.25";
        let (latitude, longitude) = text.split_once(',').ok_or_else(unfit)?;
        let degrees = |text: &str| text.trim().parse::<f64>().map_err(|_| unfit());
        let (latitude_deg, longitude_deg) = (degrees(latitude)?, degrees(longitude)?);
        if !(-90.0..=90.0).contains(&latitude_deg) {
            return Err(format!("{latitude_deg} is no latitude: -90 to 90"));
        }
        if !(-180.0..=360.0).contains(&longitude_deg) {
            return Err(format!("{longitude_deg} is no longitude: -180 to 360"));
        }
        Ok(Self(position(latitude_deg, longitude_deg)))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn positions_are_latitude_and_longitude() {
        let place = "-66.5, 142.25".parse::<Place>().unwrap().0;
        assert_eq!((place.y(), place.x()), (-66.5, 142.25));
        for wrong in ["", "1", "1,2,3", "91,0", "0,361", "nan,0", "0,inf", "66 S,1"] {
            assert!(wrong.parse::<Place>().is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "[-+0-9., einfa]{0,16}|\\PC{0,12}") {
            if let Ok(Place(place)) = text.parse::<Place>() {
                prop_assert!(place.x().is_finite() && place.y().abs() <= 90.0);
            }
        }
    }
}
