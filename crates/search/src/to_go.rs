//! The least that is left to the goal from every cell, on the moves.

use dipward_plugin::{Control, Error, PaceTable};

use crate::{
    field::{Next, Quest, search},
    floor::Prices,
    question::Question,
    world::World,
};

/// A floor of f32 sums.
const ROUNDING: f64 = 1.0 - 1e-5;

/// No way from a padded cell to the goal that is under way between two hours costs less at these
/// prices; infinite where there is none.
///
/// One search backwards, from all cells of the goal at once: a price that holds throughout does not
/// change with the way a move is gone.
pub(crate) fn to_go(
    world: &World<'_>,
    prices: &Prices<'_>,
    question: &Question<'_>,
    (from_hour, until_hour): (f64, f64),
    control: &Control,
) -> Result<Vec<f64>, Error> {
    let frame = |hour: f64| &world.intervals[world.interval_at(hour)];
    let frames = (frame(from_hour).near_frame, frame(until_hour).far_frame);
    let grid = &world.table.grid;
    let pace_h_per_km: Vec<f32> = (0..grid.len())
        .map(|cell| prices.least_per_km(cell, frames).max(f32::MIN_POSITIVE))
        .collect();
    let still = PaceTable {
        grid: grid.clone(),
        hours: vec![0.0],
        settings: 1,
        sectors: 1,
        burn_t_per_h: vec![0.0; pace_h_per_km.len()],
        pace_h_per_km,
        hold_t_per_h: 0.0,
    };
    let back = World::new(&still, 0.0, control)?;
    let mut goals: Vec<_> = question
        .target
        .stays()
        .iter()
        .filter_map(|stay| world.padding.cell_at(stay.cell as usize))
        .filter(|&cell| back.openings.is_ever_open(back.padding.padded(cell)))
        .collect();
    goals.dedup();
    let Some((&start, others)) = goals.split_first() else {
        return Ok(vec![f64::INFINITY; world.padding.len()]);
    };
    let quest = Quest {
        headings: question.headings,
        start,
        others,
        depart_hour: 0.0,
        latest_hour: f64::INFINITY,
        penalty: None,
        watched: None,
        traced: false,
    };
    let field = search(&back, &quest, control, |_, _, _| Next::Continue)?;
    Ok(field.cost.iter().map(|&cost| f64::from(cost) * ROUNDING).collect())
}
