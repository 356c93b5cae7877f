//! The Kp index of geomagnetic activity.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Equivalent amplitude ap for Kp 0o, 0+, 1-, ... 9o, in units of 2 nT at a standard station.
///
/// Source: International Service of Geomagnetic Indices; it matches every interval of the history.
const AP: [u16; 28] = [
    0, 2, 3, 4, 5, 6, 7, 9, 12, 15, 18, 22, 27, 32, 39, 48, 56, 67, 80, 94, 111, 132, 154, 179,
    207, 236, 300, 400,
];

/// A value of the Kp index, from 0 to 9 in thirds.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(try_from = "u8", into = "u8")]
pub struct Kp(u8);

impl Kp {
    /// The largest value, 9o.
    pub const GREATEST: Self = Self(27);

    /// Kp from its thirds, 0 to 27; `None` above.
    #[must_use]
    pub const fn from_thirds(thirds: u8) -> Option<Self> {
        if thirds <= Self::GREATEST.0 { Some(Self(thirds)) } else { None }
    }

    /// The value nearest to a number from 0 to 9; numbers outside are brought to the ends, and what
    /// is no number to 0.
    #[must_use]
    pub fn nearest(kp: f64) -> Self {
        // A cast of NaN is 0.
        Self((kp.clamp(0.0, 9.0) * 3.0).round() as u8)
    }

    /// In thirds, 0 to 27.
    #[must_use]
    pub const fn thirds(self) -> u8 {
        self.0
    }

    /// As a number, 5- being 4.667.
    #[must_use]
    pub fn value(self) -> f64 {
        f64::from(self.0) / 3.0
    }

    /// The equivalent amplitude ap, in units of 2 nT at a standard station.
    #[must_use]
    pub fn ap(self) -> f64 {
        f64::from(AP[usize::from(self.0)])
    }

    /// The whole number that it is written with: 9 for 9-.
    #[must_use]
    pub const fn class(self) -> u8 {
        (self.0 + 1) / 3
    }
}

impl TryFrom<u8> for Kp {
    type Error = String;

    fn try_from(thirds: u8) -> Result<Self, String> {
        Self::from_thirds(thirds).ok_or_else(|| format!("Kp has at most 27 thirds, not {thirds}"))
    }
}

impl From<Kp> for u8 {
    fn from(kp: Kp) -> Self {
        kp.thirds()
    }
}

/// The usual way to write it: `4-`, `4o`, `4+`.
impl fmt::Display for Kp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = ["o", "+", "-"][usize::from(self.0 % 3)];
        write!(f, "{}{mark}", self.class())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_are_written_and_weighed_as_usual() {
        let at = |thirds| Kp::from_thirds(thirds).unwrap();
        assert_eq!(
            (at(14).to_string(), at(15).to_string(), at(16).to_string()),
            ("5-".into(), "5o".into(), "5+".into())
        );
        assert_eq!((at(0).to_string(), at(27).to_string()), ("0o".into(), "9o".into()));
        assert_eq!((at(15).ap(), at(27).ap(), at(26).class()), (48.0, 400.0, 9));
        assert_eq!(
            (Kp::nearest(4.7), Kp::nearest(12.0), Kp::nearest(-1.0)),
            (at(14), at(27), at(0))
        );
        assert_eq!(Kp::nearest(f64::NAN), at(0));
        assert_eq!(Kp::from_thirds(28), None);
    }
}
