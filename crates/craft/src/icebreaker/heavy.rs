//! What a ship does in weather beyond the method of its loss.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the ship does in wind or waves beyond the stated limits, on every heading.
///
/// She burns as her power setting does in all of them, so that no weather beyond the limits costs
/// less than that before them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeavyWeather {
    /// She heaves to, and makes 1 knot good at most (from memory: a ship hove to makes little
    /// headway and some leeway).
    #[default]
    HeaveTo,
    /// She slows to steerage way, and makes 4 knots good at most (from memory).
    SteerageWay,
    /// She is not there: cells beyond the limits are closed.
    Closed,
}

impl HeavyWeather {
    /// The greatest speed made good; nothing where the cell is closed.
    pub(super) const fn speed_kn(self) -> Option<f64> {
        match self {
            Self::HeaveTo => Some(1.0),
            Self::SteerageWay => Some(4.0),
            Self::Closed => None,
        }
    }

    /// What she does, for a sentence that begins with the weather.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::HeaveTo => "the ship heaves to and makes 1 kn good at most",
            Self::SteerageWay => "the ship slows to steerage way and makes 4 kn good at most",
            Self::Closed => "cells are closed to the ship",
        }
    }
}
