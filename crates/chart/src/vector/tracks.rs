//! Points and lines with a berth, from CSV or GeoJSON.

use std::path::Path;

use dipward_geodesy::{Position, position};
use dipward_plugin::{BuildContext, Error};
use geojson::{Feature, GeoJson, GeometryValue};

use super::csv_table::{CsvTable, LATITUDE, LONGITUDE};
use crate::format::known_otherwise;

/// A point, or a line of several.
#[derive(Debug, Clone)]
pub(crate) struct Track {
    /// How messages name it.
    pub(crate) label: String,
    /// At least one.
    pub(crate) positions: Vec<Position>,
    /// Its berth, if it states one.
    pub(crate) radius_km: Option<f64>,
    /// Its length in metres, if it states one.
    pub(crate) length_m: Option<f64>,
}

/// Reads the points and lines of a file: `.csv`, or else GeoJSON.
///
/// # Errors
///
/// [`Error::File`] with the line or the feature for what is no number, no place on the Earth, no berth,
/// or neither a point nor a line.
pub(crate) fn read_tracks(path: &Path, context: &BuildContext) -> Result<Vec<Track>, Error> {
    let bytes = context.read(path)?;
    let is_csv = path.extension().is_some_and(|own| own.eq_ignore_ascii_case("csv"));
    let read = if is_csv { of_csv(&bytes) } else { of_geojson(&bytes) };
    read.map_err(|message| Error::File { path: path.to_owned(), message })
}

fn of_csv(bytes: &[u8]) -> Result<Vec<Track>, String> {
    let mut table = CsvTable::open(bytes)?;
    let need =
        |names: &[&str]| table.column(names).ok_or_else(|| format!("has no column `{}`", names[0]));
    let (latitude, longitude) = (need(&LATITUDE)?, need(&LONGITUDE)?);
    let [radius, length] = ["radius_km", "length_m"].map(|name| table.column(&[name]));
    let mut tracks = Vec::new();
    while let Some(row) = table.next_row() {
        let (line, record) = row?;
        let label = format!("line {line}");
        let degrees = |at: usize, name: &str, sides: [char; 2]| {
            let text = record.get(at).unwrap_or_default();
            table.degrees(text, sides).ok_or_else(|| {
                format!("{label}: `{name}` is `{text}`, no number of degrees and decimals")
            })
        };
        let number = |at: usize, name: &str| {
            let text = record.get(at).unwrap_or_default();
            table.number(text).ok_or_else(|| format!("{label}: `{name}` is `{text}`, no number"))
        };
        let latitude_deg = degrees(latitude, LATITUDE[0], ['N', 'S'])?;
        let longitude_deg = degrees(longitude, LONGITUDE[0], ['E', 'W'])?;
        let at =
            place(latitude_deg, longitude_deg).map_err(|message| format!("{label}: {message}"))?;
        let stated = |at: Option<usize>, name: &str, size: fn(f64) -> Result<f64, String>| {
            at.filter(|at| record.get(*at).is_some_and(|text| !text.is_empty()))
                .map(|at| size(number(at, name)?).map_err(|message| format!("{label}: {message}")))
                .transpose()
        };
        let radius_km = stated(radius, "radius_km", berth)?;
        let length_m = stated(length, "length_m", of_berg)?;
        tracks.push(Track { label, positions: vec![at], radius_km, length_m });
    }
    if tracks.is_empty() {
        return Err("has no rows".to_owned());
    }
    Ok(tracks)
}

fn of_geojson(bytes: &[u8]) -> Result<Vec<Track>, String> {
    if let Some(message) = known_otherwise(bytes, "GeoJSON") {
        return Err(message);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let document: GeoJson =
        serde_json::from_slice(bytes).map_err(|error| format!("is not GeoJSON: {error}"))?;
    let features = match document {
        GeoJson::FeatureCollection(collection) => collection.features,
        GeoJson::Feature(feature) => vec![feature],
        GeoJson::Geometry(geometry) => vec![Feature::from(geometry)],
    };
    let mut tracks = Vec::new();
    for (index, feature) in features.into_iter().enumerate() {
        let label = format!("feature {}", index + 1);
        let stated = |name: &str, size: fn(f64) -> Result<f64, String>| {
            feature
                .property(name)
                .filter(|value| !value.is_null())
                .map(|value| {
                    value
                        .as_f64()
                        .ok_or_else(|| format!("`{name}` is {value}, no number"))
                        .and_then(size)
                        .map_err(|message| format!("{label}: {message}"))
                })
                .transpose()
        };
        let radius_km = stated("radius_km", berth)?;
        let length_m = stated("length_m", of_berg)?;
        let lines: Vec<Vec<geojson::Position>> =
            match feature.geometry.map(|geometry| geometry.value) {
                Some(GeometryValue::Point { coordinates }) => vec![vec![coordinates]],
                Some(GeometryValue::MultiPoint { coordinates }) => {
                    coordinates.into_iter().map(|at| vec![at]).collect()
                }
                Some(GeometryValue::LineString { coordinates }) => vec![coordinates],
                Some(GeometryValue::MultiLineString { coordinates }) => coordinates,
                Some(other) => {
                    return Err(format!(
                        "{label}: is a {}, but points or lines are wanted",
                        other.type_name()
                    ));
                }
                None => return Err(format!("{label}: has no geometry")),
            };
        for line in lines {
            let positions = line
                .iter()
                .map(|at| match at.as_slice() {
                    [longitude_deg, latitude_deg, ..] => place(*latitude_deg, *longitude_deg),
                    _ => Err("has a position without two numbers".to_owned()),
                })
                .collect::<Result<Vec<_>, _>>()
                .map_err(|message| format!("{label}: {message}"))?;
            if !positions.is_empty() {
                tracks.push(Track { label: label.clone(), positions, radius_km, length_m });
            }
        }
    }
    if tracks.is_empty() {
        return Err("has no points and no lines".to_owned());
    }
    Ok(tracks)
}

fn place(latitude_deg: f64, longitude_deg: f64) -> Result<Position, String> {
    if latitude_deg.abs() <= 90.0 && longitude_deg.abs() <= 540.0 {
        Ok(position(latitude_deg, longitude_deg))
    } else {
        Err(format!("latitude {latitude_deg}, longitude {longitude_deg} is no place on the Earth"))
    }
}

fn berth(radius_km: f64) -> Result<f64, String> {
    if radius_km > 0.0 && radius_km <= 1000.0 {
        Ok(radius_km)
    } else {
        Err(format!("`radius_km` is {radius_km}, but a number from 0 to 1000 is wanted"))
    }
}

fn of_berg(length_m: f64) -> Result<f64, String> {
    if length_m > 0.0 && length_m <= 500_000.0 {
        Ok(length_m)
    } else {
        Err(format!("`length_m` is {length_m}, but a number from 0 to 500000 is wanted"))
    }
}
