//! Reading a band of a GeoTIFF.

mod mask;

use std::path::Path;

use dipward_plugin::Error;
use geotiff_reader::{GeoTiffFile, GeoTiffOpenOptions};

use super::{
    Image, Placement, gdal_metadata::BandMetadata, geo_keys::projection_of_keys,
    physical::check_count, units::Conversion,
};

/// The most bytes that an image may take while it is read: 4 GiB, reckoned before its numbers are.
const MAX_BYTES: u64 = 4 << 30;

/// GDAL's metadata, as XML.
const GDAL_METADATA: u16 = 42_112;

/// A band, and what the file says of its numbers.
#[derive(Debug)]
pub(crate) struct GeoTiff {
    /// The numbers as stored. Not a number where the file has none.
    pub(crate) image: Image,
    /// What becomes of the numbers by the file's own scale and offset; nothing where it states neither.
    pub(crate) packing: Option<Conversion>,
    /// The unit after that, as the file writes it.
    pub(crate) unit: Option<String>,
    pub(crate) description: Option<String>,
}

/// The files that lie beside an image and belong to it.
#[derive(Debug, Default)]
pub(crate) struct Beside {
    /// `NAME.tif.msk`: an image that is 0 where there is nothing.
    pub(crate) mask: Option<Vec<u8>>,
    /// `NAME.tif.aux.xml`.
    pub(crate) sidecar: Option<Vec<u8>>,
}

/// Reads a band of a GeoTIFF as numbers, palette images by their indices.
///
/// Not a number is what the file marks as having none: by `GDAL_NODATA`, by a mask within the file or beside
/// it, by an alpha band, and by blocks that were never written.
///
/// # Arguments
///
/// `band` counts from 1; it may be absent where there is one beside an alpha band.
///
/// # Errors
///
/// [`Error::File`] for a file that is no GeoTIFF, is cut short, has several bands of which none is chosen,
/// samples of a kind that this reader does not take, too many pixels, no place on the Earth, or a projection
/// that is not taken.
pub(crate) fn read_geotiff(
    path: &Path,
    bytes: Vec<u8>,
    beside: &Beside,
    band: Option<u32>,
) -> Result<GeoTiff, Error> {
    read(bytes, beside, band).map_err(|message| Error::File { path: path.to_owned(), message })
}

fn read(bytes: Vec<u8>, beside: &Beside, band: Option<u32>) -> Result<GeoTiff, String> {
    let file_bytes = bytes.len() as u64;
    let file = open(bytes)?;
    let directory = file.tiff().ifd(file.base_ifd_index()).map_err(|error| error.to_string())?;
    let (width, height) = (u64::from(file.width()), u64::from(file.height()));
    let bands = file.band_count();
    let alpha = mask::alpha_band(directory)?;
    let band = chosen(band, bands, alpha)?;
    let sample_bytes = u64::from(
        directory.bits_per_sample().ok().and_then(|bits| bits.first().copied()).unwrap_or(8),
    )
    .div_ceil(8);
    // The band as it is decoded and as it is kept, and a mask.
    let needed = (width * height).saturating_mul(2 * sample_bytes + 8 + 1);
    if width * height == 0 || needed > MAX_BYTES {
        return Err(format!(
            "of {width} by {height} pixels needs {} MiB, more than {} MiB: cut out less",
            needed >> 20,
            MAX_BYTES >> 20
        ));
    }
    check_count(width * height, file_bytes)?;
    let projection = projection_of_keys(file.geokeys())?;
    let transform =
        file.transform().ok_or("has no place on its map: no tie point or transformation")?;
    let placement = Placement {
        projection,
        corner: [transform.origin_x, transform.origin_y],
        along_row: [transform.pixel_width, transform.skew_y],
        along_column: [transform.skew_x, transform.pixel_height],
    };
    if !placement.is_regular() {
        return Err("has pixels of no size".to_owned());
    }
    let tag = directory.tag(GDAL_METADATA).and_then(|tag| tag.value.as_str());
    let within = tag.map(|text| BandMetadata::of_tag(text, band)).transpose()?.unwrap_or_default();
    let sidecar = beside.sidecar.as_deref().map(String::from_utf8_lossy);
    let sidecar = sidecar.map(|text| BandMetadata::of_sidecar(&text, band)).transpose()?;
    let metadata = within.or(sidecar.unwrap_or_default());
    let nodata = file.nodata().map(str::to_owned).or(metadata.nodata);
    let nodata = nodata.map(|text| no_data_value(&text)).transpose()?;
    let mut values = samples(&file, band, nodata)?;
    if values.len() as u64 != width * height {
        return Err(format!("has {} samples for {width} by {height} pixels", values.len()));
    }
    mask::remove_masked(&file, directory, band, alpha, beside.mask.as_deref(), &mut values)?;
    let packing = (metadata.scale.is_some() || metadata.offset.is_some()).then(|| Conversion {
        factor: metadata.scale.unwrap_or(1.0),
        offset: metadata.offset.unwrap_or(0.0),
    });
    Ok(GeoTiff {
        image: Image { width: width as usize, height: height as usize, values, placement },
        packing: packing.filter(|packing| *packing != Conversion::SAME),
        unit: metadata.unit,
        description: metadata.description,
    })
}

