//! Free drift of the last ice chart by the wind.
//!
//! ```text
//!   hour     chart      chart + step   chart + 2 steps     D(x): from a cell's centre x to where
//!   source     0            D1              D2                   its ice lay when it was charted
//!
//!   D2(x) = -v dt + D1(x - v dt),   v at the step's middle in time and place
//! ```
//!
//! The steps are semi-Lagrangian: each cell asks where its ice came from, so that no cell is left
//! empty and codes are never mixed. Ice that would have come from off the chart, or by a wind that is
//! not known, is not covered.
//!
//! Source: the rule of 2 % and 30 degrees, F. Nansen, The Oceanography of the North Polar Basin (1902),
//! and N. N. Zubov, Arctic Ice (1945), both from memory.

use dipward_geodesy::{Cell, Grid};
use dipward_plugin::{BuildContext, Clock, Control, Error, Fault, Faults, Layer, Quantity, Spec};
use geo::{Coord, coord};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{forecast_grib::ForecastGribSpec, packed::check_memory};
use crate::{Chart, NamedLayer};

/// Ice that drifts freely with the wind after its last chart.
///
/// The rule knows neither the ice's internal stress, which holds back what is packed closer than
/// eight tenths, nor currents, nor coasts: it is good for loose ice and a few days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FreeDrift {
    /// The wind at 10 m from the last chart on, with the keys of the kind `forecast_grib`.
    wind: ForecastGribSpec,
    /// Speed of the ice as a share of the wind's.
    #[serde(default = "two_percent")]
    #[schemars(range(max = 0.1), extend("exclusiveMinimum" = 0))]
    wind_factor: f64,
    /// How far the ice moves to the right of the wind in the north, and to its left in the south.
    #[serde(default = "thirty")]
    #[schemars(range(min = 0.0, max = 90.0))]
    turning_deg: f64,
    /// How long after the last chart the rule is trusted; nothing is covered after that.
    #[serde(default = "three_days")]
    #[schemars(range(max = 480.0), extend("exclusiveMinimum" = 0))]
    at_most_h: f64,
    /// Hours from one drifted chart to the next.
    #[serde(default = "six")]
    #[schemars(range(min = 1.0, max = 48.0))]
    every_h: f64,
}

fn two_percent() -> f64 {
    0.02
}

fn thirty() -> f64 {
    30.0
}

fn three_days() -> f64 {
    72.0
}

fn six() -> f64 {
    6.0
}

/// The concentration above which free drift is known to overstate.
const PACKED: f64 = 0.8;

impl FreeDrift {
    pub(super) fn build(self, context: &BuildContext) -> Result<Drift, Faults> {
        let wind =
            self.wind.clone().build(context).map_err(|faults| faults.within("/drift/wind"))?;
        if !wind.quantities().contains(&Quantity::WIND_GRID_EAST) {
            return Err(Fault::at("/drift/wind/files", "the files have no wind").into());
        }
        Ok(Drift { keys: self, wind })
    }
}

/// The drift, its winds read.
#[derive(Debug)]
pub(super) struct Drift {
    keys: FreeDrift,
    wind: Box<dyn Layer>,
}

/// The cell that a cell's ice comes from.
pub(super) type Sources = Vec<Cell>;

/// Where ice comes from that is not on the chart, or whose way is not known.
pub(super) const NOWHERE: Cell = Cell::MAX;

impl Drift {
    /// Hours from one drifted chart to the next.
    pub(super) fn every_h(&self) -> f64 {
        self.keys.every_h
    }

    /// How long the drift is trusted.
    pub(super) fn at_most_h(&self) -> f64 {
        self.keys.at_most_h
    }

    pub(super) fn assumption(&self) -> String {
        format!(
            "after its last chart the ice drifts freely for at most {} h, at {} % of the wind and {} \
             degrees to the right of it in the north and to the left in the south; without internal \
             stress (it goes too fast where the concentration is above {PACKED}), without currents, \
             and as if there were no coast",
            self.keys.at_most_h,
            self.keys.wind_factor * 100.0,
            self.keys.turning_deg
        )
    }

    /// Where the ice of each cell comes from, for each age.
    ///
    /// # Errors
    ///
    /// What the winds say; [`Error::Outside`] where they do not reach from the chart on.
    pub(super) fn sources(
        &self,
        grid: &Grid,
        clock: Clock,
        charted_at_hour: f64,
        ages_h: &[f64],
        control: &Control,
    ) -> Result<Vec<Sources>, Error> {
        check_memory(grid, ages_h.len(), 4)?;
        let layers = [NamedLayer { name: "wind of the drift", layer: self.wind.as_ref() }];
        let wanted = [Quantity::WIND_GRID_EAST, Quantity::WIND_GRID_NORTH];
        let winds = Chart::lay(grid.clone(), clock, 0.0, &layers, &wanted, control)?;
        let all = back_ways(
            grid,
            [self.keys.wind_factor, self.keys.turning_deg],
            charted_at_hour,
            ages_h,
            |hour| {
                let moment = winds.at(hour);
                Ok([
                    moment.merged(Quantity::WIND_GRID_EAST, control)?.values,
                    moment.merged(Quantity::WIND_GRID_NORTH, control)?.values,
                ])
            },
        )?;
        if all.first().is_some_and(|first| first.iter().all(|cell| *cell == NOWHERE)) {
            let (from, to) = winds.instants().first().copied().flatten().unwrap_or_default();
            return Err(Error::Outside(format!(
                "the ice cannot drift from its last chart, of hour {charted_at_hour:.1} from the \
                 start: the wind is known for the hours {from:.1} to {to:.1}"
            )));
        }
        Ok(all)
    }
}

