//! `coast`: land and ice shelves that the library carries.

use std::ops::Range;

use dipward_geodesy::{Grid, Hemisphere};
use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Faults, Ground, Laid, Layer, LayerPoint, Outline,
    Provenance, Quantity, Spec,
};
use geo::{BoundingRect, Intersects, MultiPolygon};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scheduled::{Scheduled, Show};
use crate::{
    embedded::coast::{
        EDGE_LATITUDE_DEG, ice_shelf_provenance, ice_shelves, land, land_provenance, projection,
    },
    vector::{PlanePolygon, add_area_fraction, cells_by_centre},
};

/// Land and Antarctic ice shelves, embedded, poleward of 40 degrees.
///
/// A cell is land when its centre is, or when more than a share of its area is; among the others it
/// is shelf by the same rule. Straits narrower than a cell may close: take smaller cells, or a larger
/// share, where the way leads through one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoastSpec {
    /// The share of its area above which a cell whose centre is water is land, or shelf, all the same.
    #[serde(default = "half")]
    #[schemars(range(min = 0.0, max = 1.0))]
    land_share: f32,
    /// Whether to add the ice shelves, which ships cannot cross.
    #[serde(default = "yes")]
    ice_shelves: bool,
}

fn half() -> f32 {
    0.5
}

fn yes() -> bool {
    true
}

impl Default for CoastSpec {
    fn default() -> Self {
        Self { land_share: half(), ice_shelves: yes() }
    }
}

impl Spec for CoastSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "coast";
    const SUMMARY: &'static str =
        "land and Antarctic ice shelves poleward of 40 degrees, carried by the library";
    const EXAMPLE: &'static str = "{kind: coast, land_share: 0.5}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        Ok(Box::new(Coast(self)))
    }
}

#[derive(Debug)]
struct Coast(CoastSpec);

impl Layer for Coast {
    fn quantities(&self) -> Vec<Quantity> {
        vec![Quantity::LAND, Quantity::SHELF]
    }

    fn provenance(&self) -> Provenance {
        let land = land_provenance();
        if !self.0.ice_shelves {
            return land;
        }
        let shelves = ice_shelf_provenance();
        Provenance {
            name: format!("{}; {}", land.name, shelves.name),
            source: format!("{}; {}", land.source, shelves.source),
            licence: land.licence,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut list = vec![Assumption::new(
            "chart",
            "the coast is that of a small-scale map, good to a few kilometres off Antarctica",
        )];
        if self.0.ice_shelves {
            list.push(Assumption::new("chart", "ice shelves have the fronts of 2003 and 2004"));
        }
        list
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        let grid = ground.grid;
        let hemisphere = grid.projection().hemisphere();
        let mut cover = vec![SEA; grid.len()];
        let mut outlines = Vec::new();
        if self.0.ice_shelves && hemisphere == Hemisphere::South {
            let areas = self.mark(ice_shelves()?, grid, SHELF, &mut cover, control)?;
            outlines.push(Outline { quantity: Quantity::SHELF, areas });
        }
        // Land comes last, since the shelves reach under it.
        let areas = self.mark(land(hemisphere)?, grid, LAND, &mut cover, control)?;
        outlines.push(Outline { quantity: Quantity::LAND, areas });

        let columns = grid.columns() as usize;
        cover.par_chunks_mut(columns).enumerate().for_each(|(row, cover)| {
            for (column, cover) in cover.iter_mut().enumerate() {
                let centre = grid.centre((row * columns + column) as u32);
                let known = centre
                    .is_some_and(|centre| centre.y() * hemisphere.sign() >= EDGE_LATITUDE_DEG);
                if !known {
                    *cover = BEYOND;
                }
            }
        });
        Ok(Box::new(Scheduled::always(LaidCoast { cover, outlines })))
    }
}

impl Coast {
    /// Marks the cells of some areas, and returns the areas that meet the grid, in its metres.
    fn mark(
        &self,
        areas: &MultiPolygon<f64>,
        grid: &Grid,
        what: u8,
        cover: &mut [u8],
        control: &Control,
    ) -> Result<MultiPolygon<f64>, Error> {
        let from = projection(grid.projection().hemisphere())?;
        let bounds = grid.bounds();
        let mut share = vec![0.0_f32; grid.len()];
        let mut outlines = Vec::new();
        for area in areas {
            control.check()?;
            let polygon = PlanePolygon::of_map(area, &from, grid);
            let outline = polygon.to_metres(grid);
            if !outline.bounding_rect().is_some_and(|rect| rect.intersects(&bounds)) {
                continue;
            }
            add_area_fraction(&polygon, grid, &mut share);
            cells_by_centre(&polygon, grid, |run| {
                let run = run.start as usize..run.end as usize;
                // More than any share.
                share.get_mut(run).into_iter().flatten().for_each(|share| *share += 2.0);
            });
            outlines.push(outline);
        }
        // Eight lines a row add up to the share with some rounding.
        let limit = self.0.land_share + 1e-4;
        for (cover, share) in cover.iter_mut().zip(&share) {
            if *share > limit {
                *cover = what;
            }
        }
        Ok(MultiPolygon::new(outlines))
    }
}

const SEA: u8 = 0;
const LAND: u8 = 1;
const SHELF: u8 = 2;
/// Nearer the equator than the coast is known.
const BEYOND: u8 = 3;

/// Memory: 1 byte a cell, and the outlines; 4 bytes a cell more while it is laid.
#[derive(Debug)]
struct LaidCoast {
    cover: Vec<u8>,
    outlines: Vec<Outline>,
}

impl Show for LaidCoast {
    fn show(&self, _: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let wanted = if quantity == Quantity::LAND {
            LAND
        } else if quantity == Quantity::SHELF {
            SHELF
        } else {
            return;
        };
        let run = self.cover.get(cells.start as usize..cells.end as usize).unwrap_or_default();
        for (out, cover) in out.iter_mut().zip(run) {
            *out = match *cover {
                BEYOND => f32::NAN,
                cover => f32::from(u8::from(cover == wanted)),
            };
        }
    }

