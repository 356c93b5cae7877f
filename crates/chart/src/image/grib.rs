//! Fields of a GRIB2 file.
//!
//! The sections that say what a field is and where it lies are read here; the packed values are left to
//! the `grib` crate. What it cannot unpack, it says.
//!
//! Source: WMO Manual on Codes, volume I.2, FM 92 GRIB edition 2: sections 1, 3 and 4, templates 3.0
//! and 3.20, code tables 3.2, 4.4 and 4.5, flag tables 3.3 to 3.5.

mod grid_section;

use std::{
    fmt,
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
};

use dipward_plugin::Error;
use grib::{Code, Grib2SubmessageDecoder, codetables::grib2::Table4_4};
use jiff::{SignedDuration, Timestamp, civil::date, tz::TimeZone};

use super::Image;
use grid_section::GridSection;

/// What a field is: discipline, category and number of the parameter.
pub(crate) type Parameter = (u8, u8, u8);

/// Where in the air or the sea a field is: a type of surface of code table 4.5 and its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    surface: u8,
    value: f64,
}

/// The type of surface that is a height above ground, in metres.
const ABOVE_GROUND: u8 = 103;

impl Level {
    /// The ground's or the water's surface.
    pub(crate) fn is_surface(self) -> bool {
        self.surface == 1
    }

    fn is_above_ground(self, height_m: f64) -> bool {
        self.surface == ABOVE_GROUND && (self.value - height_m).abs() < 1e-6
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.surface {
            1 => f.write_str("the surface"),
            100 => write!(f, "{} hPa", self.value / 100.0),
            101 => f.write_str("mean sea level"),
            ABOVE_GROUND => write!(f, "{} m above ground", self.value),
            other => write!(f, "a level of type {other} (code table 4.5)"),
        }
    }
}

/// A parameter, and the levels that count where it has many.
pub(crate) type Wanted = (Parameter, Levels);

/// Which levels of a parameter count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Levels {
    /// It has one only.
    Any,
    /// A height above ground in metres.
    AboveGround(f64),
    /// That, or "the surface", as files of wave models tell the wind that drives them.
    AboveGroundOrSurface(f64),
}

impl Levels {
    fn hold(self, level: Level) -> bool {
        match self {
            Self::Any => true,
            Self::AboveGround(height_m) => level.is_above_ground(height_m),
            Self::AboveGroundOrSurface(height_m) => {
                level.is_above_ground(height_m) || level.is_surface()
            }
        }
    }
}

/// What a file has of the parameters that are wanted.
#[derive(Debug, Default)]
pub(crate) struct GribFields {
    /// In the order of the file.
    pub(crate) fields: Vec<GribField>,
    /// Fields at other levels than the wanted.
    pub(crate) elsewhere: Vec<(Parameter, Level)>,
}

/// One field.
#[derive(Debug)]
pub(crate) struct GribField {
    /// What it is.
    pub(crate) parameter: Parameter,
    /// Where it is, where that matters.
    pub(crate) level: Option<Level>,
    /// When it is valid.
    pub(crate) valid: Timestamp,
    /// Its values.
    pub(crate) image: Image,
    /// Whether vectors are told along the field's own grid instead of east and north.
    pub(crate) along_grid: bool,
}

/// Reads the fields of some parameters, in the order of the file.
///
/// # Errors
///
/// [`Error::File`] for a file that is no GRIB2 file or is damaged, a grid other than longitude and
/// latitude or polar stereographic, and a packing that the reader does not take.
pub(crate) fn read_grib(path: &Path, bytes: &[u8], wanted: &[Wanted]) -> Result<GribFields, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    check_sections(bytes).map_err(wrong)?;
    // The decoder trusts the counts within its sections and panics where they lie. Nothing of ours is
    // changed by it, so that a panic is just another way to say that the file is damaged.
    catch_unwind(AssertUnwindSafe(|| fields(bytes, wanted)))
        .unwrap_or_else(|_| Err("is damaged: its values cannot be unpacked".to_owned()))
        .map_err(wrong)
}

/// The most points that a field may have.
const MAX_POINTS: u32 = 1 << 26;

