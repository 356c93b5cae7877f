//! `depth`: the sea floor, its doubt, and the surface height that the library carries.

use std::ops::Range;

use dipward_geodesy::Position;
use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Faults, Ground, Laid, Layer, LayerPoint, Provenance,
    Quantity, Spec,
};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scheduled::{Scheduled, Show};
use crate::embedded::depth::{
    elevation_provenance, fill_doubts, fill_elevations_m, fill_surface_heights_m,
    surface_height_provenance,
};

/// Elevation of the rock and the sea floor, doubt of the depth, and height of the surface, embedded,
/// poleward of 40 degrees.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthSpec {}

impl Spec for DepthSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "depth";
    const SUMMARY: &'static str =
        "depths with their doubt and surface heights, coarse, carried by the library";
    const EXAMPLE: &'static str = "{kind: depth}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        Ok(Box::new(Depth))
    }
}

#[derive(Debug)]
struct Depth;

impl Layer for Depth {
    fn quantities(&self) -> Vec<Quantity> {
        vec![Quantity::ELEVATION, Quantity::DEPTH_DOUBT, Quantity::SURFACE_HEIGHT]
    }

    fn provenance(&self) -> Provenance {
        let (floor, surface) = (elevation_provenance(), surface_height_provenance());
        Provenance {
            name: format!("{}; {}", floor.name, surface.name),
            source: format!("{}; {}", floor.source, surface.source),
            licence: floor.licence,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::new(
            "chart",
            "depths are means over some ten kilometres in mostly unsurveyed waters, reckoned from mean \
             sea level; two compilations disagree by the stated doubt",
        )]
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        const CELLS_AT_A_TIME: usize = 8192;

        let grid = ground.grid;
        let starts: Vec<usize> = (0..grid.len()).step_by(CELLS_AT_A_TIME).collect();
        let runs: Vec<Result<LaidDepth, Error>> = starts
            .into_par_iter()
            .map(|start| {
                control.check()?;
                let cells = start..(start + CELLS_AT_A_TIME).min(grid.len());
                // Every cell of the run is on the grid.
                let centres: Vec<Position> =
                    cells.filter_map(|cell| grid.centre(cell as u32)).collect();
                LaidDepth::at(&centres)
            })
            .collect();
        let mut laid = LaidDepth::default();
        for run in runs {
            let mut run = run?;
            laid.elevation_m.append(&mut run.elevation_m);
            laid.surface_m.append(&mut run.surface_m);
            laid.doubt.append(&mut run.doubt);
        }
        Ok(Box::new(Scheduled::always(laid)))
    }
}

/// Memory: 5 bytes a cell, which on the greatest grid that there can be is 1.25 GiB.
#[derive(Debug, Default)]
struct LaidDepth {
    /// Whole metres, the next higher: a depth is never made larger by its packing.
    elevation_m: Vec<i16>,
    /// Whole metres.
    surface_m: Vec<i16>,
    /// Sixteenths of a doubling, as the embedded doubt is.
    doubt: Vec<u8>,
}

const NO_HEIGHT: i16 = i16::MIN;
const NO_DOUBT: u8 = u8::MAX;

impl LaidDepth {
    fn at(centres: &[Position]) -> Result<Self, Error> {
        let mut values = vec![f32::NAN; centres.len()];
        let packed = |value: f32| if value.is_nan() { NO_HEIGHT } else { value as i16 };
        fill_elevations_m(centres, &mut values)?;
        let elevation_m = values.iter().map(|value| packed(value.ceil())).collect();
        fill_surface_heights_m(centres, &mut values)?;
        let surface_m = values.iter().map(|value| packed(value.round())).collect();
        fill_doubts(centres, &mut values)?;
        let doubt = values
            .iter()
            .map(|doubt| {
                if doubt.is_nan() {
                    NO_DOUBT
                } else {
                    // Rounded: the embedded doubt is a whole number of them.
                    (doubt.log2() * 16.0).round().min(f32::from(NO_DOUBT - 1)) as u8
                }
            })
            .collect();
        Ok(Self { elevation_m, surface_m, doubt })
    }
}

impl Show for LaidDepth {
    fn show(&self, _: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let run = cells.start as usize..cells.end as usize;
        if quantity == Quantity::DEPTH_DOUBT {
            for (out, doubt) in out.iter_mut().zip(self.doubt.get(run).unwrap_or_default()) {
                if *doubt != NO_DOUBT {
                    *out = (f32::from(*doubt) / 16.0).exp2();
                }
            }
            return;
        }
        let heights = if quantity == Quantity::ELEVATION {
            &self.elevation_m
        } else if quantity == Quantity::SURFACE_HEIGHT {
            &self.surface_m
        } else {
            return;
        };
        for (out, height) in out.iter_mut().zip(heights.get(run).unwrap_or_default()) {
            if *height != NO_HEIGHT {
                *out = f32::from(*height);
            }
        }
    }
}

#[cfg(test)]
mod tests {

    use super::super::workbench::{chart, check_contract};
    use super::*;
    use crate::embedded::depth;

    #[test]
    fn the_kind_keeps_its_contract() {
        check_contract::<DepthSpec>(&[]);
    }

    #[test]
    fn cells_have_the_values_of_their_centres() {
        let chart = chart(&Depth).unwrap();
        let all = |quantity| chart.values(0, quantity, &Control::default()).unwrap();
        let elevation = all(Quantity::ELEVATION);
        let (doubt, surface) = (all(Quantity::DEPTH_DOUBT), all(Quantity::SURFACE_HEIGHT));
        for cell in 0..chart.grid().len() {
            let centre = chart.grid().centre(cell as u32).unwrap();
            let floor = depth::elevation_m(centre).unwrap().unwrap();
            assert!((0.0..1.0).contains(&(elevation[cell] - floor)), "{} {floor}", elevation[cell]);
            match depth::doubt(centre).unwrap() {
                None => assert!(doubt[cell].is_nan()),
                Some(there) => assert!((doubt[cell] / there - 1.0).abs() < 1e-5),
            }
            match depth::surface_height_m(centre).unwrap() {
                None => assert!(surface[cell].is_nan()),
                Some(there) => assert!((surface[cell] - there).abs() <= 0.5),
            }
        }
        assert!(elevation.iter().any(|height| *height < -2000.0));
    }
}
