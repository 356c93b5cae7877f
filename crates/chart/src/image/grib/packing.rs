//! Sections 5 to 7: the values of a field.
//!
//! What a packing will decode to is reckoned, and held against the number of the grid's points, before any
//! memory is asked for; then the values are left to the `grib` crate.
//!
//! Source: WMO Manual on Codes, volume I.2, FM 92 GRIB edition 2: templates 5.0, 5.2, 5.3, 5.4, 5.40, 5.41
//! and 5.42, code tables 5.0, 5.4, 5.5, 5.6, 5.7 and 6.0.

use std::panic::{AssertUnwindSafe, catch_unwind};

use grib::Grib2SubmessageDecoder;

use super::{
    codestream,
    message::{be16, be32},
};

/// Sections 5, 6 and 7, whole.
#[derive(Debug, Clone, Copy)]
pub(super) struct PackedValues<'a> {
    pub(super) packing: &'a [u8],
    pub(super) bitmap: &'a [u8],
    pub(super) data: &'a [u8],
}

const SIMPLE: u16 = 0;
const COMPLEX: u16 = 2;
const COMPLEX_DIFFERENCED: u16 = 3;
const IEEE: u16 = 4;
const JPEG_2000: u16 = 40;
const PNG: u16 = 41;
const CCSDS: u16 = 42;

/// Bytes that may follow the values that a packing needs.
const PADDING: usize = 8;

