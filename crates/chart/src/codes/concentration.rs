//! Concentration: the columns CT, CA, CB and CC.

/// A concentration as a chart states it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Concentration {
    /// No ice: the codes 00, 55 and 98 of three generations of the format.
    IceFree,
    /// Open water, less than a tenth: 01.
    OpenWater,
    /// Bergy water, with ice of land origin and no sea ice: 02.
    BergyWater,
    /// Tenths, from and to: 10 to 90, 92, and ranges such as 46.
    Tenths(u8, u8),
    /// More than nine tenths and less than ten: 91.
    OverNine,
    /// Unknown: 99.
    Unknown,
}

impl Concentration {
    /// The concentration of a code, or nothing for a code that the format has not.
    #[must_use]
    pub fn of_code(code: u8) -> Option<Self> {
        Some(match code {
            0 | 55 | 98 => Self::IceFree,
            1 => Self::OpenWater,
            2 => Self::BergyWater,
            91 => Self::OverNine,
            92 => Self::Tenths(10, 10),
            99 => Self::Unknown,
            10..=99 => match (code / 10, code % 10) {
                (tenths, 0) => Self::Tenths(tenths, tenths),
                // 81 is from eight tenths to ten.
                (from, 1) if from > 1 => Self::Tenths(from, 10),
                (from, to) if from < to => Self::Tenths(from, to),
                _ => return None,
            },
            _ => return None,
        })
    }

    /// The lowest and the highest fraction of the area; nothing where it is unknown.
    ///
    /// Open water counts as no ice, as it does in the ice-free column of POLARIS.
    #[must_use]
    pub fn fractions(self) -> Option<(f64, f64)> {
        let tenths = |tenths: u8| f64::from(tenths) / 10.0;
        match self {
            Self::IceFree | Self::OpenWater | Self::BergyWater => Some((0.0, 0.0)),
            Self::Tenths(from, to) => Some((tenths(from), tenths(to))),
            Self::OverNine => Some((0.9, 1.0)),
            Self::Unknown => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fractions(code: u8) -> Option<(f64, f64)> {
        Concentration::of_code(code).unwrap().fractions()
    }

    #[test]
    fn published_concentration_codes() {
        // JCOMM TR-23, table of concentration codes for CT, CA, CB and CC.
        for code in [0, 1, 2, 55, 98] {
            assert_eq!(fractions(code), Some((0.0, 0.0)), "{code}");
        }
        for tenths in 1..=9 {
            let fraction = f64::from(tenths) / 10.0;
            assert_eq!(fractions(tenths * 10), Some((fraction, fraction)));
        }
        assert_eq!(fractions(91), Some((0.9, 1.0)));
        assert_eq!(fractions(92), Some((1.0, 1.0)));
        assert_eq!(fractions(99), None);
        assert_eq!(fractions(46), Some((0.4, 0.6)));
        assert_eq!(fractions(81), Some((0.8, 1.0)));
        assert_eq!(fractions(18), Some((0.1, 0.8)));
        assert_eq!(fractions(12), Some((0.1, 0.2)));
        assert_eq!(fractions(89), Some((0.8, 0.9)));
    }

    #[test]
    fn codes_that_the_format_has_not_are_refused() {
        for code in [3, 9, 11, 22, 33, 43, 54, 93, 97, 100, 255] {
            assert_eq!(Concentration::of_code(code), None, "{code}");
        }
    }
}
