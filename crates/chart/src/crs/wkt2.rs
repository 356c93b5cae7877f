//! Well-known text of ISO 19162 (version 2), as recent libraries write it into NetCDF.

use dipward_geodesy::Ellipsoid;

use super::{MapProjection, Method, Parameters, projection_of_epsg, wkt::Node};

/// The projection of `PROJCRS`, by its code of EPSG or by its method and parameters.
pub(super) fn projected(root: &Node) -> Result<MapProjection, String> {
    let code = root.find("ID").filter(|id| id.texts.first().is_some_and(|text| text == "EPSG"));
    let code =
        code.and_then(|id| id.numbers.first()).filter(|code| (1.0..65_536.0).contains(*code));
    if let Some(code) = code {
        return projection_of_epsg(*code as u16);
    }
    let conversion = root.find("CONVERSION").ok_or("does not say in which projection it is")?;
    let method = conversion
        .find("METHOD")
        .or_else(|| conversion.find("PROJECTION"))
        .and_then(|method| method.texts.first())
        .ok_or("does not say in which projection it is")?;
    let known = Method::of_name(method)
        .ok_or_else(|| format!("is in the projection {method}, which is not taken"))?;
    let number = |names: &[&str]| conversion.parameter(names);
    let parameters = Parameters {
        latitude_deg: number(&[
            "Latitude of natural origin",
            "Latitude of false origin",
            "Latitude of projection centre",
        ]),
        longitude_deg: number(&[
            "Longitude of natural origin",
            "Longitude of origin",
            "Longitude of false origin",
            "Longitude of projection centre",
        ]),
        parallel_deg: number(&[
            "Latitude of standard parallel",
            "Latitude of 1st standard parallel",
        ]),
        second_parallel_deg: number(&["Latitude of 2nd standard parallel"]),
        scale: number(&["Scale factor at natural origin"]),
        false_origin_m: [
            number(&["False easting", "Easting at false origin"]).unwrap_or(0.0),
            number(&["False northing", "Northing at false origin"]).unwrap_or(0.0),
        ],
    };
    known.map(ellipsoid(root)?, parameters)
}

fn ellipsoid(root: &Node) -> Result<Ellipsoid, String> {
    let base = root.find("BASEGEOGCRS").or_else(|| root.find("BASEGEODCRS"));
    let datum = base.and_then(|base| base.find("DATUM").or_else(|| base.find("ENSEMBLE")));
    match datum.and_then(|datum| datum.find("ELLIPSOID")).map(|own| own.numbers.as_slice()) {
        Some([semi_major_m, inverse_flattening, ..]) => {
            Ok(Ellipsoid { semi_major_m: *semi_major_m, inverse_flattening: *inverse_flattening })
        }
        _ => Err("does not say on which ellipsoid it is".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;

    use crate::crs::projection_of_wkt;

    /// Written by pyproj 3.7.2; its coordinates there.
    const LAEA: &str = r#"PROJCRS["unknown",BASEGEOGCRS["unknown",DATUM["Unknown based on WGS 84 ellipsoid",ELLIPSOID["WGS 84",6378137,298.257223563,LENGTHUNIT["metre",1],ID["EPSG",7030]]],PRIMEM["Greenwich",0,ANGLEUNIT["degree",0.0174532925199433],ID["EPSG",8901]]],CONVERSION["unknown",METHOD["Lambert Azimuthal Equal Area",ID["EPSG",9820]],PARAMETER["Latitude of natural origin",60,ANGLEUNIT["degree",0.0174532925199433],ID["EPSG",8801]],PARAMETER["Longitude of natural origin",-40,ANGLEUNIT["degree",0.0174532925199433],ID["EPSG",8802]],PARAMETER["False easting",10,LENGTHUNIT["metre",1],ID["EPSG",8806]],PARAMETER["False northing",20,LENGTHUNIT["metre",1],ID["EPSG",8807]]],CS[Cartesian,2],AXIS["(E)",east,ORDER[1],LENGTHUNIT["metre",1,ID["EPSG",9001]]],AXIS["(N)",north,ORDER[2],LENGTHUNIT["metre",1,ID["EPSG",9001]]]]"#;

    #[test]
    fn version_two_is_read() {
        let map = projection_of_wkt(LAEA).unwrap();
        let [x, y] = map.coordinates(position(60.0, -40.0));
        assert!((x - 10.0).abs() < 1e-3 && (y - 20.0).abs() < 1e-3, "{x} {y}");
        for cut in [10, 100, 200, 300] {
            assert!(projection_of_wkt(&LAEA[..cut]).is_err());
        }
        let unknown = LAEA.replace("Lambert Azimuthal Equal Area", "Gnomonic");
        assert!(projection_of_wkt(&unknown).unwrap_err().contains("Gnomonic"));
    }
}
