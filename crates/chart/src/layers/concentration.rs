//! Ice from images of its total concentration.
//!
//! A satellite sees how much ice there is and not how old it is, so that the stage of development is
//! an assumption that the scenario must make and the report shows.

use std::{ops::Range, path::PathBuf};

use dipward_plugin::{
    Assumption, Beyond, Control, Error, Fault, Faults, Ground, Laid, Layer, Provenance, Quantity,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ageing::Ageing, packed::check_memory, schedule::Schedule, scheduled::Show};
use crate::{
    codes::{IceRegime, Stage},
    image::{Image, Resampler, Resampling},
};

/// What ice of an image is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AssumedIce {
    /// Stage of development.
    stage: Stage,
    /// Thickness; without it, that of the stage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    thickness_m: Option<f32>,
}

impl AssumedIce {
    pub(super) fn check(&self, pointer: &str, faults: &mut Faults) {
        if self.stage.thickness_m().is_none() {
            faults.push(Fault::at(pointer, "this stage says nothing of the ice"));
        }
    }

    /// The assumption in words.
    pub(super) fn text(&self) -> String {
        let thickness = self.thickness_m.or_else(|| self.stage.thickness_m());
        format!(
            "all ice of the concentration images is {}, {} m thick, as the scenario says: the images do \
             not tell",
            self.stage,
            thickness.unwrap_or(f32::NAN)
        )
    }
}

/// The quantities that concentration and an assumed stage come to.
pub(super) fn ice_quantities() -> Vec<Quantity> {
    let mut quantities = vec![Quantity::ICE_CONCENTRATION, Quantity::ICE_THICKNESS];
    quantities.extend(Quantity::ICE_PARTIALS);
    quantities
}

/// Images of concentration (0 to 1) through time.
#[derive(Debug)]
pub(super) struct Concentrations {
    /// What the images are, for the report.
    pub(super) name: String,
    pub(super) images: Vec<(PathBuf, Image)>,
    pub(super) schedule: Schedule,
    pub(super) resampling: Resampling,
    pub(super) ice: AssumedIce,
    /// What becomes of it with age.
    pub(super) ageing: Ageing,
    /// Further assumptions.
    pub(super) notes: Vec<String>,
}

impl Layer for Concentrations {
    fn quantities(&self) -> Vec<Quantity> {
        let mut quantities = ice_quantities();
        quantities.extend(self.ageing.quantities());
        quantities
    }

    fn provenance(&self) -> Provenance {
        let files: Vec<String> =
            self.images.iter().map(|(file, _)| file.to_string_lossy().into_owned()).collect();
        Provenance { name: self.name.clone(), source: files.join(", "), licence: None }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut texts = vec![self.ice.text()];
        texts.extend(self.notes.iter().cloned());
        if self.schedule.beyond() == Beyond::Hold && self.ageing.stays() {
            texts.push(
                "ice persists as in the nearest image before the first and after the last".into(),
            );
        }
        let own = texts.into_iter().map(|text| Assumption::new("chart", text));
        own.chain(self.ageing.assumptions()).collect()
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        check_memory(ground.grid, self.images.len(), 2)?;
        let mut rasters = Vec::with_capacity(self.images.len());
        let mut resampler = Resampler::new(ground.grid, self.resampling);
        for (file, image) in &self.images {
            let values = resampler.raster(image, control)?;
            if values.iter().all(|value| value.is_nan()) {
                return Err(Error::File {
                    path: file.clone(),
                    message:
                        "covers no cell of the grid: is it an image of the other pole, or all \
                              missing?"
                            .to_owned(),
                });
            }
            rasters.push(values.into_iter().map(packed).collect());
        }
        let show = LaidConcentrations::new(rasters, self.ice);
        self.ageing.lay(self.schedule.clone(), show, ground, control)
    }
}

/// Steps of concentration: a hundredth of a percent.
const STEPS: f32 = 10_000.0;

const UNKNOWN: u16 = u16::MAX;

/// A concentration in steps.
pub(super) fn packed(concentration: f32) -> u16 {
    if concentration.is_nan() { UNKNOWN } else { (concentration * STEPS).round() as u16 }
}

/// Memory: 2 bytes a cell and image.
#[derive(Debug)]
pub(super) struct LaidConcentrations {
    rasters: Vec<Vec<u16>>,
    /// What a cell full of ice has.
    all_ice: IceRegime,
}

impl LaidConcentrations {
    /// Rasters of [`packed`] concentrations, one a state.
    pub(super) fn new(rasters: Vec<Vec<u16>>, ice: AssumedIce) -> Self {
        let all_ice = IceRegime::of_one_stage(1.0, ice.stage, ice.thickness_m);
        Self { rasters, all_ice }
    }
}

impl Show for LaidConcentrations {
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let run = cells.start as usize..cells.end as usize;
        let Some(run) = self.rasters.get(state).and_then(|raster| raster.get(run)) else { return };
        let partial = Quantity::ICE_PARTIALS.iter().position(|partial| *partial == quantity);
        let of_full = match partial {
            Some(partial) => self.all_ice.partials.get(partial).copied().unwrap_or(f32::NAN),
            None if quantity == Quantity::ICE_CONCENTRATION => 1.0,
            None if quantity == Quantity::ICE_THICKNESS => self.all_ice.thickness_m,
            None => return,
        };
        for (out, steps) in out.iter_mut().zip(run).filter(|(_, steps)| **steps != UNKNOWN) {
            *out = if quantity == Quantity::ICE_THICKNESS {
                // The thickness of the ice where there is some.
                if *steps == 0 { 0.0 } else { of_full }
            } else {
                of_full * (f32::from(*steps) / STEPS)
            };
        }
    }
}
