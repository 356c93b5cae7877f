//! Levels: where in the air or the sea a field is.

use std::fmt;

use super::message::be32;

/// A type of surface of code table 4.5 and its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    surface: u8,
    value: f64,
    /// Whether a second surface bounds it: a layer, not a level.
    layer: bool,
}

/// The type of surface that is a height above ground, in metres.
const ABOVE_GROUND: u8 = 103;

/// What stands for an absent value of one byte.
const ABSENT: u8 = 255;

impl Level {
    /// Reads both fixed surfaces of section 4; nothing where there is none.
    pub(super) fn read(octets: &[u8]) -> Option<Self> {
        let surface = *octets.first()?;
        let (factor, bits) = (*octets.get(1)?, be32(octets, 2)?);
        if surface == ABSENT {
            return None;
        }
        let signed = |high: bool, size: f64| if high { -size } else { size };
        let value = if factor == ABSENT || bits == u32::MAX {
            0.0
        } else {
            let power = signed(factor & 0x80 != 0, f64::from(factor & 0x7f)) as i32;
            signed(bits >> 31 == 1, f64::from(bits & 0x7fff_ffff)) * 10_f64.powi(-power)
        };
        Some(Self { surface, value, layer: *octets.get(6)? != ABSENT })
    }

    /// The ground's or the water's surface.
    pub(crate) fn is_surface(self) -> bool {
        self.surface == 1
    }

    fn is_above_ground(self, height_m: f64) -> bool {
        self.surface == ABOVE_GROUND && !self.layer && (self.value - height_m).abs() < 1e-6
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.layer {
            f.write_str("a layer from ")?;
        }
        match self.surface {
            1 => f.write_str("the surface"),
            100 => write!(f, "{} hPa", self.value / 100.0),
            101 => f.write_str("mean sea level"),
            ABOVE_GROUND => write!(f, "{} m above ground", self.value),
            other => write!(f, "a level of type {other} (code table 4.5)"),
        }
    }
}

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
    pub(super) fn hold(self, level: Level) -> bool {
        match self {
            Self::Any => true,
            Self::AboveGround(height_m) => level.is_above_ground(height_m),
            Self::AboveGroundOrSurface(height_m) => {
                level.is_above_ground(height_m) || level.is_surface()
            }
        }
    }
}
