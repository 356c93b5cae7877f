use std::ops::Range;

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use dipward_plugin::{
    Assumption, Beyond, CellBatch, Change, Clock, Closure, CraftMode, Ground, Laid, Layer,
    PowerSetting, Provenance, Quantity, Stores, Travel,
};
use geo::coord;

use super::*;
use crate::NamedLayer;

const ICE: Quantity = Quantity::ICE_CONCENTRATION;

/// Ice that changes at some of its instants only; cell 5 and its column are closed.
#[derive(Debug, Clone)]
struct Ice(Vec<f64>, Vec<f32>);

impl Layer for Ice {
    fn quantities(&self) -> Vec<Quantity> {
        vec![ICE]
    }
    fn provenance(&self) -> Provenance {
        Provenance::default()
    }
    fn lay(&self, _: Ground<'_>, _: &Control) -> Result<Box<dyn Laid>, Error> {
        Ok(Box::new(self.clone()))
    }
}

impl Laid for Ice {
    fn hours(&self) -> &[f64] {
        &self.0
    }
    fn change(&self) -> Change {
        Change::Step
    }
    fn beyond(&self) -> Beyond {
        Beyond::Hold
    }
    fn fill(
        &self,
        _: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        for (cell, out) in cells.zip(out) {
            *out = if cell % 100 == 5 { 1.0 } else { self.1[instant] };
        }
        Ok(())
    }
}

/// Slower in more ice, closed at 1; setting 1 is half as fast and burns a quarter.
#[derive(Debug, Default)]
struct Boat {
    pace_at_cell_7: Option<f32>,
    silent: bool,
}

impl Craft for Boat {
    fn name(&self) -> String {
        "boat".into()
    }
    fn provenance(&self) -> Provenance {
        Provenance::default()
    }
    fn assumptions(&self) -> Vec<Assumption> {
        Vec::new()
    }
    fn mode(&self) -> CraftMode {
        CraftMode::Ship
    }
    fn reads(&self) -> Vec<Quantity> {
        vec![ICE]
    }
    fn settings(&self) -> Vec<PowerSetting> {
        ["full", "half"].map(|name| PowerSetting { name: name.into(), fraction: 1.0 }).into()
    }
    fn sectors(&self) -> u16 {
        3
    }
    fn stores(&self) -> Stores {
        Stores { capacity_t: 1.0, reserve_t: 0.0, hold_t_per_h: 0.1 }
    }
    fn travel(
        &self,
        cells: &CellBatch<'_>,
        setting: usize,
        sector: u16,
        out: &mut [Travel],
    ) -> Result<(), Error> {
        if self.silent {
            return Ok(());
        }
        let ice = cells.column(ICE).ok_or_else(|| Error::Outside("no ice".into()))?;
        for (cell, (out, ice)) in out.iter_mut().zip(ice).enumerate() {
            *out = if *ice >= 1.0 {
                Travel::closed(Closure::Ice, -20.0)
            } else {
                Travel {
                    pace_h_per_km: (1.0 + ice) * (1 + setting) as f32,
                    burn_t_per_h: 1.0,
                    risk_index: 10.0 - f32::from(sector),
                    elevated: setting == 1 && *ice > 0.5,
                    closure: Closure::Open,
                }
            };
            if let (Some(pace), 7) = (self.pace_at_cell_7, cell) {
                out.pace_h_per_km = pace;
            }
        }
        Ok(())
    }
}

fn chart(ice: &Ice) -> Chart {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, coord! { x: 1e6, y: -2e6 }, 5_000.0, 100, 90).unwrap();
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let layers = [NamedLayer { name: "ice", layer: ice }];
    Chart::lay(grid, clock, 100.0, &layers, &[ICE], &Control::default()).unwrap()
}

