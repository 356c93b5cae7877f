//! Coast, depth, ice and zones on one polar grid, through time.
//!
//! * [`Chart`]: layers laid on a grid by precedence, with frames, coverage, age and origin.
//! * [`pace_table`]: what a craft makes of a chart, for the search; [`RiskTable`] beside it.
//! * The kinds of layers that a scenario may name, each a [`Spec`](dipward_plugin::Spec):
//!
//! | kind | from | gives |
//! |---|---|---|
//! | [`coast`](CoastSpec) | embedded | land, ice shelf |
//! | [`depth`](DepthSpec) | embedded | elevation, its doubt, surface height |
//! | [`raster`](RasterSpec) | GeoTIFF, NetCDF | one such quantity |
//! | [`ice_chart`](IceChartSpec) | SIGRID-3 as shapefile, GeoPackage, GeoJSON | concentration, thickness, partials |
//! | [`concentration_geotiff`](ConcentrationGeotiffSpec) | GeoTIFF | the same, of an assumed stage |
//! | [`concentration_netcdf`](ConcentrationNetcdfSpec) | NetCDF with CF metadata | the same |
//! | [`concentration_nsidc`](ConcentrationNsidcSpec) | NSIDC flat binary | the same |
//! | [`climatology`](ClimatologySpec) | images of past years | the same, and the spread |
//! | [`forecast_grib`](ForecastGribSpec) | GRIB2 | wind, waves, ice, temperature, visibility |
//! | [`blend`](BlendSpec) | other layers | what all of them give |
//! | [`zones`](ZonesSpec) | polygons | closed, speed limit |
//! | [`hazards`](HazardsSpec) | CSV, GeoJSON points and lines | closed, speed limit, crevasses |
//! | [`constant`](ConstantSpec) | the scenario | any |
//!
//! Every failure is a [`dipward_plugin::Error`], the one type of all extension points, because layers
//! are plug-ins whether they live here or elsewhere.

mod chart;
pub mod codes;
mod crs;
pub mod embedded;
mod format;
mod image;
mod layers;
mod pace;
mod vector;

pub use chart::{Chart, Coverage, LayerSource, Merged, Moment, NamedLayer, Origin};
pub use image::{Direction, NamedAxes, Resampling};
pub use layers::{
    AssumedIce, BeyondRule, BlendSpec, ChangeRule, ChartFile, ClassLegend, ClimatologySpec,
    CoastSpec, ConcentrationGeotiffSpec, ConcentrationNetcdfSpec, ConcentrationNsidcSpec,
    ConstantSpec, CoverUnit, DateInName, DepthSpec, Encoding, EnsembleMember, Extent,
    ForecastGribSpec, ForecastUnits, FreeDrift, GrowingDoubt, HazardsSpec, IceChartSpec, ImageFile,
    OffGrid, RasterQuantity, RasterSpec, TemperatureUnit, UniformIce, Within, ZonesSpec,
};
pub use pace::{OpenCells, RiskSample, RiskTable, Snap, pace_table, pace_table_bytes};
