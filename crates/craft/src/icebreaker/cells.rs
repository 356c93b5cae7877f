//! What the chart says of one cell, brought into one form.

use dipward_plugin::{CellBatch, Quantity};

use super::{IcebreakerSpec, UnknownIce};
use crate::{IceSeason, RiskValues, SUN_ALTITUDE, StageOfDevelopment};

/// The columns that a ship reads.
#[derive(Clone, Copy)]
pub(super) struct Columns<'a> {
    pub(super) land: Option<&'a [f32]>,
    pub(super) shelf: Option<&'a [f32]>,
    pub(super) elevation: Option<&'a [f32]>,
    pub(super) depth_doubt: Option<&'a [f32]>,
    pub(super) concentration: Option<&'a [f32]>,
    pub(super) thickness: Option<&'a [f32]>,
    pub(super) volume_per_area: Option<&'a [f32]>,
    pub(super) melting: Option<&'a [f32]>,
    pub(super) land_ice: Option<&'a [f32]>,
    pub(super) berg_distance: Option<&'a [f32]>,
    pub(super) closed: Option<&'a [f32]>,
    pub(super) speed_limit: Option<&'a [f32]>,
    pub(super) wind_grid_east: Option<&'a [f32]>,
    pub(super) wind_grid_north: Option<&'a [f32]>,
    pub(super) wave_height: Option<&'a [f32]>,
    pub(super) waves_grid_east: Option<&'a [f32]>,
    pub(super) waves_grid_north: Option<&'a [f32]>,
    pub(super) wave_period: Option<&'a [f32]>,
    pub(super) air_temperature: Option<&'a [f32]>,
    pub(super) sea_temperature: Option<&'a [f32]>,
    pub(super) sun_altitude: Option<&'a [f32]>,
    pub(super) visibility: Option<&'a [f32]>,
    pub(super) partials: [Option<&'a [f32]>; 11],
}

impl<'a> Columns<'a> {
    pub(super) fn of(cells: &CellBatch<'a>) -> Self {
        Self {
            land: cells.column(Quantity::LAND),
            shelf: cells.column(Quantity::SHELF),
            elevation: cells.column(Quantity::ELEVATION),
            depth_doubt: cells.column(Quantity::DEPTH_DOUBT),
            concentration: cells.column(Quantity::ICE_CONCENTRATION),
            thickness: cells.column(Quantity::ICE_THICKNESS),
            volume_per_area: cells.column(Quantity::ICE_VOLUME_PER_AREA),
            melting: cells.column(Quantity::ICE_MELTING),
            land_ice: cells.column(Quantity::LAND_ICE),
            berg_distance: cells.column(Quantity::BERG_DISTANCE),
            closed: cells.column(Quantity::CLOSED),
            speed_limit: cells.column(Quantity::SPEED_LIMIT),
            wind_grid_east: cells.column(Quantity::WIND_GRID_EAST),
            wind_grid_north: cells.column(Quantity::WIND_GRID_NORTH),
            wave_height: cells.column(Quantity::WAVE_HEIGHT),
            waves_grid_east: cells.column(Quantity::WAVES_GRID_EAST),
            waves_grid_north: cells.column(Quantity::WAVES_GRID_NORTH),
            wave_period: cells.column(Quantity::WAVE_PERIOD),
            air_temperature: cells.column(Quantity::AIR_TEMPERATURE),
            sea_temperature: cells.column(Quantity::SEA_TEMPERATURE),
            sun_altitude: cells.column(SUN_ALTITUDE),
            visibility: cells.column(Quantity::VISIBILITY),
            partials: Quantity::ICE_PARTIALS.map(|quantity| cells.column(quantity)),
        }
    }
}

/// A column's value, or not a number where there is none.
#[inline]
pub(super) fn value(column: Option<&[f32]>, index: usize) -> f32 {
    column.and_then(|values| values.get(index)).copied().unwrap_or(f32::NAN)
}

/// Whether a flag is up; a flag that nobody set is down.
#[inline]
pub(super) fn flag(column: Option<&[f32]>, index: usize) -> bool {
    value(column, index) > 0.5
}

/// The risk index values of a ship, by the season of the ice.
#[derive(Debug)]
pub(super) struct SeasonalRisk {
    normal: RiskValues,
    /// For decayed ice, where the user states them.
    decayed: Option<RiskValues>,
}

impl SeasonalRisk {
    pub(super) fn new(normal: RiskValues, decayed: Option<RiskValues>) -> Self {
        Self { normal, decayed }
    }

    pub(super) fn has_decayed(&self) -> bool {
        self.decayed.is_some()
    }

    /// Those of decayed ice where it is known that the ice melts.
    #[inline]
    fn at(&self, columns: &Columns<'_>, index: usize, season: IceSeason) -> &RiskValues {
        self.decayed
            .as_ref()
            .filter(|_| season.melts(value(columns.melting, index)) == Some(true))
            .unwrap_or(&self.normal)
    }
}

/// The ice of one cell with every gap filled as the scenario says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CellIce {
    pub(super) concentration: f64,
    pub(super) thickness_m: f64,
    pub(super) risk_index: f64,
}

