//! The keys of the kind.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{LandIceRules, WeatherRules};
use crate::{
    FuelKind, Hull, IceAge, IceClass, IceSeason, IceStrength, LoadCurve, Oil, PropellerKind,
    ResistanceFormula, StageOfDevelopment,
};

/// A ship. Kind `icebreaker`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IcebreakerSpec {
    /// The ship's name.
    #[serde(default = "default_name")]
    pub name: String,
    /// Ice class.
    pub ice_class: IceClass,
    /// Hull.
    pub hull: Hull,
    /// Engines and propellers.
    pub machinery: Machinery,
    /// Fuel.
    pub fuel: Fuel,
    /// The power settings to choose from, as fractions of the full propulsion power, the greatest
    /// first.
    #[serde(default = "default_settings")]
    #[schemars(length(min = 1, max = 16), inner(range(min = 0.01, max = 1.0)))]
    pub power_settings: Vec<f64>,
    /// Water wanted under the keel.
    #[serde(default = "default_clearance")]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub under_keel_clearance_m: f64,
    /// What a disagreement of depth sets means.
    #[serde(default)]
    pub depth_doubt: DepthDoubt,
    /// What unknown depth means.
    #[serde(default)]
    pub unknown_depth: UnknownDepth,
    /// What unknown ice means.
    #[serde(default)]
    pub unknown_ice: UnknownIce,
    /// The ice that stands in for unknown ice.
    #[serde(default)]
    pub cautious_ice: CautiousIce,
    /// The oldest ice of the waters, for ice that the chart gives a thickness and no stage: thickness does
    /// not tell old ice from first-year ice.
    #[serde(default)]
    pub ice_age: IceAge,
    /// What the ship does among ice of land origin.
    #[serde(default)]
    pub land_ice: LandIceRules,
    /// How the ship behaves in ice.
    #[serde(default)]
    pub ice: IceRules,
    /// What wind, waves, night and fog do to the ship.
    #[serde(default)]
    pub weather: WeatherRules,
}

/// Engines and propellers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Machinery {
    /// Installed propulsion power, of all propellers together.
    #[schemars(range(min = 10.0, max = 200_000.0))]
    pub propulsion_kw: f64,
    /// Propellers.
    pub propellers: Propellers,
    /// Speed at full power in open, calm water.
    #[schemars(range(min = 1.0, max = 50.0))]
    pub open_water_speed_kn: f64,
    /// The greatest speed at which the ship is sailed, in the seas that she meets; without it, 77.5 %
    /// of `open_water_speed_kn`. Source of the share: an icebreaking supply ship of 16 knots made
    /// 12.4 on average in 227 hours under way between 45 and 60 S in the summer of 2021/22
    /// (underway data of RSV Nuyina, Australian Antarctic Data Centre, CC BY 4.0).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 50.0))]
    pub service_speed_kn: Option<f64>,
    /// Power for all else than propulsion.
    #[schemars(range(min = 0.0, max = 50_000.0))]
    pub hotel_kw: f64,
    /// Propulsion power while keeping station.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 200_000.0))]
    pub station_keeping_kw: f64,
    /// Fuel for a kilowatt hour at the best load.
    #[schemars(range(min = 50.0, max = 1000.0))]
    pub specific_consumption_g_per_kwh: f64,
    /// How consumption goes with load.
    #[serde(default)]
    pub load_curve: LoadCurve,
}

impl Machinery {
    /// The share of the speed at full power in calm water at which a ship is sailed that says
    /// nothing else: 12.4 of 16 knots.
    pub const SERVICE_SHARE: f64 = 0.775;

    /// The greatest speed at which the ship is sailed.
    #[must_use]
    pub fn service_kn(&self) -> f64 {
        self.service_speed_kn.unwrap_or(Self::SERVICE_SHARE * self.open_water_speed_kn)
    }
}

