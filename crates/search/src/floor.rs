//! The least that a cell can cost through time: what the lower bounds are made of.

use std::sync::Arc;

use dipward_plugin::PaceTable;
use rayon::prelude::*;

use crate::world::{Interval, interval_at};

/// What a kilometre costs.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Price {
    Hours,
    Tonnes,
    /// Tonnes beyond what every hour burns, t/h.
    Beyond(f32),
    /// Hours, and tonnes at a weight, h/t.
    Weighed(f32),
}

impl Price {
    fn of(self, pace_h_per_km: f32, burn_t_per_h: f32) -> f32 {
        let rate = match self {
            Self::Hours => 1.0,
            Self::Tonnes => burn_t_per_h,
            Self::Beyond(hold) => (burn_t_per_h - hold).max(0.0),
            Self::Weighed(weight) => 1.0 + weight * burn_t_per_h,
        };
        pace_h_per_km * rate * ROUNDING
    }
}

/// For each cell, the least price of a kilometre over all power settings and headings.
///
/// Between frames pace and burn are linear in time, and between sector centres in the angle. Their
/// product, the fuel per kilometre, is then least at one of the ends of any stretch of time within an
/// interval: where both grow or both fall it is monotone, and where one grows and the other falls it is
/// concave. So the ends are enough; the same holds of the burn beyond that of every hour, and of hours and
/// fuel in a sum.
#[derive(Debug)]
pub(crate) struct Prices<'t> {
    table: &'t PaceTable,
    price: Price,
    /// At the frames, `[cell][frame]`, infinite where closed.
    values: Vec<f32>,
    /// The least true length of a cell width within each cell, km.
    width_km: Arc<Vec<f32>>,
}

/// What a cell width costs over a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    /// The least while it is open; infinite where it never is.
    pub(crate) least: f32,
    /// The most; infinite where it is ever closed.
    pub(crate) most: f32,
}

/// The prices that every problem over a table asks for.
#[derive(Debug)]
pub(crate) struct Floor<'t> {
    /// Hours.
    pub(crate) hours: Prices<'t>,
    /// Tonnes.
    pub(crate) tonnes: Prices<'t>,
    /// Tonnes beyond what every hour burns in the same time.
    pub(crate) beyond: Prices<'t>,
    /// What every hour burns at the least, t/h: lying still, or moving where that burns less.
    pub(crate) least_t_per_h: f64,
}

/// Takes the rounding of f32 off a lower bound.
const ROUNDING: f32 = 1.0 - 1e-6;

impl<'t> Floor<'t> {
    pub(crate) fn new(table: &'t PaceTable) -> Self {
        let width_km = Arc::new(widths(table));
        let prices = |price| Prices::new(table, Arc::clone(&width_km), price);
        let least_t_per_h = least_burn(table).min(table.hold_t_per_h);
        // Rounded up: what is beyond it must not be too much.
        let every_hour = (least_t_per_h as f32).next_up();
        Self {
            hours: prices(Price::Hours),
            tonnes: prices(Price::Tonnes),
            beyond: prices(Price::Beyond(every_hour)),
            least_t_per_h,
        }
    }

    /// Hours, and tonnes at a weight.
    pub(crate) fn weighed(&self, fuel_weight_h_per_t: f64) -> Prices<'t> {
        let price = Price::Weighed(fuel_weight_h_per_t as f32);
        Prices::new(self.hours.table, Arc::clone(&self.hours.width_km), price)
    }
}

