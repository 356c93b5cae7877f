//! Layers by precedence: the first that covers a cell wins.

use std::ops::Range;

use dipward_plugin::{Error, Laid, Quantity};

use super::state::State;

/// A layer made ready, under its name in the scenario.
#[derive(Debug)]
pub(super) struct Stacked {
    pub(super) name: String,
    pub(super) quantities: Vec<Quantity>,
    pub(super) laid: Box<dyn Laid>,
}

impl Stacked {
    pub(super) fn gives(&self, quantity: Quantity) -> bool {
        self.quantities.contains(&quantity)
    }

    /// Fills `out` with what this layer alone shows, not a number where it covers nothing.
    pub(super) fn fill(
        &self,
        quantity: Quantity,
        state: State,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        // A layer that leaves a value alone does not cover the cell.
        out.fill(f32::NAN);
        match state {
            State::Uncovered => Ok(()),
            State::At(instant) => self.fill_instant(quantity, instant, cells, out),
            State::Between { before, weight } => {
                self.fill_instant(quantity, before, cells.clone(), out)?;
                let mut after = vec![f32::NAN; out.len()];
                self.fill_instant(quantity, before + 1, cells, &mut after)?;
                for (value, after) in out.iter_mut().zip(after) {
                    *value += (after - *value) * weight;
                }
                Ok(())
            }
        }
    }

    fn fill_instant(
        &self,
        quantity: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        let first = cells.start;
        self.laid.fill(quantity, instant, cells, out).map_err(|error| named(&self.name, error))?;
        match out.iter().position(|value| value.is_infinite()) {
            None => Ok(()),
            Some(place) => Err(Error::Contract {
                kind: self.name.clone(),
                message: format!(
                    "gave an infinite `{quantity}` in cell {} at its instant {instant}",
                    first as usize + place
                ),
            }),
        }
    }
}

/// Puts the layer's name before a message that does not name its origin.
pub(super) fn named(name: &str, error: Error) -> Error {
    match error {
        Error::Outside(message) => Error::Outside(format!("the layer `{name}`: {message}")),
        Error::Unsolved(message) => Error::Unsolved(format!("the layer `{name}`: {message}")),
        other => other,
    }
}

/// Fills `out` with the merged values of one quantity.
///
/// # Arguments
///
/// `states` has one entry a layer. `won`, if wanted, has the length of `out` and gets the layer that each
/// value comes from.
pub(super) fn fill_merged(
    layers: &[Stacked],
    states: &[State],
    quantity: Quantity,
    cells: &Range<u32>,
    out: &mut [f32],
    mut won: Option<&mut [Option<u16>]>,
) -> Result<(), Error> {
    out.fill(f32::NAN);
    let mut below = Vec::new();
    let givers = layers
        .iter()
        .zip(states)
        .enumerate()
        .filter(|(_, (layer, state))| layer.gives(quantity) && **state != State::Uncovered);
    for (index, (layer, state)) in givers {
        if !out.iter().any(|value| value.is_nan()) {
            break;
        }
        below.resize(out.len(), f32::NAN);
        layer.fill(quantity, *state, cells.clone(), &mut below)?;
        let number = u16::try_from(index).ok();
        for (cell, (value, below)) in out.iter_mut().zip(&below).enumerate() {
            if value.is_nan() && !below.is_nan() {
                *value = *below;
                if let Some(won) = won.as_deref_mut().and_then(|won| won.get_mut(cell)) {
                    *won = number;
                }
            }
        }
    }
    Ok(())
}
