use geo::CoordsIter;

use super::{promise, told};
use crate::{Control, Ground, Laid, Layer, Quantity};

/// Holds a layer to its contract on a grid: instants that increase, every cell written with a number
/// or "not covered", the same bits however the cells are cut into runs and however often it is laid.
///
/// # Errors
///
/// A sentence that says which promise the layer breaks.
pub fn check_layer(layer: &dyn Layer, ground: Ground<'_>) -> Result<(), String> {
    told(&layer.provenance(), &layer.assumptions())?;
    let quantities = layer.quantities();
    let mut distinct = quantities.clone();
    distinct.sort();
    distinct.dedup();
    promise(!quantities.is_empty() && distinct.len() == quantities.len(), || {
        format!("a layer gives one or more quantities, each once, not {quantities:?}")
    })?;
    let lay = || {
        layer
            .lay(ground, &Control::default())
            .map_err(|error| format!("cannot be laid on the grid: {error}"))
    };
    let (laid, again) = (lay()?, lay()?);
    let hours = laid.hours();
    let increase =
        hours.iter().all(|hour| hour.is_finite()) && hours.windows(2).all(|pair| pair[0] < pair[1]);
    promise(increase, || format!("the instants' hours must be finite and increase: {hours:?}"))?;
    promise(hours == again.hours(), || "a second laying has other instants".to_owned())?;

    let cells = u32::try_from(ground.grid.len()).unwrap_or(u32::MAX);
    for quantity in quantities {
        for instant in 0..hours.len().max(1) {
            let whole = fill(&*laid, quantity, instant, &[0, cells])?;
            promise(!whole.iter().any(|value| value.is_infinite()), || {
                format!("{quantity} of instant {instant} has an infinite or unwritten cell")
            })?;
            let cuts = [0, cells / 3, cells / 3, cells / 2 + 1, cells];
            for (laid, cuts) in [(&*laid, &cuts[..]), (&*again, &[0, cells])] {
                let other = fill(laid, quantity, instant, cuts)?;
                promise(bits(&other) == bits(&whole), || {
                    format!("{quantity} of instant {instant} depends on the run or the laying")
                })?;
            }
        }
    }
    for outline in laid.outlines() {
        let finite = outline.areas.coords_iter().all(|at| at.x.is_finite() && at.y.is_finite());
        promise(finite, || format!("an outline of {} is not finite", outline.quantity))?;
    }
    Ok(())
}

/// All cells, run by run between the cuts. An entry that is not written stays infinite.
fn fill(
    laid: &dyn Laid,
    quantity: Quantity,
    instant: usize,
    cuts: &[u32],
) -> Result<Vec<f32>, String> {
    let mut values = Vec::new();
    for run in cuts.windows(2) {
        let cells = run[0]..run[1].max(run[0]);
        let mut out = vec![f32::INFINITY; cells.len()];
        laid.fill(quantity, instant, cells, &mut out)
            .map_err(|error| format!("{quantity} of instant {instant}: {error}"))?;
        values.append(&mut out);
    }
    Ok(values)
}

/// The values' bits, all that is not a number alike.
fn bits(values: &[f32]) -> Vec<u32> {
    values.iter().map(|value| if value.is_nan() { u32::MAX } else { value.to_bits() }).collect()
}
