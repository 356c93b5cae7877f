//! `concentration_geotiff`: ice concentration from GeoTIFF.

use std::path::{Path, PathBuf};

use dipward_plugin::{BuildContext, Error, Fault, Faults, Layer, LayerPoint, Quantity, Spec};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    ageing::{Ageing, GrowingDoubt},
    concentration::{AssumedIce, Concentrations},
    drift::FreeDrift,
    noted,
    schedule::{BeyondRule, ChangeRule, Schedule},
};
use crate::image::{
    Beside, Conversion, GeoTiff, Image, Measure, PhysicalRange, Resampling, Stated, Validity,
    days_of_name, read_geotiff,
};

/// Images of ice concentration in a polar stereographic projection, or in longitude and latitude.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConcentrationGeotiffSpec {
    /// The images, in any order.
    #[schemars(length(min = 1))]
    images: Vec<ImageFile>,
    /// What the numbers in the images mean.
    #[serde(default)]
    encoding: Encoding,
    /// What the ice is taken for, since the images do not tell.
    ice: AssumedIce,
    /// How cells get their values from pixels.
    #[serde(default)]
    resampling: Resampling,
    /// How the ice changes from one image to the next.
    #[serde(default = "linear")]
    change: ChangeRule,
    /// What holds before the first image and after the last.
    #[serde(default)]
    beyond: BeyondRule,
    /// How old the last image may grow before it covers nothing more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0))]
    max_age_h: Option<f64>,
    /// Whether and how the ice drifts after the last chart; without it, it stays where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drift: Option<FreeDrift>,
    /// How doubtful the ice grows with age; without it, nothing is said of its doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    doubt: Option<GrowingDoubt>,
    /// The concentration that the hole about the pole is taken for, which no satellite sees; without
    /// it the hole is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1.0))]
    pole_hole: Option<f32>,
}

fn linear() -> ChangeRule {
    ChangeRule::Linear
}

/// One image.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ImageFile {
    /// GeoTIFF, or NSIDC flat binary where the kind takes it.
    pub(super) file: PathBuf,
    /// When the image is valid. Without it, the file or its name must say so; with it, they must agree.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    pub(super) valid: Option<Timestamp>,
    /// The band of a GeoTIFF, counted from 1; needed where it has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1))]
    pub(super) band: Option<u32>,
}

impl ImageFile {
    /// When the image is valid, by the scenario and by the file.
    ///
    /// # Errors
    ///
    /// When neither says so, or one contradicts the other.
    pub(super) fn instant(
        &self,
        of_file: Option<Validity>,
        context: &BuildContext,
    ) -> Result<Timestamp, String> {
        agreed(self.valid, of_file, context)
    }

    /// Reads the image as a GeoTIFF, with what lies beside it.
    pub(super) fn read_geotiff(&self, context: &BuildContext) -> Result<GeoTiff, Error> {
        read_geotiff_and_beside(&self.file, self.band, context)
    }
}

/// Reads a GeoTIFF, with what lies beside it.
pub(super) fn read_geotiff_and_beside(
    file: &Path,
    band: Option<u32>,
    context: &BuildContext,
) -> Result<GeoTiff, Error> {
    let beside = |ending: &str| {
        let mut name = file.as_os_str().to_owned();
        name.push(ending);
        context.read_beside(Path::new(&name))
    };
    let bytes = context.read(file)?;
    let beside = Beside { mask: beside(".msk")?, sidecar: beside(".aux.xml")? };
    read_geotiff(file, bytes, &beside, band)
}

/// When a file is valid, by the scenario and by the file itself.
///
/// # Errors
///
/// When neither says so, or one contradicts the other.
pub(super) fn agreed(
    stated: Option<Timestamp>,
    of_file: Option<Validity>,
    context: &BuildContext,
) -> Result<Timestamp, String> {
    match (stated, of_file) {
        (Some(stated), Some(own)) if !own.agrees(stated) && !context.dates_moved() => {
            Err(format!("is of {own}, and not of {stated}, as `valid` says"))
        }
        (Some(stated), _) => Ok(stated),
        (None, Some(own)) => Ok(own.instant()),
        (None, None) => Err("does not say when it is valid: write `valid`".to_owned()),
    }
}

/// What the numbers in an image mean.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Encoding {
    /// As in the NSIDC Sea Ice Index (data set G02135): tenths of a percent to 1000; 2510 is the hole
    /// about the pole, 2530 coast, 2540 land and 2550 missing.
    #[default]
    SeaIceIndex,
    /// Concentration is `scale` times the number plus `offset`, and must come out from 0 to 1.
    Scaled {
        /// The concentration that a step of one stands for: 0.01 for percent.
        #[schemars(extend("exclusiveMinimum" = 0))]
        scale: f64,
        /// The concentration of the number 0.
        #[serde(default)]
        offset: f64,
        /// Numbers that mean "no concentration": land, missing and the like.
        #[serde(default)]
        missing: Vec<f64>,
    },
    /// As the file itself states by its unit, scale and offset, which it must; what cannot be a
    /// concentration is missing, up to one in a thousand.
    Stated,
}

/// What a number in an image comes to.
enum Decoded {
    Concentration(f32),
    PoleHole,
    Nothing,
}

impl Encoding {
    fn decode(&self, number: f32) -> Option<Decoded> {
        match self {
            Self::SeaIceIndex => match number {
                0.0..=1000.0 => Some(Decoded::Concentration(number / 1000.0)),
                2510.0 => Some(Decoded::PoleHole),
                2530.0 | 2540.0 | 2550.0 => Some(Decoded::Nothing),
                _ => None,
            },
            Self::Scaled { scale, offset, missing } => {
                if missing.iter().any(|missing| *missing as f32 == number) {
                    return Some(Decoded::Nothing);
                }
                let concentration = (f64::from(number) * scale + offset) as f32;
                // A sum of scale and offset may miss 0 and 1 by a rounding.
                (-1e-4..=1.0001)
                    .contains(&concentration)
                    .then(|| Decoded::Concentration(concentration.clamp(0.0, 1.0)))
            }
            // Decoded as a whole.
            Self::Stated => None,
        }
    }

