//! The kinds that come with the library: one visible list.

use dipward_plugin::{DuplicateKind, Registry};

use crate::{criteria, policies};

/// Adds every kind of the science rooms. The writers are added by `dipward_report::register`.
///
/// # Errors
///
/// [`DuplicateKind`] where the registry has one of the kinds already.
pub fn register(registry: &mut Registry) -> Result<(), DuplicateKind> {
    registry
        .register::<dipward_field::kinds::Igrf14Spec>()?
        .register::<dipward_field::kinds::Wmm2025Spec>()?
        .register::<dipward_field::kinds::CoefficientsSpec>()?
        .register::<dipward_field::kinds::SurveyedSpec>()?
        .register::<dipward_field::kinds::QuietSpec>()?
        .register::<dipward_field::kinds::KpHistorySpec>()?
        .register::<dipward_field::kinds::KpYearSpec>()?
        .register::<dipward_field::kinds::KpForecastSpec>()?
        .register::<dipward_field::kinds::KpOutlookSpec>()?
        .register::<dipward_field::kinds::RecordedSpec>()?
        .register::<dipward_field::kinds::AmpsSpec>()?
        .register::<dipward_field::kinds::HistorySpec>()?
        .register::<dipward_field::kinds::YearSpec>()?
        .register::<dipward_field::kinds::ForecastSpec>()?
        .register::<dipward_field::kinds::OutlookSpec>()?
        .register::<dipward_field::kinds::ObservedSpec>()?
        .register::<dipward_field::kinds::StatedSpec>()?
        .register::<dipward_field::kinds::LearntSpec>()?
        .register::<dipward_field::amps::AmpsResponseSpec>()?
        .register::<dipward_field::kinds::NoResponseSpec>()?
        .register::<dipward_chart::CoastSpec>()?
        .register::<dipward_chart::DepthSpec>()?
        .register::<dipward_chart::IceChartSpec>()?
        .register::<dipward_chart::ConcentrationGeotiffSpec>()?
        .register::<dipward_chart::ConcentrationNetcdfSpec>()?
        .register::<dipward_chart::ConcentrationNsidcSpec>()?
        .register::<dipward_chart::ForecastGribSpec>()?
        .register::<dipward_chart::RasterSpec>()?
        .register::<dipward_chart::ClimatologySpec>()?
        .register::<dipward_chart::HazardsSpec>()?
        .register::<dipward_chart::BlendSpec>()?
        .register::<dipward_chart::ZonesSpec>()?
        .register::<dipward_chart::ConstantSpec>()?
        .register::<dipward_craft::IcebreakerSpec>()?
        .register::<dipward_craft::DemoIcebreakerSpec>()?
        .register::<dipward_craft::TrackedPartySpec>()?
        .register::<dipward_craft::SunlightSpec>()?
        .register::<dipward_craft::HelicopterSpec>()?
        .register::<dipward_craft::OverIcePartySpec>()?
        .register::<policies::HoldSpec>()?
        .register::<policies::AmbushSpec>()?
        .register::<policies::PursueSpec>()?
        .register::<policies::DriftAcrossSpec>()?
        .register::<dipward_search::GridSpec>()?
        .register::<criteria::AttainmentSpec>()?
        .register::<criteria::ClosestApproachSpec>()?
        .register::<criteria::ArrivalSpec>()?
        .register::<criteria::PassageSpec>()?
        .register::<criteria::FuelMarginSpec>()?
        .register::<criteria::FuelUsedSpec>()?
        .register::<criteria::HoursElevatedSpec>()?
        .register::<criteria::MinimumRioSpec>()?
        .register::<criteria::ExpectedClosestApproachSpec>()?
        .register::<criteria::ClosestApproachCvarSpec>()?
        .register::<criteria::DaylightSpec>()?
        .register::<criteria::FirstAttainedSpec>()?;
    Ok(())
}

/// A registry with every kind of the science rooms.
///
/// # Errors
///
/// As [`register`].
pub fn registry() -> Result<Registry, DuplicateKind> {
    let mut registry = Registry::default();
    register(&mut registry)?;
    Ok(registry)
}
