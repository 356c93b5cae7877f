//! What a file is by its first bytes, for the fault that says what to do with it.

/// Beginnings of files that get into charts by mistake or by hope: the bytes, where they stand, what that
/// is, and what would do. Sources: the formats' own specifications, from memory.
const BEGINNINGS: [(&[u8], usize, &str, &str); 14] = [
    (b"GRIB", 0, "a GRIB file", "give it to the kind `forecast_grib`"),
    (b"\x0e\x03\x13\x01", 0, "an HDF4 file", "convert it to NetCDF, with `h4tonccf` or GDAL"),
    (
        b"\x89HDF\r\n\x1a\n",
        0,
        "an HDF5 or NetCDF-4 file",
        "give NetCDF to `concentration_netcdf`; of \
      others (S-102, S-111) write what is wanted as NetCDF or GeoTIFF",
    ),
    (b"CDF\x01", 0, "a NetCDF file", "give it to `concentration_netcdf`"),
    (b"CDF\x02", 0, "a NetCDF file", "give it to `concentration_netcdf`"),
    (b"CDF\x05", 0, "a NetCDF file", "give it to `concentration_netcdf`"),
    (b"II*\0", 0, "a TIFF file", "give it to `concentration_geotiff` or `raster`"),
    (b"MM\0*", 0, "a TIFF file", "give it to `concentration_geotiff` or `raster`"),
    (
        b"PK\x03\x04",
        0,
        "a ZIP archive (zipped shapefile, KMZ)",
        "unpack it and name what is inside",
    ),
    (b"\x1f\x8b", 0, "packed by gzip", "unpack it with `gunzip`"),
    (b"SQLite format 3\0", 0, "a SQLite database (GeoPackage)", "name it `.gpkg`"),
    (b"\0\0\x27\x0a", 0, "a shapefile", "name it `.shp`, with the `.dbf` and `.prj` beside it"),
    (b"%PDF", 0, "a PDF document", "take the service's shapefile or GeoPackage"),
    (b"\x89PNG", 0, "a PNG picture", "take the service's shapefile or GeoPackage"),
];

/// What a file is, and what would do.
fn known(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    for (word, at, what, advice) in BEGINNINGS {
        if bytes.get(at..).is_some_and(|rest| rest.starts_with(word)) {
            return Some((what, advice));
        }
    }
    // The leader of ISO 8211: five digits, interchange level 3, leader identifier L.
    let leader = bytes.get(..8)?;
    if leader[..5].iter().all(u8::is_ascii_digit) && &leader[5..7] == b"3L" {
        return Some((
            "a chart of S-57 (ISO 8211)",
            "convert the layer that is wanted, with GDAL by `ogr2ogr out.gpkg in.000 SEAARE`",
        ));
    }
    let start = bytes.get(..bytes.len().min(2000)).unwrap_or_default();
    let text = String::from_utf8_lossy(start);
    let text = text.trim_start_matches('\u{feff}').trim_start();
    if !text.starts_with('<') {
        return None;
    }
    let lower = text.to_ascii_lowercase();
    Some(if lower.contains("<!doctype html") || lower.contains("<html") {
        ("a page of HTML", "fetch the file anew: a server's message was kept instead of it")
    } else if lower.contains("<kml") {
        ("a KML file", "convert it, with GDAL by `ogr2ogr out.gpkg in.kml`")
    } else if lower.contains("/gml") || lower.contains("iho.int") {
        (
            "a GML file (S-100, such as S-411)",
            "convert it, with GDAL by `ogr2ogr out.gpkg in.gml`, to the columns of SIGRID-3",
        )
    } else {
        ("an XML file", "convert it to GeoPackage or GeoJSON")
    })
}

/// The fault of a file that is not what its reader wants: what it is instead, and what would do.
pub(crate) fn not_what_was_wanted(bytes: &[u8], wanted: &str) -> String {
    if bytes.is_empty() {
        return format!("is not {wanted}: it is empty");
    }
    match known(bytes) {
        Some((what, advice)) => format!("is not {wanted}, but {what}: {advice}"),
        None => format!("is not {wanted}"),
    }
}

/// The same, for a reader that can tell more of what is wrong than that; nothing for an unknown file.
pub(crate) fn known_otherwise(bytes: &[u8], wanted: &str) -> Option<String> {
    known(bytes).map(|(what, advice)| format!("is not {wanted}, but {what}: {advice}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_known_by_its_first_bytes() {
        for (bytes, words) in [
            (&b"\x0e\x03\x13\x01rest"[..], "HDF4"),
            (b"012083LE1 0900073", "S-57"),
            (
                b"<?xml version=\"1.0\"?><S411:DataSet xmlns:S411=\"http://www.iho.int/S411\">",
                "S-411",
            ),
            (b"<?xml version=\"1.0\"?><kml xmlns=\"x\">", "KML"),
            (b"<!DOCTYPE html><html>404", "server"),
            (b"PK\x03\x04...", "ZIP"),
            (b"", "empty"),
            (b"\x89HDF\r\n\x1a\n", "HDF5"),
        ] {
            let message = not_what_was_wanted(bytes, "GeoJSON");
            assert!(message.contains(words), "{message}");
        }
        assert_eq!(not_what_was_wanted(b"{}", "a GRIB file"), "is not a GRIB file");
    }
}
