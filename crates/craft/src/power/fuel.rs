use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A fuel, as MEPC.282(70) appendix 2 names them.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum FuelKind {
    /// Diesel or gas oil (ISO 8217 grades DMX to DMB).
    #[default]
    MarineGasOil,
    /// Light fuel oil (RMA to RMD).
    LightFuelOil,
    /// Heavy fuel oil (RME to RMK).
    HeavyFuelOil,
    /// Liquefied petroleum gas, propane.
    Propane,
    /// Liquefied petroleum gas, butane.
    Butane,
    /// Liquefied natural gas.
    LiquefiedNaturalGas,
    /// Methanol.
    Methanol,
    /// Ethanol.
    Ethanol,
}

impl FuelKind {
    /// Tonnes of carbon dioxide for a tonne of fuel: MEPC.282(70) appendix 2, as seen in an open
    /// copy of that resolution.
    #[must_use]
    pub const fn carbon_factor(self) -> f64 {
        match self {
            Self::MarineGasOil => 3.206,
            Self::LightFuelOil => 3.151,
            Self::HeavyFuelOil => 3.114,
            Self::Propane => 3.000,
            Self::Butane => 3.030,
            Self::LiquefiedNaturalGas => 2.750,
            Self::Methanol => 1.375,
            Self::Ethanol => 1.913,
        }
    }
}

/// How specific consumption goes with the load of the engines.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LoadCurve {
    /// It does not: engines are started and stopped so that those running are well loaded, as in a
    /// diesel-electric plant.
    #[default]
    Constant,
    /// The parabola of the Fourth IMO Greenhouse Gas Study (2020), for one engine on all loads.
    SingleEngine,
}

/// Consumption at a load, from the consumption at the best load.
///
/// `base (0.455 L^2 - 0.710 L + 1.280)`, least at L = 0.78. From memory of the Fourth IMO
/// Greenhouse Gas Study (2020). The load is held to 0 to 1.
#[must_use]
pub fn specific_consumption_g_per_kwh(base_g_per_kwh: f64, curve: LoadCurve, load: f64) -> f64 {
    match curve {
        LoadCurve::Constant => base_g_per_kwh,
        LoadCurve::SingleEngine => {
            let load = load.clamp(0.0, 1.0);
            base_g_per_kwh * (0.455 * load * load - 0.710 * load + 1.280)
        }
    }
}
