//! Form of ice: the columns FA, FB and FC.

/// The size and kind of floes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Form {
    /// Pancake ice: 00 of the egg code, 22 of charts.
    Pancake,
    /// Shuga or small ice cake: 01.
    ShugaOrSmallCake,
    /// Ice cake, under 20 m: 02.
    Cake,
    /// Small floes, 20 to 100 m: 03.
    SmallFloe,
    /// Medium floes, 100 to 500 m: 04.
    MediumFloe,
    /// Big floes, 500 m to 2 km: 05.
    BigFloe,
    /// Vast floes, 2 to 10 km: 06.
    VastFloe,
    /// Giant floes, over 10 km: 07.
    GiantFloe,
    /// Fast ice: 08.
    Fast,
    /// Growlers, floebergs and floebits: 09.
    Growlers,
    /// Icebergs: 10.
    Icebergs,
    /// Strips and patches: 11 to 20, by the tenths within them.
    Strips,
    /// Level ice: 21.
    Level,
    /// Undetermined or unknown: 99.
    Unknown,
}

impl Form {
    /// The form of a code, or nothing for a code that the format has not.
    #[must_use]
    pub fn of_code(code: u8) -> Option<Self> {
        Some(match code {
            0 | 22 => Self::Pancake,
            1 => Self::ShugaOrSmallCake,
            2 => Self::Cake,
            3 => Self::SmallFloe,
            4 => Self::MediumFloe,
            5 => Self::BigFloe,
            6 => Self::VastFloe,
            7 => Self::GiantFloe,
            8 => Self::Fast,
            9 => Self::Growlers,
            10 => Self::Icebergs,
            11..=20 => Self::Strips,
            21 => Self::Level,
            99 => Self::Unknown,
            _ => return None,
        })
    }

    /// Whether it is ice of land origin, or may be: growlers share their code with floebergs, which
    /// are sea ice.
    #[must_use]
    pub fn is_of_land(self) -> bool {
        matches!(self, Self::Icebergs | Self::Growlers)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_form_codes() {
        // JCOMM TR-23, table of forms of ice.
        assert_eq!(Form::of_code(8), Some(Form::Fast));
        assert_eq!(Form::of_code(10), Some(Form::Icebergs));
        assert_eq!(Form::of_code(22), Some(Form::Pancake));
        assert_eq!(Form::of_code(99), Some(Form::Unknown));
        assert_eq!(Form::of_code(23), None);
    }
}