#[test]
fn tables_have_the_shape_and_the_values_that_the_craft_gives() {
    let chart = chart(&Ice(vec![0.0, 50.0], vec![0.25, 0.75]));
    let (table, risk) = pace_table(&chart, &Boat::default(), &Control::default()).unwrap();
    assert_eq!(table.check(), Ok(()));
    assert_eq!(table.hours, [0.0, 50.0, 50.0]);
    assert_eq!((table.settings, table.sectors), (2, 3));
    assert_eq!(table.pace_h_per_km[table.offset(1, 2, 0) + 8000], 2.5);
    assert_eq!(table.pace_h_per_km[table.offset(0, 0, 2) + 8000], 1.75);
    assert!(table.pace_h_per_km[table.offset(0, 1, 1) + 5].is_infinite());
    let first = risk.at(0, 8000).unwrap();
    assert_eq!((first.risk_index, first.elevated, first.closure), (8.0, false, Closure::Open));
    let at = chart.grid().centre(8000).unwrap();
    assert!(!risk.sample(49.0, at).unwrap().elevated);
    assert!(risk.sample(50.0, at).unwrap().elevated);
    assert_eq!(risk.at(0, 5).unwrap().closure, Closure::Ice);
    assert!(risk.at(3, 0).is_none() && risk.at(0, 9000).is_none());
    let bytes = table.pace_h_per_km.len() * 8 + risk.risk_index.len() * 6;
    assert_eq!(pace_table_bytes(&chart, &Boat::default()), bytes as u64);
}

#[test]
fn frames_that_change_nothing_are_left_out() {
    let hours = vec![0.0, 10.0, 20.0, 30.0, 40.0, 50.0];
    let same = chart(&Ice(hours.clone(), vec![0.5; 6]));
    let (table, risk) = pace_table(&same, &Boat::default(), &Control::default()).unwrap();
    assert_eq!((table.hours.as_slice(), risk.hours.as_slice()), (&[0.0][..], &[0.0][..]));
    let once = chart(&Ice(hours, vec![0.5, 0.5, 0.5, 0.1, 0.1, 0.1]));
    let (table, _) = pace_table(&once, &Boat::default(), &Control::default()).unwrap();
    assert_eq!(table.hours, [0.0, 30.0, 30.0]);
}

#[test]
fn a_craft_that_breaks_its_promise_is_named() {
    let chart = chart(&Ice(vec![], vec![0.5]));
    for (pace, word) in [(f32::NAN, "NaN"), (-1.0, "-1"), (0.0, "0"), (f32::INFINITY, "infinite")] {
        let boat = Boat { pace_at_cell_7: Some(pace), silent: false };
        let message = pace_table(&chart, &boat, &Control::default()).unwrap_err().to_string();
        assert!(message.contains("`boat`") && message.contains("cell 7 "), "{message}");
        assert!(message.contains(word), "{message}");
    }
    let boat = Boat { silent: true, ..Boat::default() };
    assert!(pace_table(&chart, &boat, &Control::default()).is_err());
}

#[test]
fn the_number_of_threads_does_not_change_a_bit() {
    let chart = chart(&Ice(vec![0.0, 50.0], vec![0.25, 0.75]));
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| pace_table(&chart, &Boat::default(), &Control::default()).unwrap())
    };
    let (one, three) = (on(1), on(3));
    assert_eq!(one.0, three.0);
    assert_eq!(one.1.closure, three.1.closure);
}

#[test]
fn a_place_goes_to_the_nearest_cell_of_the_sea() {
    // Column 5 is closed, so that the columns left of it are a lagoon.
    let chart = chart(&Ice(vec![], vec![0.5]));
    let (table, _) = pace_table(&chart, &Boat::default(), &Control::default()).unwrap();
    let open = OpenCells::of(&table);
    let centre = |cell| chart.grid().centre(cell).unwrap();
    assert!(open.is_open(3000) && !open.is_open(3005));
    assert!(!open.hang_together(3000, 3050));
    let stays = open.nearest(centre(3050), 10.0).unwrap();
    assert_eq!((stays.cell, stays.moved_km), (3050, 0.0));
    let moved = open.nearest(centre(3004), 30.0).unwrap();
    assert_eq!(moved.cell, 3006);
    assert!((moved.moved_km - 10.0).abs() < 0.6, "{}", moved.moved_km);
    assert!(open.nearest(centre(3004), 5.0).is_none());
    assert_eq!(open.nearest_reaching(centre(3005), 3000, 30.0).unwrap().cell, 3004);
    assert!(open.nearest(dipward_geodesy::position(0.0, 0.0), 1e9).is_none());
    assert!(open.nearest(centre(3004), f64::NAN).is_none());
}
