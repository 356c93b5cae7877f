//! Polygons with attributes from a GeoPackage.
//!
//! Source: OGC 12-128r18, GeoPackage Encoding Standard.

use std::path::Path;

use dipward_plugin::Error;
use serde_json::{Map, Value as Json};

use super::{
    FilePolygon,
    feature::{AreaFeature, AreaFile, RingNotes, label},
    sqlite::{Database, DatabaseFiles, Value},
    wkb::polygons_of_geopackage,
};
use crate::crs::{MapProjection, projection_of_wkt};

/// Reads the polygons of the only table of features, or of the one that is named.
///
/// # Errors
///
/// [`Error::File`] for a file that is no GeoPackage or is damaged, that has no table of features or
/// several, for geometry that is no polygon, and for a reference system that is not taken.
pub(super) fn read_areas(
    path: &Path,
    files: &DatabaseFiles,
    wanted: Option<&str>,
) -> Result<AreaFile, Error> {
    let mut notes = RingNotes::default();
    let features = areas(files, wanted, &mut notes)
        .map_err(|message| Error::File { path: path.to_owned(), message })?;
    let mut notes = notes.texts(path);
    if !files.log.is_empty() {
        notes.push(format!("{}: what its write-ahead log holds is read too", path.display()));
    }
    Ok(AreaFile { features, notes })
}

fn areas(
    files: &DatabaseFiles,
    wanted: Option<&str>,
    notes: &mut RingNotes,
) -> Result<Vec<AreaFeature>, String> {
    let database = Database::open(files)?;
    let layers =
        select(&database, "gpkg_geometry_columns", ["table_name", "column_name", "srs_id"])?;
    let is_wanted = |row: &&[Value; 3]| {
        wanted.is_none_or(|name| row[0].text().is_some_and(|own| own.eq_ignore_ascii_case(name)))
    };
    let fits: Vec<&[Value; 3]> = layers.iter().filter(is_wanted).collect();
    let &[[table, geometry, system]] = fits.as_slice() else {
        let names: Vec<&str> = layers.iter().filter_map(|row| row[0].text()).collect();
        return Err(match wanted {
            Some(wanted) => {
                format!("has no table `{wanted}` of features, but {}", names.join(", "))
            }
            None => format!(
                "has {} tables of features ({}), but one is wanted: name it by `table`",
                layers.len(),
                names.join(", ")
            ),
        });
    };
    let map = map_of(&database, system.integer().unwrap_or(-1))?;
    let name = table.text().unwrap_or_default();
    let table = database
        .table(name)
        .ok_or_else(|| format!("lists the table `{name}`, which it has not"))?;
    let geometry = geometry.text().unwrap_or_default();
    let geometry = table
        .columns
        .iter()
        .position(|column| column.eq_ignore_ascii_case(geometry))
        .ok_or_else(|| format!("has no column `{geometry}` in its table `{name}`"))?;
    let mut features = Vec::new();
    for (index, row) in database.rows(table)?.into_iter().enumerate() {
        let properties: Map<String, Json> =
            table.columns.iter().cloned().zip(row.iter().map(Value::to_json)).collect();
        let label = label(index, &properties, None);
        let geometry = match row.get(geometry) {
            Some(Value::Blob(geometry)) => geometry,
            Some(Value::Null) | None => {
                notes.without_place += 1;
                continue;
            }
            Some(_) => return Err(format!("{label}: its geometry is no geometry")),
        };
        let mut settled = |polygons: Vec<FilePolygon>| -> Result<Vec<FilePolygon>, String> {
            let mut polygon = |rings: FilePolygon| -> Result<FilePolygon, String> {
                rings.into_iter().map(|ring| notes.ring(ring, &map)).collect()
            };
            polygons.into_iter().map(&mut polygon).collect()
        };
        let polygons = polygons_of_geopackage(geometry)
            .and_then(&mut settled)
            .map_err(|message| format!("{label}: {message}"))?;
        if polygons.is_empty() {
            notes.without_place += 1;
        } else {
            features.push(AreaFeature { label, properties, map: map.clone(), polygons });
        }
    }
    if features.is_empty() {
        return Err("has no features".to_owned());
    }
    Ok(features)
}

/// The map of a reference system of the package.
fn map_of(database: &Database<'_>, wanted: i64) -> Result<MapProjection, String> {
    // The standard fixes 4326 as longitude and latitude, and 0 and -1 as undefined.
    if wanted == 4326 {
        return Ok(MapProjection::LonLat);
    }
    let systems = select(database, "gpkg_spatial_ref_sys", ["srs_id", "definition", "srs_name"])?;
    systems
        .iter()
        .find(|row| row[0].integer() == Some(wanted))
        .and_then(|row| row[1].text())
        .filter(|_| wanted > 0)
        .map(projection_of_wkt)
        .unwrap_or_else(|| Err("does not say in which reference system it is".to_owned()))
}

/// Some columns of a table.
fn select<const N: usize>(
    database: &Database<'_>,
    name: &str,
    columns: [&str; N],
) -> Result<Vec<[Value; N]>, String> {
    let table = database
        .table(name)
        .ok_or_else(|| format!("is no GeoPackage: it has no table `{name}`"))?;
    let place =
        |column: &str| table.columns.iter().position(|own| own.eq_ignore_ascii_case(column));
    let places = columns.map(place);
    Ok(database
        .rows(table)?
        .into_iter()
        .map(|row| {
            places
                .map(|place| place.and_then(|place| row.get(place)).cloned().unwrap_or(Value::Null))
        })
        .collect())
}