impl<'t> Prices<'t> {
    fn new(table: &'t PaceTable, width_km: Arc<Vec<f32>>, price: Price) -> Self {
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
                                *value = value.min(price.of(pace, burn));
                            }
                        }
                    }
                }
            }
        });
        Self { table, price, values, width_km }
    }

    /// The least price of a cell width between two hours; infinite where the cell is closed throughout.
    pub(crate) fn least(
        &self,
        intervals: &[Interval],
        cell: usize,
        (from_hour, until_hour): (f64, f64),
    ) -> f32 {
        let (first, last) = (interval_at(intervals, from_hour), interval_at(intervals, until_hour));
        let mut least = self.at(&intervals[first], cell, from_hour);
        if until_hour > from_hour {
            least = least.min(self.at(&intervals[last], cell, until_hour));
        }
        if last > first {
            let between = (intervals[first].far_frame, intervals[last].near_frame);
            least = least.min(self.least_per_km(cell, between));
        }
        least * self.width_km[cell]
    }

    /// What a cell width costs from an hour until before another; taken as linear between frames. Hours
    /// cost no less than that, for the least of several paces that are linear is concave.
    pub(crate) fn span(
        &self,
        intervals: &[Interval],
        cell: usize,
        (from_hour, until_hour): (f64, f64),
    ) -> Span {
        let mut span = Span { least: f32::INFINITY, most: 0.0 };
        let last = intervals.partition_point(|interval| interval.begin_hour < until_hour);
        let first = interval_at(intervals, from_hour);
        for interval in &intervals[first..last.max(first + 1)] {
            let begin_hour = interval.begin_hour.max(from_hour);
            let ends = [begin_hour, interval.end_hour.min(until_hour)];
            for value in ends.map(|hour| self.between_frames(interval, cell, hour)) {
                span.least = span.least.min(value);
                span.most = span.most.max(value);
            }
        }
        span.least *= self.width_km[cell] * ROUNDING;
        // The scale varies by less than this across a cell.
        span.most *= self.width_km[cell] * 1.01;
        span
    }

    /// The first hour after another at which a cell opens or becomes cheaper at once.
    pub(crate) fn falls_after(
        &self,
        intervals: &[Interval],
        cell: usize,
        after_hour: f64,
    ) -> Option<f64> {
        intervals[interval_at(intervals, after_hour)..].windows(2).find_map(|pair| {
            let [before, after] = pair else { return None };
            let hour = after.begin_hour;
            let value = |interval| self.between_frames(interval, cell, hour);
            (hour > after_hour && value(after) < value(before)).then_some(hour)
        })
    }

    /// The price of a kilometre at an hour of an interval, linear between those at its frames; infinite
    /// where the cell is closed at either.
    fn between_frames(&self, interval: &Interval, cell: usize, hour: f64) -> f32 {
        let start = cell * self.table.hours.len();
        let near = self.values[start + interval.near_frame];
        let far = self.values[start + interval.far_frame];
        if near == f32::INFINITY || far == f32::INFINITY {
            f32::INFINITY
        } else {
            near + interval.fraction(hour) as f32 * (far - near)
        }
    }

    /// The least price of a kilometre at an hour of an interval.
    fn at(&self, interval: &Interval, cell: usize, hour: f64) -> f32 {
        let table = self.table;
        let (near, far) = (interval.near_frame, interval.far_frame);
        if near == far {
            return self.values[cell * table.hours.len() + near];
        }
        let fraction = interval.fraction(hour).clamp(0.0, 1.0) as f32;
        let mut least = f32::INFINITY;
        for setting in 0..table.settings {
            for sector in 0..table.sectors {
                let near = table.offset(setting, sector, near) + cell;
                let far = table.offset(setting, sector, far) + cell;
                let between = |values: &[f32]| {
                    let (near, far) = (values[near], values[far]);
                    near + fraction * (far - near)
                };
                let pace = between(&table.pace_h_per_km);
                // What is closed at one end is infinite or not a number.
                if pace < f32::INFINITY {
                    least = least.min(self.price.of(pace, between(&table.burn_t_per_h)));
                }
            }
        }
        least
    }

    /// The least price of a kilometre at the frames of a range, both ends included.
    pub(crate) fn least_per_km(&self, cell: usize, frames: (usize, usize)) -> f32 {
        let start = cell * self.table.hours.len();
        let values = &self.values[start + frames.0..=start + frames.1];
        values.iter().copied().fold(f32::INFINITY, f32::min)
    }

    /// The least price of all.
    pub(crate) fn least_of_all(&self) -> f32 {
        let least = self.values.iter().copied().filter(|&v| v > 0.0).fold(f32::INFINITY, f32::min);
        least * self.width_km.iter().copied().fold(f32::INFINITY, f32::min)
    }
}

/// The least that an hour of moving burns in any cell that is open, t/h.
fn least_burn(table: &PaceTable) -> f64 {
    let open = table.pace_h_per_km.par_iter().zip(&table.burn_t_per_h);
    let least = open
        .filter(|(pace, _)| **pace < f32::INFINITY)
        .map(|(_, burn)| *burn)
        .reduce(|| f32::INFINITY, f32::min);
    least.into()
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
