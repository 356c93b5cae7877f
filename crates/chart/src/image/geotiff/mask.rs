//! Which pixels of an image say nothing: masks within the file, beside it, alpha bands, unwritten blocks.
//!
//! Source: TIFF 6.0, NewSubfileType (bit 2: a transparency mask) and ExtraSamples; GDAL RFC 15, band masks.

use geotiff_reader::GeoTiffFile;
use tiff_reader::{ExtraSample, Ifd, TiffFile};

const NEW_SUBFILE_TYPE: u16 = 254;
const TRANSPARENCY_MASK: u64 = 4;
const REDUCED: u64 = 1;

/// The band that says how much each pixel shows, if there is one.
pub(super) fn alpha_band(directory: &Ifd) -> Result<Option<usize>, String> {
    let extra = directory.extra_samples().map_err(|error| error.to_string())?;
    let bands = usize::from(directory.samples_per_pixel());
    let at = extra.iter().position(|own| {
        matches!(own, ExtraSample::AssociatedAlpha | ExtraSample::UnassociatedAlpha)
    });
    Ok(at.and_then(|at| (bands + at).checked_sub(extra.len())))
}

/// Makes what is masked not a number.
pub(super) fn remove_masked(
    file: &GeoTiffFile,
    directory: &Ifd,
    band: usize,
    alpha: Option<usize>,
    beside: Option<&[u8]>,
    values: &mut [f32],
) -> Result<(), String> {
    let size = (directory.width(), directory.height());
    let is_mask = |own: &&Ifd| {
        let kind = own.tag(NEW_SUBFILE_TYPE).and_then(|tag| tag.value.as_u64()).unwrap_or(0);
        kind & TRANSPARENCY_MASK != 0 && kind & REDUCED == 0
    };
    let mut masks = file.tiff().ifds().iter().filter(is_mask);
    if let Some(mask) = masks.next() {
        if masks.next().is_some() {
            return Err("has several masks".to_owned());
        }
        if (mask.width(), mask.height()) != size {
            return Err("has a mask of another size than its image".to_owned());
        }
        remove(file.tiff(), mask, band, values)?;
    }
    if let Some(bytes) = beside {
        let mask = TiffFile::from_bytes(bytes.to_vec())
            .map_err(|error| format!("has a .msk beside it that cannot be read: {error}"))?;
        let own = mask.ifd(0).map_err(|error| error.to_string())?;
        if (own.width(), own.height()) != size {
            return Err("has a .msk beside it of another size than its image".to_owned());
        }
        remove(&mask, own, band, values)?;
    }
    if let Some(alpha) = alpha.filter(|alpha| *alpha != band) {
        remove_where_zero(file.tiff(), directory, alpha, values)?;
    }
    remove_unwritten(directory, band, values)
}

/// A mask has one band for all, or one for each.
fn remove(tiff: &TiffFile, mask: &Ifd, band: usize, values: &mut [f32]) -> Result<(), String> {
    let bands = usize::from(mask.samples_per_pixel());
    remove_where_zero(tiff, mask, if band < bands { band } else { 0 }, values)
}

fn remove_where_zero(
    tiff: &TiffFile,
    directory: &Ifd,
    band: usize,
    values: &mut [f32],
) -> Result<(), String> {
    let wrong = |error| format!("has a mask that cannot be decoded: {error}");
    let layout = directory.raster_layout().map_err(wrong)?;
    let shown = tiff.read_band_bytes_from_ifd(directory, band).map_err(wrong)?;
    let width = layout.bytes_per_sample.max(1);
    if shown.len() != values.len() * width {
        return Err("has a mask that is cut short".to_owned());
    }
    for (value, shown) in values.iter_mut().zip(shown.chunks_exact(width)) {
        if shown.iter().all(|byte| *byte == 0) {
            *value = f32::NAN;
        }
    }
    Ok(())
}

/// Blocks without a place in the file were never written: nothing is known there, whatever number decoders
/// put.
fn remove_unwritten(directory: &Ifd, band: usize, values: &mut [f32]) -> Result<(), String> {
    let (width, height) = (directory.width() as usize, directory.height() as usize);
    let (offsets, counts, block_width, block_height) = if directory.is_tiled() {
        let size = (directory.tile_width(), directory.tile_height());
        let (Some(block_width), Some(block_height)) = size else { return Ok(()) };
        (
            directory.tile_offsets(),
            directory.tile_byte_counts(),
            block_width as usize,
            block_height as usize,
        )
    } else {
        let rows = (directory.rows_per_strip() as usize).min(height);
        (directory.strip_offsets(), directory.strip_byte_counts(), width, rows)
    };
    let (Some(offsets), Some(counts)) = (offsets, counts) else { return Ok(()) };
    if block_width == 0 || block_height == 0 {
        return Ok(());
    }
    let across = width.div_ceil(block_width);
    let per_band = across * height.div_ceil(block_height);
    let first = if directory.planar_configuration() == 2 { band * per_band } else { 0 };
    let blocks = offsets.iter().zip(&counts).skip(first).take(per_band);
    for (block, _) in
        blocks.enumerate().filter(|(_, (offset, count))| **offset == 0 || **count == 0)
    {
        let (left, top) = (block % across * block_width, block / across * block_height);
        for row in top..(top + block_height).min(height) {
            let run = row * width + left..row * width + (left + block_width).min(width);
            if let Some(run) = values.get_mut(run) {
                run.fill(f32::NAN);
            }
        }
    }
    Ok(())
}
