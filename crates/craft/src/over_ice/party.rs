//! The kind `tracked_party`: vehicles over sea ice, shelf and ice sheet.

use dipward_geodesy::KM_PER_NAUTICAL_MILE;
use dipward_plugin::{
    Assumption, BuildContext, CellBatch, Closure, Craft, CraftMode, CraftPoint, Error, Fault,
    Faults, PowerSetting, Provenance, Quantity, Spec, Stores, Travel,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{BearingConvention, Melt, TraverseBurn};
use crate::SURFACE_SLOPE;

/// A party with tracked vehicles. Kind `tracked_party`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrackedPartySpec {
    /// The party's name.
    #[serde(default = "default_name")]
    pub name: String,
    /// Vehicles.
    pub vehicles: Vehicles,
    /// Fuel of the whole party.
    pub fuel: PartyFuel,
    /// What floating ice must bear.
    pub bearing: Bearing,
    /// Hours of travel in 24; the rest is rest and maintenance.
    #[serde(default = "default_hours")]
    #[schemars(range(min = 0.5, max = 24.0))]
    pub travel_hours_per_day: f64,
    /// Greatest slope that can be climbed or crossed. With sleds 5 to 8 degrees, without 15 to 20
    /// (from memory).
    #[serde(default = "default_slope")]
    #[schemars(range(min = 0.5, max = 45.0))]
    pub greatest_slope_deg: f64,
    /// What an unknown slope on land means.
    #[serde(default)]
    pub unknown_slope: UnknownSlope,
    /// What the ground takes of the speed.
    #[serde(default)]
    pub ground: GroundFactors,
}

/// The vehicles.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Vehicles {
    /// Speed on hard, level snow.
    #[schemars(range(min = 1.0, max = 60.0))]
    pub speed_km_h: f64,
    /// Mass of the heaviest vehicle with what it carries, without its sleds.
    #[schemars(range(min = 0.1, max = 200.0))]
    pub heaviest_t: f64,
    /// Payload of the whole party, without fuel.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 2000.0))]
    pub payload_t: f64,
    /// Litres a kilometre of the whole party without load, on hard, level snow. A light snow vehicle burns 1
    /// to 2.5, a laden tractor 3 to 5 (from memory). The party burns by the hour under way: where the ground
    /// leaves half the speed, a kilometre takes twice as much.
    #[schemars(range(min = 0.05, max = 200.0))]
    pub empty_l_per_km: f64,
    /// Litres a kilometre that a tonne of payload or fuel adds, on hard, level snow.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 5.0))]
    pub per_tonne_l_per_km: f64,
    /// Litres an hour of the whole party at rest, for heat and power.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 500.0))]
    pub idle_l_per_h: f64,
}

/// Fuel of the whole party.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartyFuel {
    /// Litres at the start.
    #[schemars(range(max = 1_000_000.0), extend("exclusiveMinimum" = 0))]
    pub capacity_l: f64,
    /// Density; arctic diesel and kerosene are near 0.8.
    #[serde(default = "default_density")]
    #[schemars(range(min = 0.6, max = 1.1))]
    pub density_kg_per_l: f64,
    /// Part that must be left on return. A third out, a third home and a third in reserve is the
    /// rule of small expeditions (from memory).
    #[serde(default = "default_reserve")]
    #[schemars(range(min = 0.0, max = 0.95))]
    pub reserve_fraction: f64,
    /// Which load the burn is reckoned for.
    #[serde(default)]
    pub load: BurnLoad,
}

/// Which load the burn on the march is reckoned for, where fuel is part of the load.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BurnLoad {
    /// The full load throughout: more than is burnt.
    #[default]
    Full,
    /// The mean over a march that burns all fuel but the reserve, as the load falls. A way fits the
    /// fuel if it fits by the exponential law; what a shorter one leaves is overstated.
    Falling,
}

/// What floating ice must bear.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bearing {
    /// The convention; there is no default.
    pub convention: BearingConvention,
    /// Strength of sea ice over that of freshwater ice, 0.6 to 0.75 (from memory).
    #[serde(default = "default_sea_ice")]
    #[schemars(range(min = 0.1, max = 1.0))]
    pub sea_ice_factor: f64,
    /// Whether vehicles stand on the ice for more than two hours, which halves what it bears (from
    /// memory).
    #[serde(default = "default_stands")]
    pub stands: bool,
    /// The chart's mean thickness over that of the thinnest place on the way.
    #[serde(default = "default_margin")]
    #[schemars(range(min = 1.0, max = 5.0))]
    pub thickness_margin: f64,
    /// Part of the thickness that is snow ice, which counts half.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub snow_ice_fraction: f64,
    /// What melting leaves of the strength.
    #[serde(default)]
    pub melt: Melt,
    /// Concentration below which the ice is not one surface.
    #[serde(default = "default_concentration")]
    #[schemars(range(min = 0.5, max = 1.0))]
    pub least_concentration: f64,
}

