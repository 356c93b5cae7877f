//! Images with a place on the Earth: reading them, and taking their values to a grid.

mod cf;
mod conservative;
mod field;
mod gdal_metadata;
mod geo_keys;
mod geotiff;
mod grib;
mod measure;
mod netcdf;
mod nsidc;
mod physical;
mod place;
mod resample;
mod units;

pub use cf::NamedAxes;
pub(crate) use field::{Choice, Field, Validity};
pub(crate) use geotiff::{Beside, GeoTiff, read_geotiff};
pub(crate) use grib::{
    ForecastMember, GribEntry, GribField, GribFile, Level, Levels, Parameter, Wanted,
};
pub use measure::Direction;
pub(crate) use measure::{Measure, Stated};
pub(crate) use netcdf::{Fields, Request, read_netcdf};
pub(crate) use nsidc::{days_of_name, read_nsidc};
pub(crate) use physical::{PhysicalRange, Tally};
pub(crate) use place::Placement;
pub(crate) use resample::Resampler;
pub use resample::Resampling;
pub(crate) use units::Conversion;

/// One band of an image.
#[derive(Debug, Clone)]
pub(crate) struct Image {
    /// Pixels along a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Row by row, from the first row of the file. Not a number where the file has none.
    pub(crate) values: Vec<f32>,
    /// Where it lies.
    pub(crate) placement: Placement,
}

impl Image {
    /// Turns every number into another unit.
    pub(crate) fn convert(&mut self, by: Conversion) {
        if by != Conversion::SAME {
            self.values.iter_mut().for_each(|value| *value = by.apply(f64::from(*value)) as f32);
        }
    }

    /// The value of a pixel, not a number outside the image.
    pub(crate) fn at(&self, column: i64, row: i64) -> f32 {
        let inside = usize::try_from(column)
            .ok()
            .zip(usize::try_from(row).ok())
            .filter(|(column, row)| *column < self.width && *row < self.height);
        inside
            .and_then(|(column, row)| self.values.get(row * self.width + column))
            .copied()
            .unwrap_or(f32::NAN)
    }
}
