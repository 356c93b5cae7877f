//! The projection of a GeoTIFF, from its keys. Nothing is guessed.
//!
//! Source: OGC 19-008r4, GeoTIFF 1.1; key numbers and the codes of EPSG from there.

use dipward_geodesy::Ellipsoid;
use geotiff_reader::geokeys::GeoKeyDirectory;

use crate::crs::{MapProjection, Method, Parameters, polar, projection_of_epsg};

const MODEL_TYPE: u16 = 1024;
const GEODETIC_CRS: u16 = 2048;
const ANGULAR_UNITS: u16 = 2054;
const ELLIPSOID: u16 = 2056;
const SEMI_MAJOR_AXIS: u16 = 2057;
const SEMI_MINOR_AXIS: u16 = 2058;
const INVERSE_FLATTENING: u16 = 2059;
const PROJECTED_CRS: u16 = 3072;
const PROJECTION_METHOD: u16 = 3075;
const LINEAR_UNITS: u16 = 3076;
const FIRST_PARALLEL: u16 = 3078;
const SECOND_PARALLEL: u16 = 3079;
const NATURAL_ORIGIN_LONGITUDE: u16 = 3080;
const NATURAL_ORIGIN_LATITUDE: u16 = 3081;
const FALSE_EASTING: u16 = 3082;
const FALSE_NORTHING: u16 = 3083;
const FALSE_ORIGIN_LONGITUDE: u16 = 3084;
const FALSE_ORIGIN_LATITUDE: u16 = 3085;
const FALSE_ORIGIN_EASTING: u16 = 3086;
const FALSE_ORIGIN_NORTHING: u16 = 3087;
const CENTRE_LONGITUDE: u16 = 3088;
const CENTRE_LATITUDE: u16 = 3089;
const SCALE_AT_NATURAL_ORIGIN: u16 = 3092;
const SCALE_AT_CENTRE: u16 = 3093;
const STRAIGHT_VERTICAL_POLE_LONGITUDE: u16 = 3095;

const USER_DEFINED: u16 = 32_767;
const POLAR_STEREOGRAPHIC: u16 = 15;
const METRE: u16 = 9001;
const DEGREE: u16 = 9102;

/// The projection that the keys state.
///
/// # Errors
///
/// What is missing, or which reference system this reader does not take.
pub(super) fn projection_of_keys(keys: &GeoKeyDirectory) -> Result<MapProjection, String> {
    match keys.get_short(MODEL_TYPE) {
        Some(1) => {}
        Some(2) => return geographic(keys),
        Some(other) => return Err(format!("has the model type {other}, but a map is wanted")),
        None => return Err("does not say in which reference system it is".to_owned()),
    }
    if keys.get_short(LINEAR_UNITS).is_some_and(|unit| unit != METRE) {
        return Err("is not in metres".to_owned());
    }
    match keys.get_short(PROJECTED_CRS) {
        Some(USER_DEFINED) | None => user_defined(keys),
        Some(code) => projection_of_epsg(code),
    }
}

fn geographic(keys: &GeoKeyDirectory) -> Result<MapProjection, String> {
    if keys.get_short(ANGULAR_UNITS).is_some_and(|unit| unit != DEGREE) {
        return Err("is in longitude and latitude, but not in degrees".to_owned());
    }
    match keys.get_short(GEODETIC_CRS) {
        Some(4326 | 4979 | 4258 | 4269 | 4054 | USER_DEFINED) => Ok(MapProjection::LonLat),
        Some(code) => Err(format!("is in EPSG:{code}, which this reader does not take")),
        None => Err("does not say on which datum its longitudes and latitudes are".to_owned()),
    }
}

fn user_defined(keys: &GeoKeyDirectory) -> Result<MapProjection, String> {
    match keys.get_short(PROJECTION_METHOD) {
        Some(POLAR_STEREOGRAPHIC) => {}
        Some(method) => return by_method(keys, method),
        None => return Err("does not say in which projection it is".to_owned()),
    }
    let number = |key: u16| keys.get_double(key).and_then(|values| values.first()).copied();
    let origin_deg =
        number(NATURAL_ORIGIN_LATITUDE).ok_or("does not state the latitude of true scale")?;
    let central_deg = number(STRAIGHT_VERTICAL_POLE_LONGITUDE)
        .ok_or("does not state the longitude that runs straight down from the pole")?;
    polar(
        ellipsoid(keys)?,
        origin_deg,
        central_deg,
        number(SCALE_AT_NATURAL_ORIGIN).unwrap_or(1.0),
        [number(FALSE_EASTING).unwrap_or(0.0), number(FALSE_NORTHING).unwrap_or(0.0)],
    )
}