impl CellIce {
    /// `None` where the ice is unknown and the scenario refuses to guess.
    pub(super) fn read(
        columns: &Columns<'_>,
        index: usize,
        spec: &IcebreakerSpec,
        risk: &SeasonalRisk,
    ) -> Option<Self> {
        let risk = risk.at(columns, index, spec.ice.season);
        // `max` passes over what is not a number.
        let land_ice = f64::from(value(columns.land_ice, index)).max(0.0);
        let open = Self {
            concentration: 0.0,
            thickness_m: 0.0,
            risk_index: with_land_ice(risk, (0.0, 0.0), land_ice),
        };
        let stated = f64::from(value(columns.concentration, index)).clamp(0.0, 1.0);
        // Open water needs no stage and no thickness.
        if stated < NEGLIGIBLE {
            return Some(open);
        }
        let typed = Typed::read(columns, index, risk);
        let concentration = match (stated.is_nan(), typed) {
            (false, None) => stated,
            // Where two sources disagree, the more ice.
            (false, Some(typed)) => stated.max(typed.total),
            (true, Some(typed)) => typed.total,
            (true, None) => {
                return match spec.unknown_ice {
                    UnknownIce::Refuse => None,
                    UnknownIce::Pass => Some(open),
                    UnknownIce::Cautious => Some(cautious(spec, risk, land_ice)),
                };
            }
        };
        if concentration < NEGLIGIBLE {
            return Some(open);
        }
        let measured_m = measured_m(columns, index, concentration);
        let typed = typed.unwrap_or_default();
        let untyped = concentration - typed.total;
        let mut total = typed.total;
        let mut weighted = typed.weighted;
        let mut volume_m = typed.volume_m;
        if untyped > TOLERATED {
            let (stage, thickness_m) = match measured_m
                .and_then(|thickness_m| Some((spec.ice_age.stage(thickness_m)?, thickness_m)))
            {
                Some(known) => known,
                None if spec.unknown_ice == UnknownIce::Refuse => return None,
                None => (spec.cautious_stage(), spec.cautious_ice.thickness_m),
            };
            total += untyped;
            weighted += untyped * f64::from(risk.value(Some(stage)));
            volume_m += untyped * thickness_m;
        }
        // What the chart tells as a stage is there already.
        let uncounted = land_ice - typed.heaviest;
        Some(Self {
            concentration,
            thickness_m: measured_m.unwrap_or(volume_m / total.max(NEGLIGIBLE)),
            risk_index: with_land_ice(risk, (total, weighted), uncounted),
        })
    }
}

/// The chart's thickness where there is ice: stated, or by the volume over the area.
#[inline]
fn measured_m(columns: &Columns<'_>, index: usize, concentration: f64) -> Option<f64> {
    let thickness_m = f64::from(value(columns.thickness, index));
    let volume_m = f64::from(value(columns.volume_per_area, index));
    let measured_m = if thickness_m.is_finite() { thickness_m } else { volume_m / concentration };
    measured_m.is_finite().then_some(measured_m.max(0.0))
}

/// The risk index outcome of sums over the sea ice, with ice of land origin that is not in them: it
/// counts as heavy multi-year ice, for POLARIS gives it no value.
#[inline]
fn with_land_ice(risk: &RiskValues, (total, weighted): (f64, f64), land_ice: f64) -> f64 {
    let land_ice = land_ice.clamp(0.0, 1.0);
    let heaviest = f64::from(risk.value(Some(StageOfDevelopment::HeavyMultiYear)));
    risk.outcome_of_sums(total + land_ice, weighted + land_ice * heaviest)
}

/// Less ice than this is open water.
const NEGLIGIBLE: f64 = 1.0e-6;
/// Ice without a stage up to this much is a rounding of tenths, and counts as open water.
const TOLERATED: f64 = 0.005;

/// Sums over the ice of known stage.
#[derive(Debug, Clone, Copy, Default)]
struct Typed {
    total: f64,
    weighted: f64,
    volume_m: f64,
    /// Heavy multi-year ice, as which ice of land origin counts.
    heaviest: f64,
}

impl Typed {
    /// `None` where any of the partial concentrations is unknown.
    #[inline]
    fn read(columns: &Columns<'_>, index: usize, risk: &RiskValues) -> Option<Self> {
        let mut sums = Self::default();
        for ((column, stage), &risk_value) in
            columns.partials.iter().zip(StageOfDevelopment::ALL).zip(&risk.values()[1..])
        {
            let part = f64::from(value(*column, index)).clamp(0.0, 1.0);
            sums.total += part;
            sums.weighted += part * f64::from(risk_value);
            sums.volume_m += part * stage.thickness_m();
            // The last is the heaviest.
            sums.heaviest = part;
        }
        if sums.total.is_nan() {
            return None;
        }
        if sums.total > 1.0 {
            let scale = 1.0 / sums.total;
            sums = Self {
                total: 1.0,
                weighted: sums.weighted * scale,
                volume_m: sums.volume_m * scale,
                heaviest: sums.heaviest * scale,
            };
        }
        Some(sums)
    }
}

fn cautious(spec: &IcebreakerSpec, risk: &RiskValues, land_ice: f64) -> CellIce {
    let ice = &spec.cautious_ice;
    let weighted = ice.concentration * f64::from(risk.value(Some(ice.stage)));
    CellIce {
        concentration: ice.concentration,
        thickness_m: ice.thickness_m,
        risk_index: with_land_ice(risk, (ice.concentration, weighted), land_ice),
    }
}
