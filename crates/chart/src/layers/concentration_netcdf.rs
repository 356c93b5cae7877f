//! `concentration_netcdf`: ice concentration from NetCDF with CF metadata.

use std::path::{Path, PathBuf};

use dipward_plugin::{BuildContext, Error, Fault, Faults, Layer, LayerPoint, Spec};
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
use crate::image::{Image, Resampling, read_netcdf};

/// The variables that services keep ice concentration in, and its CF standard name.
const NAMES: [&str; 9] = [
    "cdr_seaice_conc",
    "ice_conc",
    "siconc",
    "sic",
    "seaice_conc_cdr",
    "nsidc_nt_seaice_conc",
    "sea_ice_concentration",
    "z",
    "sea_ice_area_fraction",
];

/// Ice concentration in NetCDF files, through time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConcentrationNetcdfSpec {
    /// The files, in any order; each may hold several times.
    #[schemars(length(min = 1))]
    files: Vec<PathBuf>,
    /// The variable; without it, one of the names that services use, or the one of the CF standard
    /// name `sea_ice_area_fraction`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    variable: Option<String>,
    /// When a file without times is valid; allowed with one file only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    valid: Option<Timestamp>,
    /// What the ice is taken for, since the fields do not tell.
    ice: AssumedIce,
    /// How cells get their values from pixels.
    #[serde(default)]
    resampling: Resampling,
    /// How the ice changes from one time to the next.
    #[serde(default = "linear")]
    change: ChangeRule,
    /// What holds before the first time and after the last.
    #[serde(default)]
    beyond: BeyondRule,
    /// How old the last field may grow before it covers nothing more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0))]
    max_age_h: Option<f64>,
    /// Whether and how the ice drifts after the last chart; without it, it stays where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drift: Option<FreeDrift>,
    /// How doubtful the ice grows with age; without it, nothing is said of its doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    doubt: Option<GrowingDoubt>,
}

fn linear() -> ChangeRule {
    ChangeRule::Linear
}

impl Spec for ConcentrationNetcdfSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "concentration_netcdf";
    const SUMMARY: &'static str =
        "ice concentration from NetCDF with CF metadata (OSI SAF, NSIDC CDR and the like)";
    const EXAMPLE: &'static str = "\
kind: concentration_netcdf
files: [concentration.nc]
ice: {stage: medium_first_year}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        self.ice.check("/ice", &mut faults);
        if self.valid.is_some() && self.files.len() > 1 {
            faults.push(Fault::at("/valid", "stands for one file, and there are several"));
        }
        let mut images: Vec<(PathBuf, Image)> = Vec::new();
        let mut valid = Vec::new();
        let mut origin = Vec::new();
        for (index, file) in self.files.iter().enumerate() {
            match self.read(file, context) {
                Ok(read) => {
                    for (at, image) in read {
                        valid.push(at);
                        origin.push(index);
                        images.push((file.clone(), image));
                    }
                }
                Err(error) => faults.push(Fault::at(format!("/files/{index}"), error.to_string())),
            }
        }
        let rules = (self.change, self.beyond);
        let schedule = Schedule::of_files(&valid, rules, self.max_age_h, context, |image| {
            format!("/files/{}", origin.get(image).copied().unwrap_or_default())
        });
        let ageing = Ageing::build(self.drift, self.doubt, self.beyond.into(), context);
        let (schedule, ageing) = (noted(schedule, &mut faults), noted(ageing, &mut faults));
        match (schedule, ageing) {
            (Some(schedule), Some(ageing)) => faults.into_result(Box::new(Concentrations {
                name: "ice concentration fields".to_owned(),
                images,
                schedule,
                resampling: self.resampling,
                ice: self.ice,
                ageing,
                notes: Vec::new(),
            }) as Box<dyn Layer>),
            _ => Err(faults),
        }
    }
}

impl ConcentrationNetcdfSpec {
    /// The fields of a file that the window needs, as fractions.
    fn read(&self, file: &Path, context: &BuildContext) -> Result<Vec<(Timestamp, Image)>, Error> {
        let wrong = |message: String| Error::File { path: file.to_owned(), message };
        let bytes = context.read(file)?;
        let own = self.variable.as_deref().map(|name| [name]);
        let names: &[&str] = own.as_ref().map_or(&NAMES, |own| own);
        let read = read_netcdf(file, bytes, names, |times| needed(times, context))?;
        let scale = match read.unit.as_str() {
            "1" | "" | "fraction" => 1.0,
            "%" | "percent" => 0.01,
            other => {
                return Err(wrong(format!("has the unit `{other}`, which is no concentration")));
            }
        };
        read.fields
            .into_iter()
            .map(|field| {
                let at = self.valid.or(field.valid).ok_or_else(|| {
                    wrong("does not say when it is valid: write `valid`".to_owned())
                })?;
                Ok((at, fractions(field.image, scale).map_err(wrong)?))
            })
            .collect()
    }
}

/// The times within the window, and the nearest on either side.
fn needed(times: &[Timestamp], context: &BuildContext) -> Vec<usize> {
    let clock = context.clock();
    let hour = |index: &usize| times.get(*index).map_or(f64::NAN, |at| clock.hour(*at));
    let all = || 0..times.len();
    let before =
        all().filter(|index| hour(index) <= 0.0).max_by(|a, b| hour(a).total_cmp(&hour(b)));
    let after = all()
        .filter(|index| hour(index) >= context.window_hours())
        .min_by(|a, b| hour(a).total_cmp(&hour(b)));
    let inside = |index: &usize| hour(index) > 0.0 && hour(index) < context.window_hours();
    let mut needed: Vec<usize> = all().filter(inside).chain(before).chain(after).collect();
    needed.sort_unstable();
    needed.dedup();
    needed
}

/// Values as fractions from 0 to 1.
fn fractions(mut image: Image, scale: f32) -> Result<Image, String> {
    for value in image.values.iter_mut().filter(|value| !value.is_nan()) {
        let fraction = *value * scale;
        if !(-1e-3..=1.001).contains(&fraction) {
            return Err(format!(
                "has the concentration {value}, which is none: flags belong outside its valid range"
            ));
        }
        *value = fraction.clamp(0.0, 1.0);
    }
    Ok(image)
}
