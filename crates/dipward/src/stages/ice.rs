//! Landings for a party over the ice: where the ship and the ice that bears meet, within reach of the
//! pole.

use dipward_chart::{OpenCells, pace_table};
use dipward_geodesy::{Cell, Grid, Position};
use dipward_plugin::{Berth, Control, Error, LandingRule, March, OverIceParty, PaceTable, Stretch};
use dipward_search::{Field, Headings, World as Searched};
use rayon::prelude::*;

use super::{Going, Ground, Landings, march::Beside};
use crate::world::Moves;

/// Landings are judged anew after as many hours, by the ice and the pole of the time.
const SLICE_HOURS: usize = 24;

/// The landings of a party, for each share of its reach.
///
/// How far each cell is from the pole is told by searches from the pole outward over the ice as it is at
/// the start of each slice, so that no party is landed to wait for ice that does not bear yet; the march
/// itself is sought later from the landing that is taken, through the ice of its own hours.
///
/// # Errors
///
/// What the chart's layers, the party's craft and the search say.
pub(super) fn landings(
    ground: Ground<'_>,
    open: &OpenCells,
    party: &dyn OverIceParty,
    rule: &LandingRule,
    control: &Control,
) -> Result<(Going, Vec<Landings>), Error> {
    let (table, _) = pace_table(ground.chart, party.craft(), control)?;
    let bearing = OpenCells::of(&table);
    let edge = edge(&table.grid, open, &bearing);
    let starts: Vec<usize> = (0..ground.hours()).step_by(SLICE_HOURS).collect();
    control.begin("landings over the ice", starts.len() as u64);
    let slices: Vec<Vec<Reached>> = starts
        .par_iter()
        .map(|&start| {
            let reached = reached(ground, &table, &edge, start, control)?;
            control.advance(1);
            Ok(reached)
        })
        .collect::<Result<_, Error>>()?;

    let at_least_h = ground.scenario.keys.station.at_least_h;
    let mut refusal: Option<(f64, String)> = None;
    let mut sets: Vec<Landings> = rule.shares.iter().map(|_| Landings::default()).collect();
    for (&start, slice) in starts.iter().zip(&slices) {
        for one in slice {
            let further = 1.0 + rule.allowance_km / one.distance_km.max(1e-3);
            for (share, set) in rule.shares.iter().zip(&mut sets) {
                let stretch = Stretch {
                    distance_km: one.distance_km * further / share,
                    hours: one.hours * further / share,
                    waited_h: 0.0,
                };
                let march = March::there_and_back(stretch, at_least_h, &party.depots());
                match party.march(&march) {
                    Ok(_) => {
                        set.berths.push(Berth {
                            position: one.berth,
                            from_hour: start as f64,
                            until_hour: (start + SLICE_HOURS) as f64 - 1e-6,
                            onward_h: one.hours,
                            // The ship lies and waits for as long again on the way home.
                            onward_t: 2.0 * one.hours * ground.table.hold_t_per_h,
                        });
                        set.set_out.push(one.set_out);
                    }
                    Err(why) => {
                        if refusal.as_ref().is_none_or(|(km, _)| one.distance_km < *km) {
                            refusal = Some((one.distance_km, why));
                        }
                    }
                }
            }
        }
    }
    let hindrance = refusal.map_or_else(
        || "no ice that bears leads from open cells of the ship to the pole".to_owned(),
        |(km, why)| format!("the nearest landing is {km:.0} km of way from the pole: {why}"),
    );
    for set in &mut sets {
        set.hindrance.clone_from(&hindrance);
    }
    let moves = Moves::at_mean_pole(ground.tracks, &table);
    Ok((Going::OverIce(Box::new((table, moves))), sets))
}

