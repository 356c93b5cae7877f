//! Areas with attributes, whatever file they come from.

use std::path::Path;

use dipward_plugin::{BuildContext, Error};
use serde_json::{Map, Value};

use super::{FilePolygon, geojson, geopackage, shapefile};
use crate::crs::MapProjection;

/// A feature that is one or more polygons.
#[derive(Debug, Clone)]
pub(crate) struct AreaFeature {
    /// How messages name it: its number in the file, and its id or name if it has one.
    pub(crate) label: String,
    /// Its attributes.
    pub(crate) properties: Map<String, Value>,
    /// The map that its polygons are on.
    pub(crate) map: MapProjection,
    /// Its polygons, at least one.
    pub(crate) polygons: Vec<FilePolygon>,
}

impl AreaFeature {
    /// An attribute by name, whatever the case of its letters: services write `CT` and `ct`.
    pub(crate) fn attribute(&self, name: &str) -> Option<&Value> {
        self.properties
            .get(name)
            .or_else(|| {
                self.properties
                    .iter()
                    .find(|(key, _)| key.eq_ignore_ascii_case(name))
                    .map(|(_, value)| value)
            })
            .filter(|value| !value.is_null())
    }
}

/// Reads the polygons of a file by its extension: `.shp` with the `.dbf` and `.prj` beside it, `.gpkg`,
/// and GeoJSON for every other.
///
/// # Errors
///
/// [`Error::File`] for what is missing or wrong, naming the feature where there is one.
pub(crate) fn read_area_file(
    path: &Path,
    context: &BuildContext,
) -> Result<Vec<AreaFeature>, Error> {
    let bytes = context.read(path)?;
    let extension = path.extension().and_then(|extension| extension.to_str()).unwrap_or_default();
    match extension.to_ascii_lowercase().as_str() {
        "shp" => {
            let table = context.read(&path.with_extension("dbf"))?;
            let system = context.read(&path.with_extension("prj"))?;
            shapefile::read_areas(path, bytes, table, &system)
        }
        "gpkg" => geopackage::read_areas(path, &bytes),
        _ => geojson::read_areas(path, &bytes),
    }
}

/// The label of a feature by its number and what its attributes call it.
pub(super) fn label(index: usize, properties: &Map<String, Value>, id: Option<String>) -> String {
    let number = index + 1;
    let name = ["name", "NAME", "id", "ID", "ICE_ID"].iter().find_map(|key| properties.get(*key));
    let named = name.and_then(|name| match name {
        Value::String(name) if !name.is_empty() => Some(name.clone()),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    });
    match named.or(id) {
        Some(name) => format!("feature {number} `{name}`"),
        None => format!("feature {number}"),
    }
}

/// Checks a ring of a file that closes its rings by its format.
///
/// # Errors
///
/// What is wrong with it.
pub(super) fn check_ring(ring: &[[f64; 2]], map: &MapProjection) -> Result<(), String> {
    if ring.len() < 4 {
        return Err(format!("has a ring of {} positions, and four close a triangle", ring.len()));
    }
    if ring.first() != ring.last() {
        return Err("has a ring that is not closed".to_owned());
    }
    for &[x, y] in ring {
        let sound = match map {
            MapProjection::LonLat => x.abs() <= 540.0 && y.abs() <= 90.0,
            _ => {
                // A map may end before its numbers do.
                x.abs() <= 1e9 && y.abs() <= 1e9 && map.position([x, y]).y().is_finite()
            }
        };
        if !sound {
            return Err(format!("has the position {x} {y}, which is not on its map"));
        }
    }
    if *map == MapProjection::LonLat {
        for edge in ring.windows(2) {
            geojson::check_edge(edge[0], edge[1])?;
        }
    }
    Ok(())
}
