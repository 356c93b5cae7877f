//! `raster`: one quantity from a GeoTIFF or NetCDF file: depths, heights, thicknesses.

use std::{ops::Range, path::PathBuf};

use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    concentration_geotiff::read_geotiff_and_beside,
    concentration_netcdf::{of_quantity, one_at, span},
    scheduled::{Scheduled, Show},
};
use crate::image::{
    Choice, Direction, GeoTiff, Image, Measure, NamedAxes, PhysicalRange, Request, Resampler,
    Resampling, Stated, read_netcdf,
};

/// One quantity that does not change, from a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RasterSpec {
    /// GeoTIFF, or NetCDF (`.nc`) with CF metadata.
    file: PathBuf,
    /// The variable of a NetCDF file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    variable: Option<String>,
    /// What the numbers are.
    gives: RasterQuantity,
    /// The band of a GeoTIFF, counted from 1; needed where it has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1))]
    band: Option<u32>,
    /// The unit of the numbers, where the file states none or a wrong one: `m`, `cm`, `%`, `m s-1`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    units: Option<String>,
    /// Whether elevations count up (heights) or down (depths), where the file does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    positive: Option<Direction>,
    /// The value that a step of one stands for. A file of depths counted downwards has -1. What the file says
    /// itself is applied without it, and must not contradict it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    scale: Option<f32>,
    /// The value of the number 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    offset: Option<f32>,
    /// Which of a NetCDF file's times is meant; needed where it has several. With one it must agree.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    valid: Option<Timestamp>,
    /// Which dimensions of a NetCDF file are the columns and the rows, where it does not tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    axes: Option<NamedAxes>,
    /// The member of an ensemble, by the file's number; needed where it has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    member: Option<i64>,
    /// The beginning of the run; needed where the file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    run: Option<Timestamp>,
    /// The level, by the file's number; needed where it has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    level: Option<f64>,
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
    fn quantity(self) -> Quantity {
        match self {
            Self::Elevation => Quantity::ELEVATION,
            Self::SurfaceHeight => Quantity::SURFACE_HEIGHT,
            Self::DepthDoubt => Quantity::DEPTH_DOUBT,
            Self::IceThickness => Quantity::ICE_THICKNESS,
            Self::IceVolumePerArea => Quantity::ICE_VOLUME_PER_AREA,
            Self::IceConcentration => Quantity::ICE_CONCENTRATION,
            Self::SpeedLimit => Quantity::SPEED_LIMIT,
        }
    }
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
        let (image, notes) =
            self.read(context).map_err(|error| Fault::at("/file", error.to_string()))?;
        Ok(Box::new(Raster { spec: self, image, notes }))
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

    fn read(&self, context: &BuildContext) -> Result<(Image, Vec<String>), Error> {
        let wrong = |message: String| Error::File { path: self.file.clone(), message };
        let is_netcdf = self.file.extension().is_some_and(|own| {
            ["nc", "nc4", "cdf", "netcdf"].iter().any(|name| own.eq_ignore_ascii_case(name))
        });
        let stated = Stated {
            units: self.units.as_deref(),
            positive: self.positive,
            scale: self.scale,
            offset: self.offset,
        };
        match (&self.variable, is_netcdf) {
            (Some(variable), true) => self.read_netcdf(variable, stated, context.read(&self.file)?),
            (None, true) => {
                // That it cannot be read is said first.
                context.read(&self.file)?;
                Err(wrong("needs a `variable` to be named".to_owned()))
            }
            (Some(_), false) => Err(wrong("has no variables: it is no `.nc`".to_owned())),
            (None, false) => {
                let read = read_geotiff_and_beside(&self.file, self.band, context)?;
                self.of_geotiff(read, stated).map_err(wrong)
            }
        }
    }

    fn read_netcdf(
        &self,
        variable: &str,
        stated: Stated<'_>,
        bytes: Vec<u8>,
    ) -> Result<(Image, Vec<String>), Error> {
        let wrong = |message: String| Error::File { path: self.file.clone(), message };
        let choice = Choice { member: self.member, run: self.run, level: self.level };
        let request = Request { names: &[variable], choice: &choice, axes: self.axes.as_ref() };
        let read = read_netcdf(&self.file, bytes, &request, |times| match (self.valid, times) {
            (Some(valid), _) => one_at(times, valid).map(|index| vec![index]),
            (None, [_]) => Ok(vec![0]),
            (None, _) => Err(format!("is {}, and a raster has one: write `valid`", span(times))),
        })?;
        self.check_standard_name(read.standard_name.as_deref()).map_err(wrong)?;
        let (fields, mut notes) =
            of_quantity(&self.file, read, stated, self.gives.quantity()).map_err(wrong)?;
        let field = fields.into_iter().next().ok_or_else(|| wrong("has no field".to_owned()))?;
        match field.validity {
            Some(validity) => notes
                .push(format!("{} of {validity} stands for the whole window", self.file.display())),
            None if self.valid.is_some() => {
                return Err(wrong("has no times, and `valid` chooses one".to_owned()));
            }
            None => {}
        }
        Ok((field.image, notes))
    }

    fn of_geotiff(
        &self,
        read: GeoTiff,
        stated: Stated<'_>,
    ) -> Result<(Image, Vec<String>), String> {
        let GeoTiff { mut image, packing, unit, description } = read;
        let measure = Measure {
            packing,
            unit,
            names: description.into_iter().collect(),
            ..Measure::default()
        };
        let quantity = self.gives.quantity();
        let (conversion, notes) = measure.conversion(stated, quantity)?;
        // Stored numbers that a scale makes percent of are no such doubt.
        if measure.packing.is_none() {
            measure.check_percent(stated, std::iter::once(&image))?;
        }
        image.convert(conversion);
        let tally = PhysicalRange::of(quantity).check(&mut image).map_err(|message| {
            format!("{message}: are the unit, `scale` and the no-data value right? if not, write `units` or `scale`")
        })?;
        let mut notes: Vec<String> =
            notes.into_iter().map(|note| format!("{}: {note}", self.file.display())).collect();
        notes.extend(tally.text(&self.file));
        Ok((image, notes))
    }
}