/// The longest step of the drift.
const STEP_H: f64 = 3.0;

/// Where the ice of each cell comes from, for each of increasing ages.
///
/// `winds` gives both components of an hour in the grid's frame, m/s.
fn back_ways(
    grid: &Grid,
    [wind_factor, turning_deg]: [f64; 2],
    charted_at_hour: f64,
    ages_h: &[f64],
    winds: impl Fn(f64) -> Result<[Vec<f32>; 2], Error>,
) -> Result<Vec<Sources>, Error> {
    // Compass bearings grow clockwise and the plane's angles do not.
    let turn = -(turning_deg.to_radians() * grid.projection().hemisphere().sign());
    let (sine, cosine) = turn.sin_cos();
    let mut back: Vec<[f32; 2]> = vec![[0.0; 2]; grid.len()];
    let mut age_h = 0.0;
    let mut all = Vec::with_capacity(ages_h.len());
    for &next_h in ages_h {
        let steps = ((next_h - age_h) / STEP_H).ceil().max(1.0) as u32;
        let step_h = (next_h - age_h) / f64::from(steps);
        for step in 0..steps {
            let middle_h = age_h + (f64::from(step) + 0.5) * step_h;
            let [east, north] = winds(charted_at_hour + middle_h)?;
            let seconds = step_h * 3600.0;
            let moved = |at: Coord<f64>| {
                let wind =
                    interpolated(grid, at, |cell| Some([*east.get(cell)?, *north.get(cell)?]))?;
                // Metres on the Earth become metres of the plane by the point's scale.
                let metres = wind_factor * seconds * grid.projection().point_scale_at(at);
                Some(coord! {
                    x: (wind[0] * cosine - wind[1] * sine) * metres,
                    y: (wind[0] * sine + wind[1] * cosine) * metres,
                })
            };
            let way = |cell: usize| {
                let at = grid.centre_coord(cell as Cell)?;
                let halfway = at - moved(at)? / 2.0;
                let came_by = moved(halfway)?;
                let before = interpolated(grid, at - came_by, |cell| back.get(cell).copied())?;
                Some([(before[0] - came_by.x) as f32, (before[1] - came_by.y) as f32])
            };
            let next: Vec<[f32; 2]> = (0..grid.len())
                .into_par_iter()
                .map(|cell| way(cell).unwrap_or([f32::NAN; 2]))
                .collect();
            back = next;
        }
        age_h = next_h;
        let sources = back.par_iter().enumerate().map(|(cell, way)| {
            let from = grid.centre_coord(cell as Cell).and_then(|at| {
                let [x, y] = way.map(f64::from);
                grid.cell_at_coord(coord! { x: at.x + x, y: at.y + y })
            });
            from.unwrap_or(NOWHERE)
        });
        all.push(sources.collect());
    }
    Ok(all)
}

