//! Reference systems of files: which map their coordinates are on. Nothing is guessed.

mod general;
mod lambert;
mod listed;
mod methods;
mod rotated;
mod wkt;
mod wkt2;

use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, Position, position};

pub(crate) use general::GeneralMap;
pub(crate) use lambert::LambertConic;
pub(crate) use listed::{Listed, ListedAxes, ListedSurface};
pub(crate) use methods::{Method, Parameters};
pub(crate) use rotated::RotatedPole;
pub(crate) use wkt::{polar, projection_of_wkt};

/// What a file's coordinates are.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum MapProjection {
    /// Longitude and latitude in degrees.
    LonLat,
    /// Metres on a polar stereographic projection.
    Polar(PolarStereographic),
    /// Metres on a Lambert conformal conic projection.
    Conic(LambertConic),
    /// Longitude and latitude in degrees about another pole.
    Rotated(RotatedPole),
    /// Metres on any other projection.
    General(GeneralMap),
    /// Columns and rows of a grid whose coordinates are listed.
    Listed(Listed),
}

impl MapProjection {
    /// The position of map coordinates; not a number where the map has none.
    pub(crate) fn position(&self, [x, y]: [f64; 2]) -> Position {
        match self {
            Self::LonLat => position(y, x),
            Self::Polar(polar) => polar.inverse(geo::coord! { x: x, y: y }),
            Self::Conic(conic) => conic.inverse([x, y]),
            Self::Rotated(rotated) => rotated.inverse([x, y]),
            Self::General(map) => map.inverse([x, y]),
            Self::Listed(listed) => listed.position([x, y]),
        }
    }

    /// The map coordinates of a position.
    pub(crate) fn coordinates(&self, at: Position) -> [f64; 2] {
        match self {
            Self::LonLat => [at.x(), at.y()],
            Self::Polar(polar) => {
                let place = polar.forward(at);
                [place.x, place.y]
            }
            Self::Conic(conic) => conic.forward(at),
            Self::Rotated(rotated) => rotated.forward(at),
            Self::General(map) => map.forward(at),
            Self::Listed(listed) => listed.coordinates(at),
        }
    }

    /// Whether the first coordinate is an angle that goes round.
    pub(crate) fn goes_round(&self) -> bool {
        matches!(self, Self::LonLat | Self::Rotated(_))
    }
}

/// The polar stereographic projections of EPSG.
///
/// # Errors
///
/// For a code that is none of them.
pub(crate) fn polar_of_epsg(code: u16) -> Result<PolarStereographic, String> {
    use Hemisphere::{North, South};
    let variant_b = |hemisphere, true_scale_deg, central_deg, ellipsoid| {
        PolarStereographic::variant_b(hemisphere, true_scale_deg, central_deg, ellipsoid)
    };
    // Universal polar stereographic: scale 0.994 at the pole, false origin 2,000 km.
    let universal = |hemisphere| {
        PolarStereographic::variant_a(hemisphere, 0.994, 0.0, Ellipsoid::WGS84)
            .and_then(|polar| polar.with_false_origin(2e6, 2e6))
    };
    match code {
        3411 => variant_b(North, 70.0, -45.0, Ellipsoid::HUGHES_1980),
        3412 => variant_b(South, -70.0, 0.0, Ellipsoid::HUGHES_1980),
        3413 => variant_b(North, 70.0, -45.0, Ellipsoid::WGS84),
        3976 => variant_b(South, -70.0, 0.0, Ellipsoid::WGS84),
        3031 => variant_b(South, -71.0, 0.0, Ellipsoid::WGS84),
        3995 => variant_b(North, 71.0, 0.0, Ellipsoid::WGS84),
        3996 => variant_b(North, 75.0, 0.0, Ellipsoid::WGS84),
        5041 | 32_661 => universal(North),
        5042 | 32_761 => universal(South),
        _ => {
            return Err(format!(
                "is in EPSG:{code}, but a polar stereographic projection is wanted (3031, 3411, 3412, \
                 3413, 3976, 3995, 3996 or UPS): warp it to one"
            ));
        }
    }
    .map_err(|error| error.to_string())
}

/// The projection of a code of EPSG.
///
/// # Errors
///
/// For a code that is unknown, or a projection that is not taken.
pub(crate) fn projection_of_epsg(code: u16) -> Result<MapProjection, String> {
    match polar_of_epsg(code) {
        Ok(polar) => Ok(MapProjection::Polar(polar)),
        Err(_) => GeneralMap::of_epsg(code).map(MapProjection::General),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_projections_of_epsg() {
        // EPSG:3031, 3976, 3412 and 3413 by PROJ 9 through pyproj, metres.
        for (code, latitude, longitude, x, y) in [
            (3031, -64.0, 136.0, 1_995_406.887, -2_066_304.320),
            (3976, -64.0, 136.0, 1_989_436.019, -2_060_121.305),
            (3412, -64.0, 136.0, 1_989_478.041, -2_060_164.820),
            (3413, 86.0, 139.0, -30_237.914, 432_422.313),
        ] {
            let place = polar_of_epsg(code).unwrap().forward(position(latitude, longitude));
            assert!((place.x - x).abs() < 1e-3 && (place.y - y).abs() < 1e-3, "{code} {place:?}");
        }
    }
}
