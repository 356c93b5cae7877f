//! Well-known text of a reference system, as `.prj` files and GeoPackages hold it (version 1, in the
//! dialects of OGC and of ESRI).

use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};

use super::{LambertConic, MapProjection, Method, Parameters, wkt2};

/// A keyword with its texts, numbers and inner nodes.
#[derive(Debug, Default)]
pub(super) struct Node {
    pub(super) keyword: String,
    pub(super) texts: Vec<String>,
    pub(super) numbers: Vec<f64>,
    pub(super) inner: Vec<Node>,
}

impl Node {
    pub(super) fn find(&self, keyword: &str) -> Option<&Self> {
        self.inner.iter().find(|node| node.keyword.eq_ignore_ascii_case(keyword))
    }

    /// The number of `PARAMETER["name", number]`.
    pub(super) fn parameter(&self, names: &[&str]) -> Option<f64> {
        let named = |node: &&Self| {
            node.keyword.eq_ignore_ascii_case("PARAMETER")
                && node
                    .texts
                    .first()
                    .is_some_and(|text| names.iter().any(|name| text.eq_ignore_ascii_case(name)))
        };
        self.inner.iter().find(named)?.numbers.first().copied()
    }
}

/// The projection that well-known text describes.
///
/// # Errors
///
/// What is wrong with the text, or which projection is not taken.
pub(crate) fn projection_of_wkt(text: &str) -> Result<MapProjection, String> {
    let mut reader = Reader { rest: text.trim_start_matches('\u{feff}').trim(), depth: 0 };
    let root = reader.node()?;
    for geographic in [Some(&root), root.find("GEOGCS")].into_iter().flatten() {
        let meridian = geographic.find("PRIMEM").and_then(|meridian| meridian.numbers.first());
        if meridian.is_some_and(|longitude| *longitude != 0.0) {
            return Err(
                "counts its longitudes from another meridian than Greenwich: warp it to one that \
                        does"
                    .to_owned(),
            );
        }
    }
    match root.keyword.to_ascii_uppercase().as_str() {
        "GEOGCS" => {
            let unit = root.find("UNIT").and_then(|unit| unit.numbers.first()).copied();
            if unit.is_some_and(|unit| (unit - 1f64.to_radians()).abs() > 1e-9) {
                return Err("is in longitude and latitude, but not in degrees".to_owned());
            }
            Ok(MapProjection::LonLat)
        }
        "PROJCS" => projected(&root),
        "PROJCRS" | "PROJECTEDCRS" => wkt2::projected(&root),
        "GEOGCRS" | "GEOGRAPHICCRS" | "GEODCRS" => Ok(MapProjection::LonLat),
        other => Err(format!(
            "describes its reference system by `{other}`, but GEOGCS or PROJCS is wanted: write it anew \
             in a plain one, with GDAL by `ogr2ogr -t_srs EPSG:4326`"
        )),
    }
}

