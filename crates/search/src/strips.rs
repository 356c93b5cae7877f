//! Tests: a search in a grid cut into strips finds what it finds in the grid in one piece.

use dipward_plugin::{Control, PaceTable};
use proptest::prelude::*;

use crate::{
    field::{Next, Quest, search},
    padding::Padding,
    stencil::{Headings, REACH},
    tables::grid,
    world::World,
};

const COLUMNS: u32 = 21;
const ROWS: u32 = 8;
const CELLS: usize = (COLUMNS * ROWS) as usize;
const FRAMES: usize = 3;

proptest! {
    /// Every cell has one index of its own and at most one copy, no two share one, and rows go on where
    /// strips meet.
    #[test]
    fn cells_keep_their_neighbours(
        columns in 1..60_u32,
        rows in 1..9_u32,
        width in 2 * REACH..70,
    ) {
        let grid = grid(columns, rows, 1000.0);
        let padding = Padding::in_strips(&grid, width);
        let mut values = vec![f32::INFINITY; padding.len()];
        for cell in 0..grid.len() as u32 {
            let index = padding.padded(cell);
            prop_assert_eq!(padding.cell_at(index), Some(cell));
            prop_assert_eq!(padding.own(index), index);
            prop_assert_eq!(values[index], f32::INFINITY);
            values[index] = cell as f32;
        }
        padding.copy_rims(&mut values);
        let mut held = vec![0; grid.len()];
        for &value in values.iter().filter(|&&value| value < f32::INFINITY) {
            held[value as usize] += 1;
        }
        for cell in 0..grid.len() as u32 {
            let index = padding.padded(cell);
            let copy = padding.copy_of(index);
            prop_assert_eq!(held[cell as usize], 1 + u32::from(copy.is_some()));
            prop_assert!(copy.is_none() || !padding.is_alone(index));
            if let Some(copy) = copy {
                prop_assert_eq!(values[copy], cell as f32);
                prop_assert_eq!(padding.own(copy), index);
                prop_assert!(!padding.is_alone(copy));
                prop_assert_eq!(padding.cell_at(copy), None);
            }
            for place in 0..49 {
                let (dcolumn, drow) = crate::stencil::offset_of(place);
                let near = padding.shifted(index, place);
                let neighbour = grid.neighbour(cell, dcolumn, drow);
                prop_assert_eq!(
                    values[near],
                    neighbour.map_or(f32::INFINITY, |neighbour| neighbour as f32)
                );
                if let Some(neighbour) = neighbour {
                    prop_assert_eq!(padding.own(near), padding.padded(neighbour));
                }
            }
        }
        for row in 0..padding.rows {
            let parts = padding.parts(row);
            let along: Vec<_> = parts.flat_map(|(columns, first)| (first..).zip(columns)).collect();
            let cells = (0..padding.columns).map(|column| (padding.at(row, column), column));
            prop_assert!(cells.eq(along));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Labels of all states and the ways to them, with ice that opens and closes, two power settings,
    /// headings that differ, a worth of fuel, penalties and a latest hour.
    #[test]
    fn strips_change_no_label(
        pace in prop::collection::vec(0.05_f32..1.0, 2 * 4 * FRAMES * CELLS),
        burn in prop::collection::vec(0.5_f32..2.0, 2 * 4 * FRAMES * CELLS),
        closed in prop::collection::vec(prop::bool::weighted(0.15), FRAMES * CELLS),
        penalty in prop::collection::vec(1.0_f32..3.0, CELLS),
        (settings, sectors) in prop::sample::select(vec![(1, 1), (2, 1), (1, 4), (2, 4)]),
        still in any::<bool>(),
        weight_h_per_t in prop::sample::select(vec![0.0, 0.3]),
        headings in prop::sample::select(vec![Headings::Eight, Headings::Sixteen, Headings::ThirtyTwo]),
        start in 0..CELLS as u32,
        others in prop::collection::vec(0..CELLS as u32, 0..3),
        penalised in any::<bool>(),
        latest_hour in 2.0_f64..20.0,
        width in 2 * REACH..15,
    ) {
        let frames = if still { 1 } else { FRAMES };
        let entries = settings * sectors * frames * CELLS;
        let table = PaceTable {
            grid: grid(COLUMNS, ROWS, 1000.0),
            hours: (0..frames).map(|frame| 1.5 * frame as f64).collect(),
            settings,
            sectors,
            burn_t_per_h: burn[..entries].to_vec(),
            pace_h_per_km: (0..entries)
                .map(|entry| if closed[entry % (frames * CELLS)] { f32::INFINITY } else { pace[entry] })
                .collect(),
            hold_t_per_h: 0.1,
        };
        let whole = World::new(&table, weight_h_per_t, &Control::default()).unwrap();
        let strips = whole.in_strips(width).unwrap();
        let fields = [&whole, &strips].map(|world| {
            let mut padded = vec![1.0; world.padding.len()];
            for (cell, &factor) in penalty.iter().enumerate() {
                padded[world.padding.padded(cell as u32)] = factor;
            }
            let quest = Quest {
                headings,
                start,
                others: &others,
                depart_hour: 0.0,
                latest_hour,
                penalty: penalised.then_some(padded.as_slice()),
                watched: None,
                traced: true,
            };
            search(world, &quest, &Control::default(), |_, _, _| Next::Continue).unwrap()
        });
        for cell in 0..CELLS as u32 {
            let [in_whole, in_strips] = [&whole, &strips].map(|world| {
                world.openings.states_of(world.padding.padded(cell) as u32).collect::<Vec<_>>()
            });
            prop_assert_eq!(in_whole.len(), in_strips.len());
            for (one, other) in in_whole.into_iter().zip(in_strips) {
                prop_assert_eq!(fields[0].cost[one as usize], fields[1].cost[other as usize]);
                prop_assert_eq!(fields[0].hours(one), fields[1].hours(other));
                prop_assert_eq!(fields[0].trace(&whole, one), fields[1].trace(&strips, other));
            }
            let own = strips.padding.padded(cell);
            if let Some(copy) = strips.padding.copy_of(own) {
                prop_assert_eq!(fields[1].cost[own], fields[1].cost[copy]);
            }
        }
    }
}
