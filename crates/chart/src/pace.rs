//! What a craft makes of a chart: pace and burn of every cell, for the search.

mod frame;
mod open_cells;
mod risk;

use dipward_plugin::{Control, Craft, Error, PaceTable};

use crate::Chart;
use frame::{FrameTable, frame_table};
pub use open_cells::{OpenCells, Snap};
pub use risk::{RiskSample, RiskTable};

/// The most bytes that a pace table and its risk table may take.
const MAX_BYTES: u64 = 16 << 30;

/// The bytes that the tables of a chart and a craft take at most.
///
/// 8 a cell for each frame, power setting and heading sector (pace and burn), and 6 a cell for each
/// frame (risk index, elevated risk, closure). Frames that turn out equal to both their neighbours
/// are left out, so that it may be less; while the tables are put together there is one frame more.
#[must_use]
pub fn pace_table_bytes(chart: &Chart, craft: &dyn Craft) -> u64 {
    let settings = craft.settings().len() as u64;
    let per_cell = settings.saturating_mul(u64::from(craft.sectors())).saturating_mul(8) + 6;
    (chart.grid().len() as u64).saturating_mul(chart.frames().len() as u64).saturating_mul(per_cell)
}

/// Asks a craft for its pace, burn and risk in every cell, at every frame of a chart, for each power
/// setting and heading sector.
///
/// # Returns
///
/// The table for the search, and beside it the risk of each cell. Both have the same frames: the
/// chart's, without those that are equal to the frame before and the frame after. The result does not
/// depend on the number of threads.
///
/// # Errors
///
/// [`Error::Contract`] naming the craft when it has no power setting or no sector, or gives a pace
/// that is not above zero, a burn that is not finite or negative, or a closure that contradicts its
/// pace; [`Error::Outside`] when the tables would need more than 16 GiB; what the chart's layers and
/// the craft say; [`Error::Cancelled`].
pub fn pace_table(
    chart: &Chart,
    craft: &dyn Craft,
    control: &Control,
) -> Result<(PaceTable, RiskTable), Error> {
    let settings = craft.settings().len();
    let sectors = craft.sectors();
    let broken =
        |message: &str| Error::Contract { kind: craft.name(), message: message.to_owned() };
    if settings == 0 {
        return Err(broken("has no power setting"));
    }
    if sectors == 0 {
        return Err(broken("has no heading sector"));
    }
    let hold_t_per_h = craft.stores().hold_t_per_h;
    if !(hold_t_per_h.is_finite() && hold_t_per_h >= 0.0) {
        return Err(broken(&format!("burns {hold_t_per_h} t/h on station")));
    }
    let bytes = pace_table_bytes(chart, craft);
    if bytes > MAX_BYTES {
        return Err(Error::Outside(format!(
            "pace and burn of {} cells at {} frames for {settings} power settings and {sectors} \
             heading sectors need {} GiB, more than {}: take larger cells, a shorter window or fewer \
             instants",
            chart.grid().len(),
            chart.frames().len(),
            bytes >> 30,
            MAX_BYTES >> 30
        )));
    }

    let batches = chart.batches().len() as u64;
    control.begin("pace and risk of the craft", batches * chart.frames().len() as u64);
    let mut frames: Vec<(f64, FrameTable)> = Vec::new();
    for (frame, &hour) in chart.frames().iter().enumerate() {
        let table = frame_table(chart, craft, frame, control)?;
        push_distinct(&mut frames, hour, table);
    }
    // Pace that holds after the last frame needs no second frame to say so.
    if let [.., (_, before), (_, last)] = frames.as_slice()
        && before == last
    {
        frames.pop();
    }

    let cells = chart.grid().len();
    let blocks = settings * usize::from(sectors);
    let mut pace = Vec::with_capacity(blocks * frames.len() * cells);
    let mut burn = Vec::with_capacity(blocks * frames.len() * cells);
    for block in 0..blocks {
        for (_, table) in &mut frames {
            // Taken, not borrowed, so that the memory of a block goes as it is copied.
            pace.extend(table.pace_h_per_km.get_mut(block).map(std::mem::take).unwrap_or_default());
            burn.extend(table.burn_t_per_h.get_mut(block).map(std::mem::take).unwrap_or_default());
        }
    }
    let hours: Vec<f64> = frames.iter().map(|(hour, _)| *hour).collect();
    let risk = RiskTable::of_frames(
        chart.grid().clone(),
        hours.clone(),
        frames.into_iter().map(|(_, table)| table.risk),
    );
    let table = PaceTable {
        grid: chart.grid().clone(),
        hours,
        settings,
        sectors: usize::from(sectors),
        pace_h_per_km: pace,
        burn_t_per_h: burn,
        hold_t_per_h,
    };
    Ok((table, risk))
}

/// Adds a frame, and takes the one before out if it stands between two equals.
fn push_distinct(frames: &mut Vec<(f64, FrameTable)>, hour: f64, table: FrameTable) {
    match frames.as_mut_slice() {
        [.., (_, first), (middle_hour, middle)] if *first == table && *middle == table => {
            *middle_hour = hour;
        }
        // As it was and as it is are the same: no jump after all.
        [.., (last_hour, last)] if *last_hour == hour && *last == table => {}
        _ => frames.push((hour, table)),
    }
}

#[cfg(test)]
mod tests;
