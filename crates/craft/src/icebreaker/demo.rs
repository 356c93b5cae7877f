//! The kind `demo_icebreaker`: ships that nobody built, to try a scenario with.

use dipward_plugin::{BuildContext, Craft, CraftPoint, Faults, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    CautiousIce, DepthDoubt, Fuel, IceRules, IcebreakerSpec, LandIceRules, Machinery, Propellers,
    Reserve, UnknownDepth, UnknownIce, WeatherRules,
};
use crate::{FuelKind, Hull, IceAge, IceClass, LoadCurve, PropellerKind};

/// An invented ship. Kind `demo_icebreaker`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DemoIcebreakerSpec {
    /// Which one.
    pub model: DemoModel,
    /// What unknown ice means.
    #[serde(default)]
    pub unknown_ice: UnknownIce,
    /// What unknown depth means.
    #[serde(default)]
    pub unknown_depth: UnknownDepth,
}

/// Invented ships.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DemoModel {
    /// An expedition ship, PC6, 90 m, 6 MW.
    Expedition,
    /// A research icebreaker, PC3, 120 m, 16 MW.
    Research,
    /// A heavy icebreaker, PC2, 150 m, 45 MW.
    Heavy,
}

impl DemoModel {
    fn ship(self) -> IcebreakerSpec {
        let (name, ice_class, [length_m, beam_m, draught_m], [stem, entrance]) = match self {
            Self::Expedition => ("expedition ship", IceClass::Pc6, [90.0, 17.0, 5.6], [32.0, 30.0]),
            Self::Research => {
                ("research icebreaker", IceClass::Pc3, [120.0, 24.0, 8.5], [26.0, 28.0])
            }
            Self::Heavy => ("heavy icebreaker", IceClass::Pc2, [150.0, 30.0, 10.5], [25.0, 30.0]),
        };
        let (propulsion_kw, number, diameter_m, open_water_speed_kn) = match self {
            Self::Expedition => (6_000.0, 2, 3.6, 16.0),
            Self::Research => (16_000.0, 2, 4.8, 16.5),
            Self::Heavy => (45_000.0, 3, 5.8, 19.0),
        };
        let (hotel_kw, capacity_t) = match self {
            Self::Expedition => (900.0, 550.0),
            Self::Research => (1_800.0, 3_200.0),
            Self::Heavy => (2_500.0, 7_000.0),
        };
        IcebreakerSpec {
            name: format!("an invented {name}"),
            ice_class,
            hull: Hull {
                length_m,
                beam_m,
                draught_m,
                stem_angle_deg: stem,
                waterline_angle_deg: entrance,
                parallel_midbody_m: 0.40 * length_m,
                bow_length_m: 0.28 * length_m,
            },
            machinery: Machinery {
                propulsion_kw,
                propellers: Propellers {
                    number,
                    diameter_m,
                    kind: PropellerKind::ControllablePitch,
                },
                open_water_speed_kn,
                service_speed_kn: None,
                hotel_kw,
                station_keeping_kw: 0.0,
                specific_consumption_g_per_kwh: 200.0,
                load_curve: LoadCurve::Constant,
            },
            fuel: Fuel {
                kind: FuelKind::MarineGasOil,
                density_kg_m3: None,
                viscosity_mm2_s: None,
                capacity_t,
                protected_tanks: true,
                unpumpable_fraction: 0.02,
                reserve: Reserve::default(),
            },
            power_settings: vec![1.0, 0.75, 0.5],
            under_keel_clearance_m: 10.0,
            depth_doubt: DepthDoubt::Smaller,
            unknown_depth: UnknownDepth::Refuse,
            unknown_ice: UnknownIce::Cautious,
            cautious_ice: CautiousIce::default(),
            ice_age: IceAge::Unknown,
            land_ice: LandIceRules::default(),
            ice: IceRules::default(),
            weather: WeatherRules::default(),
        }
    }
}

impl Spec for DemoIcebreakerSpec {
    type Point = CraftPoint;
    const KIND: &'static str = "demo_icebreaker";
    const SUMMARY: &'static str = "one of three invented ships, to try a scenario with";
    const EXAMPLE: &'static str = "{kind: demo_icebreaker, model: research}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Craft>, Faults> {
        let Self { model, unknown_ice, unknown_depth } = self;
        IcebreakerSpec { unknown_ice, unknown_depth, ..model.ship() }.build(context)
    }
}