    fn outlines(&self, _: Option<usize>) -> Vec<Outline> {
        self.outlines.clone()
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, PolarStereographic, position};

    use super::super::workbench::{check_contract, clock};
    use super::*;
    use crate::{
        Chart, NamedLayer,
        embedded::coast::{Cover, cover_at},
    };

    fn chart(grid: Grid) -> Chart {
        let layer = Coast(CoastSpec::default());
        let layers = [NamedLayer { name: "coast", layer: &layer }];
        let quantities = layer.quantities();
        Chart::lay(grid, clock(), 10.0, &layers, &quantities, &Control::default()).unwrap()
    }

    fn south(central_meridian_deg: f64) -> Grid {
        let polar = PolarStereographic::variant_b(
            Hemisphere::South,
            -71.0,
            central_meridian_deg,
            Ellipsoid::WGS84,
        )
        .unwrap();
        let ends = [position(-42.88, 147.33), position(-63.8, 135.0), position(-78.0, 165.0)];
        Grid::covering(polar, &ends, 10.0, 100.0).unwrap()
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        check_contract::<CoastSpec>(&[]);
    }

    #[test]
    fn cells_agree_with_the_place_at_their_centres() {
        // On the embedded map itself and on one turned against it.
        for grid in [south(0.0), south(140.0)] {
            let chart = chart(grid);
            let all = |quantity| chart.values(0, quantity, &Control::default()).unwrap();
            let (land, shelf) = (all(Quantity::LAND), all(Quantity::SHELF));
            let mut seen = [0; 3];
            for cell in (0..chart.grid().len()).step_by(37) {
                let centre = chart.grid().centre(cell as u32).unwrap();
                match cover_at(centre).unwrap() {
                    None => assert!(land[cell].is_nan() && shelf[cell].is_nan()),
                    // Water at the centre may lie in a cell that is mostly not water.
                    Some(Cover::Sea) => seen[0] += 1,
                    Some(Cover::Land) => {
                        assert_eq!((land[cell], shelf[cell]), (1.0, 0.0));
                        seen[1] += 1;
                    }
                    Some(Cover::IceShelf) => {
                        assert_eq!(land[cell] + shelf[cell], 1.0);
                        seen[2] += 1;
                    }
                }
            }
            assert!(seen.iter().all(|count| *count > 10), "{seen:?}");
            let water = land.iter().zip(&shelf).filter(|(a, b)| **a + **b == 0.0).count();
            assert!(water > chart.grid().len() / 3);
        }
    }

    #[test]
    fn a_ship_finds_water_near_harbours_and_none_under_the_great_shelf() {
        let chart = chart(south(0.0));
        let at = |quantity, latitude_deg, longitude_deg| {
            chart.sample(0.0, quantity, position(latitude_deg, longitude_deg)).unwrap()
        };
        assert_eq!(at(Quantity::SHELF, -78.3, 168.0), 1.0);
        assert_eq!(at(Quantity::LAND, -72.0, 150.0), 1.0);
        assert_eq!(at(Quantity::LAND, -64.0, 140.0), 0.0);
        assert_eq!(chart.outlines().len(), 2);
    }
}
