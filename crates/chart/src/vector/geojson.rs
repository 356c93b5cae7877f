//! Polygons with attributes from GeoJSON (RFC 7946).

use std::path::Path;

use dipward_plugin::Error;
use geojson::{Feature, GeoJson, GeometryValue, Position, feature::Id};
use serde_json::{Map, Value};

use super::{
    FilePolygon, Ring,
    feature::{AreaFeature, AreaFile, RingNotes, label},
};
use crate::{crs::MapProjection, format::known_otherwise};

/// Reads the polygons of a GeoJSON file.
///
/// # Errors
///
/// [`Error::File`] that names the file and, where there is one, the feature: text that is no JSON
/// (with line and column), no GeoJSON, another reference system than WGS84 degrees, geometry that is
/// no polygon, a ring that is not closed or has fewer than four positions, coordinates that are no
/// degrees, a ring that may be meant in two ways.
pub(super) fn read_areas(path: &Path, bytes: &[u8]) -> Result<AreaFile, Error> {
    let mut notes = RingNotes::default();
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    if let Some(message) = known_otherwise(bytes, "GeoJSON") {
        return Err(wrong(message));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        wrong(format!("is not UTF-8 text (first wrong byte at {})", error.valid_up_to()))
    })?;
    // Files of Windows programs may begin with a byte order mark, which JSON does not allow.
    let text = text.trim_start_matches('\u{feff}');
    // Read as JSON first, so that a slip of the pen is told with its line and column.
    let json: Value =
        serde_json::from_str(text).map_err(|error| wrong(format!("is not JSON: {error}")))?;
    check_reference_system(&json).map_err(wrong)?;
    let document = serde_json::from_value::<GeoJson>(json)
        .map_err(|error| wrong(format!("is not GeoJSON: {error}")))?;
    let features = match document {
        GeoJson::FeatureCollection(collection) => collection.features,
        GeoJson::Feature(feature) => vec![feature],
        GeoJson::Geometry(geometry) => vec![Feature::from(geometry)],
    };
    if features.is_empty() {
        return Err(wrong("has no features".to_owned()));
    }
    let features = features
        .into_iter()
        .enumerate()
        .map(|(index, feature)| {
            let id = match &feature.id {
                Some(Id::String(id)) => Some(id.clone()),
                Some(Id::Number(id)) => Some(id.to_string()),
                None => None,
            };
            let empty = Map::new();
            let label = label(index, feature.properties.as_ref().unwrap_or(&empty), id);
            area(feature, label.clone(), &mut notes)
                .map_err(|message| wrong(format!("{label}: {message}")))
        })
        .collect::<Result<_, _>>()?;
    Ok(AreaFile { features, notes: notes.texts(path) })
}

/// GeoJSON is in WGS84 degrees. The member `crs` of the older draft may only say so.
fn check_reference_system(json: &Value) -> Result<(), String> {
    let Some(crs) = json.get("crs").filter(|crs| !crs.is_null()) else { return Ok(()) };
    let name =
        crs.pointer("/properties/name").and_then(Value::as_str).unwrap_or("one without a name");
    if name.ends_with("CRS84") || name.ends_with(":4326") {
        return Ok(());
    }
    Err(format!(
        "is in the reference system {name}, but GeoJSON is in WGS84 degrees (RFC 7946): write it anew \
         in EPSG:4326"
    ))
}

fn area(feature: Feature, label: String, notes: &mut RingNotes) -> Result<AreaFeature, String> {
    let geometry = feature.geometry.ok_or("has no geometry")?;
    let polygons = match geometry.value {
        GeometryValue::Polygon { coordinates } => vec![polygon(&coordinates, notes)?],
        GeometryValue::MultiPolygon { coordinates } => {
            coordinates.iter().map(|rings| polygon(rings, notes)).collect::<Result<_, _>>()?
        }
        other => return Err(format!("is a {}, but an area is wanted", other.type_name())),
    };
    if polygons.is_empty() {
        return Err("has no polygon".to_owned());
    }
    let properties = feature.properties.unwrap_or_default();
    Ok(AreaFeature { label, properties, map: MapProjection::LonLat, polygons })
}

fn polygon(rings: &[Vec<Position>], notes: &mut RingNotes) -> Result<FilePolygon, String> {
    if rings.is_empty() {
        return Err("has a polygon without a ring".to_owned());
    }
    rings.iter().map(|positions| ring(positions, notes)).collect()
}

