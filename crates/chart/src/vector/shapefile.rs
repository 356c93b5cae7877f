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
    feature::{AreaFeature, AreaFile, RingNotes, label},
};
use crate::{
    crs::{MapProjection, projection_of_wkt},
    format::not_what_was_wanted,
};

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
) -> Result<AreaFile, Error> {
    let of = |extension: &str, message: String| {
        let path =
            if extension.is_empty() { path.to_owned() } else { path.with_extension(extension) };
        Error::File { path, message }
    };
    let map = projection_of_wkt(&String::from_utf8_lossy(system))
        .map_err(|message| of("prj", message))?;
    check_shapes(&shapes).map_err(|message| of("", message))?;
    check_table(&table).map_err(|message| of("dbf", message))?;
    let mut notes = RingNotes::default();
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
        match polygon(shape, &map, &mut notes) {
            Ok(Some(polygon)) => {
                features.push(AreaFeature {
                    label,
                    properties,
                    map: map.clone(),
                    polygons: vec![polygon],
                });
            }
            Ok(None) => notes.without_place += 1,
            Err(message) => return Err(of("", format!("{label}: {message}"))),
        }
    }
    if features.is_empty() {
        return Err(of("", "has no features with a place".to_owned()));
    }
    Ok(AreaFile { features, notes: notes.texts(path) })
}

/// Checks the counts of a file of shapes against its bytes, before any memory is asked for.
///
/// Source: ESRI Shapefile Technical Description (1998), main file header and record headers.
fn check_shapes(bytes: &[u8]) -> Result<(), String> {
    let big = |at: usize| four(bytes, at).map(u32::from_be_bytes).map(|number| number as usize);
    let little = |at: usize| four(bytes, at).map(u32::from_le_bytes).map(|number| number as usize);
    let short = || "is cut short".to_owned();
    if big(0) != Some(9994) {
        return Err(not_what_was_wanted(bytes, "a shapefile"));
    }
    // Lengths count words of two bytes.
    let length = big(24).and_then(|words| words.checked_mul(2)).ok_or_else(short)?;
    if length != bytes.len() {
        return Err(format!(
            "{}: it says that it has {length} bytes, and has {}",
            if length > bytes.len() { "is cut short" } else { "is damaged" },
            bytes.len()
        ));
    }
    let kind = little(32).ok_or_else(short)?;
    let mut at = 100;
    let mut number = 0;
    while at < length {
        number += 1;
        let damaged = |what: &str| format!("is damaged in feature {number}: {what}");
        let size = big(at + 4).and_then(|words| words.checked_mul(2)).ok_or_else(short)?;
        let start = at + 8;
        at = start.checked_add(size).filter(|end| *end <= length).ok_or_else(short)?;
        let own = little(start).filter(|_| size >= 4).ok_or_else(short)?;
        if own == 0 {
            continue;
        }
        if own != kind {
            return Err(damaged(&format!("it is of kind {own} in a file of kind {kind}")));
        }
        if ![5, 15, 25].contains(&own) {
            continue;
        }
        let (parts, points) = little(start + 36).zip(little(start + 40)).ok_or_else(short)?;
        let needed = parts.saturating_mul(4).saturating_add(points.saturating_mul(16));
        if needed.saturating_add(44) > size {
            return Err(damaged(&format!("{parts} rings of {points} positions do not fit in it")));
        }
        let mut before = None;
        for part in 0..parts {
            let begin = little(start + 44 + 4 * part).ok_or_else(short)?;
            if begin >= points
                || before.is_some_and(|before| begin <= before)
                || part == 0 && begin > 0
            {
                return Err(damaged("its rings do not follow each other"));
            }
            before = Some(begin);
        }
    }
    Ok(())
}

/// Checks the counts of a dBase table against its bytes.
fn check_table(bytes: &[u8]) -> Result<(), String> {
    let rows = four(bytes, 4).map(u32::from_le_bytes).ok_or("is cut short")? as usize;
    let pair = |at: usize| {
        let pair = bytes.get(at..).and_then(|rest| rest.first_chunk().copied());
        pair.map(u16::from_le_bytes).map(usize::from).ok_or("is cut short")
    };
    let needed = pair(8)? + rows.saturating_mul(pair(10)?);
    if needed > bytes.len() {
        return Err(format!("is cut short: {rows} rows need {needed} bytes of {}", bytes.len()));
    }
    Ok(())
}

fn four(bytes: &[u8], at: usize) -> Option<[u8; 4]> {
    bytes.get(at..)?.first_chunk().copied()
}

/// The rings of a polygon, outer and inner alike: the even-odd rule tells them apart.
fn polygon(
    shape: Shape,
    map: &MapProjection,
    notes: &mut RingNotes,
) -> Result<Option<FilePolygon>, String> {
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
    rings.into_iter().map(|ring| notes.ring(ring, map)).collect::<Result<_, _>>().map(Some)
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
