//! A reference for tests: the moves of the search with the standard heap, one label and one move at a time.

use std::{cmp::Reverse, collections::BinaryHeap};

use dipward_plugin::Control;
use proptest::prelude::*;

use crate::{
    field::Field,
    kernel::{ENDS, Edges, Eight, Instant, Kernel, Sixteen, ThirtyTwo},
    move_line::MoveLine,
    passage::{Layers, sail_when_open},
    stencil::Headings,
    tables::{grid, table},
    world::World,
};

const SIDE: u32 = 9;

/// The earliest hours since departure of all padded cells, in a world where no cell opens or closes.
fn by_heap<K: Kernel>(world: &World<'_>, start: usize, depart_hour: f64) -> Vec<f32> {
    let mut cost = vec![f32::INFINITY; world.padding.len()];
    let mut edges = Edges::new();
    // Costs are not negative, so their bits order as they do.
    let mut heap = BinaryHeap::from([(Reverse(0_u32), start)]);
    cost[start] = 0.0;
    while let Some((Reverse(bits), index)) = heap.pop() {
        let here = f32::from_bits(bits);
        if here > cost[index] {
            continue;
        }
        let hour = depart_hour + f64::from(here);
        let mut at = Instant::new(world, world.interval_at(hour));
        let frames = &world.intervals[at.interval];
        at.fraction = frames.fraction(hour) as f32;
        let left = (frames.end_hour - hour) as f32;
        K::edges(world, &at, index, &mut edges);
        for (number, &end) in ENDS.iter().enumerate().take(K::MOVES) {
            let mut spent = edges.hours[number];
            if spent >= left && spent < f32::INFINITY {
                let line = MoveLine::new(world, index, number).unwrap();
                let (pieces, heading) = (line.pieces(), line.heading());
                let sailed =
                    sail_when_open(&Layers(world), pieces, heading, hour, f64::INFINITY).unwrap();
                spent = (sailed.1 - hour) as f32;
            }
            let next = world.padding.own(world.padding.shifted(index, end));
            if here + spent < cost[next] {
                cost[next] = here + spent;
                heap.push((Reverse(cost[next].to_bits()), next));
            }
        }
    }
    cost
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    /// Blocks, vectors, buckets and what is left out as settled change no label through time by a bit.
    #[test]
    fn the_heap_agrees_to_the_bit_through_time(
        pace in prop::collection::vec(0.05_f32..1.0, 6 * (SIDE * SIDE) as usize),
        closed in prop::collection::vec(prop::bool::weighted(0.1), (SIDE * SIDE) as usize),
        lengths in prop::collection::vec(0.2_f64..2.0, 0..6),
        steady in any::<bool>(),
        start in 0..SIDE * SIDE,
        depart_hour in -1.0_f64..3.0,
    ) {
        let mut hours = vec![0.0];
        hours.extend(lengths.iter().scan(0.0, |hour, length| {
            *hour += length;
            Some(*hour)
        }));
        let cells = (SIDE * SIDE) as usize;
        // Ice that hardly changes within the hour, or as fast as may be.
        let table = table(grid(SIDE, SIDE, 1000.0), &hours, |frame, column, row| {
            let cell = (row * SIDE + column) as usize;
            let change = f64::from(pace[frame * cells + cell]);
            let pace = f64::from(pace[cell]);
            let open = if steady { pace * (1.0 + 0.05 * change) } else { change };
            if closed[cell] { f64::INFINITY } else { open }
        });
        let world = World::new(&table, 0.0, &Control::default()).unwrap();
        let position = table.grid.centre(start).unwrap();
        let from = world.padding.padded(start);
        for (headings, reference) in [
            (Headings::Eight, by_heap::<Eight<true, false>> as fn(&_, _, _) -> Vec<f32>),
            (Headings::Sixteen, by_heap::<Sixteen<true, false>>),
            (Headings::ThirtyTwo, by_heap::<ThirtyTwo<true, false>>),
        ] {
            let ours = Field::solve(
                &world, headings, position, depart_hour, f64::INFINITY, &Control::default(),
            );
            let ours = ours.unwrap().cost;
            let theirs = reference(&world, from, depart_hour);
            for cell in (0..SIDE * SIDE).map(|cell| world.padding.padded(cell)) {
                prop_assert_eq!(ours[cell], theirs[cell], "{:?}", headings);
            }
        }
    }
}
