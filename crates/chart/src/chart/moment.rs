//! A chart at one hour: values, and where each of them comes from.

use std::ops::Range;

use dipward_plugin::{Control, Error, Quantity};
use rayon::prelude::*;

use super::{
    Chart,
    stack::fill_merged,
    state::{Side, State, age_h},
    states_at,
};

/// A chart at one hour; at the hour of a jump, as it is from then on.
#[derive(Debug)]
pub struct Moment<'a> {
    chart: &'a Chart,
    hour: f64,
    /// One a layer.
    states: Vec<State>,
}

/// One quantity of a run of cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Merged {
    /// The values, not a number where no layer covers the cell.
    pub values: Vec<f32>,
    /// The layer that each value comes from, by its place in [`Chart::sources`]; nothing where no layer
    /// covers the cell.
    pub layers: Vec<Option<u16>>,
}

impl<'a> Moment<'a> {
    pub(super) fn new(chart: &'a Chart, hour: f64) -> Self {
        Self { chart, hour, states: states_at(&chart.layers, hour, Side::Onwards) }
    }

    /// Hours since the instant that a layer shows, negative where that instant is still to come;
    /// nothing for a layer that has no instants or shows none.
    #[must_use]
    pub fn age_h(&self, layer: usize) -> Option<f64> {
        let laid = self.chart.layers.get(layer)?.laid.as_ref();
        age_h(laid, *self.states.get(layer)?, self.hour)
    }

    /// One quantity of all cells.
    ///
    /// # Errors
    ///
    /// What a layer says of its data; [`Error::Contract`] for an infinite value;
    /// [`Error::Cancelled`].
    pub fn merged(&self, quantity: Quantity, control: &Control) -> Result<Merged, Error> {
        let runs: Vec<Result<Merged, Error>> = self
            .chart
            .batches()
            .into_par_iter()
            .map(|cells| {
                control.check()?;
                self.run(quantity, cells)
            })
            .collect();
        let cells = self.chart.grid.len();
        let mut all =
            Merged { values: Vec::with_capacity(cells), layers: Vec::with_capacity(cells) };
        for run in runs {
            let run = run?;
            all.values.extend(run.values);
            all.layers.extend(run.layers);
        }
        Ok(all)
    }

    /// One quantity of a run of cells, all of them on the grid.
    pub(crate) fn run(&self, quantity: Quantity, cells: Range<u32>) -> Result<Merged, Error> {
        let mut run =
            Merged { values: vec![f32::NAN; cells.len()], layers: vec![None; cells.len()] };
        let Merged { values, layers } = &mut run;
        fill_merged(
            &self.chart.layers,
            &self.states,
            quantity,
            &cells,
            values,
            Some(layers.as_mut_slice()),
        )?;
        Ok(run)
    }
}