fn projected(root: &Node) -> Result<MapProjection, String> {
    let metre = root.find("UNIT").and_then(|unit| unit.numbers.first()).copied();
    if metre.is_some_and(|metre| metre != 1.0) {
        return Err("is not in metres".to_owned());
    }
    let ellipsoid = root
        .find("GEOGCS")
        .and_then(|geographic| geographic.find("DATUM"))
        .and_then(|datum| datum.find("SPHEROID"))
        .and_then(|spheroid| match spheroid.numbers.as_slice() {
            [semi_major_m, inverse_flattening, ..] => Some(Ellipsoid {
                semi_major_m: *semi_major_m,
                inverse_flattening: *inverse_flattening,
            }),
            _ => None,
        })
        .ok_or("does not say on which ellipsoid it is")?;
    let method = root
        .find("PROJECTION")
        .and_then(|projection| projection.texts.first())
        .ok_or("does not say in which projection it is")?;
    let need = |names: &[&str]| {
        root.parameter(names).ok_or_else(|| format!("does not state the parameter {}", names[0]))
    };
    let false_origin_m = [
        root.parameter(&["false_easting"]).unwrap_or(0.0),
        root.parameter(&["false_northing"]).unwrap_or(0.0),
    ];
    let central_deg = need(&["central_meridian", "longitude_of_center", "longitude_of_origin"])?;
    match method.to_ascii_lowercase().as_str() {
        "polar_stereographic" | "stereographic_north_pole" | "stereographic_south_pole" => {
            let latitude_deg = need(&["latitude_of_origin", "standard_parallel_1"])?;
            let scale = root.parameter(&["scale_factor"]).unwrap_or(1.0);
            polar(ellipsoid, latitude_deg, central_deg, scale, false_origin_m)
        }
        "lambert_conformal_conic" | "lambert_conformal_conic_2sp" => {
            let first_deg = need(&["standard_parallel_1"])?;
            let second_deg = need(&["standard_parallel_2"])?;
            let latitude_deg = need(&["latitude_of_origin"])?;
            LambertConic::new(
                ellipsoid,
                [first_deg, second_deg],
                [latitude_deg, central_deg],
                false_origin_m,
            )
            .map(MapProjection::Conic)
        }
        _ => {
            let method = Method::of_name(method).ok_or_else(|| {
                format!("is in the projection {method}, which is not taken: warp it to EPSG:3413 or 3031")
            })?;
            let parameters = Parameters {
                latitude_deg: root.parameter(&["latitude_of_origin", "latitude_of_center"]),
                longitude_deg: Some(central_deg),
                parallel_deg: root.parameter(&["standard_parallel_1"]),
                second_parallel_deg: root.parameter(&["standard_parallel_2"]),
                scale: root.parameter(&["scale_factor"]),
                false_origin_m,
            };
            method.map(ellipsoid, parameters)
        }
    }
}

/// A polar stereographic projection from the latitude of its natural origin: the pole itself with a
/// scale, or the latitude of true scale.
pub(crate) fn polar(
    ellipsoid: Ellipsoid,
    latitude_deg: f64,
    central_deg: f64,
    scale: f64,
    false_origin_m: [f64; 2],
) -> Result<MapProjection, String> {
    let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let made = if latitude_deg.abs() == 90.0 {
        PolarStereographic::variant_a(hemisphere, scale, central_deg, ellipsoid)
    } else if scale == 1.0 {
        PolarStereographic::variant_b(hemisphere, latitude_deg, central_deg, ellipsoid)
    } else {
        return Err(format!(
            "states both a latitude of true scale ({latitude_deg}) and a scale ({scale}), which \
             contradict each other"
        ));
    };
    made.and_then(|polar| polar.with_false_origin(false_origin_m[0], false_origin_m[1]))
        .map(MapProjection::Polar)
        .map_err(|error| error.to_string())
}

struct Reader<'a> {
    rest: &'a str,
    depth: u32,
}

/// Deeper nesting than any reference system has.
const MAX_DEPTH: u32 = 16;

