//! A pace table made ready for a search: padded layers of hours per cell width, the best power
//! setting chosen cell by cell, the times when cells open and close.

use std::sync::Arc;

use dipward_plugin::{Control, Error, PaceTable};
use rayon::prelude::*;

use crate::{
    heading::Heading, kernel::is_any_steep, openings::Openings, padding::Padding, sheet::Sheet,
    weight::Weight,
};

/// A stretch of time between two frames, or before the first, or after the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Interval {
    /// First hour, -infinite before the first frame.
    pub(crate) begin_hour: f64,
    /// Last hour, infinite after the last frame.
    pub(crate) end_hour: f64,
    /// Frame at the beginning.
    pub(crate) near_frame: usize,
    /// Frame at the end.
    pub(crate) far_frame: usize,
    /// Layer at the beginning, within a sector.
    pub(crate) near_layer: usize,
    /// Layer at the end, within a sector.
    pub(crate) far_layer: usize,
    /// One over the length, 0 where nothing changes.
    pub(crate) per_length: f64,
    /// Whether some cell's pace changes too fast for the kernel's series.
    pub(crate) steep: bool,
}

impl Interval {
    /// How far into the interval an hour is, 0 to 1; 0 where nothing changes.
    #[inline]
    pub(crate) fn fraction(&self, hour: f64) -> f64 {
        if self.per_length > 0.0 { (hour - self.begin_hour) * self.per_length } else { 0.0 }
    }
}

/// A pace table made ready for searches with one weight of fuel.
#[derive(Debug)]
pub struct World<'t> {
    pub(crate) table: &'t PaceTable,
    pub(crate) weight: Weight,
    pub(crate) padding: Padding,
    pub(crate) intervals: Vec<Interval>,
    /// Layers of one sector.
    pub(crate) layers: usize,
    /// Hours per cell width, `[sector][layer][padded cell]`, infinite where closed.
    pub(crate) pace: Sheet,
    /// Cost per hour, shape as the pace; empty where the cost is the time.
    pub(crate) rate: Sheet,
    /// Kilometres on the Earth per cell width, a cell of the grid each.
    pub(crate) width_km: Vec<f32>,
    pub(crate) openings: Arc<Openings>,
    /// The least cost of a cell width.
    pub(crate) least_width_cost: f32,
    /// The usual cost of a cell width: ten times the mean.
    pub(crate) usual_width_cost: f32,
    /// The most hours that a cell width takes where it is open.
    pub(crate) most_width_h: f32,
}

impl<'t> World<'t> {
    /// Makes a table ready.
    ///
    /// # Arguments
    ///
    /// * `fuel_weight_h_per_t`: what a tonne of fuel is worth in hours; 0 for the earliest arrival,
    ///   infinite for the least fuel.
    ///
    /// # Errors
    ///
    /// [`Error::Unsolved`] when the table is malformed or the weight negative or not a number;
    /// [`Error::Cancelled`].
    ///
    /// # Complexity
    ///
    /// Linear in the entries of the table; in parallel over the frames.
    pub fn new(
        table: &'t PaceTable,
        fuel_weight_h_per_t: f64,
        control: &Control,
    ) -> Result<Self, Error> {
        let mut world = Self::for_lines(table, fuel_weight_h_per_t, control)?;
        world.lay(control)?;
        Ok(world)
    }

    /// A world without the layers: enough to sail lines in, not to search.
    ///
    /// # Errors
    ///
    /// As [`World::new`].
    pub fn for_lines(
        table: &'t PaceTable,
        fuel_weight_h_per_t: f64,
        control: &Control,
    ) -> Result<Self, Error> {
        table.check().map_err(Error::Unsolved)?;
        if !(0.0..f64::INFINITY).contains(&table.hold_t_per_h) {
            return Err(Error::Unsolved("the burn while waiting must not be negative".into()));
        }
        let weight = Weight::new(fuel_weight_h_per_t, table).map_err(Error::Unsolved)?;
        control.check()?;
        let padding = Padding::new(&table.grid);
        let intervals = intervals_of(&table.hours, table.settings == 1);
        let openings = Arc::new(Openings::new(table, &intervals, padding));
        Ok(Self::bare(table, weight, padding, intervals, openings))
    }

