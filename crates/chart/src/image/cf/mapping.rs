//! The projection of a grid mapping, from its CF attributes and from the well-known text that it may carry.

use dipward_geodesy::Ellipsoid;
use netcdf_reader::{NcFile, NcVariable};

use super::{number, numbers, text, variables};
use crate::crs::{MapProjection, Method, Parameters, RotatedPole, projection_of_wkt};

/// What a file says of a field's projection: more than one reading where its parts may contradict each
/// other.
#[derive(Debug)]
pub(super) struct Mapping {
    /// The readings, the CF attributes' first.
    pub(super) maps: Vec<MapProjection>,
    /// Whether the field names it, or the file has only this one.
    pub(super) named: bool,
}

/// The grid mapping of a field, if it has one.
///
/// # Errors
///
/// When it names one that the file has not, or one that cannot be read.
pub(super) fn mapping(
    file: &NcFile,
    variable: &NcVariable,
    metres_a_unit: f64,
) -> Result<Option<Mapping>, String> {
    if let Some(named) = text(variable, "grid_mapping").filter(|named| !named.is_empty()) {
        // The extended form names coordinates too: `crs: x y`.
        let name = named.split([':', ' ']).next().unwrap_or_default();
        let mapping = variables(file)
            .iter()
            .find(|own| own.name() == name)
            .ok_or_else(|| format!("names the grid mapping `{name}`, which it has not"))?;
        return read(mapping, metres_a_unit, true).map(Some);
    }
    let mut all = variables(file).iter().filter(|own| text(own, "grid_mapping_name").is_some());
    match (all.next(), all.next()) {
        (Some(only), None) => read(only, metres_a_unit, false).map(Some),
        _ => Ok(None),
    }
}

fn read(variable: &NcVariable, metres_a_unit: f64, named: bool) -> Result<Mapping, String> {
    let of_attributes = match text(variable, "grid_mapping_name") {
        Some(name) if !name.is_empty() => Some(of_attributes(variable, &name, metres_a_unit)),
        _ => None,
    };
    let of_text = text(variable, "crs_wkt").or_else(|| text(variable, "spatial_ref"));
    let of_text = of_text.filter(|text| !text.is_empty()).map(|text| projection_of_wkt(&text));
    let (mut maps, mut faults) = (Vec::new(), Vec::new());
    for reading in [of_attributes, of_text].into_iter().flatten() {
        match reading {
            Ok(map) if !maps.contains(&map) => maps.push(map),
            Ok(_) => {}
            Err(fault) => faults.push(fault),
        }
    }
    if maps.is_empty() {
        let fault = faults.into_iter().next();
        return Err(fault.unwrap_or_else(|| "has a grid mapping without a name".to_owned()));
    }
    Ok(Mapping { maps, named })
}

fn of_attributes(
    variable: &NcVariable,
    name: &str,
    metres_a_unit: f64,
) -> Result<MapProjection, String> {
    if number(variable, "longitude_of_prime_meridian").is_some_and(|own| own != 0.0) {
        return Err("has a prime meridian other than Greenwich, which is not taken".to_owned());
    }
    match name {
        "latitude_longitude" => return Ok(MapProjection::LonLat),
        "rotated_latitude_longitude" => {
            let need = |name: &str| {
                number(variable, name).ok_or_else(|| format!("has a grid mapping without `{name}`"))
            };
            return RotatedPole::new(
                need("grid_north_pole_latitude")?,
                need("grid_north_pole_longitude")?,
                number(variable, "north_pole_grid_longitude").unwrap_or(0.0),
            )
            .map(MapProjection::Rotated);
        }
        _ => {}
    }
    let method = Method::of_name(name).ok_or_else(|| {
        format!("has the grid mapping `{name}`, which is not taken: warp it to EPSG:3413 or 3031")
    })?;
    let first = |names: &[&str]| names.iter().find_map(|name| number(variable, name));
    let parallels = numbers(variable, "standard_parallel");
    let parameters = Parameters {
        latitude_deg: first(&["latitude_of_projection_origin"]),
        longitude_deg: first(&[
            "straight_vertical_longitude_from_pole",
            "longitude_of_central_meridian",
            "longitude_of_projection_origin",
        ]),
        parallel_deg: parallels.first().copied(),
        second_parallel_deg: parallels.get(1).copied(),
        scale: first(&["scale_factor_at_projection_origin", "scale_factor_at_central_meridian"]),
        // CF: in the unit of the axes.
        false_origin_m: ["false_easting", "false_northing"]
            .map(|name| number(variable, name).unwrap_or(0.0) * metres_a_unit),
    };
    // CF: a polar stereographic projection has one parallel, or one scale at the pole.
    if method == Method::PolarStereographic
        && parameters.parallel_deg.is_none()
        && parameters.scale.is_none()
    {
        return Err(
            "has a grid mapping without `standard_parallel` or `scale_factor_at_projection_origin`"
                .to_owned(),
        );
    }
    method.map(ellipsoid(variable)?, parameters)
}

fn ellipsoid(variable: &NcVariable) -> Result<Ellipsoid, String> {
    let semi_major =
        number(variable, "semi_major_axis").or_else(|| number(variable, "earth_radius"));
    let Some(semi_major_m) = semi_major else {
        let names = [
            "reference_ellipsoid_name",
            "horizontal_datum_name",
            "geographic_crs_name",
            "ellipsoid",
        ];
        let named = names.iter().find_map(|name| text(variable, name)).unwrap_or_default();
        let plain: String =
            named.to_ascii_lowercase().chars().filter(|c| c.is_ascii_alphanumeric()).collect();
        return match plain.as_str() {
            "wgs84" | "wgs1984" | "worldgeodeticsystem1984" => Ok(Ellipsoid::WGS84),
            // GRS 1980: its inverse flattening as EPSG:7019 has it.
            "grs80" | "grs1980" | "etrs89" | "nad83" => {
                Ok(Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_222_101 })
            }
            "hughes1980" => Ok(Ellipsoid::HUGHES_1980),
            _ => Err("has a grid mapping without `semi_major_axis` or `earth_radius`".to_owned()),
        };
    };
    let inverse_flattening =
        match (number(variable, "inverse_flattening"), number(variable, "semi_minor_axis")) {
            (Some(inverse), _) => inverse,
            (None, Some(minor_m)) if minor_m != semi_major_m => {
                semi_major_m / (semi_major_m - minor_m)
            }
            _ => 0.0,
        };
    Ok(Ellipsoid { semi_major_m, inverse_flattening })
}
