//! Units of files whose writers took others than the parameters have.

use dipward_plugin::Quantity;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Units that a file's values are in, where they are not those of the parameter.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastUnits {
    /// Of ice cover; the parameter's own unit is a share from 0 to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) ice_concentration: Option<CoverUnit>,
    /// Of the air's temperature; the parameter's own unit is K.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) air_temperature: Option<TemperatureUnit>,
}

/// What ice cover is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CoverUnit {
    /// Shares from 0 to 1.
    Share,
    /// Per cent.
    Percent,
}

/// What a temperature is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TemperatureUnit {
    /// Kelvin.
    Kelvin,
    /// Degrees Celsius.
    Celsius,
}

impl ForecastUnits {
    pub(super) fn are_those_of_the_parameters(&self) -> bool {
        *self == Self::default()
    }

    /// Factor and offset of a quantity's values.
    pub(super) fn apply(self, quantity: Quantity, factor: f32, offset: f32) -> (f32, f32) {
        if quantity == Quantity::ICE_CONCENTRATION
            && self.ice_concentration == Some(CoverUnit::Percent)
        {
            (0.01, 0.0)
        } else if quantity == Quantity::AIR_TEMPERATURE
            && self.air_temperature == Some(TemperatureUnit::Celsius)
        {
            (1.0, 0.0)
        } else {
            (factor, offset)
        }
    }
}
