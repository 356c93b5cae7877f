//! The chart: layers on one grid, through time.

mod coverage;
mod moment;
mod stack;
mod state;

use std::ops::Range;

use dipward_geodesy::{Cell, Grid, Position};
use dipward_plugin::{
    Assumption, CellBatch, Clock, Control, Error, Ground, Laid, Layer, Outline, Provenance,
    Quantity,
};
use rayon::prelude::*;

pub use coverage::{Coverage, Origin};
pub use moment::{Merged, Moment};
use stack::{Stacked, fill_merged, named};
use state::{Side, State, check_instants, frame_moments, state_at};

/// A layer and the name that the scenario gives it.
#[derive(Debug, Clone, Copy)]
pub struct NamedLayer<'a> {
    /// The name, for messages and the coverage report.
    pub name: &'a str,
    /// The layer.
    pub layer: &'a dyn Layer,
}

/// Layers laid on one grid: named quantities of every cell, through the window of a voyage.
///
/// # Precedence
///
/// For each cell, each quantity and each moment, the first layer in the list that covers the cell
/// wins. A value that is not a number means that no layer covers the cell: unknown, which is never
/// the same as open water. Between two instants of a layer that changes linearly, a cell is covered
/// where both instants cover it.
///
/// # Time
///
/// Hours count from the start of the window. The frames are the moments at which some layer turns or
/// jumps; between two frames every quantity changes linearly. A jump is two frames at one hour: as it
/// was, and as it is from then on. For a layer that changes by steps and covers nothing beyond its
/// instants, the last instant marks the end of the one before.
///
/// # Memory
///
/// The chart itself holds only what its layers hold when laid (the built-in ones say how much: 2
/// bytes a cell for an ice chart's instant, for example); merged values are made batch by batch when
/// they are asked for.
#[derive(Debug)]
pub struct Chart {
    grid: Grid,
    clock: Clock,
    window_hours: f64,
    quantities: Vec<Quantity>,
    layers: Vec<Stacked>,
    sources: Vec<LayerSource>,
    hours: Vec<f64>,
    /// One state a layer for each frame.
    states: Vec<Vec<State>>,
}

/// Where a layer of a chart comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerSource {
    /// The name that the scenario gives it.
    pub name: String,
    /// Name and source of the data.
    pub provenance: Provenance,
    /// What the layer takes for granted.
    pub assumptions: Vec<Assumption>,
}

impl Chart {
    /// The most frames that a chart may have: hourly layers for six weeks, all of them jumping.
    ///
    /// Each frame costs the tables made from the chart 8 bytes a cell for each power setting and
    /// heading sector, and 6 more, so the limit is there to name the culprit before memory ends.
    pub const MAX_FRAMES: usize = 2048;

    /// How many cells a batch holds when the chart is walked: enough that a call a batch costs
    /// nothing, few enough that its columns stay in the cache.
    pub const CELLS_PER_BATCH: u32 = 4096;