/// Parts of the speed on hard, level snow that the ground leaves. Sastrugi over 0.3 m leave 0.3 to
/// 0.7 (from memory).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GroundFactors {
    /// On sea ice.
    #[schemars(range(min = 0.05, max = 1.0))]
    pub sea_ice: f64,
    /// On an ice shelf.
    #[schemars(range(min = 0.05, max = 1.0))]
    pub shelf: f64,
    /// On the ice sheet.
    #[schemars(range(min = 0.05, max = 1.0))]
    pub ice_sheet: f64,
    /// At the greatest slope; linear from 1 on the level.
    #[schemars(range(min = 0.05, max = 1.0))]
    pub greatest_slope: f64,
}

impl Default for GroundFactors {
    fn default() -> Self {
        Self { sea_ice: 0.5, shelf: 0.9, ice_sheet: 0.7, greatest_slope: 0.5 }
    }
}

/// What an unknown slope on land means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnknownSlope {
    /// The cell is closed.
    #[default]
    Refuse,
    /// The ground is taken for level.
    Level,
}

fn default_name() -> String {
    "tracked party".into()
}

fn default_hours() -> f64 {
    10.0
}

fn default_slope() -> f64 {
    6.0
}

fn default_density() -> f64 {
    0.80
}

fn default_reserve() -> f64 {
    1.0 / 3.0
}

fn default_sea_ice() -> f64 {
    0.65
}

fn default_stands() -> bool {
    true
}

fn default_margin() -> f64 {
    1.5
}

fn default_concentration() -> f64 {
    0.98
}

impl Spec for TrackedPartySpec {
    type Point = CraftPoint;
    const KIND: &'static str = "tracked_party";
    const SUMMARY: &'static str =
        "tracked vehicles over sea ice, shelf and ice sheet, by bearing capacity and slope";
    const EXAMPLE: &'static str = "\
kind: tracked_party
name: an invented party of two light snow vehicles
vehicles:
  speed_km_h: 12
  heaviest_t: 6
  payload_t: 4
  empty_l_per_km: 2.4
  per_tonne_l_per_km: 0.15
  idle_l_per_h: 1.5
fuel: {capacity_l: 4000, density_kg_per_l: 0.8, reserve_fraction: 0.3}
bearing: {convention: {gold: {a_kg_per_cm2: 4}}, sea_ice_factor: 0.65}
travel_hours_per_day: 10
greatest_slope_deg: 6
ground: {sea_ice: 0.5, shelf: 0.9, ice_sheet: 0.7, greatest_slope: 0.5}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Craft>, Faults> {
        let burn = TraverseBurn::new(
            self.vehicles.empty_l_per_km,
            self.vehicles.per_tonne_l_per_km,
            self.vehicles.payload_t,
            self.fuel.density_kg_per_l,
        )
        .map_err(|error| Fault::at("/vehicles", error.to_string()))?;
        let melt = self.bearing.melt.in_window(context);
        Ok(Box::new(TrackedParty::new(self, &burn, melt)))
    }
}

/// A party made ready to answer.
#[derive(Debug)]
struct TrackedParty {
    spec: TrackedPartySpec,
    /// On cold ice.
    needed_thickness_m: f32,
    /// On melting ice.
    needed_melting_m: f32,
    melt: Melt,
    level_pace_h_per_km: f64,
    burn_t_per_h: f32,
}