impl PackedValues<'_> {
    /// Unpacks the values of a grid of so many points; not a number where there are none.
    ///
    /// # Errors
    ///
    /// What is wrong with the sections, or which packing is not taken.
    pub(super) fn unpack(&self, points: usize) -> Result<Vec<f32>, String> {
        let short = || "has values that are cut short".to_owned();
        let encoded = be32(self.packing, 5).ok_or_else(short)? as usize;
        let present = self.present(points)?;
        if encoded != present {
            return Err(format!(
                "has {encoded} packed values, but its grid of {points} points has {present} of them"
            ));
        }
        if present == 0 {
            return Ok(vec![f32::NAN; points]);
        }
        let template = be16(self.packing, 9).ok_or_else(short)?;
        let missing_within = match template {
            SIMPLE | JPEG_2000 | PNG | CCSDS => self.check_scaled(template, encoded)?,
            COMPLEX | COMPLEX_DIFFERENCED => {
                if let Some(constant) = self.constant()? {
                    return Ok(self.spread(points, std::iter::repeat_n(constant, encoded)));
                }
                self.check_groups(template, encoded)?
            }
            IEEE => return self.ieee(points, encoded),
            other => {
                return Err(format!(
                    "is packed by template 5.{other}, which is not taken: repack it, with ecCodes by \
                     `grib_set -r -s packingType=grid_simple in.grib2 out.grib2`"
                ));
            }
        };
        // The decoder trusts what it finds within the packed values and panics where that lies. Nothing of
        // ours is changed by it, so that a panic is one more way to say that the file is damaged.
        let values = catch_unwind(AssertUnwindSafe(|| self.decode(points)))
            .unwrap_or_else(|_| Err("is damaged: its values cannot be unpacked".to_owned()))?;
        if values.len() != points {
            return Err(format!("has {} values for a grid of {points} points", values.len()));
        }
        let missing = values.iter().filter(|value| value.is_nan()).count();
        if !missing_within && missing != points - present {
            return Err(format!(
                "has {missing} values that are no numbers, but {} that its bitmap leaves out",
                points - present
            ));
        }
        Ok(values)
    }

    fn decode(&self, points: usize) -> Result<Vec<f32>, String> {
        let unreadable = |error: grib::GribError| format!("cannot be unpacked: {error}");
        let decoder = Grib2SubmessageDecoder::new(
            points,
            self.packing.to_vec(),
            self.bitmap.to_vec(),
            self.data.to_vec(),
        )
        .map_err(unreadable)?;
        Ok(decoder.dispatch().map_err(unreadable)?.collect())
    }

    /// How many points have a value by the bitmap.
    fn present(&self, points: usize) -> Result<usize, String> {
        match self.bitmap.get(5) {
            Some(255) => Ok(points),
            Some(0) => {
                let bits = self.bitmap.get(6..).unwrap_or_default();
                if bits.len() != points.div_ceil(8) {
                    return Err(format!(
                        "has a bitmap of {} bytes for a grid of {points} points",
                        bits.len()
                    ));
                }
                Ok((0..points).filter(|point| bit(bits, *point)).count())
            }
            _ => Err("takes a bitmap that its centre has fixed, which the file does not hold: repack it \
                      with a bitmap of its own"
                .to_owned()),
        }
    }

    fn bits_per_value(&self) -> Result<usize, String> {
        let bits = self.packing.get(19).copied().ok_or("has a packing that is cut short")?;
        if bits > 32 {
            return Err(format!("is damaged: it has values of {bits} bits"));
        }
        Ok(usize::from(bits))
    }

    /// The value that stands for nought.
    fn reference(&self) -> Result<f32, String> {
        let bits = be32(self.packing, 11).ok_or("has a packing that is cut short")?;
        Some(f32::from_bits(bits))
            .filter(|value| value.is_finite())
            .ok_or_else(|| "is damaged: its reference value is no number".to_owned())
    }

    /// Packings of one number a value. Never has values missing within.
    fn check_scaled(&self, template: u16, encoded: usize) -> Result<bool, String> {
        self.reference()?;
        let bits = self.bits_per_value()?;
        let held = self.data.len().saturating_sub(5);
        // A field of one value holds it in section 5.
        if bits == 0 {
            return if held <= PADDING || template == PNG || template == JPEG_2000 {
                Ok(false)
            } else {
                Err(format!("is damaged: it needs no packed bytes and has {held}"))
            };
        }
        let data = self.data.get(5..).unwrap_or_default();
        match template {
            SIMPLE => {
                let needed = (encoded * bits).div_ceil(8);
                if held < needed || held > needed + PADDING {
                    return Err(format!(
                        "is damaged: its values need {needed} bytes, and it has {held}"
                    ));
                }
            }
            JPEG_2000 => codestream::check_jpeg_2000(data, encoded, bits)?,
            PNG => codestream::check_png(data, encoded, bits)?,
            _ => {
                let block = self.packing.get(22).copied().unwrap_or_default();
                let interval = be16(self.packing, 23).unwrap_or_default();
                if ![8, 16, 32, 64].contains(&block) || !(1..=4096).contains(&interval) {
                    return Err(format!(
                        "is damaged: it is packed in blocks of {block} by {interval}"
                    ));
                }
            }
        }
        Ok(false)
    }

    /// The value of a field that complex packing holds without any group.
    fn constant(&self) -> Result<Option<f32>, String> {
        let groups = be32(self.packing, 31).ok_or("has a packing that is cut short")?;
        if groups != 0 {
            return Ok(None);
        }
        let power = be16(self.packing, 17).unwrap_or_default();
        let size = i32::from(power & 0x7fff);
        let power = if power >> 15 == 1 { -size } else { size };
        Ok(Some(self.reference()? * 10_f32.powi(-power)))
    }

    /// Complex packing: groups of values, whose lengths must add up to the number of values.
    ///
    /// Returns whether values may be missing within.
    fn check_groups(&self, template: u16, encoded: usize) -> Result<bool, String> {
        let damaged = |what: &str| format!("is damaged: {what}");
        let short = || damaged("its groups are cut short");
        self.reference()?;
        let bits = self.bits_per_value()?;
        let octet = |at: usize| self.packing.get(at).copied().map(usize::from).ok_or_else(short);
        let number = |at: usize| be32(self.packing, at).map(u64::from).ok_or_else(short);
        let management = octet(22)?;
        let groups = number(31)? as usize;
        let (width_least, width_bits) = (octet(35)? as u64, octet(36)?);
        let (length_least, step) = (number(37)?, octet(41)? as u64);
        let (length_last, length_bits) = (number(42)?, octet(46)?);
        if bits > 31 || width_bits > 32 || length_bits > 32 || groups > encoded || management > 2 {
            return Err(damaged("its groups are impossible"));
        }
        let mut data = self.data.get(5..).unwrap_or_default();
        if template == COMPLEX_DIFFERENCED {
            let (order, size) = (octet(47)?, octet(48)?);
            if ![1, 2].contains(&order) || !(1..=4).contains(&size) {
                return Err(damaged("its differences are impossible"));
            }
            data = data.get((order + 1) * size..).ok_or_else(short)?;
        }
        let mut part = |bits: usize| -> Result<&[u8], String> {
            let (own, rest) =
                data.split_at_checked((groups * bits).div_ceil(8)).ok_or_else(short)?;
            data = rest;
            Ok(own)
        };
        part(bits)?;
        let (widths, lengths) = (part(width_bits)?, part(length_bits)?);
        let (mut values, mut needed) = (0_u64, 0_u64);
        for group in 0..groups {
            let width = width_least + read_bits(widths, group * width_bits, width_bits);
            let length = if group + 1 == groups {
                length_last
            } else {
                length_least + step * read_bits(lengths, group * length_bits, length_bits)
            };
            values = values.saturating_add(length);
            needed = needed.saturating_add(width.saturating_mul(length));
            if width > 31 || values > encoded as u64 {
                return Err(damaged("its groups hold more values than its grid"));
            }
        }
        let needed = needed.div_ceil(8);
        let held = data.len() as u64;
        if values != encoded as u64 || held < needed || held > needed + PADDING as u64 {
            return Err(damaged(&format!(
                "its groups hold {values} values in {needed} bytes, but {encoded} values and {held} bytes \
                 are there"
            )));
        }
        Ok(management > 0)
    }

    /// Numbers of IEEE 754, as they are.
    fn ieee(&self, points: usize, encoded: usize) -> Result<Vec<f32>, String> {
        let data = self.data.get(5..).unwrap_or_default();
        let size = match self.packing.get(11) {
            Some(1) => 4,
            Some(2) => 8,
            _ => return Err("is packed as numbers of neither 32 nor 64 bits".to_owned()),
        };
        if encoded.checked_mul(size) != Some(data.len()) {
            return Err(format!(
                "is damaged: it has {} bytes for {encoded} values of {size}",
                data.len()
            ));
        }
        let number = |bytes: &[u8]| match (bytes.first_chunk(), bytes.first_chunk()) {
            (Some(eight), _) if size == 8 => f64::from_be_bytes(*eight) as f32,
            (_, Some(four)) => f32::from_be_bytes(*four),
            _ => f32::NAN,
        };
        let values = self.spread(points, data.chunks_exact(size).map(number));
        let missing = values.iter().filter(|value| value.is_nan()).count();
        if missing != points - encoded {
            return Err("is damaged: it has values that are no numbers".to_owned());
        }
        Ok(values)
    }

    /// Puts values at the points that have one.
    fn spread(&self, points: usize, mut values: impl Iterator<Item = f32>) -> Vec<f32> {
        let bits = match self.bitmap.get(5) {
            Some(0) => self.bitmap.get(6..),
            _ => None,
        };
        (0..points)
            .map(|point| {
                let here = bits.is_none_or(|bits| bit(bits, point));
                if here { values.next().unwrap_or(f32::NAN) } else { f32::NAN }
            })
            .collect()
    }
}

fn bit(bits: &[u8], at: usize) -> bool {
    bits.get(at / 8).is_some_and(|byte| byte & (0x80 >> (at % 8)) != 0)
}

/// A number of up to 32 bits, from the first on; past the end, nought.
fn read_bits(bytes: &[u8], at: usize, count: usize) -> u64 {
    (at..at + count).fold(0, |number, place| (number << 1) | u64::from(bit(bytes, place)))
}
