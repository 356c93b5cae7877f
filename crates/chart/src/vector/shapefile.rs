//! Polygons with attributes from a shapefile, the form in which SIGRID-3 was made to be kept.

use std::{io::Cursor, path::Path};

use dipward_plugin::Error;
use serde_json::{Map, Value};
use shapefile::{
    Shape, ShapeReader,
    dbase::{FieldValue, Reader as TableReader, Record},
    record::traits::HasXY,
};

use super::{
    FilePolygon,
    feature::{AreaFeature, check_ring, label},
};
use crate::crs::{MapProjection, projection_of_wkt};

/// Reads the polygons of a shapefile.
///
/// # Arguments
///
/// `table` and `system` are the bytes of the `.dbf` and the `.prj`.
///
/// # Errors
///
/// [`Error::File`] for files that cannot be read or are cut short, for a table and shapes that differ
/// in number, for shapes that are no polygons, and for a reference system that is not taken.
pub(super) fn read_areas(
    path: &Path,
    shapes: Vec<u8>,
    table: Vec<u8>,
    system: &[u8],
) -> Result<Vec<AreaFeature>, Error> {
    let of = |extension: &str, message: String| {
        let path =
            if extension.is_empty() { path.to_owned() } else { path.with_extension(extension) };
        Error::File { path, message }
    };
    let map = projection_of_wkt(&String::from_utf8_lossy(system))
        .map_err(|message| of("prj", message))?;
    let unreadable =
        |error: shapefile::Error| of("", format!("cannot be read as a shapefile: {error}"));
    let shapes: Vec<Shape> =
        ShapeReader::new(Cursor::new(shapes)).and_then(ShapeReader::read).map_err(unreadable)?;
    let records: Vec<Record> = TableReader::new(Cursor::new(table))
        .and_then(|mut reader| reader.read())
        .map_err(|error| of("dbf", format!("cannot be read as a dBase table: {error}")))?;
    if shapes.len() != records.len() {
        return Err(of(
            "",
            format!("has {} shapes, but its table {} rows", shapes.len(), records.len()),
        ));
    }
    if shapes.is_empty() {
        return Err(of("", "has no features".to_owned()));
    }
    let mut features = Vec::with_capacity(shapes.len());
    for (index, (shape, record)) in shapes.into_iter().zip(records).enumerate() {
        let properties = properties(record);
        let label = label(index, &properties, None);
        match polygon(shape, &map) {
            Ok(Some(polygon)) => {
                features.push(AreaFeature {
                    label,
                    properties,
                    map: map.clone(),
                    polygons: vec![polygon],
                });
            }
            // A row without a shape has no place, and says nothing of any.
            Ok(None) => {}
            Err(message) => return Err(of("", format!("{label}: {message}"))),
        }
    }
    Ok(features)
}

/// The rings of a polygon, outer and inner alike: the even-odd rule tells them apart.
fn polygon(shape: Shape, map: &MapProjection) -> Result<Option<FilePolygon>, String> {
    fn rings<P: HasXY>(polygon: &shapefile::record::polygon::GenericPolygon<P>) -> FilePolygon {
        polygon
            .rings()
            .iter()
            .map(|ring| ring.points().iter().map(|point| [point.x(), point.y()]).collect())
            .collect()
    }
    let rings = match &shape {
        Shape::NullShape => return Ok(None),
        Shape::Polygon(polygon) => rings(polygon),
        Shape::PolygonM(polygon) => rings(polygon),
        Shape::PolygonZ(polygon) => rings(polygon),
        other => return Err(format!("is a {}, but an area is wanted", other.shapetype())),
    };
    for ring in &rings {
        check_ring(ring, map)?;
    }
    Ok(Some(rings))
}

fn properties(record: Record) -> Map<String, Value> {
    let mut properties: Vec<(String, Value)> = record
        .into_iter()
        .map(|(name, value)| {
            let value = match value {
                FieldValue::Character(text) => {
                    text.map_or(Value::Null, |text| Value::from(text.trim_matches(['\0', ' '])))
                }
                FieldValue::Memo(text) => Value::from(text),
                FieldValue::Numeric(number) => number.map_or(Value::Null, Value::from),
                FieldValue::Float(number) => number.map_or(Value::Null, Value::from),
                FieldValue::Double(number) | FieldValue::Currency(number) => Value::from(number),
                FieldValue::Integer(number) => Value::from(number),
                FieldValue::Logical(truth) => truth.map_or(Value::Null, Value::from),
                FieldValue::Date(_) | FieldValue::DateTime(_) => Value::Null,
            };
            (name, value)
        })
        .collect();
    // The reader keeps a record without an order.
    properties.sort_by(|a, b| a.0.cmp(&b.0));
    properties.into_iter().collect()
}
