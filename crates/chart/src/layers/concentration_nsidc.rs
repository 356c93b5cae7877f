//! `concentration_nsidc`: ice concentration from the flat binary files of NSIDC.

use dipward_plugin::{BuildContext, Fault, Faults, Layer, LayerPoint, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    ageing::{Ageing, GrowingDoubt},
    concentration::{AssumedIce, Concentrations},
    concentration_geotiff::ImageFile,
    drift::FreeDrift,
    noted,
    schedule::{BeyondRule, ChangeRule, Schedule},
};
use crate::image::{Resampling, read_nsidc};

/// Flat binary files of the NSIDC 25 km grids, daily or monthly.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConcentrationNsidcSpec {
    /// The files, in any order.
    #[schemars(length(min = 1))]
    images: Vec<ImageFile>,
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
    /// The concentration that the hole about the pole is taken for; without it the hole is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1.0))]
    pole_hole: Option<f32>,
}

fn linear() -> ChangeRule {
    ChangeRule::Linear
}

impl Spec for ConcentrationNsidcSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "concentration_nsidc";
    const SUMMARY: &'static str = "ice concentration from NSIDC 25 km flat binary files";
    const EXAMPLE: &'static str = "\
kind: concentration_nsidc
images: [{file: nt_20270101_s.bin, valid: 2027-01-01T00:00Z}]
ice: {stage: medium_first_year}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        self.ice.check("/ice", &mut faults);
        let pole_hole = self.pole_hole.unwrap_or(f32::NAN);
        let (mut images, mut valid) = (Vec::new(), Vec::new());
        for (index, image) in self.images.iter().enumerate() {
            let read = context
                .read(&image.file)
                .and_then(|bytes| read_nsidc(&image.file, &bytes, pole_hole));
            match read {
                Ok(read) => {
                    match image.instant(read.validity, context) {
                        Ok(at) => valid.push(at),
                        Err(message) => faults.push(Fault::at(
                            format!("/images/{index}/valid"),
                            format!("{}: {message}", image.file.display()),
                        )),
                    }
                    images.push((image.file.clone(), read.image));
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
        let notes = self
            .pole_hole
            .map(|hole| format!("the hole about the pole has a concentration of {hole}"))
            .into_iter()
            .collect();
        let ageing = Ageing::build(self.drift, self.doubt, self.beyond.into(), context);
        let (schedule, ageing) = (noted(schedule, &mut faults), noted(ageing, &mut faults));
        match (schedule, ageing) {
            (Some(schedule), Some(ageing)) => faults.into_result(Box::new(Concentrations {
                name: "NSIDC sea-ice concentration, 25 km".to_owned(),
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