#[derive(Debug)]
struct Raster {
    spec: RasterSpec,
    image: Image,
    /// What the reader took for granted.
    notes: Vec<String>,
}

impl Layer for Raster {
    fn quantities(&self) -> Vec<Quantity> {
        vec![self.spec.gives.quantity()]
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: format!("raster of {}", self.spec.gives.quantity()),
            source: self.spec.file.to_string_lossy().into_owned(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let quantity = self.spec.gives.quantity();
        let datum = match (self.spec.gives, &self.spec.datum) {
            (RasterQuantity::Elevation | RasterQuantity::SurfaceHeight, None) => Some(format!(
                "the file's {quantity} is reckoned from mean sea level, which it does not say"
            )),
            (RasterQuantity::IceThickness, _) => Some(
                "the file's ice thickness is taken for the mean where there is ice, and not for the volume per \
                 area (`gives: ice_volume_per_area`)"
                    .to_owned(),
            ),
            (_, Some(datum)) => Some(format!("{quantity} is reckoned from {datum}")),
            _ => None,
        };
        let all = datum.into_iter().chain(self.notes.iter().cloned());
        all.map(|text| Assumption::new("chart", text)).collect()
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
            ("ice_thickness", Quantity::ICE_THICKNESS, true),
            ("ice_volume_per_area", Quantity::ICE_VOLUME_PER_AREA, false),
        ] {
            let yaml = format!("file: a.nc\ngives: {gives}\nvariable: my_ice\nunits: m");
            let layer = build::<RasterSpec>(&yaml, &files).unwrap();
            assert_eq!(layer.quantities(), [quantity]);
            let is_told = |one: &Assumption| one.text.contains("not for the volume per area");
            assert_eq!(layer.assumptions().iter().any(is_told), told);
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
