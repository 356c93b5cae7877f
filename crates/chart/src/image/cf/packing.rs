//! From stored numbers to values: fill values, flags, valid ranges, scale and offset.

use netcdf_reader::{NcType, NcVariable};

use super::{number, numbers, text};
use crate::image::units::Conversion;

/// How a variable's stored numbers become values.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Packing {
    missing: Vec<f64>,
    flags: Vec<f64>,
    /// In stored numbers.
    stored: [f64; 2],
    /// In values.
    unpacked: [f64; 2],
    scale: f64,
    offset: f64,
    /// Stored integers whose sign bit counts: 2 to the power of their bits.
    unsigned: Option<f64>,
    single: bool,
}

const ALL: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];

impl Packing {
    /// What a variable's attributes say.
    ///
    /// # Errors
    ///
    /// For a scale or offset that is none.
    pub(crate) fn of(variable: &NcVariable) -> Result<Self, String> {
        let one = |name: &str, default: f64| -> Result<f64, String> {
            match variable.attribute(name) {
                None => Ok(default),
                Some(_) => number(variable, name)
                    .filter(|number| number.is_finite())
                    .ok_or_else(|| format!("has a `{name}` that is no number")),
            }
        };
        let (scale, offset) = (one("scale_factor", 1.0)?, one("add_offset", 0.0)?);
        if scale == 0.0 {
            return Err("has a `scale_factor` of 0".to_owned());
        }
        let bits = match variable.dtype() {
            NcType::Byte | NcType::UByte => Some(8),
            NcType::Short | NcType::UShort => Some(16),
            NcType::Int | NcType::UInt => Some(32),
            NcType::Int64 | NcType::UInt64 => Some(64),
            _ => None,
        };
        let whole = bits.is_some();
        let signed =
            matches!(variable.dtype(), NcType::Byte | NcType::Short | NcType::Int | NcType::Int64);
        let told = text(variable, "_Unsigned").unwrap_or_default();
        let unsigned = bits
            .filter(|_| signed && told.eq_ignore_ascii_case("true"))
            .map(|bits| 2f64.powi(bits));
        let packed = scale != 1.0 || offset != 0.0;
        // NetCDF User's Guide: a range of the type of the unpacked values bounds those. A whole number
        // cannot be compared with a fraction, so neither is one stated as such a range of stored numbers.
        let of_values = |name: &str| {
            let attribute = variable.attribute(name).map(|own| &own.value);
            let float = attribute.is_some_and(is_float);
            packed && whole && float
        };
        let missing =
            [numbers(variable, "_FillValue"), numbers(variable, "missing_value")].concat();
        let flags = numbers(variable, "flag_values");
        let mut own = Self {
            missing,
            flags,
            stored: ALL,
            unpacked: ALL,
            scale,
            offset,
            unsigned,
            single: *variable.dtype() == NcType::Float,
        };
        if variable.attribute("_FillValue").is_none() {
            own.missing.extend(default_fill(variable.dtype()));
        }
        own.missing = own.missing.iter().map(|value| own.stored_number(*value)).collect();
        own.flags = own.flags.iter().map(|value| own.stored_number(*value)).collect();
        let range = numbers(variable, "valid_range");
        if let [low, high] = range.as_slice() {
            own.bound("valid_range", of_values, Some(*low), Some(*high));
        } else {
            own.bound("valid_min", of_values, number(variable, "valid_min"), None);
            own.bound("valid_max", of_values, None, number(variable, "valid_max"));
        }
        Ok(own)
    }

    fn bound(
        &mut self,
        name: &str,
        of_values: impl Fn(&str) -> bool,
        low: Option<f64>,
        high: Option<f64>,
    ) {
        let unpacked = of_values(name);
        let number =
            |own: &Self, value: f64| if unpacked { value } else { own.stored_number(value) };
        // A rounding of single precision, so that the bounds themselves are within.
        let slack = |value: f64| if unpacked { 1e-6 * value.abs() } else { 0.0 };
        let low = low.map(|low| number(self, low) - slack(low));
        let high = high.map(|high| number(self, high) + slack(high));
        let range = if unpacked { &mut self.unpacked } else { &mut self.stored };
        range[0] = low.unwrap_or(range[0]);
        range[1] = high.unwrap_or(range[1]);
    }

    /// A number as it compares with the stored ones.
    fn stored_number(&self, value: f64) -> f64 {
        let value = if self.single { f64::from(value as f32) } else { value };
        match self.unsigned {
            Some(modulus) if value < 0.0 => value + modulus,
            _ => value,
        }
    }

    /// The value of a stored number, not a number where it stands for none.
    pub(crate) fn value(&self, stored: f64) -> f64 {
        let stored = self.stored_number(stored);
        let is = |marks: &[f64]| {
            // Large fill values are often told with fewer digits than they are stored with.
            marks.iter().any(|mark| {
                *mark == stored || (mark.abs() > 1e9 && (stored / mark - 1.0).abs() < 1e-6)
            })
        };
        // False for what is not a number.
        let valid = stored >= self.stored[0] && stored <= self.stored[1];
        if !valid || is(&self.missing) || is(&self.flags) {
            return f64::NAN;
        }
        let value = stored * self.scale + self.offset;
        if value >= self.unpacked[0] && value <= self.unpacked[1] { value } else { f64::NAN }
    }

    /// The first flag that reads as a value within bounds, if there is one: then numbers and flags cannot be
    /// told apart.
    pub(crate) fn flag_within(&self, to: Conversion, [lowest, highest]: [f64; 2]) -> Option<f64> {
        self.flags.iter().copied().find(|flag| {
            let stored = *flag >= self.stored[0] && *flag <= self.stored[1];
            let value = to.apply(flag * self.scale + self.offset);
            stored && (lowest..=highest).contains(&value)
        })
    }
}

fn is_float(value: &netcdf_reader::NcAttrValue) -> bool {
    matches!(value, netcdf_reader::NcAttrValue::Floats(_) | netcdf_reader::NcAttrValue::Doubles(_))
}

/// What the NetCDF library leaves where nothing was written; bytes have no such value.
fn default_fill(kind: &NcType) -> Option<f64> {
    Some(match kind {
        NcType::Short => -32_767.0,
        NcType::UShort => 65_535.0,
        NcType::Int => -2_147_483_647.0,
        NcType::UInt => 4_294_967_295.0,
        NcType::Int64 => -9.223_372_036_854_776e18,
        NcType::Float | NcType::Double => 9.969_209_968_386_869e36,
        _ => return None,
    })
}