/// Propellers, of which the bollard pull is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Propellers {
    /// How many.
    #[schemars(range(min = 1, max = 3))]
    pub number: u32,
    /// Diameter.
    #[schemars(range(min = 0.3, max = 12.0))]
    pub diameter_m: f64,
    /// Kind.
    #[serde(default)]
    pub kind: PropellerKind,
}

/// Fuel and what of it must come home.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fuel {
    /// Kind.
    #[serde(default)]
    pub kind: FuelKind,
    /// Density at 15 C, kg/m3, by the bunker delivery note; without it, the most of the kind's
    /// grades. Over 900 the fuel is heavy by law. An oil's alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 700.0, max = 1100.0))]
    pub density_kg_m3: Option<f64>,
    /// Kinematic viscosity at 50 C, mm2/s, by the bunker delivery note; without it, the most of the
    /// kind's grades. Over 180 the fuel is heavy by law. An oil's alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 2000.0))]
    pub viscosity_mm2_s: Option<f64>,
    /// Fuel aboard when leaving port.
    #[schemars(range(max = 50_000.0), extend("exclusiveMinimum" = 0))]
    pub capacity_t: f64,
    /// Whether the fuel tanks are protected (MARPOL Annex I regulation 12A or Polar Code II-A
    /// 1.2.1), which puts the Arctic ban on heavy fuel oil off to 1 July 2029.
    #[serde(default)]
    pub protected_tanks: bool,
    /// The part that the pumps cannot reach; 1 to 3 % is usual (from memory).
    #[serde(default = "default_unpumpable")]
    #[schemars(range(min = 0.0, max = 0.5))]
    pub unpumpable_fraction: f64,
    /// What must be left on return.
    #[serde(default)]
    pub reserve: Reserve,
}

impl Fuel {
    /// The fuel as the bans see it: what is stated of it, and else what its grades may have. Nothing
    /// for what is no oil.
    #[must_use]
    pub fn oil(&self) -> Option<Oil> {
        let grade = self.kind.heaviest_grade()?;
        Some(Oil {
            density_kg_m3: self.density_kg_m3.unwrap_or(grade.density_kg_m3),
            viscosity_mm2_s: self.viscosity_mm2_s.unwrap_or(grade.viscosity_mm2_s),
        })
    }
}

/// Fuel that must be left on return: a part of the usable fuel, and hotel load for days beset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Reserve {
    /// Part of the usable fuel. 20 % is a rule of thumb of several handbooks.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub fraction: f64,
    /// Days of hotel load. Polar practice is 5 to 10 (from memory); the Polar Code's time to rescue
    /// is at least 5.
    #[schemars(range(min = 0.0, max = 365.0))]
    pub besetment_days: f64,
}

impl Default for Reserve {
    fn default() -> Self {
        Self { fraction: 0.2, besetment_days: 5.0 }
    }
}

/// What a disagreement of depth sets means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DepthDoubt {
    /// The depth is divided by the ratio at which the sets disagree.
    #[default]
    Smaller,
    /// Nothing.
    Ignore,
}

/// What unknown depth means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnknownDepth {
    /// The cell is closed.
    #[default]
    Refuse,
    /// The cell is deep enough.
    Pass,
}

/// What unknown ice means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnknownIce {
    /// The cell is closed.
    Refuse,
    /// `cautious_ice` stands in.
    #[default]
    Cautious,
    /// Open water; where the concentration alone is known, `cautious_ice` still gives the stage and
    /// the thickness.
    Pass,
}

/// The ice that stands in for unknown ice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CautiousIce {
    /// Concentration, 0 to 1.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub concentration: f64,
    /// Stage of development.
    pub stage: StageOfDevelopment,
    /// Thickness.
    #[schemars(range(min = 0.0, max = 20.0))]
    pub thickness_m: f64,
}

