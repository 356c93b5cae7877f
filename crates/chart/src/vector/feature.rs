//! Areas with attributes, whatever file they come from.

use std::path::Path;

use dipward_plugin::{BuildContext, Error};
use serde_json::{Map, Value};

use super::{
    FilePolygon, Ring, geojson, geopackage,
    meridian::{Way, settle},
    shapefile,
    sqlite::DatabaseFiles,
};
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

/// The polygons of a file, and what must be told of how they were read.
#[derive(Debug, Default)]
pub(crate) struct AreaFile {
    /// In the order of the file.
    pub(crate) features: Vec<AreaFeature>,
    /// In words, for the layer's assumptions.
    pub(crate) notes: Vec<String>,
}

/// Reads the polygons of a file by its extension: `.shp` with the `.dbf` and `.prj` beside it, `.gpkg` with
/// the write-ahead log beside it, and GeoJSON for every other.
///
/// # Arguments
///
/// `table` names the table of a GeoPackage that has several.
///
/// # Errors
///
/// [`Error::File`] for what is missing or wrong, naming the feature where there is one.
pub(crate) fn read_area_file(
    path: &Path,
    table: Option<&str>,
    context: &BuildContext,
) -> Result<AreaFile, Error> {
    let bytes = context.read(path)?;
    let extension = path.extension().and_then(|extension| extension.to_str()).unwrap_or_default();
    // Parts of a name in capitals are in capitals too.
    let part = |own: &str| {
        let capital = extension.chars().all(|sign| !sign.is_ascii_lowercase());
        path.with_extension(if capital { own.to_ascii_uppercase() } else { own.to_owned() })
    };
    match extension.to_ascii_lowercase().as_str() {
        "shp" => {
            let rows = context.read(&part("dbf"))?;
            let system = context.read(&part("prj"))?;
            shapefile::read_areas(path, bytes, rows, &system)
        }
        "gpkg" => {
            let beside = |ending: &str| {
                let mut name = path.as_os_str().to_owned();
                name.push(ending);
                context.read_beside(Path::new(&name))
            };
            let files = DatabaseFiles {
                main: bytes,
                log: beside("-wal")?.unwrap_or_default(),
                journal: beside("-journal")?.unwrap_or_default(),
            };
            geopackage::read_areas(path, &files, table)
        }
        _ => geojson::read_areas(path, &bytes),
    }
}

/// Rings that were taken otherwise than they are told, and features without a place.
#[derive(Debug, Default)]
pub(super) struct RingNotes {
    short: usize,
    round_pole: usize,
    /// Rows without a geometry.
    pub(super) without_place: usize,
}

impl RingNotes {
    /// Checks a ring of a file, and takes it by what it means on the Earth.
    ///
    /// # Errors
    ///
    /// What is wrong with it.
    pub(super) fn ring(&mut self, ring: Ring, map: &MapProjection) -> Result<Ring, String> {
        let lon_lat = *map == MapProjection::LonLat;
        for &[x, y] in &ring {
            let sound = if lon_lat {
                x.abs() <= 540.0 && y.abs() <= 90.0
            } else {
                // A map may end before its numbers do.
                x.abs() <= 1e9 && y.abs() <= 1e9 && map.position([x, y]).y().is_finite()
            };
            if !sound {
                return Err(format!("has the position {x} {y}, which is not on its map"));
            }
        }
        if lon_lat {
            let (ring, way) = settle(ring)?;
            self.short += usize::from(way == Way::Short);
            self.round_pole += usize::from(way == Way::RoundPole);
            return Ok(ring);
        }
        if ring.len() < 4 {
            return Err(format!(
                "has a ring of {} positions, and four close a triangle",
                ring.len()
            ));
        }
        if ring.first() != ring.last() {
            return Err("has a ring that is not closed".to_owned());
        }
        Ok(ring)
    }

    /// What must be told of a file.
    pub(super) fn texts(&self, path: &Path) -> Vec<String> {
        let file = path.display();
        let counted = [
            (self.short, "rings cross the 180th meridian uncut and are taken the short way"),
            (self.round_pole, "rings go round a pole uncut and are taken to hold it"),
            (self.without_place, "rows have no geometry and are passed over"),
        ];
        let counted = counted.into_iter().filter(|(count, _)| *count > 0);
        counted.map(|(count, what)| format!("{file}: {count} {what}")).collect()
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