impl TrackedParty {
    fn new(spec: TrackedPartySpec, burn: &TraverseBurn, melt: Melt) -> Self {
        let Bearing { convention, sea_ice_factor, stands, thickness_margin, .. } = spec.bearing;
        let weakening = sea_ice_factor * if stands { 0.5 } else { 1.0 };
        let thickness_m = |strength: f64| {
            convention.weakened_thickness_m(spec.vehicles.heaviest_t, weakening * strength)
        };
        let counted = 1.0 - 0.5 * spec.bearing.snow_ice_fraction;
        let day_part = spec.travel_hours_per_day / 24.0;
        let full_t = tonnes(spec.fuel.capacity_l, &spec.fuel);
        let idle_t_per_h = tonnes(spec.vehicles.idle_l_per_h, &spec.fuel);
        let reserve_t = full_t * spec.fuel.reserve_fraction;
        let burn_t_per_km = match spec.fuel.load {
            BurnLoad::Full => burn.burn_t_per_km(full_t),
            BurnLoad::Falling => (full_t - reserve_t) / burn.range_km(full_t, reserve_t),
        };
        let moving_t_per_h = burn_t_per_km * spec.vehicles.speed_km_h;
        Self {
            needed_thickness_m: (thickness_m(1.0) / counted * thickness_margin) as f32,
            needed_melting_m: (thickness_m(melt.strength) / counted * thickness_margin) as f32,
            melt,
            level_pace_h_per_km: 1.0 / (spec.vehicles.speed_km_h * day_part),
            burn_t_per_h: (moving_t_per_h * day_part + idle_t_per_h * (1.0 - day_part)) as f32,
            spec,
        }
    }

    /// The part of the speed that the ground leaves, or why it is closed.
    fn ground_factor(&self, at: impl Fn(Quantity) -> f32) -> Result<f64, Closure> {
        let flag = |quantity| at(quantity) > 0.5;
        if flag(Quantity::CLOSED) || at(Quantity::SPEED_LIMIT) <= 0.0 {
            return Err(Closure::Zone);
        }
        if flag(Quantity::CREVASSES) {
            return Err(Closure::Land);
        }
        let ground = &self.spec.ground;
        let shelf = flag(Quantity::SHELF);
        if !shelf && !flag(Quantity::LAND) {
            return self.floating(at);
        }
        let slope_deg = f64::from(at(SURFACE_SLOPE)).abs();
        let steepness = slope_deg / self.spec.greatest_slope_deg;
        let level = if shelf { ground.shelf } else { ground.ice_sheet };
        if steepness.is_nan() {
            // A shelf floats, and is level until something says otherwise.
            return if shelf || self.spec.unknown_slope == UnknownSlope::Level {
                Ok(level)
            } else {
                Err(Closure::Unknown)
            };
        }
        if steepness > 1.0 {
            return Err(Closure::Land);
        }
        Ok(level * (1.0 - (1.0 - ground.greatest_slope) * steepness))
    }

    /// On sea ice: unknown ice never bears.
    fn floating(&self, at: impl Fn(Quantity) -> f32) -> Result<f64, Closure> {
        let concentration = at(Quantity::ICE_CONCENTRATION);
        let thickness_m = at(Quantity::ICE_THICKNESS);
        let cold = self.melt.strength_left(at(Quantity::ICE_MELTING)) >= 1.0;
        let needed_m = if cold { self.needed_thickness_m } else { self.needed_melting_m };
        if concentration < self.spec.bearing.least_concentration as f32 || thickness_m < needed_m {
            return Err(Closure::Bearing);
        }
        if concentration.is_nan() || thickness_m.is_nan() {
            return Err(Closure::Unknown);
        }
        Ok(self.spec.ground.sea_ice)
    }

    fn travel_at(&self, at: impl Fn(Quantity) -> f32) -> Travel {
        match self.ground_factor(&at) {
            Err(closure) => Travel::closed(closure, f32::NAN),
            Ok(factor) => {
                let limit_km_h = KM_PER_NAUTICAL_MILE * f64::from(at(Quantity::SPEED_LIMIT));
                let speed_km_h = factor * self.spec.vehicles.speed_km_h;
                // False for a limit that is not a number: there is none.
                let limited = limit_km_h < speed_km_h;
                let slowed = if limited { (limit_km_h / speed_km_h).max(1.0e-3) } else { 1.0 };
                Travel {
                    pace_h_per_km: (self.level_pace_h_per_km / (factor * slowed)) as f32,
                    burn_t_per_h: self.burn_t_per_h,
                    risk_index: f32::NAN,
                    elevated: false,
                    closure: Closure::Open,
                }
            }
        }
    }
}

/// From this mass up the formulae of bearing capacity have been shown unsafe: a dozer of 40 t and an
/// excavator of 53 t exceed the flexural strength by more than half (seen in an abstract on the
/// limitations of Gold's formula).
const HEAVY_PLANT_T: f64 = 40.0;

