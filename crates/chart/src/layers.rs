//! The kinds of layers that a scenario may name.

mod ageing;
mod blend;
mod climatology;
mod coast;
mod concentration;
mod concentration_geotiff;
mod concentration_netcdf;
mod concentration_nsidc;
mod constant;
mod depth;
mod drift;
mod extent;
mod forecast_grib;
mod hazards;
mod ice_chart;
mod packed;
mod raster;
mod schedule;
mod scheduled;
mod zones;

pub use ageing::GrowingDoubt;
pub use blend::BlendSpec;
pub use climatology::ClimatologySpec;
pub use coast::CoastSpec;
pub use concentration::AssumedIce;
pub use concentration_geotiff::{ConcentrationGeotiffSpec, Encoding, ImageFile};
pub use concentration_netcdf::ConcentrationNetcdfSpec;
pub use concentration_nsidc::ConcentrationNsidcSpec;
pub use constant::{ConstantSpec, UniformIce};
pub use depth::DepthSpec;
pub use drift::FreeDrift;
pub use extent::Extent;
pub use forecast_grib::{
    CoverUnit, EnsembleMember, ForecastGribSpec, ForecastUnits, TemperatureUnit,
};
pub use hazards::{HazardsSpec, Within};
pub use ice_chart::{ChartFile, ClassLegend, DateInName, IceChartSpec};
pub use raster::{RasterQuantity, RasterSpec};
pub use schedule::{BeyondRule, ChangeRule};
pub use zones::{OffGrid, ZonesSpec};

use dipward_plugin::Faults;

/// What was made, or nothing, with its faults added to those found so far.
fn noted<T>(made: Result<T, Faults>, faults: &mut Faults) -> Option<T> {
    made.map_err(|more| faults.extend(more)).ok()
}

#[cfg(test)]
mod workbench;
