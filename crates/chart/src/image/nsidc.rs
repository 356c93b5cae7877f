//! The flat binary files of NSIDC sea-ice concentration on the 25 km polar grids.
//!
//! A header of 300 bytes of text, then a byte a pixel, row by row from the top left.
//!
//! Source: NSIDC, Sea Ice Concentrations from Nimbus-7 SMMR and DMSP SSM/I-SSMIS Passive Microwave
//! Data, user guide (data set NSIDC-0051).

use std::path::Path;

use dipward_plugin::Error;

use super::{Field, Image, Placement, Validity};
use crate::crs::{MapProjection, polar_of_epsg};

const HEADER_BYTES: usize = 300;
const PIXEL_M: f64 = 25_000.0;

/// A grid of the service: columns, rows, EPSG code, and the outer corner of the first pixel.
type ServiceGrid = (usize, usize, u16, [f64; 2]);

const NORTH: ServiceGrid = (304, 448, 3411, [-3_850_000.0, 5_850_000.0]);
const SOUTH: ServiceGrid = (316, 332, 3412, [-3_950_000.0, 4_350_000.0]);

/// Reads concentrations from 0 to 1, and when they are valid, if the header says so.
///
/// # Arguments
///
/// `pole_hole` is what the hole about the pole is taken for; not a number leaves it unknown.
///
/// # Errors
///
/// [`Error::File`] for a file without the header, of another size than its header says, of a grid that
/// is neither of the two, or with a byte that the format has not.
pub(crate) fn read_nsidc(path: &Path, bytes: &[u8], pole_hole: f32) -> Result<Field, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    let image = image(bytes, pole_hole).map_err(wrong)?;
    let validity = match (days_of_header(bytes).map_err(wrong)?, days_of_name(path)) {
        (Some(header), Some(name)) if !overlap(header, name) => {
            return Err(wrong(format!(
                "contradicts itself: its header is of {header} and its name of {name}"
            )));
        }
        (header, name) => header.or(name),
    };
    Ok(Field { image, validity })
}

fn overlap(one: Validity, other: Validity) -> bool {
    match (one, other) {
        (Validity::Interval(from, until), Validity::Interval(other_from, other_until)) => {
            from < other_until && other_from < until
        }
        _ => true,
    }
}

/// The days that a header tells of: its fields 11, 14 and 17 (from 0) are the first day and the last of the
/// year, and the year.
fn days_of_header(bytes: &[u8]) -> Result<Option<Validity>, String> {
    let field = |number: usize| {
        let text = std::str::from_utf8(bytes.get(6 * number..6 * number + 6)?).ok()?;
        text.trim_matches(['\0', ' ']).parse::<i64>().ok()
    };
    let (Some(first), Some(last), Some(year)) = (field(11), field(14), field(17)) else {
        return Ok(None);
    };
    if first <= 0 || year <= 0 {
        // Left blank.
        return Ok(None);
    }
    let absurd = || format!("has a header of the days {first} to {last} of {year}");
    // Two digits in the oldest files.
    let year = if year < 100 { 1900 + year } else { year };
    let new_year = i16::try_from(year).ok().filter(|year| (1970..2200).contains(year));
    let new_year = jiff::civil::date(new_year.ok_or_else(absurd)?, 1, 1);
    // A month over the turn of the year ends in the next.
    let days = if last >= first { last } else { last + i64::from(new_year.days_in_year()) };
    if !(1..=366).contains(&first) || !(1..=62).contains(&(days - first + 1)) {
        return Err(absurd());
    }
    Ok(interval(new_year, first - 1, days).ok_or_else(absurd)?.into())
}

/// The day or month in the name of a file of NSIDC: `nt_20270101_f17_v1.1_s.bin`, `nt_202701_…`,
/// `S_20270101_concentration_v3.0.tif`.
pub(crate) fn days_of_name(path: &Path) -> Option<Validity> {
    let name = path.file_stem()?.to_str()?;
    let mut parts = name.split('_');
    if !["nt", "bt", "N", "S"].contains(&parts.next()?) {
        return None;
    }
    let digits = parts.next().filter(|part| part.bytes().all(|byte| byte.is_ascii_digit()))?;
    let number = |range: std::ops::Range<usize>| digits.get(range)?.parse::<i16>().ok();
    let year = number(0..4).filter(|year| (1970..2200).contains(year))?;
    let month = i8::try_from(number(4..6)?).ok()?;
    let (day, whole_month) = match digits.len() {
        8 => (i8::try_from(number(6..8)?).ok()?, false),
        6 => (1, true),
        _ => return None,
    };
    let first = jiff::civil::Date::new(year, month, day).ok()?;
    interval(first, 0, if whole_month { i64::from(first.days_in_month()) } else { 1 })
}

/// From some days after a date to others.
fn interval(date: jiff::civil::Date, from: i64, until: i64) -> Option<Validity> {
    let at = |days: i64| {
        let day = date.checked_add(jiff::SignedDuration::from_hours(24 * days)).ok()?;
        jiff::tz::TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok()
    };
    Some(Validity::Interval(at(from)?, at(until)?))
}

