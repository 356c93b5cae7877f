//! The kind `icebreaker`: a ship in ice and open water, from the published relations of this crate.

mod build;
mod cautions;
mod cells;
mod demo;
mod heavy;
mod land_ice;
mod sailing;
mod spec;
mod weather;

pub use demo::{DemoIcebreakerSpec, DemoModel};
pub use heavy::HeavyWeather;
pub use land_ice::{LandIceRules, LandIceView};
pub use spec::{
    CautiousIce, ChannelForm, DepthDoubt, EquivalentThickness, Fuel, IceRules, IcebreakerSpec,
    Machinery, Propellers, Reserve, SpecialConsideration, ThicknessRule, UnknownDepth, UnknownIce,
};
pub use weather::{WeatherLoss, WeatherRules};

use dipward_plugin::{
    Assumption, CellBatch, Craft, CraftMode, Error, Look, PowerSetting, Provenance, Quantity,
    Stores, Travel,
};

use self::{
    cells::{Columns, SeasonalRisk},
    land_ice::LandIce,
    sailing::Sailing,
    weather::Weather,
};
use crate::{
    HeavyFuelBan, Kwon, Propulsion, ResistanceFormula, SUN_ALTITUDE, SpeedCurve,
    StageOfDevelopment, specific_consumption_g_per_kwh,
};

/// Metres a second in a knot.
pub(crate) const M_S_PER_KN: f64 = 1852.0 / 3600.0;

/// A ship made ready to answer.
#[derive(Debug)]
struct Icebreaker {
    spec: IcebreakerSpec,
    risk: SeasonalRisk,
    propulsion: Propulsion,
    kwon: Option<Kwon>,
    settings: Vec<Setting>,
    heavy_fuel_ban: Option<HeavyFuelBan>,
}

/// One power setting, solved.
#[derive(Debug)]
struct Setting {
    fraction: f64,
    curve: SpeedCurve,
    burn_t_per_h: f32,
}

impl Icebreaker {
    fn new(
        spec: IcebreakerSpec,
        risk: SeasonalRisk,
        propulsion: Propulsion,
        kwon: Option<Kwon>,
        heavy_fuel_ban: Option<HeavyFuelBan>,
    ) -> Self {
        let settings = spec
            .power_settings
            .iter()
            .map(|&fraction| Setting {
                fraction,
                curve: SpeedCurve::solve(
                    spec.ice.resistance,
                    &spec.hull,
                    &spec.ice.strength,
                    &propulsion.at_fraction(fraction),
                ),
                burn_t_per_h: burn_t_per_h(&spec, fraction * spec.machinery.propulsion_kw) as f32,
            })
            .collect();
        Self { spec, risk, propulsion, kwon, settings, heavy_fuel_ban }
    }
}

/// Fuel an hour for a propulsion power, hotel load added.
fn burn_t_per_h(spec: &IcebreakerSpec, propulsion_kw: f64) -> f64 {
    let machinery = &spec.machinery;
    let power_kw = propulsion_kw + machinery.hotel_kw;
    let load = power_kw / (machinery.propulsion_kw + machinery.hotel_kw);
    let consumption = specific_consumption_g_per_kwh(
        machinery.specific_consumption_g_per_kwh,
        machinery.load_curve,
        load,
    );
    power_kw * consumption / 1.0e6
}

impl Craft for Icebreaker {
    fn name(&self) -> String {
        self.spec.name.clone()
    }