    /// The same world with another weight, for lines alone; nothing for a weight that is negative or
    /// not a number.
    pub(crate) fn weighing(&self, fuel_weight_h_per_t: f64) -> Option<Self> {
        let Self { table, padding, ref intervals, ref openings, .. } = *self;
        let weight = Weight::new(fuel_weight_h_per_t, table).ok()?;
        Some(Self::bare(table, weight, padding, intervals.clone(), Arc::clone(openings)))
    }

    /// The same world in strips of a width.
    #[cfg(test)]
    pub(crate) fn in_strips(&self, width: usize) -> Result<Self, Error> {
        let Self { table, weight, ref intervals, .. } = *self;
        let padding = Padding::in_strips(&table.grid, width);
        let openings = Arc::new(Openings::new(table, intervals, padding));
        let mut world = Self::bare(table, weight, padding, intervals.clone(), openings);
        world.lay(&Control::default())?;
        Ok(world)
    }

    /// A world without layers.
    fn bare(
        table: &'t PaceTable,
        weight: Weight,
        padding: Padding,
        intervals: Vec<Interval>,
        openings: Arc<Openings>,
    ) -> Self {
        Self {
            table,
            weight,
            padding,
            layers: 0,
            intervals,
            pace: Sheet::new(0.0, 0),
            rate: Sheet::new(0.0, 0),
            width_km: Vec::new(),
            openings,
            least_width_cost: 1.0,
            usual_width_cost: 1.0,
            most_width_h: f32::INFINITY,
        }
    }

    /// Lays the layers.
    fn lay(&mut self, control: &Control) -> Result<(), Error> {
        let Self { table, weight, padding, ref intervals, .. } = *self;
        let cell_km = table.grid.cell_km();
        let width_km: Vec<f32> =
            table.grid.scale_table().iter().map(|scale| (scale * cell_km) as f32).collect();
        let shared = table.settings == 1;
        let layers = 1 + intervals.iter().map(|i| i.near_layer.max(i.far_layer)).max().unwrap_or(0);

        let mut pace = Sheet::new(f32::INFINITY, layers * table.sectors * padding.len());
        let costs_time = weight.is_time();
        let mut rate = Sheet::new(1.0, if costs_time { 0 } else { pace.len() });

        // One task a pair of layers; the rates go along where there are any.
        let mut tasks: Vec<Task<'_>> = Vec::new();
        {
            let mut paces = pace.chunks_exact_mut(padding.len());
            let mut rates = rate.chunks_exact_mut(padding.len());
            for sector in 0..table.sectors {
                for layer in layer_pairs(intervals, shared) {
                    let LayerPair { near_frame, far_frame, two } = layer;
                    let Some(near) = paces.next() else { continue };
                    let far = if two { paces.next() } else { None };
                    let near_rate = rates.next();
                    let far_rate = if two { rates.next() } else { None };
                    tasks.push(Task {
                        sector,
                        frames: (near_frame, far_frame),
                        pace: (near, far),
                        rate: (near_rate, far_rate),
                    });
                }
            }
        }
        let costs: Vec<Result<Costs, Error>> = tasks
            .into_par_iter()
            .map(|task| {
                control.check()?;
                Ok(task.run(table, weight, padding, &width_km))
            })
            .collect();
        let mut all = Costs::default();
        for cost in costs {
            let cost = cost?;
            all.least = all.least.min(cost.least);
            all.most_h = all.most_h.max(cost.most_h);
            all.sum += cost.sum;
            all.open += cost.open;
        }
        if table.sectors == 1 {
            let layer = |number: usize| &pace[number * padding.len()..][..padding.len()];
            self.intervals.par_iter_mut().for_each(|interval| {
                let (near, far) = (layer(interval.near_layer), layer(interval.far_layer));
                interval.steep = is_any_steep(near, far, interval.per_length as f32);
            });
        }
        let mean = if all.open == 0 { 1.0 } else { all.sum / all.open as f64 };
        self.layers = layers;
        self.pace = pace;
        self.rate = rate;
        self.width_km = width_km;
        // A world that is closed throughout has no least cost; any width serves it.
        self.least_width_cost = if all.least.is_finite() { all.least } else { 1.0 };
        self.usual_width_cost = (mean * 10.0) as f32;
        self.most_width_h = all.most_h;
        Ok(())
    }