impl Default for CautiousIce {
    /// All heavy multi-year ice: no ice that a chart can tell is worse, to any class.
    fn default() -> Self {
        let stage = StageOfDevelopment::HeavyMultiYear;
        Self { concentration: 1.0, stage, thickness_m: stage.thickness_m() }
    }
}

/// How the ship behaves in ice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct IceRules {
    /// The formula of level-ice resistance.
    pub resistance: ResistanceFormula,
    /// What the ice is made of, for Lindqvist's formula.
    pub strength: IceStrength,
    /// How broken and ridged ice is brought to level ice.
    pub equivalent_thickness: EquivalentThickness,
    /// Snow on the ice, of which a third counts as ice.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub snow_depth_m: f64,
    /// Continuous progress slower than this is no progress: the ship is beset.
    #[schemars(range(min = 0.05, max = 5.0))]
    pub least_speed_kn: f64,
    /// Whether the ship follows an icebreaker, which adds 10 to its risk index outcome.
    pub escorted: bool,
    /// What the Finnish-Swedish rules measure beside the hull; with it, the power is held against the
    /// least that they ask of the class.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub channel: Option<ChannelForm>,
    /// What is done where the risk index outcome calls for special consideration.
    pub special_consideration: SpecialConsideration,
    /// The season of the ice, where the chart's `ice_melting` does not tell it.
    pub season: IceSeason,
    /// Risk index values for decayed ice, a CSV of the user's own: one line a class, the class's
    /// name and 12 values. They are taken where it is known that the ice melts, by `season` or by the
    /// chart's `ice_melting`, and nowhere else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decayed_values: Option<PathBuf>,
}

impl Default for IceRules {
    fn default() -> Self {
        Self {
            resistance: ResistanceFormula::default(),
            strength: IceStrength::default(),
            equivalent_thickness: EquivalentThickness::default(),
            snow_depth_m: 0.0,
            least_speed_kn: 0.5,
            escorted: false,
            channel: None,
            special_consideration: SpecialConsideration::Close,
            season: IceSeason::Unknown,
            decayed_values: None,
        }
    }
}

/// What the Finnish-Swedish rules measure of a bow beside the keys of the hull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChannelForm {
    /// Area of the bow's waterplane.
    #[schemars(range(min = 1.0, max = 10_000.0))]
    pub bow_waterplane_m2: f64,
    /// Rake of the bow at a quarter of the beam (phi 2).
    #[schemars(range(min = 1.0, max = 90.0))]
    pub bow_rake_deg: f64,
}

/// How broken and ridged ice is brought to level ice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct EquivalentThickness {
    /// The rule.
    pub rule: ThicknessRule,
    /// Times this for ridges; 1 for none.
    #[schemars(range(min = 1.0, max = 5.0))]
    pub ridging_factor: f64,
    /// Concentration below which the ship finds its way between the floes: its speed goes linearly
    /// from that in open water to that of the h-v curve here. 0 to blend nowhere.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub free_concentration: f64,
}

impl Default for EquivalentThickness {
    fn default() -> Self {
        Self { rule: ThicknessRule::Proportional, ridging_factor: 1.0, free_concentration: 0.4 }
    }
}

/// How concentration is brought into the thickness of level ice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ThicknessRule {
    /// Thickness times concentration.
    #[default]
    Proportional,
    /// The thickness itself, as if the ice had no gaps.
    Full,
}

/// What is done where the risk index outcome calls for special consideration.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum SpecialConsideration {
    /// The cell is closed.
    #[default]
    Close,
    /// The ship goes on at this speed at most, and the route counts as elevated risk.
    Allow {
        /// The greatest speed.
        #[schemars(range(min = 0.5, max = 20.0))]
        speed_kn: f64,
    },
}

fn default_name() -> String {
    "icebreaker".into()
}

fn default_settings() -> Vec<f64> {
    vec![1.0, 0.75, 0.5]
}

fn default_clearance() -> f64 {
    10.0
}

fn default_unpumpable() -> f64 {
    0.02
}
