//! Reading a GeoTIFF of one band.

use std::path::Path;

use dipward_plugin::Error;
use geotiff_reader::GeoTiffFile;

use super::{Image, Placement, geo_keys::projection_of_keys};

/// The most pixels that an image may have: 16,384 by 16,384.
const MAX_PIXELS: u64 = 1 << 28;

/// Reads a GeoTIFF as numbers, palette images by their indices.
///
/// Pixels that the file marks as having no data (`GDAL_NODATA`) are not numbers.
///
/// # Errors
///
/// [`Error::File`] for a file that is no GeoTIFF, is cut short, has several bands, samples of a kind
/// that this reader does not take, too many pixels, no place on the Earth, or a projection that is
/// not polar stereographic or longitude and latitude.
pub(crate) fn read_geotiff(path: &Path, bytes: Vec<u8>) -> Result<Image, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    let file = GeoTiffFile::from_bytes(bytes)
        .map_err(|error| wrong(format!("cannot be read as a GeoTIFF: {error}")))?;
    if file.band_count() != 1 {
        return Err(wrong(format!("has {} bands, but one is wanted", file.band_count())));
    }
    let (width, height) = (u64::from(file.width()), u64::from(file.height()));
    if width * height == 0 || width * height > MAX_PIXELS {
        return Err(wrong(format!("of {width} by {height} pixels is not from 1 to {MAX_PIXELS}")));
    }
    let projection = projection_of_keys(file.geokeys()).map_err(wrong)?;
    let transform = file.transform().ok_or_else(|| {
        wrong("has no place on its map: no tie point or transformation".to_owned())
    })?;
    let placement = Placement {
        projection,
        corner: [transform.origin_x, transform.origin_y],
        along_row: [transform.pixel_width, transform.skew_y],
        along_column: [transform.skew_x, transform.pixel_height],
    };
    if !placement.is_regular() {
        return Err(wrong("has pixels of no size".to_owned()));
    }
    let mut values = samples(&file).map_err(wrong)?;
    if values.len() as u64 != width * height {
        return Err(wrong(format!("has {} samples for {width} by {height} pixels", values.len())));
    }
    if let Some(nodata) = file.nodata() {
        let nodata: f32 = nodata
            .trim_matches(|c: char| c.is_whitespace() || c == '\0')
            .parse()
            .map_err(|_| wrong(format!("has the unreadable no-data value `{nodata}`")))?;
        for value in &mut values {
            if *value == nodata {
                *value = f32::NAN;
            }
        }
    }
    Ok(Image { width: width as usize, height: height as usize, values, placement })
}

/// The samples of the only band, row by row.
fn samples(file: &GeoTiffFile) -> Result<Vec<f32>, String> {
    let directory = file.tiff().ifd(file.base_ifd_index()).map_err(|error| error.to_string())?;
    let bits = directory.bits_per_sample().map_err(|error| error.to_string())?;
    let formats = directory.sample_format().map_err(|error| error.to_string())?;
    let unreadable =
        |error: geotiff_reader::Error| format!("cannot be decoded, is it cut short? {error}");
    macro_rules! read {
        ($sample:ty) => {
            file.read_raster::<$sample>()
                .map_err(unreadable)?
                .iter()
                .map(|sample| *sample as f32)
                .collect()
        };
    }
    // Sample formats: 1 unsigned, 2 signed, 3 IEEE; without the tag it is unsigned.
    let format = formats.first().copied().unwrap_or(1);
    Ok(match (format, bits.first().copied()) {
        (1, Some(8)) => read!(u8),
        (1, Some(16)) => read!(u16),
        (1, Some(32)) => read!(u32),
        (2, Some(8)) => read!(i8),
        (2, Some(16)) => read!(i16),
        (2, Some(32)) => read!(i32),
        (3, Some(32)) => read!(f32),
        (3, Some(64)) => read!(f64),
        (format, bits) => {
            let bits = bits.unwrap_or(0);
            return Err(format!(
                "has samples of {bits} bits and format {format}, which are not taken"
            ));
        }
    })
}
