//! The heads of pictures that hold packed values: they must fit the grid before they are decoded.
//!
//! ```text
//!   JPEG 2000   FF4F FF51 length capabilities | X Y, offsets X Y | tile X Y, offsets X Y | components ..
//!   PNG         signature | 13 IHDR width height depth colour ..
//! ```
//!
//! Sources: ISO/IEC 15444-1, A.5.1 (SIZ); ISO/IEC 15948 (PNG), 11.2.2 (IHDR).

use super::message::{be16, be32};

/// More tiles than any writer of GRIB makes; each costs memory.
const MAX_TILES: u64 = 4096;

/// Checks that a codestream of JPEG 2000 holds one number a value.
///
/// # Errors
///
/// What does not fit.
pub(super) fn check_jpeg_2000(data: &[u8], values: usize, bits: usize) -> Result<(), String> {
    let damaged = |what: String| format!("is damaged: its JPEG 2000 picture {what}");
    if data.get(..4) != Some(&[0xff, 0x4f, 0xff, 0x51][..]) {
        return Err(damaged("does not begin with its size".to_owned()));
    }
    let number =
        |at: usize| be32(data, at).map(u64::from).ok_or_else(|| damaged("is cut short".to_owned()));
    let [right, bottom, left, top] = [number(8)?, number(12)?, number(16)?, number(20)?];
    let [tile_width, tile_height, tile_left, tile_top] =
        [number(24)?, number(28)?, number(32)?, number(36)?];
    let (width, height) = (right.saturating_sub(left), bottom.saturating_sub(top));
    if width.checked_mul(height) != Some(values as u64) {
        return Err(damaged(format!("is of {width} by {height} points, and {values} are packed")));
    }
    if tile_width == 0 || tile_height == 0 || tile_left > left || tile_top > top {
        return Err(damaged("has impossible tiles".to_owned()));
    }
    let across = (right - tile_left).div_ceil(tile_width);
    let down = (bottom - tile_top).div_ceil(tile_height);
    if across.saturating_mul(down) > MAX_TILES {
        return Err(damaged(format!("has {across} by {down} tiles")));
    }
    // One component, of as many bits as section 5 says, on every point.
    let depth = data.get(42).map(|depth| usize::from(depth & 0x7f) + 1);
    if be16(data, 40) != Some(1) || data.get(43..45) != Some(&[1, 1][..]) || depth != Some(bits) {
        return Err(damaged(format!("does not hold one number of {bits} bits a point")));
    }
    Ok(())
}

/// Checks that a picture of PNG holds one number a value.
///
/// # Errors
///
/// What does not fit.
pub(super) fn check_png(data: &[u8], values: usize, bits: usize) -> Result<(), String> {
    let damaged = |what: String| format!("is damaged: its PNG picture {what}");
    if !data.starts_with(b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR") {
        return Err(damaged("does not begin as one".to_owned()));
    }
    let (Some(width), Some(height), Some(&[depth, colour])) =
        (be32(data, 16), be32(data, 20), data.get(24..26))
    else {
        return Err(damaged("is cut short".to_owned()));
    };
    if u64::from(width) * u64::from(height) != values as u64 {
        return Err(damaged(format!("is of {width} by {height} points, and {values} are packed")));
    }
    let channels = match colour {
        0 => 1,
        2 => 3,
        4 => 2,
        6 => 4,
        _ => 0,
    };
    if usize::from(depth) * channels != bits {
        return Err(damaged(format!("does not hold one number of {bits} bits a point")));
    }
    // Rows begin with a byte of their own, which the decoder of values does not know.
    if !(width as usize * bits).is_multiple_of(8) {
        return Err(
            "is packed as a PNG picture whose rows end within a byte: repack it, with ecCodes by \
                    `grib_set -r -s packingType=grid_simple in.grib2 out.grib2`"
                .to_owned(),
        );
    }
    Ok(())
}