impl Reader<'_> {
    fn node(&mut self) -> Result<Node, String> {
        let broken = || "has a reference system that cannot be read as well-known text".to_owned();
        self.depth += 1;
        if self.depth > MAX_DEPTH {
            return Err(broken());
        }
        let word = self.word();
        let mut node = Node { keyword: word.to_owned(), ..Node::default() };
        if node.keyword.is_empty() || !(self.take('[') || self.take('(')) {
            return Err(broken());
        }
        loop {
            self.rest = self.rest.trim_start();
            if self.take('"') {
                let (text, rest) = self.rest.split_once('"').ok_or_else(broken)?;
                node.texts.push(text.to_owned());
                self.rest = rest;
            } else if self.rest.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) {
                let end = self
                    .rest
                    .find(|c: char| !(c.is_ascii_alphanumeric() || "+-.".contains(c)))
                    .unwrap_or(self.rest.len());
                let (number, rest) = self.rest.split_at(end);
                node.numbers.push(number.parse().map_err(|_| broken())?);
                self.rest = rest;
            } else {
                // A bare word, such as the direction of an axis, or an inner node.
                let before = self.rest;
                let word = self.word();
                let inner = self.rest.trim_start().starts_with(['[', '(']);
                if inner {
                    self.rest = before;
                    let inner = self.node()?;
                    node.inner.push(inner);
                } else if word.is_empty() {
                    return Err(broken());
                }
            }
            if self.take(']') || self.take(')') {
                self.depth -= 1;
                return Ok(node);
            }
            if !self.take(',') {
                return Err(broken());
            }
        }
    }

    fn word(&mut self) -> String {
        self.rest = self.rest.trim_start();
        let end = self
            .rest
            .find(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
            .unwrap_or(self.rest.len());
        let (word, rest) = self.rest.split_at(end);
        self.rest = rest;
        word.to_owned()
    }

    fn take(&mut self, sign: char) -> bool {
        self.rest = self.rest.trim_start();
        match self.rest.strip_prefix(sign) {
            Some(rest) => {
                self.rest = rest;
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use proptest::prelude::*;

    use super::*;

    const ESRI_SOUTH: &str = r#"PROJCS["WGS_1984_NSIDC_Sea_Ice_Polar_Stereographic_South",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Stereographic_South_Pole"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",0.0],PARAMETER["Standard_Parallel_1",-70.0],UNIT["Meter",1.0]]"#;
    const OGC_CONIC: &str = r#"PROJCS["x",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic_2SP"],PARAMETER["latitude_of_origin",40],PARAMETER["central_meridian",-100],PARAMETER["standard_parallel_1",49],PARAMETER["standard_parallel_2",77],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1],AXIS["Easting",EAST],AXIS["Northing",NORTH]]"#;

    #[test]
    fn both_dialects_are_read() {
        let south = projection_of_wkt(ESRI_SOUTH).unwrap();
        let [x, y] = south.coordinates(position(-64.0, 136.0));
        // EPSG:3976 by pyproj.
        assert!((x - 1_989_436.019).abs() < 1e-3 && (y + 2_060_121.305).abs() < 1e-3);
        assert!(matches!(projection_of_wkt(OGC_CONIC), Ok(MapProjection::Conic(_))));
        let geographic = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["Degree",0.017453292519943295]]"#;
        assert_eq!(projection_of_wkt(geographic), Ok(MapProjection::LonLat));
    }

    #[test]
    fn what_is_not_taken_is_told() {
        let gnomonic = ESRI_SOUTH.replace("Stereographic_South_Pole", "Gnomonic");
        assert!(projection_of_wkt(&gnomonic).unwrap_err().contains("Gnomonic"));
        let feet = ESRI_SOUTH.replace(r#"UNIT["Meter",1.0]"#, r#"UNIT["Foot",0.3048]"#);
        assert!(projection_of_wkt(&feet).unwrap_err().contains("metres"));
        let without = ESRI_SOUTH.replace("Standard_Parallel_1", "Other");
        assert!(projection_of_wkt(&without).unwrap_err().contains("latitude_of_origin"));
        for text in ["", "GEOGCS", "GEOGCS[", "PROJCS[]", "A[B[C[", "LOCAL_CS[\"x\"]"] {
            assert!(projection_of_wkt(text).is_err());
        }
        assert!(projection_of_wkt(&"A[".repeat(10_000)).is_err());
    }

    proptest! {
        #[test]
        fn mutated_text_does_not_panic(place in 0usize..390, byte in 32u8..127) {
            let mut bytes = ESRI_SOUTH.as_bytes().to_vec();
            bytes[place] = byte;
            let text = String::from_utf8(bytes).unwrap();
            let _ = projection_of_wkt(&text);
            let _ = projection_of_wkt(&text[..place]);
        }
    }
}
