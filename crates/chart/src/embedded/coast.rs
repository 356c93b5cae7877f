//! Land and floating ice shelves as polygons on the polar stereographic plane.
//!
//! Rings are on the plane and not in longitude and latitude, so that none is cut along the
//! antimeridian and Antarctica is an ordinary ring about the pole. [`projection`] takes positions to
//! that plane.

use std::sync::OnceLock;

use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, Position};
use dipward_plugin::{Error, Provenance};
use geo::{Contains, MultiPolygon, Point};

use super::packed::Packed;
use super::polygon_file::polygons;

/// Neither land nor shelves are known nearer the equator. The land's rings end on this parallel.
pub const EDGE_LATITUDE_DEG: f64 = 40.0;

const LAND_NORTH: Packed =
    Packed { name: "coast_north.bin", bytes: include_bytes!("../../data/coast_north.bin") };
const LAND_SOUTH: Packed =
    Packed { name: "coast_south.bin", bytes: include_bytes!("../../data/coast_south.bin") };
const ICE_SHELVES: Packed = Packed {
    name: "ice_shelves_south.bin",
    bytes: include_bytes!("../../data/ice_shelves_south.bin"),
};

/// What there is at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cover {
    /// Land, bare or under grounded ice. Lakes count as land.
    Land,
    /// Ice shelf: glacier ice that floats.
    IceShelf,
    /// Sea, with or without sea ice.
    Sea,
}

/// The plane that the polygons of a hemisphere are on.
///
/// On WGS84: in the south, true at 71 S with 0 E up the map (the parameters of EPSG:3031); in the
/// north, true at 70 N with 45 W down the map (those of EPSG:3413). The pole is at zero.
///
/// # Errors
///
/// None in practice, since the parameters are fixed.
pub fn projection(hemisphere: Hemisphere) -> Result<PolarStereographic, Error> {
    let (true_scale_latitude_deg, central_meridian_deg) = match hemisphere {
        Hemisphere::North => (70.0, -45.0),
        Hemisphere::South => (-71.0, 0.0),
    };
    PolarStereographic::variant_b(
        hemisphere,
        true_scale_latitude_deg,
        central_meridian_deg,
        Ellipsoid::WGS84,
    )
    .map_err(|error| Error::Outside(error.to_string()))
}

/// Land poleward of 40 degrees, without ice shelves, in metres on the plane of [`projection`].
///
/// Islands, and what they enclose, are polygons with holes, the largest first; no two overlap. Lakes
/// are not holes. The outline strays from its source by at most 0.8 km on the plane, which is itself
/// good to a few kilometres on the coast of Antarctica; rocks of less than some 50 m are left out.
///
/// # Errors
///
/// [`Error::File`] when the embedded file is damaged.
///
/// # Source
///
/// Natural Earth 4.1.0, land at 1:10 million; see `data/README.md`.
pub fn land(hemisphere: Hemisphere) -> Result<&'static MultiPolygon<f64>, Error> {
    static NORTH: OnceLock<Result<MultiPolygon<f64>, Error>> = OnceLock::new();
    static SOUTH: OnceLock<Result<MultiPolygon<f64>, Error>> = OnceLock::new();
    let (once, file) = match hemisphere {
        Hemisphere::North => (&NORTH, &LAND_NORTH),
        Hemisphere::South => (&SOUTH, &LAND_SOUTH),
    };
    once.get_or_init(|| polygons(file, hemisphere)).as_ref().map_err(Clone::clone)
}

/// The ice shelves of Antarctica, in metres on the southern plane of [`projection`].
///
/// They reach 200 m under the land beside them, so that no strip of water is left between the two: a
/// place in both is [`Land`](Cover::Land). Fronts are those of the summer of 2003 and 2004. Shelves
/// calve and break up: the Mertz Glacier tongue (145 E) lost its outer 80 km in 2010 and is still
/// whole here. The shelves of the north, some hundred square kilometres off Ellesmere Island, are not
/// included.
///
/// # Errors
///
/// [`Error::File`] when the embedded file is damaged.
///
/// # Source
///
/// Natural Earth, Antarctic ice shelves at 1:50 million; see `data/README.md`.
pub fn ice_shelves() -> Result<&'static MultiPolygon<f64>, Error> {
    static SOUTH: OnceLock<Result<MultiPolygon<f64>, Error>> = OnceLock::new();
    SOUTH.get_or_init(|| polygons(&ICE_SHELVES, Hemisphere::South)).as_ref().map_err(Clone::clone)
}

/// What there is at a position, or nothing nearer the equator than 40 degrees.
///
/// # Errors
///
/// [`Error::File`] when an embedded file is damaged.
///
/// # Complexity
///
/// Every point of every polygon is looked at: some tenth of a millisecond. Good for a harbour or a
/// waypoint; for the cells of a grid, rasterise the polygons.
///
/// # Example
///
/// ```
/// use dipward_chart::embedded::coast::{Cover, cover_at};
/// use dipward_geodesy::position;
///
/// # fn main() -> Result<(), dipward_plugin::Error> {
/// assert_eq!(cover_at(position(-80.0, 180.0))?, Some(Cover::IceShelf));
/// assert_eq!(cover_at(position(-65.0, 137.0))?, Some(Cover::Sea));
/// assert_eq!(cover_at(position(0.0, 137.0))?, None);
/// # Ok(())
/// # }
/// ```
pub fn cover_at(position: Position) -> Result<Option<Cover>, Error> {
    let latitude_deg = position.y();
    if !position.x().is_finite() || !(EDGE_LATITUDE_DEG..=90.0).contains(&latitude_deg.abs()) {
        return Ok(None);
    }
    let hemisphere = if latitude_deg > 0.0 { Hemisphere::North } else { Hemisphere::South };
    let place = Point::from(projection(hemisphere)?.forward(position));
    let cover = if land(hemisphere)?.contains(&place) {
        Cover::Land
    } else if hemisphere == Hemisphere::South && ice_shelves()?.contains(&place) {
        Cover::IceShelf
    } else {
        Cover::Sea
    };
    Ok(Some(cover))
}

/// Where the land comes from.
#[must_use]
pub fn land_provenance() -> Provenance {
    Provenance {
        name: "land at 1:10 million, simplified to 0.5 km, without ice shelves".into(),
        source: "Natural Earth 4.1.0, by way of world-atlas 2.0.2".into(),
        licence: Some("public domain".into()),
    }
}

/// Where the ice shelves come from.
#[must_use]
pub fn ice_shelf_provenance() -> Provenance {
    Provenance {
        name: "Antarctic ice shelves at 1:50 million, fronts of 2003 to 2004".into(),
        source: "Natural Earth, by way of Marble 22.12.3".into(),
        licence: Some("public domain".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_that_is_none_has_no_cover() {
        for (x, y) in
            [(0.0, f64::NAN), (f64::NAN, -70.0), (0.0, 91.0), (0.0, -39.9), (f64::INFINITY, 70.0)]
        {
            assert_eq!(cover_at(Point::new(x, y)), Ok(None), "{x} {y}");
        }
    }

    #[test]
    fn longitude_may_be_counted_any_way() {
        for longitude_deg in [-180.0, 180.0, 540.0] {
            assert_eq!(cover_at(Point::new(longitude_deg, -80.0)), Ok(Some(Cover::IceShelf)));
        }
        assert_eq!(cover_at(Point::new(5.0, -90.0)), Ok(Some(Cover::Land)));
    }
}
