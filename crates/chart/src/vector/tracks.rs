//! Points and lines with a berth, from CSV or GeoJSON.

use std::path::Path;

use dipward_geodesy::{Position, position};
use dipward_plugin::{BuildContext, Error};
use geojson::{Feature, GeoJson, GeometryValue};

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
    let unreadable = |error: csv::Error| format!("cannot be read as CSV: {error}");
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes);
    let headers = reader.headers().map_err(unreadable)?.clone();
    let column =
        |name: &str| headers.iter().position(|own| own.trim_start_matches('\u{feff}') == name);
    let need = |name: &str| column(name).ok_or_else(|| format!("has no column `{name}`"));
    let (latitude, longitude) = (need("latitude_deg")?, need("longitude_deg")?);
    let (radius, length) = (column("radius_km"), column("length_m"));
    let mut tracks = Vec::new();
    for record in reader.records() {
        let record = record.map_err(unreadable)?;
        let line = record.position().map_or(0, csv::Position::line);
        let label = format!("line {line}");
        let number = |at: usize, name: &str| {
            let text = record.get(at).unwrap_or_default();
            text.parse::<f64>().map_err(|_| format!("{label}: `{name}` is `{text}`, no number"))
        };
        let at = place(number(latitude, "latitude_deg")?, number(longitude, "longitude_deg")?)
            .map_err(|message| format!("{label}: {message}"))?;
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