    /// The table that this was made of.
    #[must_use]
    pub fn table(&self) -> &'t PaceTable {
        self.table
    }

    /// What a tonne of fuel is worth in hours.
    #[must_use]
    pub fn fuel_weight_h_per_t(&self) -> f64 {
        self.weight.h_per_t()
    }

    /// Bytes of the arrays that this holds beside the table's own.
    #[must_use]
    pub fn bytes(&self) -> usize {
        (self.pace.len() + self.rate.len() + self.width_km.len()) * size_of::<f32>()
            + self.openings.bytes()
    }

    /// Which interval an hour lies in.
    #[inline]
    pub(crate) fn interval_at(&self, hour: f64) -> usize {
        interval_at(&self.intervals, hour)
    }

    /// Where a layer of a sector begins in the arrays.
    #[inline]
    pub(crate) fn place(&self, sector: u16, layer: usize) -> usize {
        (usize::from(sector) * self.layers + layer) * self.padding.len()
    }

    /// A layer of hours per cell width.
    #[inline]
    pub(crate) fn layer(&self, sector: usize, layer: usize) -> &[f32] {
        let cells = self.padding.len();
        let start = (sector * self.layers + layer) * cells;
        &self.pace[start..start + cells]
    }

    /// A layer of costs per hour, empty where the cost is the time.
    #[inline]
    pub(crate) fn rate_layer(&self, sector: usize, layer: usize) -> &[f32] {
        if self.rate.is_empty() {
            return &[];
        }
        let cells = self.padding.len();
        let start = (sector * self.layers + layer) * cells;
        &self.rate[start..start + cells]
    }

    /// The sectors that a direction on the map lies between.
    pub(crate) fn heading(&self, dx: f64, dy: f64) -> Heading {
        Heading::of_direction(dx, dy, self.table.sectors)
    }
}

/// Which of the intervals an hour lies in.
#[inline]
pub(crate) fn interval_at(intervals: &[Interval], hour: f64) -> usize {
    intervals.partition_point(|interval| interval.begin_hour <= hour).saturating_sub(1)
}

/// The time axis cut at the frames. With one power setting neighbours share their layers; with more,
/// each interval has a pair of its own, because the best setting may change at a frame.
fn intervals_of(hours: &[f64], shared: bool) -> Vec<Interval> {
    let mut intervals = Vec::with_capacity(hours.len() + 1);
    let last = hours.len() - 1;
    let mut layer = 0;
    let constant = |begin_hour, end_hour, frame: usize, layer: usize| Interval {
        begin_hour,
        end_hour,
        near_frame: frame,
        far_frame: frame,
        near_layer: if shared { frame } else { layer },
        far_layer: if shared { frame } else { layer },
        per_length: 0.0,
        steep: false,
    };
    if last == 0 {
        // One frame holds always; a cut at its hour would only be one more rounding.
        intervals.push(constant(f64::NEG_INFINITY, f64::INFINITY, 0, 0));
        return intervals;
    }
    intervals.push(constant(f64::NEG_INFINITY, hours[0], 0, 0));
    layer += 1;
    for frame in 0..last {
        let (begin_hour, end_hour) = (hours[frame], hours[frame + 1]);
        if end_hour <= begin_hour {
            continue;
        }
        intervals.push(Interval {
            begin_hour,
            end_hour,
            near_frame: frame,
            far_frame: frame + 1,
            near_layer: if shared { frame } else { layer },
            far_layer: if shared { frame + 1 } else { layer + 1 },
            per_length: (end_hour - begin_hour).recip(),
            steep: true,
        });
        layer += 2;
    }
    intervals.push(constant(hours[last], f64::INFINITY, last, layer));
    intervals
}