    fn provenance(&self) -> Provenance {
        let resistance = match self.spec.ice.resistance {
            ResistanceFormula::Riska => "Riska et al. 1997 (WNRB report 52)",
            ResistanceFormula::Lindqvist => "Lindqvist 1989 (POAC)",
        };
        Provenance {
            name: format!("icebreaker, {}", self.spec.ice_class),
            source: format!(
                "MSC.1/Circ.1519 (POLARIS); level ice by {resistance}; net thrust by Riska et al. \
                 1997; open water by the cube law"
            ),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        build::assumptions(&self.spec, self.kwon, self.heavy_fuel_ban)
    }

    fn mode(&self) -> CraftMode {
        CraftMode::Ship
    }

    fn reads(&self) -> Vec<Quantity> {
        let mut reads = vec![
            Quantity::LAND,
            Quantity::SHELF,
            Quantity::ELEVATION,
            Quantity::ICE_CONCENTRATION,
            Quantity::ICE_THICKNESS,
            Quantity::ICE_VOLUME_PER_AREA,
            Quantity::CLOSED,
            Quantity::SPEED_LIMIT,
        ];
        if self.spec.depth_doubt == DepthDoubt::Smaller {
            reads.push(Quantity::DEPTH_DOUBT);
        }
        if self.risk.has_decayed() {
            reads.push(Quantity::ICE_MELTING);
        }
        reads.extend(self.spec.land_ice.reads());
        let weather = &self.spec.weather;
        // Heavy weather stops a ship that no lighter one slows.
        reads.extend([Quantity::WIND_GRID_EAST, Quantity::WIND_GRID_NORTH, Quantity::WAVE_HEIGHT]);
        if weather.loss.is_some() {
            reads.extend([Quantity::WAVES_GRID_EAST, Quantity::WAVES_GRID_NORTH]);
        }
        reads.extend(weather.night_speed_kn.map(|_| SUN_ALTITUDE));
        reads.extend(weather.fog_speed_kn.map(|_| Quantity::VISIBILITY));
        reads.extend(Quantity::ICE_PARTIALS);
        // A rule of the weather and one of the view may want the same.
        let mut distinct: Vec<Quantity> = Vec::with_capacity(reads.len());
        for quantity in reads {
            if !distinct.contains(&quantity) {
                distinct.push(quantity);
            }
        }
        distinct
    }

    fn settings(&self) -> Vec<PowerSetting> {
        self.settings
            .iter()
            .map(|setting| PowerSetting {
                name: format!("{} %", (setting.fraction * 1000.0).round() / 10.0),
                fraction: setting.fraction,
            })
            .collect()
    }

    fn sectors(&self) -> u16 {
        if self.kwon.is_some() { weather::SECTORS } else { 1 }
    }

    fn stores(&self) -> Stores {
        self.spec.stores()
    }

    fn caution_reads(&self) -> Vec<Quantity> {
        vec![
            Quantity::WAVES_GRID_EAST,
            Quantity::WAVES_GRID_NORTH,
            Quantity::WAVE_PERIOD,
            Quantity::AIR_TEMPERATURE,
            Quantity::SEA_TEMPERATURE,
        ]
    }

    fn cautions(&self, look: &Look<'_>) -> Vec<String> {
        cautions::cautions(&self.spec, look)
    }

    fn travel(
        &self,
        cells: &CellBatch<'_>,
        setting: usize,
        sector: u16,
        out: &mut [Travel],
    ) -> Result<(), Error> {
        let setting = self.settings.get(setting).ok_or_else(|| {
            Error::Outside(format!("the ship has {} power settings", self.settings.len()))
        })?;
        let columns = Columns::of(cells);
        self.check_columns(&columns)?;
        let sailing = Sailing::new(self, setting, sector);
        let Some(land_ice) = LandIce::of(&self.spec, &columns, out.len()) else {
            for (index, travel) in out.iter_mut().enumerate() {
                *travel = sailing.travel(&columns, index);
            }
            return Ok(());
        };
        let limited = Columns { speed_limit: Some(land_ice.limits_kn()), ..columns };
        for (index, travel) in out.iter_mut().enumerate() {
            *travel = land_ice.marked(&columns, index, sailing.travel(&limited, index));
        }
        Ok(())
    }
}

impl Icebreaker {
    /// A column that is missing from the whole chart is a mistake to be told, not a sea of closed
    /// cells.
    fn check_columns(&self, columns: &Columns<'_>) -> Result<(), Error> {
        if columns.elevation.is_none() && self.spec.unknown_depth == UnknownDepth::Refuse {
            return Err(Error::Outside(
                "the chart has no `elevation`: add a layer of depths, or let the ship say \
                 `unknown_depth: pass`"
                    .into(),
            ));
        }
        if columns.concentration.is_none()
            && columns.partials.iter().any(Option::is_none)
            && self.spec.unknown_ice == UnknownIce::Refuse
        {
            return Err(Error::Outside(
                "the chart has no `ice_concentration`: add a layer of ice, or let the ship say \
                 `unknown_ice: cautious`"
                    .into(),
            ));
        }
        self.spec.land_ice.check_columns(columns)?;
        weather::check_columns(&self.spec.weather, columns)
    }
}

impl IcebreakerSpec {
    /// What the spec says of fuel, as the planner wants it.
    fn stores(&self) -> Stores {
        let usable_t = self.fuel.capacity_t * (1.0 - self.fuel.unpumpable_fraction);
        let hold_t_per_h = burn_t_per_h(self, self.machinery.station_keeping_kw);
        let reserve = &self.fuel.reserve;
        Stores {
            capacity_t: usable_t,
            reserve_t: reserve.fraction * usable_t
                + reserve.besetment_days * 24.0 * burn_t_per_h(self, 0.0),
            hold_t_per_h,
        }
    }

    /// The risk value of ice whose stage nobody knows.
    fn cautious_stage(&self) -> StageOfDevelopment {
        self.cautious_ice.stage
    }
}