    /// Turns an image's numbers into concentrations.
    ///
    /// # Returns
    ///
    /// The image, and what was taken for granted for it.
    ///
    /// # Errors
    ///
    /// The first number that the encoding has not, and its pixel; a file that states another scale or unit.
    pub(super) fn decode_image(
        &self,
        file: &Path,
        read: GeoTiff,
        pole_hole: Option<f32>,
    ) -> Result<(Image, Vec<String>), String> {
        let GeoTiff { mut image, packing, unit, description } = read;
        if *self == Self::Stated {
            return decode_stated(file, image, packing, unit, description);
        }
        let measure = Measure { packing, unit, ..Measure::default() };
        let stated = match self {
            Self::Scaled { scale, offset, .. } => Stated {
                scale: Some(*scale as f32),
                offset: Some(*offset as f32),
                ..Stated::default()
            },
            _ => Stated { scale: Some(1e-3), offset: Some(0.0), ..Stated::default() },
        };
        measure
            .conversion(stated, Quantity::ICE_CONCENTRATION)
            .map_err(|_| "states a scale or unit of its own, which `encoding` contradicts: write `encoding: stated` if it is right")?;
        let width = image.width.max(1);
        for (at, value) in image.values.iter_mut().enumerate().filter(|(_, value)| !value.is_nan())
        {
            *value = match self.decode(*value) {
                Some(Decoded::Concentration(concentration)) => concentration,
                Some(Decoded::PoleHole) => pole_hole.unwrap_or(f32::NAN),
                Some(Decoded::Nothing) => f32::NAN,
                None => {
                    return Err(format!(
                        "has the number {value} in column {} and row {}, which its encoding has not: \
                         is `encoding` right?",
                        at % width,
                        at / width
                    ));
                }
            };
        }
        Ok((image, Vec::new()))
    }
}

/// Turns numbers into concentrations as their file states.
fn decode_stated(
    file: &Path,
    mut image: Image,
    packing: Option<Conversion>,
    unit: Option<String>,
    description: Option<String>,
) -> Result<(Image, Vec<String>), String> {
    if packing.is_none() && unit.is_none() {
        return Err(
            "states no unit, scale or offset: write them as `encoding: {scaled: …}`".to_owned()
        );
    }
    let measure = Measure {
        packing,
        unit,
        names: description.into_iter().collect(),
        has_metadata: true,
        ..Measure::default()
    };
    let quantity = Quantity::ICE_CONCENTRATION;
    let (conversion, mut notes) = measure.conversion(Stated::default(), quantity)?;
    if measure.packing.is_none() {
        measure.check_percent(Stated::default(), std::iter::once(&image)).map_err(|message| {
            message.replace("`units`, `\"%\"` or `\"1\"`", "`encoding: {scaled: …}`")
        })?;
    }
    image.convert(conversion);
    let tally = PhysicalRange::of(quantity).check(&mut image)?;
    notes.extend(tally.text(file));
    Ok((image, notes))
}

impl Spec for ConcentrationGeotiffSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "concentration_geotiff";
    const SUMMARY: &'static str =
        "ice concentration from GeoTIFF (NSIDC Sea Ice Index, or any with a stated scale)";
    const EXAMPLE: &'static str = "\
kind: concentration_geotiff
images: [{file: concentration.tif, valid: 2027-01-01T00:00Z}]
ice: {stage: medium_first_year, thickness_m: 0.9}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        self.ice.check("/ice", &mut faults);
        let (mut images, mut valid, mut notes) = (Vec::new(), Vec::new(), Vec::new());
        for (index, image) in self.images.iter().enumerate() {
            match image.instant(days_of_name(&image.file), context) {
                Ok(at) => valid.push(at),
                Err(message) => faults.push(Fault::at(
                    format!("/images/{index}/valid"),
                    format!("{}: {message}", image.file.display()),
                )),
            }
            match self.read(image, context) {
                Ok((read, own)) => {
                    images.push((image.file.clone(), read));
                    notes.extend(own);
                }
                Err(error) => {
                    faults.push(Fault::at(format!("/images/{index}/file"), error.to_string()));
                }
            }
        }
        let rules = (self.change, self.beyond);
        let schedule = Schedule::of_files(&valid, rules, self.max_age_h, context, |index| {
            format!("/images/{index}/valid")
        });
        if let Some(pole_hole) = self.pole_hole {
            notes.push(format!("the hole about the pole has a concentration of {pole_hole}"));
        }
        let ageing = Ageing::build(self.drift, self.doubt, self.beyond.into(), context);
        let (schedule, ageing) = (noted(schedule, &mut faults), noted(ageing, &mut faults));
        match (schedule, ageing) {
            (Some(schedule), Some(ageing)) => faults.into_result(Box::new(Concentrations {
                name: "ice concentration images".to_owned(),
                images,
                schedule,
                resampling: self.resampling,
                ice: self.ice,
                ageing,
                notes,
            }) as Box<dyn Layer>),
            _ => Err(faults),
        }
    }
}

impl ConcentrationGeotiffSpec {
    fn read(
        &self,
        image: &ImageFile,
        context: &BuildContext,
    ) -> Result<(Image, Vec<String>), Error> {
        let read = image.read_geotiff(context)?;
        self.encoding
            .decode_image(&image.file, read, self.pole_hole)
            .map_err(|message| Error::File { path: image.file.clone(), message })
    }
}