fn image(bytes: &[u8], pole_hole: f32) -> Result<Image, String> {
    let (header, pixels) = bytes
        .split_at_checked(HEADER_BYTES)
        .ok_or("is shorter than the header of an NSIDC binary file")?;
    // Fields of six bytes: the missing value, columns, rows, and more.
    let field = |number: usize| {
        let text = std::str::from_utf8(header.get(6 * number..6 * number + 6)?).ok()?;
        text.trim_matches(['\0', ' ']).parse::<usize>().ok()
    };
    let (columns, rows) = field(1)
        .zip(field(2))
        .ok_or("has no header of an NSIDC binary file: columns and rows are missing")?;
    let (_, _, epsg, corner) = [NORTH, SOUTH]
        .into_iter()
        .find(|grid| (grid.0, grid.1) == (columns, rows))
        .ok_or_else(|| {
            format!(
                "is of {columns} by {rows} pixels, but the 25 km grids have 304 by 448 (north) and 316 \
                 by 332 (south)"
            )
        })?;
    if pixels.len() != columns * rows {
        return Err(format!(
            "has {} pixels after its header, but {columns} by {rows} are {}: is it cut short?",
            pixels.len(),
            columns * rows
        ));
    }
    let values: Vec<f32> = pixels
        .iter()
        .enumerate()
        .map(|(at, byte)| match byte {
            0..=250 => Ok(f32::from(*byte) / 250.0),
            251 => Ok(pole_hole),
            // Coast, land, missing.
            253..=255 => Ok(f32::NAN),
            252 => Err(format!(
                "has the byte 252, which the format does not use, in column {} and row {}",
                at % columns,
                at / columns
            )),
        })
        .collect::<Result<_, _>>()?;
    let placement = Placement {
        projection: MapProjection::Polar(polar_of_epsg(epsg)?),
        corner,
        along_row: [PIXEL_M, 0.0],
        along_column: [0.0, -PIXEL_M],
    };
    Ok(Image { width: columns, height: rows, values, placement })
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::position;
    use proptest::prelude::*;

    use super::*;

    fn file(columns: usize, rows: usize) -> Vec<u8> {
        let mut bytes = format!("00255\0{columns:5}\0{rows:5}\0").into_bytes();
        bytes.resize(HEADER_BYTES, 0);
        bytes.extend((0..columns * rows).map(|at| (at % 250) as u8));
        bytes
    }

    #[test]
    fn published_cell_centres() {
        // NSIDC, latitude and longitude files of the 25 km grids: the cells at the corners.
        for (columns, rows, at, latitude, longitude) in [
            (304, 448, (0, 0), 31.10267, 168.32042),
            (304, 448, (303, 0), 31.48750, 102.37031),
            (304, 448, (303, 447), 34.47208, -9.99898),
            (304, 448, (0, 447), 34.05146, -80.71499),
            (316, 332, (0, 0), -39.36487, -42.23257),
            (316, 332, (315, 331), -41.58345, 135.0),
        ] {
            let image = image(&file(columns, rows), f32::NAN).unwrap();
            let [column, row] = image.placement.pixel(position(latitude, longitude));
            // A ten-thousandth of a degree is 11 m, and a pixel 25 km.
            assert!((column - f64::from(at.0) - 0.5).abs() < 1e-3, "{column} {row} for {at:?}");
            assert!((row - f64::from(at.1) - 0.5).abs() < 1e-3, "{column} {row} for {at:?}");
        }
    }

    #[test]
    fn flags_are_not_concentrations() {
        let mut bytes = file(316, 332);
        bytes[HEADER_BYTES..HEADER_BYTES + 6].copy_from_slice(&[0, 250, 251, 253, 254, 255]);
        let image = image(&bytes, 0.9).unwrap();
        assert_eq!(image.values[..3], [0.0, 1.0, 0.9]);
        assert!(image.values[3..6].iter().all(|value| value.is_nan()));
    }

    #[test]
    fn what_is_wrong_is_told() {
        let message = |bytes: &[u8]| image(bytes, f32::NAN).unwrap_err();
        assert!(message(&[0; 20]).contains("header"));
        assert!(message(&[0; 400]).contains("header"));
        assert!(message(&file(317, 332)).contains("317 by 332"));
        assert!(message(&file(316, 332)[..9000]).contains("cut short"));
        let mut bytes = file(316, 332);
        bytes[HEADER_BYTES + 317] = 252;
        assert!(message(&bytes).contains("column 1 and row 1"));
    }

    proptest! {
        #[test]
        fn mutated_headers_do_not_panic(place in 0usize..20, byte: u8, cut in 0usize..1000) {
            let mut bytes = file(316, 332);
            bytes[place] = byte;
            let _ = image(&bytes, 0.5);
            let _ = image(&bytes[..cut], 0.5);
        }
    }
}
