//! `raster`: one quantity from a GeoTIFF or NetCDF file: depths, heights, thicknesses.

use std::{ops::Range, path::PathBuf};

use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scheduled::{Scheduled, Show};
use crate::image::{Image, Resampler, Resampling, read_geotiff, read_netcdf};

/// One quantity that does not change, from a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RasterSpec {
    /// GeoTIFF of one band, or NetCDF (`.nc`) with CF metadata.
    file: PathBuf,
    /// The variable of a NetCDF file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    variable: Option<String>,
    /// What the numbers are.
    gives: RasterQuantity,
    /// The value that a step of one stands for. A file of depths counted downwards has -1.
    #[serde(default = "one")]
    scale: f32,
    /// The value of the number 0.
    #[serde(default)]
    offset: f32,
    /// The level that heights and depths are reckoned from, as the file's maker states it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    datum: Option<String>,
    /// How cells get their values from pixels.
    #[serde(default)]
    resampling: Resampling,
}

/// The quantities that a raster may give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RasterQuantity {
    /// Height of the rock or sea floor above the sea, negative where it is depth, in metres.
    Elevation,
    /// Height of the ice or rock surface above the sea, in metres.
    SurfaceHeight,
    /// How far independent depth sets disagree, a ratio of at least 1.
    DepthDoubt,
    /// Mean thickness of the ice where there is ice, in metres.
    IceThickness,
    /// Volume of ice over the area of the cell, open water included, in metres: what many models give
    /// as thickness.
    IceVolumePerArea,
    /// Total ice concentration, 0 to 1, without a stage of development.
    IceConcentration,
    /// The greatest speed allowed, in knots.
    SpeedLimit,
}

impl RasterQuantity {
    /// The quantity, and the range that its values may have.
    fn quantity(self) -> (Quantity, f32, f32) {
        match self {
            Self::Elevation => (Quantity::ELEVATION, -12_000.0, 9_000.0),
            Self::SurfaceHeight => (Quantity::SURFACE_HEIGHT, -500.0, 9_000.0),
            Self::DepthDoubt => (Quantity::DEPTH_DOUBT, 1.0, 1e6),
            Self::IceThickness => (Quantity::ICE_THICKNESS, 0.0, 50.0),
            Self::IceVolumePerArea => (Quantity::ICE_VOLUME_PER_AREA, 0.0, 50.0),
            Self::IceConcentration => (Quantity::ICE_CONCENTRATION, 0.0, 1.0),
            Self::SpeedLimit => (Quantity::SPEED_LIMIT, 0.1, 100.0),
        }
    }
}

fn one() -> f32 {
    1.0
}

impl Spec for RasterSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "raster";
    const SUMMARY: &'static str =
        "depths, heights or another quantity from a GeoTIFF or NetCDF file of one's own";
    const EXAMPLE: &'static str = "\
kind: raster
file: depths.tif
gives: elevation
scale: -1
datum: lowest astronomical tide
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let image = self.read(context).map_err(|error| Fault::at("/file", error.to_string()))?;
        Ok(Box::new(Raster { spec: self, image }))
    }
}

impl RasterSpec {
    /// A volume per area is no thickness. The other way round nothing is sure: models write both under
    /// the standard name `sea_ice_thickness`.
    fn check_standard_name(&self, standard_name: Option<&str>) -> Result<(), String> {
        match standard_name {
            Some(name) if self.gives == RasterQuantity::IceThickness && name.contains("volume") => {
                Err(format!(
                    "says that the variable is `{name}`, which is no thickness: write `gives: \
                     ice_volume_per_area`"
                ))
            }
            _ => Ok(()),
        }
    }

    fn read(&self, context: &BuildContext) -> Result<Image, Error> {
        let wrong = |message: String| Error::File { path: self.file.clone(), message };
        let bytes = context.read(&self.file)?;
        let is_netcdf = self.file.extension().is_some_and(|own| own.eq_ignore_ascii_case("nc"));
        let mut image = match (&self.variable, is_netcdf) {
            (Some(variable), true) => {
                let names = [variable.as_str()];
                let read = read_netcdf(&self.file, bytes, &names, |times| {
                    (0..times.len().min(1)).collect()
                })?;
                self.check_standard_name(read.standard_name.as_deref()).map_err(wrong)?;
                let field = read.fields.into_iter().next();
                field.ok_or_else(|| wrong("has no field".to_owned()))?.image
            }
            (None, true) => return Err(wrong("needs a `variable` to be named".to_owned())),
            (Some(_), false) => return Err(wrong("has no variables: it is no `.nc`".to_owned())),
            (None, false) => read_geotiff(&self.file, bytes)?,
        };
        let (quantity, lowest, highest) = self.gives.quantity();
        let width = image.width.max(1);
        for (at, value) in image.values.iter_mut().enumerate().filter(|(_, value)| !value.is_nan())
        {
            let scaled = *value * self.scale + self.offset;
            if !(lowest..=highest).contains(&scaled) {
                return Err(wrong(format!(
                    "has the number {value} in column {} and row {}, which makes {scaled} {} of \
                     {quantity}, not from {lowest} to {highest}: are `scale` and the no-data value right?",
                    at % width,
                    at / width,
                    quantity.unit()
                )));
            }
            *value = scaled;
        }
        Ok(image)
    }
}

#[derive(Debug)]
struct Raster {
    spec: RasterSpec,
    image: Image,
}

