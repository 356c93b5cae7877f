//! Ships and over-ice vehicles: what ice they bear, how fast they go, at what fuel.
//!
//! The physics stand alone and can be called without a scenario:
//!
//! - ice: [`RiskValues`] (POLARIS), [`ResistanceFormula`] and [`Propulsion`] (level ice against net
//!   thrust), [`SpeedCurve`], [`MinimumPower`] (the Finnish-Swedish rules);
//! - open water: [`AdmiraltyConstant`], [`FuelKind`], [`Oil`], [`HeavyFuelBan`];
//! - weather: [`Kwon`] (speed lost in wind and waves), [`Seaway`] (dangers of following seas),
//!   [`SprayWeather`] (icing), [`Daylight`] and [`sun_in_sky`];
//! - heading: [`CompassZone`], [`GyroState`], and [`RouteMark`] for both;
//! - over ice: [`BearingConvention`], [`TraverseBurn`];
//! - in the air: [`Helicopter`], [`PointOfNoReturn`], [`CriticalPoint`], [`crossing_time`].
//!
//! The kinds build on them: [`IcebreakerSpec`], [`DemoIcebreakerSpec`], [`TrackedPartySpec`], the
//! last legs [`HelicopterSpec`] and [`OverIcePartySpec`], and the layer [`SunlightSpec`].
//!
//! Numbers that could not be confirmed in a source are said to be "from memory" where they stand,
//! and the kinds repeat that among their assumptions.

mod error;
mod flight;
mod heading;
mod ice;
mod icebreaker;
mod over_ice;
mod power;
mod quantities;
mod weather;

pub use error::Error;
pub use flight::{
    CriticalPoint, FlightFuelRule, FlightHindrance, Helicopter, HelicopterSpec, LandsOn,
    PointOfNoReturn, crossing_time, ground_speed, radius_of_action_nm,
};
pub use heading::{CompassZone, GyroState, RouteMark, deflection_deg, gyro_speed_error_deg};
pub use ice::{
    ChannelHull, ESCORT_ALLOWANCE, Hull, IceAge, IceClass, IceSeason, IceStrength, LevelIce,
    MinimumPower, Operation, PropellerKind, Propulsion, ResistanceFormula, RiskValues, Screw,
    SpeedCurve, StageOfDevelopment, bollard_pull_n, window_has_melt,
};
pub use icebreaker::{
    CautiousIce, ChannelForm, DemoIcebreakerSpec, DemoModel, DepthDoubt, EquivalentThickness, Fuel,
    HeavyWeather, IceRules, IcebreakerSpec, LandIceRules, LandIceView, Machinery, Propellers,
    Reserve, SpecialConsideration, ThicknessRule, UnknownDepth, UnknownIce, WeatherLoss,
    WeatherRules,
};
pub use over_ice::{
    Bearing, BearingConvention, BearingRisk, BurnLoad, Depot, DepotKeys, GroundFactors, IceDrift,
    Melt, OverIcePartySpec, PartyFuel, TrackedPartySpec, TraverseBurn, TraverseFailure,
    UnknownSlope, Vehicles, critical_speed_km_h,
};
pub use power::{
    AdmiraltyConstant, FuelKind, HeavyFuelBan, LoadCurve, Oil, economical_speed_kn,
    in_antarctic_area, in_arctic_waters, specific_consumption_g_per_kwh,
};
pub use quantities::{SUN_ALTITUDE, SURFACE_SLOPE};
pub use weather::{
    ApparentSun, Crossing, Daylight, FormFactor, IcingClass, Kwon, Seaway, SprayWeather, SunInSky,
    SunlightSpec, WaveCaution, beaufort_of_waves, beaufort_of_wind, encounter_period_s,
    freezing_point_c, high_sea, julian_day, limits_kn, refraction_deg, sidereal_time_deg,
    strong_wind, sun_in_sky, wind_m_s,
};