/// The projections of the coordinate transformation codes of GeoTIFF 1.0, which 1.1 keeps.
fn by_method(keys: &GeoKeyDirectory, code: u16) -> Result<MapProjection, String> {
    let method = match code {
        1 => Method::TransverseMercator,
        7 => Method::Mercator,
        8 | 9 => Method::ConformalConic,
        10 => Method::AzimuthalEqualArea,
        11 => Method::EqualAreaConic,
        12 => Method::AzimuthalEquidistant,
        14 => Method::ObliqueStereographic,
        28 => Method::CylindricalEqualArea,
        _ => {
            return Err(format!(
                "has the projection method {code}, which is not taken: warp it to EPSG:3413 or 3031"
            ));
        }
    };
    let first =
        |wanted: &[u16]| wanted.iter().find_map(|key| keys.get_double(*key)?.first().copied());
    let parameters = Parameters {
        latitude_deg: first(&[NATURAL_ORIGIN_LATITUDE, FALSE_ORIGIN_LATITUDE, CENTRE_LATITUDE]),
        longitude_deg: first(&[NATURAL_ORIGIN_LONGITUDE, FALSE_ORIGIN_LONGITUDE, CENTRE_LONGITUDE]),
        parallel_deg: first(&[FIRST_PARALLEL]),
        second_parallel_deg: first(&[SECOND_PARALLEL]),
        scale: first(&[SCALE_AT_NATURAL_ORIGIN, SCALE_AT_CENTRE]),
        false_origin_m: [
            first(&[FALSE_EASTING, FALSE_ORIGIN_EASTING]).unwrap_or(0.0),
            first(&[FALSE_NORTHING, FALSE_ORIGIN_NORTHING]).unwrap_or(0.0),
        ],
    };
    method.map(ellipsoid(keys)?, parameters)
}

fn ellipsoid(keys: &GeoKeyDirectory) -> Result<Ellipsoid, String> {
    let number = |key: u16| keys.get_double(key).and_then(|values| values.first()).copied();
    if let Some(semi_major_m) = number(SEMI_MAJOR_AXIS) {
        let inverse_flattening = match (number(INVERSE_FLATTENING), number(SEMI_MINOR_AXIS)) {
            (Some(inverse), _) => inverse,
            (None, Some(minor_m)) if minor_m == semi_major_m => 0.0,
            (None, Some(minor_m)) => semi_major_m / (semi_major_m - minor_m),
            (None, None) => return Err("states only one axis of its ellipsoid".to_owned()),
        };
        return Ok(Ellipsoid { semi_major_m, inverse_flattening });
    }
    match (keys.get_short(ELLIPSOID), keys.get_short(GEODETIC_CRS)) {
        (Some(7030), _) | (_, Some(4326)) => Ok(Ellipsoid::WGS84),
        // GRS 1980: NAD83, ETRS89.
        (Some(7019), _) | (_, Some(4258 | 4269)) => {
            Ok(Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_222_101 })
        }
        (Some(7058), _) | (_, Some(4054)) => Ok(Ellipsoid::HUGHES_1980),
        _ => Err("does not say on which ellipsoid it is".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use geotiff_reader::geokeys::GeoKeyValue;

    use super::*;

    fn keys(entries: &[(u16, GeoKeyValue)]) -> GeoKeyDirectory {
        let mut keys = GeoKeyDirectory::new();
        for (id, value) in entries {
            keys.set(*id, value.clone());
        }
        keys
    }

    fn double(value: f64) -> GeoKeyValue {
        GeoKeyValue::Double(vec![value])
    }

    #[test]
    fn a_projection_spelt_out_is_the_one_of_its_code() {
        use GeoKeyValue::Short;
        let spelt = keys(&[
            (MODEL_TYPE, Short(1)),
            (PROJECTED_CRS, Short(USER_DEFINED)),
            (PROJECTION_METHOD, Short(POLAR_STEREOGRAPHIC)),
            (LINEAR_UNITS, Short(METRE)),
            (NATURAL_ORIGIN_LATITUDE, double(-70.0)),
            (STRAIGHT_VERTICAL_POLE_LONGITUDE, double(0.0)),
            (SCALE_AT_NATURAL_ORIGIN, double(1.0)),
            (SEMI_MAJOR_AXIS, double(6_378_273.0)),
            (SEMI_MINOR_AXIS, double(6_356_889.449)),
        ]);
        let code = keys(&[(MODEL_TYPE, Short(1)), (PROJECTED_CRS, Short(3412))]);
        let (a, b) = (projection_of_keys(&spelt).unwrap(), projection_of_keys(&code).unwrap());
        let at = dipward_geodesy::position(-64.0, 136.0);
        let (MapProjection::Polar(a), MapProjection::Polar(b)) = (a, b) else { panic!() };
        let (a, b) = (a.forward(at), b.forward(at));
        assert!((a.x - b.x).hypot(a.y - b.y) < 0.01);
    }

    #[test]
    fn what_is_missing_or_not_taken_is_told() {
        use GeoKeyValue::Short;
        for (entries, word) in [
            (vec![], "reference system"),
            (vec![(MODEL_TYPE, Short(1))], "in which projection"),
            (vec![(MODEL_TYPE, Short(3))], "model type 3"),
            (vec![(MODEL_TYPE, Short(1)), (PROJECTED_CRS, Short(9999))], "EPSG:9999"),
            (vec![(MODEL_TYPE, Short(1)), (LINEAR_UNITS, Short(9002))], "metres"),
            (vec![(MODEL_TYPE, Short(1)), (PROJECTION_METHOD, Short(3))], "method 3"),
            (vec![(MODEL_TYPE, Short(2)), (GEODETIC_CRS, Short(4277))], "EPSG:4277"),
        ] {
            let message = projection_of_keys(&keys(&entries)).unwrap_err();
            assert!(message.contains(word), "{message}");
        }
    }
}