impl Layer for Raster {
    fn quantities(&self) -> Vec<Quantity> {
        vec![self.spec.gives.quantity().0]
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: format!("raster of {}", self.spec.gives.quantity().0),
            source: self.spec.file.to_string_lossy().into_owned(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let quantity = self.spec.gives.quantity().0;
        let text = match (self.spec.gives, &self.spec.datum) {
            (RasterQuantity::Elevation | RasterQuantity::SurfaceHeight, None) => {
                format!(
                    "the file's {quantity} is reckoned from mean sea level, which it does not say"
                )
            }
            (RasterQuantity::IceThickness, _) => {
                "the file's ice thickness is taken for the mean where \
                 there is ice, and not for the volume per area (`gives: ice_volume_per_area`)"
                    .to_owned()
            }
            (_, Some(datum)) => format!("{quantity} is reckoned from {datum}"),
            _ => return Vec::new(),
        };
        vec![Assumption::new("chart", text)]
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        let values =
            Resampler::new(ground.grid, self.spec.resampling).raster(&self.image, control)?;
        if values.iter().all(|value| value.is_nan()) {
            return Err(Error::File {
                path: self.spec.file.clone(),
                message: "covers no cell of the grid".to_owned(),
            });
        }
        Ok(Box::new(Scheduled::always(LaidRaster { values })))
    }
}

/// Memory: 4 bytes a cell, which on the greatest grid that there can be is 1 GiB.
#[derive(Debug)]
struct LaidRaster {
    values: Vec<f32>,
}

impl Show for LaidRaster {
    /// The layer gives one quantity, and is asked for no other.
    fn show(&self, _: usize, _: Quantity, cells: Range<u32>, out: &mut [f32]) {
        if let Some(run) = self.values.get(cells.start as usize..cells.end as usize) {
            out.copy_from_slice(run);
        }
    }
}

#[cfg(test)]
mod tests {

    use super::super::workbench::{at, build, chart, check_contract, fault, sample};
    use super::*;

    /// Written by rasterio: percent from 0 to 100 with gaps, and by netCDF4: fractions.
    const TIFF: &[u8] = include_bytes!("../../tests/fixtures/percent_float.tif");
    const NETCDF: &[u8] = include_bytes!("../../tests/fixtures/lon_lat.nc");

    #[test]
    fn the_kind_keeps_its_contract() {
        check_contract::<RasterSpec>(&[("depths.tif", TIFF)]);
    }

    #[test]
    fn depths_may_be_counted_downwards() {
        let yaml = "file: a.tif\ngives: elevation\nscale: -10\noffset: -5";
        let layer = build::<RasterSpec>(yaml, &[("a.tif", TIFF)]).unwrap();
        let laid = chart(layer.as_ref()).unwrap();
        let depth = sample(&laid, 0.0, Quantity::ELEVATION, at(-64.0, 136.0));
        assert!((-1005.0..=-5.0).contains(&depth), "{depth}");
        assert!(layer.assumptions()[0].text.contains("mean sea level"));
    }

    #[test]
    fn netcdf_needs_its_variable() {
        let files: [(&str, &[u8]); 1] = [("a.nc", NETCDF)];
        let yaml = "file: a.nc\ngives: ice_concentration\nvariable: my_ice";
        let layer = build::<RasterSpec>(yaml, &files).unwrap();
        let laid = chart(layer.as_ref()).unwrap();
        let ice = sample(&laid, 0.0, Quantity::ICE_CONCENTRATION, at(-64.0, 142.0));
        assert!((0.0..=1.0).contains(&ice), "{ice}");
        let message = fault::<RasterSpec>("file: a.nc\ngives: elevation", &files);
        assert!(message.starts_with("/file a.nc: needs a `variable`"), "{message}");
    }

    /// CMIP and CF have both; a mean of 1 m over a cell with half its area ice is ice of 2 m.
    #[test]
    fn volume_per_area_is_no_thickness() {
        let files: [(&str, &[u8]); 1] = [("a.nc", NETCDF)];
        for (gives, quantity, told) in [
            ("ice_thickness", Quantity::ICE_THICKNESS, 1),
            ("ice_volume_per_area", Quantity::ICE_VOLUME_PER_AREA, 0),
        ] {
            let yaml = format!("file: a.nc\ngives: {gives}\nvariable: my_ice");
            let layer = build::<RasterSpec>(&yaml, &files).unwrap();
            assert_eq!(layer.quantities(), [quantity]);
            assert_eq!(layer.assumptions().len(), told);
        }
        let spec = |gives: &str| -> RasterSpec {
            serde_json::from_value(serde_json::json!({"file": "a.nc", "gives": gives})).unwrap()
        };
        let name = Some("sea_ice_volume_per_area");
        let message = spec("ice_thickness").check_standard_name(name).unwrap_err();
        assert!(message.contains("gives: ice_volume_per_area"), "{message}");
        assert!(spec("ice_volume_per_area").check_standard_name(name).is_ok());
        assert!(spec("ice_thickness").check_standard_name(Some("sea_ice_thickness")).is_ok());
    }

    #[test]
    fn numbers_that_cannot_be_are_told() {
        let yaml = "file: a.tif\ngives: ice_concentration";
        let message = fault::<RasterSpec>(yaml, &[("a.tif", TIFF)]);
        assert!(message.contains("not from 0 to 1") && message.contains("column"), "{message}");
    }
}
