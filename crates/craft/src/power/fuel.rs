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
    /// Very-low-sulphur fuel oil: a blend with residues, which most often is heavy by law.
    VeryLowSulphurFuelOil,
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
    /// copy of that resolution. A very-low-sulphur blend counts as the light or the heavy oil whose
    /// grade it has; here as the light one, whose factor is greater.
    #[must_use]
    pub const fn carbon_factor(self) -> f64 {
        match self {
            Self::MarineGasOil => 3.206,
            Self::LightFuelOil | Self::VeryLowSulphurFuelOil => 3.151,
            Self::HeavyFuelOil => 3.114,
            Self::Propane => 3.000,
            Self::Butane => 3.030,
            Self::LiquefiedNaturalGas => 2.750,
            Self::Methanol => 1.375,
            Self::Ethanol => 1.913,
        }
    }

    /// The most that the kind's grades may have, which stands in for what is not stated. Nothing for
    /// what is no oil.
    ///
    /// # Source
    ///
    /// ISO 8217: DMB 900 kg/m3 and RMD 80 975 kg/m3 as seen in its tables, and the viscosity in the
    /// grades' names; DMB's 11 mm2/s, which is at 40 C and less at 50, and 991 kg/m3 for RMG 380 from
    /// memory. Very-low-sulphur blends have no grade of their own: trade circulars say that most
    /// exceed 900 kg/m3; 940 and 150 stand for them, a choice.
    #[must_use]
    pub const fn heaviest_grade(self) -> Option<Oil> {
        let (density_kg_m3, viscosity_mm2_s) = match self {
            Self::MarineGasOil => (900.0, 11.0),
            Self::LightFuelOil => (975.0, 80.0),
            Self::VeryLowSulphurFuelOil => (940.0, 150.0),
            Self::HeavyFuelOil => (991.0, 380.0),
            _ => return None,
        };
        Some(Oil { density_kg_m3, viscosity_mm2_s })
    }
}

/// An oil as the bans on heavy fuel see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Oil {
    /// Density at 15 C.
    pub density_kg_m3: f64,
    /// Kinematic viscosity at 50 C.
    pub viscosity_mm2_s: f64,
}

impl Oil {
    /// The greatest density that is not heavy.
    pub const LIGHT_KG_M3: f64 = 900.0;
    /// The greatest viscosity that is not heavy.
    pub const LIGHT_MM2_S: f64 = 180.0;

    /// Whether the oil is heavy by law: over 900 kg/m3 at 15 C or over 180 mm2/s at 50 C (MARPOL
    /// Annex I regulations 43.1.2 and 43A.1).
    #[must_use]
    pub fn is_heavy(&self) -> bool {
        self.density_kg_m3 > Self::LIGHT_KG_M3 || self.viscosity_mm2_s > Self::LIGHT_MM2_S
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
