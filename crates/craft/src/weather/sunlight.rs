//! The layer `sunlight`: the sun's altitude over the chart through the window.

use std::ops::Range;

use dipward_plugin::{
    Beyond, BuildContext, Change, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::sun::{ApparentSun, julian_day, sidereal_time_deg};
use crate::SUN_ALTITUDE;

/// The sun's altitude. Kind `sunlight`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SunlightSpec {
    /// Hours between the layer's instants.
    #[schemars(range(min = 0.25, max = 24.0))]
    pub step_h: f64,
}

impl Default for SunlightSpec {
    fn default() -> Self {
        Self { step_h: 3.0 }
    }
}

/// More instants than this would fill the chart's memory with light.
const MOST_INSTANTS: f64 = 5_000.0;

impl Spec for SunlightSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "sunlight";
    const SUMMARY: &'static str = "the sun's altitude through the window, for night speeds";
    const EXAMPLE: &'static str = "{kind: sunlight, step_h: 3}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let count = context.window_hours() / self.step_h;
        if !(0.0..=MOST_INSTANTS).contains(&count) {
            return Err(Fault::at("/step_h", format!("that makes {count:.0} instants"))
                .help(format!("at most {MOST_INSTANTS}"))
                .into());
        }
        Ok(Box::new(Sunlight {
            hours: (0..=count.ceil() as u32).map(|step| f64::from(step) * self.step_h).collect(),
        }))
    }
}

#[derive(Debug)]
struct Sunlight {
    hours: Vec<f64>,
}

impl Layer for Sunlight {
    fn quantities(&self) -> Vec<Quantity> {
        vec![SUN_ALTITUDE]
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "sunlight".into(),
            source: "Meeus, Astronomical Algorithms, 2nd edition, chapter 25".into(),
            licence: None,
        }
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        control.check()?;
        // The grid numbers its cells in u32 and has no more of them than that.
        let places = (0..ground.grid.len() as u32)
            .filter_map(|cell| ground.grid.centre(cell))
            .map(|place| [place.y().to_radians() as f32, place.x().to_radians() as f32])
            .collect();
        let instants = self.hours.iter().map(|&hour| ground.clock.instant(hour)).collect();
        Ok(Box::new(LaidSunlight { hours: self.hours.clone(), instants, places }))
    }
}

/// Latitude and longitude of each cell in radians, and the instants.
#[derive(Debug)]
struct LaidSunlight {
    hours: Vec<f64>,
    instants: Vec<Timestamp>,
    places: Vec<[f32; 2]>,
}

impl Laid for LaidSunlight {
    fn hours(&self) -> &[f64] {
        &self.hours
    }

    fn change(&self) -> Change {
        Change::Linear
    }

    fn beyond(&self) -> Beyond {
        Beyond::Hold
    }

    fn fill(
        &self,
        quantity: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        let places = self.places.get(cells.start as usize..cells.end as usize);
        let (Some(&instant), Some(places)) = (self.instants.get(instant), places) else {
            return Err(Error::Outside("an instant or a cell that the layer does not have".into()));
        };
        if quantity != SUN_ALTITUDE {
            out.fill(f32::NAN);
            return Ok(());
        }
        let sun = ApparentSun::at_instant(instant);
        let east = (sidereal_time_deg(julian_day(instant)) - sun.right_ascension_deg).to_radians();
        let (sine, cosine) = sun.declination_deg.to_radians().sin_cos();
        for (value, &[latitude, longitude]) in out.iter_mut().zip(places) {
            let (up, across) = f64::from(latitude).sin_cos();
            let sine = up * sine + across * cosine * (east + f64::from(longitude)).cos();
            *value = sine.clamp(-1.0, 1.0).asin().to_degrees() as f32;
        }
        Ok(())
    }
}
