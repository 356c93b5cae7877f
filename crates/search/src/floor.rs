//! The least that a cell can cost through time: what the lower bounds are made of.

use std::sync::Arc;

use dipward_plugin::PaceTable;
use rayon::prelude::*;

/// For each cell and frame, the least price of a kilometre over all power settings and headings, in
/// the unit of the price.
///
/// Between frames pace and burn are linear in time, and between sector centres in the angle. Their
/// product, the fuel per kilometre, is then least at one of the ends: where both grow or both fall it
/// is monotone, and where one grows and the other falls it is concave. So the ends are enough; the same
/// holds of the burn beyond that of lying still, which is nothing where it would be less, and of hours
/// and fuel in a sum.
#[derive(Debug)]
pub(crate) struct Prices {
    frames: usize,
    /// `[cell][frame]`, infinite where closed.
    values: Vec<f32>,
    /// The least true length of a cell width within each cell, km.
    width_km: Arc<Vec<f32>>,
}

/// The prices that every problem over a table asks for.
#[derive(Debug)]
pub(crate) struct Floor {
    /// Hours.
    pub(crate) hours: Prices,
    /// Tonnes.
    pub(crate) tonnes: Prices,
    /// Tonnes beyond what lying still would burn in the same time.
    pub(crate) beyond: Prices,
}

/// Takes the rounding of f32 off a lower bound.
const ROUNDING: f32 = 1.0 - 1e-6;

impl Floor {
    pub(crate) fn new(table: &PaceTable) -> Self {
        let width_km = Arc::new(widths(table));
        let prices = |price: &(dyn Fn(f32, f32) -> f32 + Sync)| {
            Prices::new(table, Arc::clone(&width_km), price)
        };
        // Rounded up: what is beyond it must not be too much.
        let hold = (table.hold_t_per_h as f32).next_up();
        Self {
            hours: prices(&|pace, _| pace),
            tonnes: prices(&|pace, burn| pace * burn),
            beyond: prices(&|pace, burn| pace * (burn - hold).max(0.0)),
        }
    }

    /// Hours, and tonnes at a weight.
    pub(crate) fn weighed(&self, table: &PaceTable, fuel_weight_h_per_t: f64) -> Prices {
        let weight = fuel_weight_h_per_t as f32;
        let price = |pace: f32, burn: f32| pace * (1.0 + weight * burn) * ROUNDING;
        Prices::new(table, Arc::clone(&self.hours.width_km), &price)
    }
}

impl Prices {
    /// The least of a price, a function of pace and burn.
    fn new(
        table: &PaceTable,
        width_km: Arc<Vec<f32>>,
        price: &(dyn Fn(f32, f32) -> f32 + Sync),
    ) -> Self {
        let frames = table.hours.len();
        let columns = table.grid.columns() as usize;
        let mut values = vec![f32::INFINITY; table.grid.len() * frames];
        values.par_chunks_mut(columns * frames).enumerate().for_each(|(row, values)| {
            for setting in 0..table.settings {
                for sector in 0..table.sectors {
                    for frame in 0..frames {
                        let start = table.offset(setting, sector, frame) + row * columns;
                        let pace = &table.pace_h_per_km[start..start + columns];
                        let burn = &table.burn_t_per_h[start..start + columns];
                        for (column, (&pace, &burn)) in pace.iter().zip(burn).enumerate() {
                            let value = &mut values[column * frames + frame];
                            if pace < f32::INFINITY {
                                *value = value.min(price(pace, burn));
                            }
                        }
                    }
                }
            }
        });
        Self { frames, values, width_km }
    }

    /// The least price of a cell width over some frames, both included; infinite where the cell is
    /// closed in all of them.
    pub(crate) fn least(&self, cell: usize, frames: (usize, usize)) -> f32 {
        self.least_per_km(cell, frames) * self.width_km[cell]
    }

    /// As [`Prices::least`], of a kilometre.
    pub(crate) fn least_per_km(&self, cell: usize, frames: (usize, usize)) -> f32 {
        let start = cell * self.frames;
        let values = &self.values[start + frames.0..=start + frames.1];
        values.iter().copied().fold(f32::INFINITY, f32::min)
    }

    /// The least price of all.
    pub(crate) fn least_of_all(&self) -> f32 {
        let least = self.values.iter().copied().filter(|&v| v > 0.0).fold(f32::INFINITY, f32::min);
        least * self.width_km.iter().copied().fold(f32::INFINITY, f32::min)
    }
}

/// The scale is greatest, and a cell width shortest, at the corner that is furthest from the pole.
fn widths(table: &PaceTable) -> Vec<f32> {
    let grid = &table.grid;
    let (columns, rows) = (grid.columns() as usize, grid.rows() as usize);
    let (origin, cell_m) = (grid.origin(), grid.cell_m());
    let scale = |column: usize, row: usize| {
        let coord = geo::Coord {
            x: origin.x + (column as f64 - 0.5) * cell_m,
            y: origin.y + (row as f64 - 0.5) * cell_m,
        };
        grid.projection().point_scale_at(coord)
    };
    let corners: Vec<Vec<f64>> = (0..=rows)
        .into_par_iter()
        .map(|row| (0..=columns).map(|column| scale(column, row)).collect())
        .collect();
    let mut out = Vec::with_capacity(grid.len());
    for pair in corners.windows(2) {
        let [low, high] = pair else { continue };
        out.extend(low.windows(2).zip(high.windows(2)).map(|(a, b)| {
            let most = a.iter().chain(b).copied().fold(0.0, f64::max);
            (grid.cell_km() / most) as f32 * ROUNDING
        }));
    }
    out
}