fn open(bytes: Vec<u8>) -> Result<GeoTiffFile, String> {
    let options = GeoTiffOpenOptions {
        decode_output_bytes: (MAX_BYTES / 2) as usize,
        ..GeoTiffOpenOptions::default()
    };
    GeoTiffFile::from_bytes_with_options(bytes, options)
        .map_err(|error| format!("cannot be read as a GeoTIFF: {error}"))
}

/// The band that is meant, from 0.
fn chosen(band: Option<u32>, bands: u32, alpha: Option<usize>) -> Result<usize, String> {
    match band {
        Some(band) if (1..=bands).contains(&band) => Ok(band as usize - 1),
        Some(band) => Err(format!("has {bands} bands, and no band {band}")),
        None if bands == 1 || (bands == 2 && alpha == Some(1)) => Ok(0),
        None => Err(format!("has {bands} bands, but one is wanted: write `band`")),
    }
}

fn no_data_value(text: &str) -> Result<f64, String> {
    let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0');
    // Whole numbers are often told with a decimal comma's habits: only plain numbers are taken.
    text.parse().map_err(|_| format!("has the unreadable no-data value `{text}`"))
}

/// The samples of a band, row by row.
fn samples(file: &GeoTiffFile, band: usize, nodata: Option<f64>) -> Result<Vec<f32>, String> {
    let directory = file.tiff().ifd(file.base_ifd_index()).map_err(|error| error.to_string())?;
    let bits = directory.bits_per_sample().map_err(|error| error.to_string())?;
    let formats = directory.sample_format().map_err(|error| error.to_string())?;
    let unreadable =
        |error: geotiff_reader::Error| format!("cannot be decoded, is it cut short? {error}");
    macro_rules! read {
        ($sample:ty) => {
            file.read_band::<$sample>(band)
                .map_err(unreadable)?
                .iter()
                .map(|sample| {
                    let missing = nodata.is_some_and(|nodata| {
                        // As the file's own type holds it: a single-precision file has no -1.7e308.
                        let nodata_here = nodata as $sample;
                        *sample == nodata_here && is_held(nodata, nodata_here as f64)
                    });
                    if missing { f32::NAN } else { *sample as f32 }
                })
                .collect()
        };
    }
    // Sample formats: 1 unsigned, 2 signed, 3 IEEE; without the tag it is unsigned.
    let format = formats.first().copied().unwrap_or(1);
    Ok(match (format, bits.first().copied()) {
        (1 | 4, Some(1..=8)) => read!(u8),
        (1 | 4, Some(9..=16)) => read!(u16),
        (1 | 4, Some(32)) => read!(u32),
        (1 | 4, Some(64)) => read!(u64),
        (2, Some(8)) => read!(i8),
        (2, Some(16)) => read!(i16),
        (2, Some(32)) => read!(i32),
        (2, Some(64)) => read!(i64),
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

/// Whether a no-data value is a value of the file's type, to its precision: -9999 is no byte.
fn is_held(nodata: f64, here: f64) -> bool {
    nodata == here
        || (nodata - here).abs() <= 1e-6 * nodata.abs()
        || (nodata.abs() > 3e38 && here.is_infinite())
}
