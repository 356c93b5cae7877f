//! Where each quantity comes from, and how old it is.

use std::ops::Range;

use dipward_plugin::{Control, Error, Quantity};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::{
    Chart,
    stack::Stacked,
    state::{Side, State, age_h},
    states_at,
};

/// What one layer gives of one quantity at the two ends of the window.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coverage {
    /// The layer's name in the scenario.
    pub layer: String,
    /// The quantity's name.
    pub quantity: String,
    /// Fraction of the grid's cells that the layer covers, at the start and at the end.
    pub covered: [f64; 2],
    /// Fraction of the grid's cells whose value comes from this layer, at the start and at the end.
    pub won: [f64; 2],
    /// Hours since the instant that the layer shows, at the start and at the end: negative where that
    /// instant is still to come, nothing where the layer has no instants or shows none.
    pub age_h: [Option<f64>; 2],
}

/// Where a value comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    /// The layer's name in the scenario.
    pub layer: String,
    /// Hours since the instant that the layer shows; nothing for a layer without instants.
    pub age_h: Option<f64>,
}

pub(super) fn report(chart: &Chart, control: &Control) -> Result<Vec<Coverage>, Error> {
    let ends = [
        (0.0, states_at(&chart.layers, 0.0, Side::Onwards)),
        (chart.window_hours, states_at(&chart.layers, chart.window_hours, Side::Before)),
    ];
    let mut rows = Vec::new();
    for &quantity in &chart.quantities {
        let counts: [Vec<Count>; 2] = [
            count_cells(chart, quantity, &ends[0].1, control)?,
            count_cells(chart, quantity, &ends[1].1, control)?,
        ];
        for (index, layer) in chart.layers.iter().enumerate() {
            if !layer.gives(quantity) {
                continue;
            }
            let of_grid = |count: u64| count as f64 / chart.grid.len() as f64;
            let at = |end: usize| counts[end].get(index).copied().unwrap_or_default();
            let age = |end: usize| {
                let (hour, states) = &ends[end];
                let state = states.get(index).copied().unwrap_or(State::Uncovered);
                age_h(layer.laid.as_ref(), state, *hour)
            };
            rows.push(Coverage {
                layer: layer.name.clone(),
                quantity: quantity.name().to_owned(),
                covered: [of_grid(at(0).covered), of_grid(at(1).covered)],
                won: [of_grid(at(0).won), of_grid(at(1).won)],
                age_h: [age(0), age(1)],
            });
        }
    }
    Ok(rows)
}

#[derive(Debug, Clone, Copy, Default)]
struct Count {
    covered: u64,
    won: u64,
}

/// The cells that each layer covers and wins; one entry a layer.
fn count_cells(
    chart: &Chart,
    quantity: Quantity,
    states: &[State],
    control: &Control,
) -> Result<Vec<Count>, Error> {
    let of_batches: Vec<Result<Vec<Count>, Error>> = chart
        .batches()
        .into_par_iter()
        .map(|cells| {
            control.check()?;
            count_batch(&chart.layers, states, quantity, cells)
        })
        .collect();
    let mut total = vec![Count::default(); chart.layers.len()];
    for counts in of_batches {
        for (sum, count) in total.iter_mut().zip(counts?) {
            sum.covered += count.covered;
            sum.won += count.won;
        }
    }
    Ok(total)
}

fn count_batch(
    layers: &[Stacked],
    states: &[State],
    quantity: Quantity,
    cells: Range<u32>,
) -> Result<Vec<Count>, Error> {
    let mut counts = vec![Count::default(); layers.len()];
    let mut taken = vec![false; cells.len()];
    let mut out = vec![f32::NAN; cells.len()];
    for ((layer, state), count) in layers.iter().zip(states).zip(&mut counts) {
        if !layer.gives(quantity) {
            continue;
        }
        layer.fill(quantity, *state, cells.clone(), &mut out)?;
        for (value, taken) in out.iter().zip(&mut taken) {
            if !value.is_nan() {
                count.covered += 1;
                count.won += u64::from(!*taken);
                *taken = true;
            }
        }
    }
    Ok(counts)
}