/// Walks the messages and their sections: lengths must add up, and no field may be too large.
fn check_sections(bytes: &[u8]) -> Result<(), String> {
    let short = || "is cut short".to_owned();
    let mut rest = bytes;
    if !rest.starts_with(b"GRIB") {
        return Err("is not a GRIB file".to_owned());
    }
    while rest.starts_with(b"GRIB") {
        if rest.get(7) != Some(&2) {
            return Err("is not of GRIB edition 2".to_owned());
        }
        let total = rest.get(8..16).and_then(|bytes| bytes.first_chunk()).ok_or_else(short)?;
        let total = usize::try_from(u64::from_be_bytes(*total)).map_err(|_| short())?;
        let mut message = rest.get(16..total).ok_or_else(short)?;
        rest = rest.get(total..).ok_or_else(short)?;
        while !message.starts_with(b"7777") {
            let length = be32(message, 0).ok_or_else(short)? as usize;
            let section = message.get(..length).filter(|_| length >= 5).ok_or_else(short)?;
            let points = match section.get(4) {
                Some(3) => be32(section, 6).ok_or_else(short)?,
                Some(5) => be32(section, 5).ok_or_else(short)?,
                _ => 0,
            };
            if points > MAX_POINTS {
                return Err(format!("has a field of {points} points"));
            }
            message = message.get(length..).ok_or_else(short)?;
        }
    }
    Ok(())
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|bytes| u32::from_be_bytes(*bytes))
}

fn fields(bytes: &[u8], wanted: &[Wanted]) -> Result<GribFields, String> {
    let damaged = |error: grib::GribError| format!("cannot be read as GRIB2: {error}");
    let file = grib::from_bytes(bytes).map_err(damaged)?;
    let mut found = GribFields::default();
    for ((message, part), submessage) in file.iter() {
        let product = submessage.prod_def();
        let (Some(category), Some(number)) =
            (product.parameter_category(), product.parameter_number())
        else {
            continue;
        };
        let parameter = (submessage.indicator().discipline, category, number);
        let Some((_, levels)) = wanted.iter().find(|(own, _)| *own == parameter) else {
            continue;
        };
        let name = format!("message {}.{} ({category}/{number})", message + 1, part + 1);
        let named = |text: String| format!("{name}: {text}");
        let surfaces = product.fixed_surfaces();
        let level =
            surfaces.map(|(first, _)| Level { surface: first.surface_type, value: first.value() });
        if *levels != Levels::Any {
            let level =
                level.ok_or_else(|| named("does not say at which level it is".to_owned()))?;
            if !levels.hold(level) {
                found.elsewhere.push((parameter, level));
                continue;
            }
        }
        let times = submessage.temporal_raw_info();
        let reference = times.ref_time_unchecked;
        let ahead = times
            .forecast_time_diff
            .ok_or_else(|| named("does not say when it is valid".to_owned()))?;
        let valid = date(reference.year as i16, reference.month as i8, reference.day as i8).at(
            reference.hour as i8,
            reference.minute as i8,
            reference.second as i8,
            0,
        );
        let valid = TimeZone::UTC
            .to_timestamp(valid)
            .ok()
            .zip(duration(ahead.unit, ahead.value))
            .and_then(|(at, ahead)| at.checked_add(ahead).ok())
            .ok_or_else(|| named("is valid at no time that can be told".to_owned()))?;
        let section: Vec<u8> = submessage.grid_def().iter().copied().collect();
        let grid = GridSection::read(&section).map_err(named)?;
        let decoder = Grib2SubmessageDecoder::from(submessage).map_err(|e| named(damaged(e)))?;
        let values: Vec<f32> = decoder
            .dispatch()
            .map_err(|error| named(format!("cannot be unpacked: {error}")))?
            .collect();
        let image = grid.image(&values).map_err(named)?;
        found.fields.push(GribField {
            parameter,
            level,
            valid,
            image,
            along_grid: grid.along_grid,
        });
    }
    Ok(found)
}

/// A forecast time by the units of code table 4.4.
fn duration(unit: Code<Table4_4, u8>, value: u32) -> Option<SignedDuration> {
    let number = match unit {
        Code::Name(name) => u8::from(name),
        Code::Num(number) => number,
    };
    let seconds = match number {
        0 => 60,
        1 => 3600,
        2 => 86_400,
        10 => 3 * 3600,
        11 => 6 * 3600,
        12 => 12 * 3600,
        13 => 1,
        _ => return None,
    };
    Some(SignedDuration::from_secs(i64::from(value) * seconds))
}