struct LayerPair {
    near_frame: usize,
    far_frame: usize,
    two: bool,
}

/// The layers in order, each with the frames it is made of.
fn layer_pairs(intervals: &[Interval], shared: bool) -> Vec<LayerPair> {
    if shared {
        let last = intervals.last().map_or(0, |interval| interval.far_frame);
        return (0..=last)
            .map(|frame| LayerPair { near_frame: frame, far_frame: frame, two: false })
            .collect();
    }
    intervals
        .iter()
        .map(|interval| LayerPair {
            near_frame: interval.near_frame,
            far_frame: interval.far_frame,
            two: interval.near_layer != interval.far_layer,
        })
        .collect()
}

/// What a run over a layer learns about the cost of a cell width.
struct Costs {
    least: f32,
    /// Hours of the slowest open cell.
    most_h: f32,
    sum: f64,
    open: u64,
}

impl Default for Costs {
    fn default() -> Self {
        Self { least: f32::INFINITY, most_h: 0.0, sum: 0.0, open: 0 }
    }
}

struct Task<'a> {
    sector: usize,
    frames: (usize, usize),
    pace: (&'a mut [f32], Option<&'a mut [f32]>),
    rate: (Option<&'a mut [f32]>, Option<&'a mut [f32]>),
}

impl Task<'_> {
    fn run(
        mut self,
        table: &PaceTable,
        weight: Weight,
        padding: Padding,
        width_km: &[f32],
    ) -> Costs {
        let mut costs = Costs::default();
        let cells = table.grid.len();
        let slices: Vec<_> = (0..table.settings)
            .map(|setting| {
                let near = table.offset(setting, self.sector, self.frames.0);
                let far = table.offset(setting, self.sector, self.frames.1);
                (
                    &table.pace_h_per_km[near..near + cells],
                    &table.burn_t_per_h[near..near + cells],
                    &table.pace_h_per_km[far..far + cells],
                    &table.burn_t_per_h[far..far + cells],
                )
            })
            .collect();
        for (row, (columns, first)) in
            (0..padding.rows).flat_map(|row| padding.parts(row).map(move |part| (row, part)))
        {
            for (to, column) in (first..).zip(columns) {
                let cell = row * padding.columns + column;
                let mut best = (f32::INFINITY, f32::INFINITY, f32::INFINITY, 1.0, 1.0);
                for (near, near_burn, far, far_burn) in &slices {
                    let near_rate = weight.rate(near_burn[cell]);
                    let far_rate = weight.rate(far_burn[cell]);
                    let cost = near[cell] * near_rate + far[cell] * far_rate;
                    if cost < best.0 {
                        best = (cost, near[cell], far[cell], near_rate, far_rate);
                    }
                }
                let width = width_km[cell];
                let (near, far) = (best.1 * width, best.2 * width);
                if best.0 < f32::INFINITY {
                    costs.least = costs.least.min(near * best.3).min(far * best.4);
                    costs.most_h = costs.most_h.max(near).max(far);
                    costs.sum += f64::from(near * best.3);
                    costs.open += 1;
                }
                self.pace.0[to] = near;
                if let Some(layer) = &mut self.pace.1 {
                    layer[to] = far;
                }
                if let Some(layer) = &mut self.rate.0 {
                    layer[to] = best.3;
                }
                if let Some(layer) = &mut self.rate.1 {
                    layer[to] = best.4;
                }
            }
        }
        let (near, far) = self.pace;
        let (near_rate, far_rate) = self.rate;
        for layer in [Some(near), far, near_rate, far_rate].into_iter().flatten() {
            padding.copy_rims(layer);
        }
        costs
    }
}