    /// Lays the layers on a grid.
    ///
    /// # Arguments
    ///
    /// * `window_hours`: length of the window, which begins at hour 0.
    /// * `layers`: in the order of precedence.
    /// * `wanted`: the quantities to prepare. Those that no layer gives are left out.
    ///
    /// # Errors
    ///
    /// What a layer says of its data; [`Error::Outside`] when the window is not a positive length,
    /// when a layer refuses the window, or when there would be more than [`Chart::MAX_FRAMES`];
    /// [`Error::Contract`] for instants that do not increase; [`Error::Cancelled`].
    pub fn lay(
        grid: Grid,
        clock: Clock,
        window_hours: f64,
        layers: &[NamedLayer<'_>],
        wanted: &[Quantity],
        control: &Control,
    ) -> Result<Self, Error> {
        if !(window_hours.is_finite() && window_hours >= 0.0) {
            return Err(Error::Outside(format!(
                "a window of {window_hours} hours is not a length of time"
            )));
        }
        control.begin("laying the chart's layers", layers.len() as u64);
        let laid: Vec<Result<Stacked, Error>> = layers
            .par_iter()
            .map(|named_layer| {
                let stacked = lay_one(&grid, clock, window_hours, *named_layer, control)?;
                control.advance(1);
                Ok(stacked)
            })
            .collect();
        // The first layer's error is told, whichever thread found one first.
        let stacked = laid.into_iter().collect::<Result<Vec<_>, _>>()?;

        let mut quantities: Vec<Quantity> = Vec::new();
        for quantity in wanted {
            if !quantities.contains(quantity) && stacked.iter().any(|layer| layer.gives(*quantity))
            {
                quantities.push(*quantity);
            }
        }
        let changing: Vec<&dyn Laid> = stacked
            .iter()
            .filter(|layer| quantities.iter().any(|quantity| layer.gives(*quantity)))
            .map(|layer| layer.laid.as_ref())
            .collect();
        let moments = frame_moments(&changing, window_hours);
        if moments.len() > Self::MAX_FRAMES {
            return Err(too_many_frames(&stacked, moments.len()));
        }
        let states = moments.iter().map(|&(hour, side)| states_at(&stacked, hour, side)).collect();
        let sources = layers
            .iter()
            .map(|named_layer| LayerSource {
                name: named_layer.name.to_owned(),
                provenance: named_layer.layer.provenance(),
                assumptions: named_layer.layer.assumptions(),
            })
            .collect();
        let hours = moments.into_iter().map(|(hour, _)| hour).collect();
        Ok(Self { grid, clock, window_hours, quantities, layers: stacked, sources, hours, states })
    }

    /// The grid.
    #[must_use]
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// The clock whose hour 0 is the start of the window.
    #[must_use]
    pub fn clock(&self) -> Clock {
        self.clock
    }

    /// Length of the window.
    #[must_use]
    pub fn window_hours(&self) -> f64 {
        self.window_hours
    }

    /// The quantities that the chart has: the wanted ones that some layer gives.
    #[must_use]
    pub fn quantities(&self) -> &[Quantity] {
        &self.quantities
    }

    /// The layers' sources, in the order of precedence.
    #[must_use]
    pub fn sources(&self) -> &[LayerSource] {
        &self.sources
    }

    /// The first and last hour of each layer's data, in the order of the layers; nothing for a layer
    /// that does not change.
    #[must_use]
    pub fn instants(&self) -> Vec<Option<(f64, f64)>> {
        let ends = |laid: &dyn Laid| {
            let mut hours = (0..laid.hours().len()).filter_map(|instant| laid.data_hour(instant));
            let first = hours.next()?;
            Some(hours.fold((first, first), |(low, high), hour| (low.min(hour), high.max(hour))))
        };
        self.layers.iter().map(|layer| ends(layer.laid.as_ref())).collect()
    }

    /// The frames' hours, at least one, not decreasing; a jump stands twice.
    #[must_use]
    pub fn frames(&self) -> &[f64] {
        &self.hours
    }

    /// The frame whose values hold at an hour: the last that begins at or before it, or the first.
    #[must_use]
    pub fn frame_at(&self, hour: f64) -> usize {
        self.hours.partition_point(|&begin| begin <= hour).saturating_sub(1)
    }

    /// Fills `out` with one quantity of a run of cells at a frame.
    ///
    /// # Arguments
    ///
    /// `out` has the length of `cells`. It is not a number where no layer covers the cell.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a frame or cells that the chart has not, or another length of `out`;
    /// what a layer says of its data; [`Error::Contract`] for an infinite value.
    pub fn fill(
        &self,
        frame: usize,
        quantity: Quantity,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        let states = self.states.get(frame).ok_or_else(|| {
            Error::Outside(format!(
                "the chart has no frame {frame}: it has {} frames",
                self.hours.len()
            ))
        })?;
        if cells.start > cells.end || cells.end as usize > self.grid.len() {
            return Err(Error::Outside(format!(
                "the chart has no cells {} to {}: it has {} cells",
                cells.start,
                cells.end,
                self.grid.len()
            )));
        }
        if cells.len() != out.len() {
            return Err(Error::Outside(format!(
                "{} cells do not go into {} values",
                cells.len(),
                out.len()
            )));
        }
        fill_merged(&self.layers, states, quantity, &cells, out, None)
    }

    /// Shows all the chart's quantities of a run of cells at a frame.
    ///
    /// # Errors
    ///
    /// As [`Chart::fill`].
    pub fn batch<R>(
        &self,
        frame: usize,
        cells: Range<u32>,
        visit: impl FnOnce(&CellBatch<'_>) -> R,
    ) -> Result<R, Error> {
        let len = cells.len();
        let mut values = vec![f32::NAN; len * self.quantities.len()];
        // An empty run has columns too, and chunks of none are not allowed.
        for (quantity, out) in self.quantities.iter().zip(values.chunks_mut(len.max(1))) {
            self.fill(frame, *quantity, cells.clone(), out)?;
        }
        let columns: Vec<(Quantity, &[f32])> =
            self.quantities.iter().copied().zip(values.chunks(len.max(1))).collect();
        Ok(visit(&CellBatch { len, columns: &columns }))
    }

    /// Walks a frame in batches of [`Chart::CELLS_PER_BATCH`], in parallel.
    ///
    /// # Returns
    ///
    /// What `visit` gives for each batch, in the order of the cells whatever the number of threads.
    ///
    /// # Errors
    ///
    /// As [`Chart::fill`], and what `visit` says: the error of the first batch that has one;
    /// [`Error::Cancelled`].
    pub fn for_each_batch<R: Send>(
        &self,
        frame: usize,
        control: &Control,
        visit: impl Fn(Range<u32>, &CellBatch<'_>) -> Result<R, Error> + Sync,
    ) -> Result<Vec<R>, Error> {
        let results: Vec<Result<R, Error>> = self
            .batches()
            .into_par_iter()
            .map(|cells| {
                control.check()?;
                self.batch(frame, cells.clone(), |batch| visit(cells, batch))?
            })
            .collect();
        results.into_iter().collect()
    }

    /// The runs of cells that [`Chart::for_each_batch`] walks.
    #[must_use]
    pub fn batches(&self) -> Vec<Range<u32>> {
        // A grid has at most Grid::MAX_CELLS cells, which u32 holds.
        let cells = self.grid.len() as u32;
        (0..cells)
            .step_by(Self::CELLS_PER_BATCH as usize)
            .map(|start| start..cells.min(start + Self::CELLS_PER_BATCH))
            .collect()
    }

    /// One quantity of all cells at a frame.
    ///
    /// # Errors
    ///
    /// As [`Chart::fill`]; [`Error::Cancelled`].
    pub fn values(
        &self,
        frame: usize,
        quantity: Quantity,
        control: &Control,
    ) -> Result<Vec<f32>, Error> {
        let runs: Vec<Result<Vec<f32>, Error>> = self
            .batches()
            .into_par_iter()
            .map(|cells| {
                control.check()?;
                let mut out = vec![f32::NAN; cells.len()];
                self.fill(frame, quantity, cells, &mut out)?;
                Ok(out)
            })
            .collect();
        let mut values = Vec::with_capacity(self.grid.len());
        for run in runs {
            values.extend(run?);
        }
        Ok(values)
    }

    /// A quantity at a place and an hour: the value of the cell that holds the place.
    ///
    /// At the hour of a jump it is the value from then on.
    ///
    /// # Returns
    ///
    /// Not a number where no layer covers the cell, or where the place is off the grid.
    ///
    /// # Errors
    ///
    /// What a layer says of its data; [`Error::Contract`] for an infinite value.
    pub fn sample(&self, hour: f64, quantity: Quantity, at: Position) -> Result<f32, Error> {
        let Some(cell) = self.grid.cell_at(at) else { return Ok(f32::NAN) };
        self.of_cell(hour, quantity, cell)
    }

    /// The value of a quantity in a cell at an hour, as [`Chart::sample`] gives it.
    ///
    /// # Errors
    ///
    /// As [`Chart::sample`].
    pub fn of_cell(&self, hour: f64, quantity: Quantity, cell: Cell) -> Result<f32, Error> {
        let run = self.at(hour).run(quantity, one(cell))?;
        Ok(run.values.first().copied().unwrap_or(f32::NAN))
    }

    /// The chart at an hour, as it is from then on.
    #[must_use]
    pub fn at(&self, hour: f64) -> Moment<'_> {
        Moment::new(self, hour)
    }

    /// Which layer a quantity comes from at a place and an hour, and how old it is there.
    ///
    /// # Returns
    ///
    /// Nothing where no layer covers the cell, or where the place is off the grid.
    ///
    /// # Errors
    ///
    /// As [`Chart::sample`].
    pub fn origin(
        &self,
        hour: f64,
        quantity: Quantity,
        at: Position,
    ) -> Result<Option<Origin>, Error> {
        let Some(cell) = self.grid.cell_at(at) else { return Ok(None) };
        let moment = self.at(hour);
        let layer = moment.run(quantity, one(cell))?.layers.first().copied().flatten();
        Ok(layer.map(usize::from).and_then(|layer| {
            let name = self.sources.get(layer)?.name.clone();
            Some(Origin { layer: name, age_h: moment.age_h(layer) })
        }))
    }

    /// What each layer covers and wins at the window's ends, for each of the chart's quantities.
    ///
    /// # Errors
    ///
    /// What a layer says of its data; [`Error::Cancelled`].
    pub fn coverage(&self, control: &Control) -> Result<Vec<Coverage>, Error> {
        coverage::report(self, control)
    }

    /// The layers' outlines for the map, each with its layer's name, in the order of precedence.
    #[must_use]
    pub fn outlines(&self) -> Vec<(&str, Outline)> {
        self.layers
            .iter()
            .flat_map(|layer| {
                layer.laid.outlines().into_iter().map(|outline| (layer.name.as_str(), outline))
            })
            .collect()
    }
}

/// The run of one cell.
fn one(cell: Cell) -> Range<u32> {
    cell..cell + 1
}

fn states_at(layers: &[Stacked], hour: f64, side: Side) -> Vec<State> {
    layers.iter().map(|layer| state_at(layer.laid.as_ref(), hour, side)).collect()
}

fn lay_one(
    grid: &Grid,
    clock: Clock,
    window_hours: f64,
    layer: NamedLayer<'_>,
    control: &Control,
) -> Result<Stacked, Error> {
    control.check()?;
    let laid = layer
        .layer
        .lay(Ground { grid, clock }, control)
        .map_err(|error| named(layer.name, error))?;
    check_instants(layer.name, laid.as_ref(), window_hours)?;
    Ok(Stacked { name: layer.name.to_owned(), quantities: layer.layer.quantities(), laid })
}

fn too_many_frames(layers: &[Stacked], frames: usize) -> Error {
    let busiest = layers.iter().max_by_key(|layer| layer.laid.hours().len());
    let (name, instants) =
        busiest.map_or(("", 0), |layer| (layer.name.as_str(), layer.laid.hours().len()));
    Error::Outside(format!(
        "the layers change at so many hours that the chart would have {frames} frames, more than {}; \
         the layer `{name}` alone has {instants} instants: thin them out, or shorten the window",
        Chart::MAX_FRAMES
    ))
}

#[cfg(test)]
mod tests;