/// A pair of amounts between the centres of four cells, those that are not known left out; nothing
/// where the cell that holds the place is not known, or off the grid.
fn interpolated(
    grid: &Grid,
    at: Coord<f64>,
    value: impl Fn(usize) -> Option<[f32; 2]>,
) -> Option<[f64; 2]> {
    let known = |cell: Cell| value(cell as usize).filter(|pair| !pair[0].is_nan());
    known(grid.cell_at_coord(at)?)?;
    let along = |value: f64, origin: f64| (value - origin) / grid.cell_m();
    // The origin is the centre of the first cell.
    let (across, up) = (along(at.x, grid.origin().x), along(at.y, grid.origin().y));
    let (left, below) = (across.floor(), up.floor());
    let (mut sum, mut weights) = ([0.0; 2], 0.0);
    for (dcolumn, column_share) in [(0.0, 1.0 - (across - left)), (1.0, across - left)] {
        for (drow, row_share) in [(0.0, 1.0 - (up - below)), (1.0, up - below)] {
            let (column, row) = (left + dcolumn, below + drow);
            if column < 0.0 || row < 0.0 {
                continue;
            }
            // Casts of what is too large give numbers that the grid has not.
            let Some(pair) = grid.cell(row as u32, column as u32).and_then(known) else {
                continue;
            };
            let weight = column_share * row_share;
            sum = [0, 1].map(|part| sum[part] + f64::from(pair[part]) * weight);
            weights += weight;
        }
    }
    (weights > 0.0).then(|| sum.map(|sum| sum / weights))
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic, inverse};

    use super::*;

    /// 600 km about 75 degrees in cells of 5 km.
    fn grid(hemisphere: Hemisphere) -> Grid {
        let sign = hemisphere.sign();
        let polar =
            PolarStereographic::variant_b(hemisphere, 71.0 * sign, 0.0, Ellipsoid::WGS84).unwrap();
        let centre = polar.forward(dipward_geodesy::position(75.0 * sign, 40.0));
        let origin = centre - coord! { x: 300_000.0, y: 300_000.0 };
        Grid::new(polar, origin, 5000.0, 121, 121).unwrap()
    }

    /// 10 m/s towards a bearing of the plane.
    fn steady(grid: &Grid, towards_deg: f64) -> [Vec<f32>; 2] {
        let (sine, cosine) = towards_deg.to_radians().sin_cos();
        [vec![(10.0 * sine) as f32; grid.len()], vec![(10.0 * cosine) as f32; grid.len()]]
    }

    #[test]
    fn a_steady_wind_moves_ice_by_the_closed_form_on_both_hemispheres() {
        for (hemisphere, turn_deg) in [(Hemisphere::North, 30.0), (Hemisphere::South, -30.0)] {
            let grid = grid(hemisphere);
            let wind = steady(&grid, 50.0);
            let ways =
                back_ways(&grid, [0.02, 30.0], -10.0, &[24.0, 48.0], |_| Ok(wind.clone())).unwrap();
            let cell = grid.cell(60, 60).unwrap();
            let here = grid.centre_coord(cell).unwrap();
            for (way, hours) in ways.iter().zip([24.0, 48.0]) {
                let from = grid.centre_coord(way[cell as usize]).unwrap();
                // 0.02 x 10 m/s x t, 17.28 km a day, towards 50 degrees of the plane and the turn.
                let moved_km = 0.02 * 10.0 * hours * 3.6;
                let line = inverse(grid.position(from), grid.position(here));
                // A source is told to the nearest cell: half a diagonal.
                assert!((line.distance_km - moved_km).abs() < 3.6, "{hours} {line:?}");
                let bearing_deg = (here.x - from.x).atan2(here.y - from.y).to_degrees();
                let off_deg = (bearing_deg - 50.0 - turn_deg + 180.0).rem_euclid(360.0) - 180.0;
                assert!(off_deg.to_radians().abs() * moved_km < 3.6, "{hemisphere} {off_deg}");
            }
        }
    }

    #[test]
    fn ice_from_off_the_chart_is_nowhere() {
        let grid = grid(Hemisphere::North);
        let wind = steady(&grid, 60.0);
        // Turned by 30 degrees the ice goes towards +x: what enters comes from the left.
        let ways = back_ways(&grid, [0.02, 30.0], 0.0, &[48.0], |_| Ok(wind.clone())).unwrap();
        let entered = |column: u32| {
            (5..116).all(|row| ways[0][grid.cell(row, column).unwrap() as usize] == NOWHERE)
        };
        // 34.6 km on the Earth are 34.4 to 35.1 km of the plane: seven cells.
        assert!(entered(0) && entered(5) && !entered(8) && !entered(120));
        let calm = [vec![0.0; grid.len()], vec![0.0; grid.len()]];
        let still = back_ways(&grid, [0.02, 30.0], 0.0, &[6.0], |_| Ok(calm.clone())).unwrap();
        assert!(still[0].iter().enumerate().all(|(cell, from)| *from == cell as Cell));
        let unknown = [vec![f32::NAN; grid.len()], vec![f32::NAN; grid.len()]];
        let none = back_ways(&grid, [0.02, 30.0], 0.0, &[6.0], |_| Ok(unknown.clone())).unwrap();
        assert!(none[0].iter().all(|from| *from == NOWHERE));
    }

    /// In a wind that turns about the middle of the plane, ice keeps its distance and turns by the
    /// angle of its speed: the closed form of a rigid rotation, but for the plane's scale.
    #[test]
    fn a_whirl_is_followed_round() {
        let grid = grid(Hemisphere::North);
        let middle = grid.centre_coord(grid.cell(60, 60).unwrap()).unwrap();
        let per_second = 1.0e-4;
        let components = |pick: fn(Coord<f64>) -> f64| -> Vec<f32> {
            (0..grid.len() as Cell)
                .map(|cell| {
                    let at = grid.centre_coord(cell).unwrap();
                    let scale = grid.projection().point_scale_at(at);
                    (per_second * pick(at - middle) / scale) as f32
                })
                .collect()
        };
        let wind = [components(|off| -off.y), components(|off| off.x)];
        let ways = back_ways(&grid, [0.02, 0.0], 0.0, &[72.0], |_| Ok(wind.clone())).unwrap();
        let cell = grid.cell(60, 100).unwrap();
        let from = grid.centre_coord(ways[0][cell as usize]).unwrap() - middle;
        // 200 km to the right; 0.02 x 1e-4 /s x 72 h = 0.5184 rad, backwards.
        let expected = coord! { x: 200e3 * 0.5184_f64.cos(), y: -200e3 * 0.5184_f64.sin() };
        let off = from - expected;
        assert!(off.x.hypot(off.y) < 5000.0, "{from:?} {expected:?}");
    }
}
