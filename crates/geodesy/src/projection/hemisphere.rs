//! The two polar regions.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The half of the Earth whose pole is in the middle of a map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hemisphere {
    /// About the North Pole.
    North,
    /// About the South Pole.
    South,
}

impl Hemisphere {
    /// +1 for north and -1 for south, the sign of its latitudes.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::North => 1.0,
            Self::South => -1.0,
        }
    }
}

impl fmt::Display for Hemisphere {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::North => "north",
            Self::South => "south",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hemispheres_are_written_in_small_letters() {
        for (hemisphere, name) in [(Hemisphere::North, "north"), (Hemisphere::South, "south")] {
            assert_eq!(hemisphere.to_string(), name);
            assert_eq!(serde_json::to_value(hemisphere).unwrap(), name);
            assert_eq!(serde_json::from_value::<Hemisphere>(name.into()).unwrap(), hemisphere);
        }
        assert_eq!(format!("{:>7}", Hemisphere::North), "  north");
    }
}
