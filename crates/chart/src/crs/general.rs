//! Projections by the PROJ library's terms, computed by `proj4rs`.

use std::sync::Arc;

use dipward_geodesy::{Ellipsoid, Position, position};
use proj4rs::{Proj, transform::transform};

/// A projection that this crate has no closed form of its own for.
///
/// Agrees with PROJ 9 within a millimetre where the tests hold it against pyproj. A position that does not
/// come back from the map to itself lies where the projection folds, and has no place on the map.
#[derive(Clone)]
pub(crate) struct GeneralMap {
    definition: String,
    own: Arc<Proj>,
    geographic: Arc<Proj>,
}

/// How far a position may be off after there and back, in radians: half a metre.
const BACK: f64 = 1e-7;

impl GeneralMap {
    /// A projection by its PROJ string.
    ///
    /// # Errors
    ///
    /// When `proj4rs` does not take it, or has it one way only.
    pub(crate) fn new(definition: &str) -> Result<Self, String> {
        let wrong =
            |why: String| format!("is in the projection `{definition}`, which is not taken: {why}");
        let own = Proj::from_proj_string(definition).map_err(|error| wrong(error.to_string()))?;
        if !own.has_forward() || !own.has_inverse() || own.is_latlong() {
            return Err(wrong("it has no way there and back".to_owned()));
        }
        let geographic = Proj::from_proj_string("+proj=longlat +datum=WGS84 +no_defs")
            .map_err(|error| wrong(error.to_string()))?;
        Ok(Self {
            definition: definition.to_owned(),
            own: own.into(),
            geographic: geographic.into(),
        })
    }

    /// A projection by EPSG's code.
    ///
    /// # Errors
    ///
    /// For a code that is unknown or no projection that is taken.
    pub(crate) fn of_epsg(code: u16) -> Result<Self, String> {
        let known = crs_definitions::from_code(code)
            .ok_or_else(|| format!("is in EPSG:{code}, which is not known"))?;
        Self::new(known.proj4).map_err(|message| format!("is in EPSG:{code}: {message}"))
    }

    /// Metres on the map; not a number where it has none.
    pub(crate) fn forward(&self, at: Position) -> [f64; 2] {
        let from = (at.x().to_radians(), at.y().to_radians(), 0.0);
        let mut to = from;
        if transform(&self.geographic, &self.own, &mut to).is_err() {
            return [f64::NAN; 2];
        }
        let back = self.inverse([to.0, to.1]);
        let east = (back.x() - at.x() + 180.0).rem_euclid(360.0) - 180.0;
        let off = (east * at.y().to_radians().cos()).hypot(back.y() - at.y()).to_radians();
        if off <= BACK { [to.0, to.1] } else { [f64::NAN; 2] }
    }

    /// The position of metres on the map; not a number where it has none.
    pub(crate) fn inverse(&self, [x, y]: [f64; 2]) -> Position {
        let mut to = (x, y, 0.0);
        match transform(&self.own, &self.geographic, &mut to) {
            Ok(()) => position(to.1.to_degrees(), to.0.to_degrees()),
            Err(_) => position(f64::NAN, f64::NAN),
        }
    }
}

impl PartialEq for GeneralMap {
    fn eq(&self, other: &Self) -> bool {
        self.definition == other.definition
    }
}

impl std::fmt::Debug for GeneralMap {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("GeneralMap").field(&self.definition).finish()
    }
}

/// The ellipsoid in PROJ's terms.
pub(super) fn ellipsoid_terms(ellipsoid: Ellipsoid) -> Result<String, String> {
    let Ellipsoid { semi_major_m, inverse_flattening } = ellipsoid;
    if !(6.3e6..=6.4e6).contains(&semi_major_m) {
        return Err(format!("states an ellipsoid of {semi_major_m} m, which is not the Earth's"));
    }
    if inverse_flattening == 0.0 {
        Ok(format!("+R={semi_major_m}"))
    } else if (250.0..=350.0).contains(&inverse_flattening) {
        Ok(format!("+a={semi_major_m} +rf={inverse_flattening}"))
    } else {
        Err(format!(
            "states an inverse flattening of {inverse_flattening}, which is not the Earth's"
        ))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// By PROJ 9.5 through pyproj 3.7.2.
    #[test]
    fn agrees_with_proj() {
        for (definition, latitude, longitude, x, y) in PROJ {
            let [east, north] =
                GeneralMap::new(definition).unwrap().forward(position(latitude, longitude));
            assert!(
                (east - x).abs() < 1e-3 && (north - y).abs() < 1e-3,
                "{definition}: {east} {north}"
            );
        }
    }

    include!("general_samples.rs");

    #[test]
    fn codes_of_epsg_are_looked_up() {
        for code in [6931, 6932, 6933, 3408, 3571, 3573, 32633, 5938, 3034] {
            assert!(GeneralMap::of_epsg(code).is_ok(), "{code}");
        }
        for code in [0, 4326, 9999] {
            assert!(GeneralMap::of_epsg(code).is_err(), "{code}");
        }
    }

    proptest! {
        #[test]
        fn any_place_is_a_number_or_none(x in -1e9..1e9f64, y in -1e9..1e9f64, which in 0..PROJ.len()) {
            let map = GeneralMap::new(PROJ[which].0).unwrap();
            let at = map.inverse([x, y]);
            let [east, north] = map.forward(at);
            prop_assert!(east.is_nan() == north.is_nan());
        }
    }
}
