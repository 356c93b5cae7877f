//! Speed, fuel and limits in one cell.

use dipward_plugin::{Closure, Travel};

use super::{
    DepthDoubt, Icebreaker, M_S_PER_KN, Setting, SpecialConsideration, ThicknessRule, UnknownDepth,
    Weather, burn_t_per_h,
    cells::{CellIce, Columns, flag, value},
    weather::WindAndSea,
};
use crate::{ESCORT_ALLOWANCE, Operation};

/// A ship at one power setting.
pub(super) struct Sailing<'a> {
    ship: &'a Icebreaker,
    setting: &'a Setting,
    open_water_m_s: f64,
    /// The greatest speed at which the ship is sailed in open water.
    greatest_m_s: f64,
    least_m_s: f64,
    least_depth_m: f32,
    allowance: f64,
    weather: Weather<'a>,
}

impl<'a> Sailing<'a> {
    pub(super) fn new(ship: &'a Icebreaker, setting: &'a Setting, sector: u16) -> Self {
        let spec = &ship.spec;
        let open_water_m_s = f64::from(setting.curve.speed_m_s(0.0));
        let greatest_m_s = (spec.machinery.service_kn() * M_S_PER_KN)
            .min(Weather::greatest_m_s(ship.kwon, &spec.hull));
        Self {
            ship,
            setting,
            open_water_m_s,
            greatest_m_s,
            weather: Weather::new(spec, ship.kwon, sector, open_water_m_s.min(greatest_m_s)),
            least_m_s: spec.ice.least_speed_kn * M_S_PER_KN,
            least_depth_m: (spec.hull.draught_m + spec.under_keel_clearance_m) as f32,
            allowance: if spec.ice.escorted { ESCORT_ALLOWANCE } else { 0.0 },
        }
    }

    #[inline]
    pub(super) fn travel(&self, columns: &Columns<'_>, index: usize) -> Travel {
        if let Some(closure) = self.closed_by_place(columns, index) {
            return Travel::closed(closure, f32::NAN);
        }
        let spec = &self.ship.spec;
        let Some(ice) = CellIce::read(columns, index, spec, &self.ship.risk) else {
            return Travel::closed(Closure::Unknown, f32::NAN);
        };
        let risk_index = ice.risk_index + self.allowance;
        let (elevated, risk_cap_kn) = match spec.ice_class.operation(risk_index) {
            Operation::Normal => (false, f64::INFINITY),
            Operation::Elevated => {
                (true, spec.ice_class.elevated_speed_kn().unwrap_or(f64::INFINITY))
            }
            Operation::SpecialConsideration => match spec.ice.special_consideration {
                SpecialConsideration::Close => {
                    return Travel::closed(Closure::RiskIndex, risk_index as f32);
                }
                SpecialConsideration::Allow { speed_kn } => (true, speed_kn),
            },
        };
        let equivalent_m = self.equivalent_thickness_m(&ice);
        let forced = self.forced(&ice);
        let calm_m_s = self.calm_speed_m_s(forced, equivalent_m);
        if calm_m_s.is_nan() || calm_m_s < self.least_m_s {
            return Travel::closed(Closure::Ice, risk_index as f32);
        }
        let weather = WindAndSea::read(columns, index);
        let kept = 1.0 - (1.0 - forced) * (1.0 - self.weather.kept(&weather));
        let free_m_s = kept * calm_m_s;
        let limit_kn = f64::from(value(columns.speed_limit, index));
        // `min` passes over a limit that is not a number.
        let cap_m_s = (risk_cap_kn.min(limit_kn).min(self.weather.cap_kn(columns, index))
            * M_S_PER_KN)
            .min(self.greatest_m_s);
        // Pack all about the ship lets no sea rise.
        let heavy = forced < 1.0 && weather.heavy(&spec.weather);
        let (speed_m_s, burn) = if heavy {
            let Some(heavy_kn) = spec.weather.heavy_weather.speed_kn() else {
                return Travel::closed(Closure::Weather, risk_index as f32);
            };
            // The burn of the setting is the most: heavy weather never burns less.
            (free_m_s.min(cap_m_s).min(heavy_kn * M_S_PER_KN), self.setting.burn_t_per_h)
        } else if free_m_s > cap_m_s {
            (cap_m_s, self.burn_at_t_per_h(equivalent_m, cap_m_s / kept))
        } else {
            (free_m_s, self.setting.burn_t_per_h)
        };
        Travel {
            pace_h_per_km: (1.0 / (3.6 * speed_m_s)) as f32,
            burn_t_per_h: burn,
            risk_index: risk_index as f32,
            elevated,
            closure: Closure::Open,
        }
    }

