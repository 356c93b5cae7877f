//! One frame of a pace table.

use std::ops::Range;

use dipward_plugin::{CellBatch, Closure, Control, Craft, Error, Travel};

use super::risk::{RiskFrame, worse};
use crate::Chart;

/// Pace and burn of one frame, one block a setting and sector (in that order), and its risk.
#[derive(Debug, PartialEq)]
pub(super) struct FrameTable {
    pub(super) pace_h_per_km: Vec<Vec<f32>>,
    pub(super) burn_t_per_h: Vec<Vec<f32>>,
    pub(super) risk: RiskFrame,
}

/// What a craft says of one batch, shape `[setting][sector][cell]`, and its risk.
struct BatchTable {
    pace_h_per_km: Vec<f32>,
    burn_t_per_h: Vec<f32>,
    risk: RiskFrame,
}

pub(super) fn frame_table(
    chart: &Chart,
    craft: &dyn Craft,
    frame: usize,
    control: &Control,
) -> Result<FrameTable, Error> {
    let batches = chart.for_each_batch(frame, control, |cells, batch| {
        let table = batch_table(craft, &cells, batch)?;
        control.advance(1);
        Ok(table)
    })?;

    let cells = chart.grid().len();
    let blocks = craft.settings().len() * usize::from(craft.sectors());
    let mut table = FrameTable {
        pace_h_per_km: vec![Vec::with_capacity(cells); blocks],
        burn_t_per_h: vec![Vec::with_capacity(cells); blocks],
        risk: RiskFrame::with_capacity(cells),
    };
    // The batches stand in the order of the cells.
    for batch in batches {
        let len = batch.risk.len().max(1);
        for (block, run) in table.pace_h_per_km.iter_mut().zip(batch.pace_h_per_km.chunks(len)) {
            block.extend_from_slice(run);
        }
        for (block, run) in table.burn_t_per_h.iter_mut().zip(batch.burn_t_per_h.chunks(len)) {
            block.extend_from_slice(run);
        }
        table.risk.append(batch.risk);
    }
    Ok(table)
}

/// What no craft may leave behind: a cell that it did not answer for.
const UNANSWERED: Travel = Travel {
    pace_h_per_km: f32::NAN,
    burn_t_per_h: f32::NAN,
    risk_index: f32::NAN,
    elevated: false,
    closure: Closure::Open,
};

fn batch_table(
    craft: &dyn Craft,
    cells: &Range<u32>,
    batch: &CellBatch<'_>,
) -> Result<BatchTable, Error> {
    let len = batch.len;
    let (settings, sectors) = (craft.settings().len(), craft.sectors());
    let answers = settings * usize::from(sectors) * len;
    let mut table = BatchTable {
        pace_h_per_km: Vec::with_capacity(answers),
        burn_t_per_h: Vec::with_capacity(answers),
        risk: RiskFrame::with_capacity(len),
    };
    let mut out = vec![UNANSWERED; len];
    let mut worst: Vec<Travel> = Vec::new();
    for setting in 0..settings {
        for sector in 0..sectors {
            out.fill(UNANSWERED);
            craft.travel(batch, setting, sector, &mut out)?;
            check(craft, cells, setting, sector, &out)?;
            table.pace_h_per_km.extend(out.iter().map(|travel| travel.pace_h_per_km));
            table.burn_t_per_h.extend(out.iter().map(|travel| travel.burn_t_per_h));
            if worst.is_empty() {
                worst.clone_from(&out);
            } else {
                for (worst, travel) in worst.iter_mut().zip(&out) {
                    combine(worst, travel);
                }
            }
        }
    }
    for travel in &worst {
        table.risk.push(travel);
    }
    Ok(table)
}

/// Puts the risk of another setting or sector to that of a cell: the lower index, elevated if either
/// is, closed only if all are, for the reason of the most powerful setting.
fn combine(worst: &mut Travel, other: &Travel) {
    worst.risk_index = worse(worst.risk_index, other.risk_index);
    worst.elevated |= other.elevated;
    if other.closure == Closure::Open {
        worst.closure = Closure::Open;
    }
}

fn check(
    craft: &dyn Craft,
    cells: &Range<u32>,
    setting: usize,
    sector: u16,
    out: &[Travel],
) -> Result<(), Error> {
    for (cell, travel) in cells.clone().zip(out) {
        let pace = travel.pace_h_per_km;
        let burn = travel.burn_t_per_h;
        let closed = travel.closure != Closure::Open;
        let fault = if pace.is_nan() || pace <= 0.0 {
            format!("a pace of {pace} h/km")
        } else if !burn.is_finite() || burn < 0.0 {
            format!("a burn of {burn} t/h")
        } else if travel.risk_index.is_infinite() {
            format!("a risk index of {}", travel.risk_index)
        } else if pace.is_infinite() && !closed {
            "an infinite pace in an open cell".to_owned()
        } else if pace.is_finite() && closed {
            format!("a pace of {pace} h/km in a closed cell ({})", travel.closure)
        } else {
            continue;
        };
        return Err(Error::Contract {
            kind: craft.name(),
            message: format!("gave {fault} in cell {cell} at setting {setting}, sector {sector}"),
        });
    }
    Ok(())
}
