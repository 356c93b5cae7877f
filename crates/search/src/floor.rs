//! The least that a cell can cost through time: what the lower bounds are made of.

use dipward_plugin::PaceTable;
use rayon::prelude::*;

/// For each cell and frame, the least pace and the least fuel per kilometre over all power settings
/// and headings.
///
/// Between frames pace and burn are linear in time, and between sector centres in the angle. Their
/// product, the fuel per kilometre, is then least at one of the ends: where both grow or both fall it
/// is monotone, and where one grows and the other falls it is concave. So the ends are enough; the same
/// holds of the burn beyond that of lying still, which is nothing where it would be less.
#[derive(Debug)]
pub(crate) struct Floor {
    frames: usize,
    /// Hours per kilometre, `[cell][frame]`.
    hours: Vec<f32>,
    /// Tonnes per kilometre, `[cell][frame]`.
    tonnes: Vec<f32>,
    /// Tonnes per kilometre beyond what lying still would burn, `[cell][frame]`.
    beyond: Vec<f32>,
    /// The least true length of a cell width within each cell, km.
    width_km: Vec<f32>,
}

/// What is bounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Price {
    Hours,
    Tonnes,
    /// Tonnes beyond what lying still would burn in the same time.
    Beyond,
}

/// Takes the rounding of f32 off a lower bound.
const ROUNDING: f32 = 1.0 - 1e-6;

impl Floor {
    pub(crate) fn new(table: &PaceTable) -> Self {
        let (cells, frames) = (table.grid.len(), table.hours.len());
        let mut hours = vec![f32::INFINITY; cells * frames];
        let mut tonnes = vec![f32::INFINITY; cells * frames];
        let mut beyond = vec![f32::INFINITY; cells * frames];
        // Rounded up: what is beyond it must not be too much.
        let hold = (table.hold_t_per_h as f32).next_up();
        let columns = table.grid.columns() as usize;
        hours
            .par_chunks_mut(columns * frames)
            .zip(tonnes.par_chunks_mut(columns * frames))
            .zip(beyond.par_chunks_mut(columns * frames))
            .enumerate()
            .for_each(|(row, ((hours, tonnes), beyond))| {
                for setting in 0..table.settings {
                    for sector in 0..table.sectors {
                        for frame in 0..frames {
                            let start = table.offset(setting, sector, frame) + row * columns;
                            let pace = &table.pace_h_per_km[start..start + columns];
                            let burn = &table.burn_t_per_h[start..start + columns];
                            for (column, (&pace, &burn)) in pace.iter().zip(burn).enumerate() {
                                let at = column * frames + frame;
                                hours[at] = hours[at].min(pace);
                                if pace < f32::INFINITY {
                                    tonnes[at] = tonnes[at].min(pace * burn);
                                    beyond[at] = beyond[at].min(pace * (burn - hold).max(0.0));
                                }
                            }
                        }
                    }
                }
            });
        Self { frames, hours, tonnes, beyond, width_km: widths(table) }
    }

    /// The least price of a cell width over some frames, both included; infinite where the cell is
    /// closed in all of them.
    pub(crate) fn least(&self, price: Price, cell: usize, frames: (usize, usize)) -> f32 {
        let values = match price {
            Price::Hours => &self.hours,
            Price::Tonnes => &self.tonnes,
            Price::Beyond => &self.beyond,
        };
        let start = cell * self.frames;
        let values = &values[start + frames.0..=start + frames.1];
        values.iter().copied().fold(f32::INFINITY, f32::min) * self.width_km[cell]
    }

    /// The least price of all.
    pub(crate) fn least_of_all(&self, price: Price) -> f32 {
        let values = match price {
            Price::Hours => &self.hours,
            Price::Tonnes => &self.tonnes,
            Price::Beyond => &self.beyond,
        };
        let least = values.iter().copied().filter(|&v| v > 0.0).fold(f32::INFINITY, f32::min);
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