    /// Land, shelf, zones and depth.
    #[inline]
    fn closed_by_place(&self, columns: &Columns<'_>, index: usize) -> Option<Closure> {
        if flag(columns.land, index) {
            return Some(Closure::Land);
        }
        if flag(columns.shelf, index) {
            return Some(Closure::Shelf);
        }
        if flag(columns.closed, index) || value(columns.speed_limit, index) < SLOWEST_LIMIT_KN {
            return Some(Closure::Zone);
        }
        let elevation_m = value(columns.elevation, index);
        if elevation_m.is_nan() {
            return match self.ship.spec.unknown_depth {
                UnknownDepth::Refuse => Some(Closure::Depth),
                UnknownDepth::Pass => None,
            };
        }
        let doubt = match self.ship.spec.depth_doubt {
            // `max` passes over a doubt that is not a number.
            DepthDoubt::Smaller => value(columns.depth_doubt, index).max(1.0),
            DepthDoubt::Ignore => 1.0,
        };
        // Written so that infinite doubt about infinite depth closes the cell.
        if -elevation_m / doubt >= self.least_depth_m { None } else { Some(Closure::Depth) }
    }

    /// The thickness of level ice that would hold the ship up as much as this ice does.
    #[inline]
    fn equivalent_thickness_m(&self, ice: &CellIce) -> f64 {
        let rules = &self.ship.spec.ice;
        if ice.concentration <= 0.0 {
            return 0.0;
        }
        // A third of the snow counts as ice (from memory, Lindqvist 1989).
        let thickness_m = ice.thickness_m + rules.snow_depth_m / 3.0;
        let share = match rules.equivalent_thickness.rule {
            ThicknessRule::Proportional => ice.concentration,
            ThicknessRule::Full => 1.0,
        };
        thickness_m * share * rules.equivalent_thickness.ridging_factor
    }

    /// How much of the way leads through ice: all of it from the free concentration up, below which
    /// the ship finds leads.
    #[inline]
    fn forced(&self, ice: &CellIce) -> f64 {
        let free = self.ship.spec.ice.equivalent_thickness.free_concentration;
        if ice.concentration >= free { 1.0 } else { ice.concentration / free }
    }

    /// Speed at the setting without wind and waves: that of the h-v curve and that in open water,
    /// blended.
    #[inline]
    fn calm_speed_m_s(&self, forced: f64, equivalent_m: f64) -> f64 {
        let in_ice = f64::from(self.setting.curve.speed_m_s(equivalent_m as f32));
        self.open_water_m_s * (1.0 - forced) + in_ice * forced
    }

    /// Fuel an hour at less speed than the setting gives: the power that this speed needs, which
    /// below the free concentration is taken as if the ice could not be gone round.
    fn burn_at_t_per_h(&self, equivalent_m: f64, speed_m_s: f64) -> f32 {
        let Icebreaker { spec, propulsion, .. } = self.ship;
        let ice = spec.ice.resistance.level_ice(&spec.hull, &spec.ice.strength, equivalent_m);
        let needed = propulsion.fraction_needed(ice.at_n(speed_m_s), speed_m_s);
        let fraction = needed.min(self.setting.fraction);
        burn_t_per_h(spec, fraction * spec.machinery.propulsion_kw) as f32
    }
}

/// A limit below this is a closure in all but name.
const SLOWEST_LIMIT_KN: f32 = 0.05;