pub(super) fn tonnes(litres: f64, fuel: &PartyFuel) -> f64 {
    litres * fuel.density_kg_per_l / 1000.0
}

const READS: [Quantity; 9] = [
    Quantity::LAND,
    Quantity::SHELF,
    Quantity::ICE_CONCENTRATION,
    Quantity::ICE_THICKNESS,
    Quantity::ICE_MELTING,
    Quantity::CLOSED,
    Quantity::SPEED_LIMIT,
    SURFACE_SLOPE,
    Quantity::CREVASSES,
];

impl Craft for TrackedParty {
    fn name(&self) -> String {
        self.spec.name.clone()
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "tracked party".into(),
            source: match self.spec.bearing.convention {
                BearingConvention::Gold { .. } => "bearing capacity: Gold 1971",
                BearingConvention::ArmyManual => "bearing capacity: UFC 3-130-01",
                BearingConvention::RussianRule => "bearing capacity: NRC TT-863",
            }
            .into(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let spec = &self.spec;
        let mut texts = vec![
            format!(
                "cold floating ice bears the heaviest vehicle of {} t from {:.2} m of mean thickness: \
                 A = {:.2} kg/cm2 ({}), sea ice {} as strong as fresh{}, thinnest place 1/{} of \
                 the mean",
                spec.vehicles.heaviest_t,
                self.needed_thickness_m,
                spec.bearing.convention.a_kg_per_cm2(),
                spec.bearing.convention.risk(),
                spec.bearing.sea_ice_factor,
                if spec.bearing.stands { ", halved for standing loads" } else { "" },
                spec.bearing.thickness_margin,
            ),
            self.melt.assumption(spec.bearing.melt.season, self.needed_melting_m),
            format!(
                "the ground leaves {} of the speed on sea ice, {} on shelf and {} on the ice \
                 sheet, and {} of that at a slope of {} degrees: stated, not measured",
                spec.ground.sea_ice,
                spec.ground.shelf,
                spec.ground.ice_sheet,
                spec.ground.greatest_slope,
                spec.greatest_slope_deg
            ),
            format!("{} hours of travel in 24", spec.travel_hours_per_day),
            match spec.fuel.load {
                BurnLoad::Full => {
                    "burn is that of the full load throughout, which overstates it as fuel burns off"
                        .into()
                }
                BurnLoad::Falling => {
                    "burn is the mean over a march that leaves the reserve alone, as the load falls: \
                     what a shorter march leaves is overstated"
                        .into()
                }
            },
            "crevasses are only where the chart has them: the way must be proved by radar".into(),
        ];
        if spec.vehicles.heaviest_t >= HEAVY_PLANT_T {
            texts.push(
                "caution: bearing capacity by the square of thickness is unsafe for heavy plant, \
                 whose tracks overstress the ice"
                    .into(),
            );
        }
        if spec.unknown_slope == UnknownSlope::Level {
            texts.push("land without a slope is taken for level".into());
        }
        texts.into_iter().map(|text| Assumption::new("craft", text)).collect()
    }

    fn mode(&self) -> CraftMode {
        CraftMode::OverIce
    }

    fn reads(&self) -> Vec<Quantity> {
        READS.to_vec()
    }

    fn settings(&self) -> Vec<PowerSetting> {
        vec![PowerSetting { name: "marching".into(), fraction: 1.0 }]
    }

    fn stores(&self) -> Stores {
        let capacity_t = tonnes(self.spec.fuel.capacity_l, &self.spec.fuel);
        Stores {
            capacity_t,
            reserve_t: capacity_t * self.spec.fuel.reserve_fraction,
            hold_t_per_h: tonnes(self.spec.vehicles.idle_l_per_h, &self.spec.fuel),
        }
    }

    fn travel(
        &self,
        cells: &CellBatch<'_>,
        _setting: usize,
        _sector: u16,
        out: &mut [Travel],
    ) -> Result<(), Error> {
        let columns = READS.map(|quantity| (quantity, cells.column(quantity)));
        for (index, travel) in out.iter_mut().enumerate() {
            *travel = self.travel_at(|wanted| {
                columns
                    .iter()
                    .find(|(quantity, _)| *quantity == wanted)
                    .and_then(|(_, values)| values.and_then(|values| values.get(index)))
                    .copied()
                    .unwrap_or(f32::NAN)
            });
        }
        Ok(())
    }
}