/// Cells where the ship can be at some time, each with the cells beside it, or itself, where the party
/// can.
fn edge(grid: &Grid, open: &OpenCells, bearing: &OpenCells) -> Vec<(Cell, Vec<Cell>)> {
    let around = |cell: Cell| {
        (-1..=1)
            .flat_map(|row| (-1..=1).map(move |column| (column, row)))
            .filter_map(move |(column, row)| grid.neighbour(cell, column, row))
            .filter(|&beside| bearing.is_open(beside))
            .collect::<Vec<Cell>>()
    };
    (0..grid.len() as u32)
        .filter(|&cell| open.is_open(cell))
        .map(|cell| (cell, around(cell)))
        .filter(|(_, beside)| !beside.is_empty())
        .collect()
}

/// A landing and the way between it and the pole.
struct Reached {
    berth: Position,
    set_out: Position,
    hours: f64,
    distance_km: f64,
}

fn reached(
    ground: Ground<'_>,
    table: &PaceTable,
    edge: &[(Cell, Vec<Cell>)],
    start: usize,
    control: &Control,
) -> Result<Vec<Reached>, Error> {
    let Some((pole_cell, pole)) = ground.pole(start) else { return Ok(Vec::new()) };
    let still = still(table, start as f64);
    // A search may begin in a closed cell, as in a port; a party may not stand in one.
    let pace_there = still.pace_h_per_km.get(pole_cell as usize);
    if pace_there.is_none_or(|pace| pace.is_infinite()) {
        return Ok(Vec::new());
    }
    let level = level(&still);
    let [hours, lengths] = [&still, &level].map(|table| Searched::new(table, 0.0, control));
    let (hours, lengths) = (hours?, lengths?);
    let [field, length] = [&hours, &lengths]
        .map(|world| Field::solve(world, Headings::default(), pole, 0.0, f64::INFINITY, control));
    let (field, length) = (field?, length?);
    let to = |cell: Cell| {
        let hours = field.hour_at(&hours, cell)?;
        Some((cell, hours, length.hour_at(&lengths, cell)?))
    };
    let found = edge.iter().filter_map(|(cell, around)| {
        let berth = table.grid.centre(*cell)?;
        // The march begins at the ship, not on the ice beside her.
        let from_ship = |cell: Cell| {
            let (_, hours, distance_km) = to(cell)?;
            let set_out = table.grid.centre(cell)?;
            let beside = Beside::of(table, [berth, set_out], start as f64)?;
            Some(Reached {
                berth,
                set_out,
                hours: hours + beside.hours,
                distance_km: distance_km + beside.distance_km,
            })
        };
        around.iter().filter_map(|&cell| from_ship(cell)).min_by(|a, b| a.hours.total_cmp(&b.hours))
    });
    Ok(found.collect())
}

/// The paces of an hour, at full power and whatever the heading, as if they held for ever.
fn still(table: &PaceTable, hour: f64) -> PaceTable {
    let after = table.hours.partition_point(|&at| at <= hour);
    let frames = [after.saturating_sub(1), after.min(table.hours.len() - 1)];
    let [begin, end] = frames.map(|frame| table.hours[frame]);
    let share =
        if end > begin { ((hour - begin) / (end - begin)).clamp(0.0, 1.0) as f32 } else { 0.0 };
    let cells = table.grid.len();
    let [near, far] = frames.map(|frame| {
        let from = table.offset(0, 0, frame);
        table.pace_h_per_km.get(from..from + cells).unwrap_or_default()
    });
    let pace: Vec<f32> = near
        .iter()
        .zip(far)
        .map(|(near, far)| {
            // Closed at either end is closed in between, as the search has it.
            let open = near.is_finite() && far.is_finite();
            if open { near + share * (far - near) } else { f32::INFINITY }
        })
        .collect();
    PaceTable {
        grid: table.grid.clone(),
        hours: vec![0.0],
        settings: 1,
        sectors: 1,
        burn_t_per_h: vec![0.0; pace.len()],
        pace_h_per_km: pace,
        hold_t_per_h: 0.0,
    }
}

/// The same with a pace of one hour a kilometre wherever it is open: its hours are lengths.
fn level(still: &PaceTable) -> PaceTable {
    let one = |pace: &f32| if pace.is_finite() { 1.0 } else { f32::INFINITY };
    PaceTable { pace_h_per_km: still.pace_h_per_km.iter().map(one).collect(), ..still.clone() }
}