fn ring(positions: &[Position], notes: &mut RingNotes) -> Result<Ring, String> {
    let ring: Ring = positions
        .iter()
        .map(|position| match position.as_slice() {
            [longitude_deg, latitude_deg, ..] => checked(*longitude_deg, *latitude_deg),
            _ => Err("has a position without two numbers".to_owned()),
        })
        .collect::<Result<_, _>>()?;
    notes.ring(ring, &MapProjection::LonLat)
}

fn checked(longitude_deg: f64, latitude_deg: f64) -> Result<[f64; 2], String> {
    if longitude_deg.abs() <= 540.0 && latitude_deg.abs() <= 90.0 {
        Ok([longitude_deg, latitude_deg])
    } else {
        Err(format!(
            "has the position {longitude_deg} {latitude_deg}, which is not longitude and latitude in \
             degrees"
        ))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read(text: &str) -> Result<Vec<AreaFeature>, String> {
        read_areas(Path::new("ice.geojson"), text.as_bytes())
            .map(|file| file.features)
            .map_err(|error| error.to_string())
    }

    fn with_ring(ring: &str) -> String {
        format!(
            r#"{{"type":"FeatureCollection","features":[{{"type":"Feature","properties":
            {{"name":"tongue","CT":"91"}},"geometry":{{"type":"Polygon","coordinates":[{ring}]}}}}]}}"#
        )
    }

    const SQUARE: &str = "[[0,-60],[10,-60],[10,-50],[0,-50],[0,-60]]";

    #[test]
    fn polygons_are_read_with_their_attributes() {
        let areas = read(&with_ring(SQUARE)).unwrap();
        assert_eq!(areas[0].label, "feature 1 `tongue`");
        assert_eq!(areas[0].attribute("ct").unwrap(), "91");
        assert_eq!(areas[0].polygons[0][0].len(), 5);
        assert!(read(&format!("\u{feff}{}", with_ring(SQUARE))).is_ok());
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        for (text, words) in [
            ("{\n \"type\": \"Feature\",\n oops }", vec!["line 3 column"]),
            ("{}", vec!["not GeoJSON"]),
            (r#"{"type":"FeatureCollection","features":[]}"#, vec!["no features"]),
            (r#"{"type":"Point","coordinates":[1,2]}"#, vec!["feature 1", "Point"]),
            (r#"{"type":"Feature","geometry":null,"properties":null}"#, vec!["no geometry"]),
            (&with_ring("[[0,-60],[10,-60],[10,-50],[0,-50]]"), vec!["`tongue`", "not closed"]),
            (&with_ring("[[0,-60],[10,-60],[0,-60]]"), vec!["3 positions"]),
            (&with_ring("[]"), vec!["without positions"]),
            (&with_ring("[[0,-60],[10,-60],[10,-5000000],[0,-60]]"), vec!["degrees"]),
            (&with_ring("[[0,-60],[1e999,-60],[10,-50],[0,-60]]"), vec!["line 2"]),
            (&with_ring("[[100,-60],[-100,-60],[-100,-50],[100,-60]]"), vec!["antimeridian"]),
        ] {
            let message = read(text).unwrap_err();
            assert!(message.starts_with("ice.geojson: "), "{message}");
            for word in words {
                assert!(message.contains(word), "{message}");
            }
        }
        let message = read_areas(Path::new("x"), &[0xff, 0xfe]).unwrap_err().to_string();
        assert!(message.contains("UTF-8"), "{message}");
    }

    #[test]
    fn only_degrees_on_wgs84_are_taken() {
        let with = |name: &str| {
            with_ring(SQUARE).replacen(
                '{',
                &format!(r#"{{"crs":{{"type":"name","properties":{{"name":"{name}"}}}},"#),
                1,
            )
        };
        assert!(read(&with("urn:ogc:def:crs:OGC:1.3:CRS84")).is_ok());
        let message = read(&with("urn:ogc:def:crs:EPSG::3031")).unwrap_err();
        assert!(message.contains("3031"), "{message}");
    }

    #[test]
    fn a_cap_cut_at_the_antimeridian_is_taken() {
        assert!(read(&with_ring("[[-180,-70],[180,-70],[180,-90],[-180,-90],[-180,-70]]")).is_ok());
    }

    proptest! {
        #[test]
        fn mutated_text_does_not_panic(place in 0usize..400, byte: u8) {
            let mut bytes = with_ring(SQUARE).into_bytes();
            let place = place % bytes.len();
            bytes[place] = byte;
            let _ = read_areas(Path::new("x"), &bytes);
            bytes.truncate(place);
            let _ = read_areas(Path::new("x"), &bytes);
        }
    }
}
