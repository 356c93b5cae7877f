//! One source to the full field: the search against petgraph's Dijkstra on the same graph in
//! compressed rows, and against itself through time, at 32 headings, at other sizes, on two threads and
//! after a change.
//!
//! Every figure is preceded by an assertion that the answers agree.

#![allow(clippy::expect_used, reason = "the values are constants that are in range")]
#![allow(clippy::print_stdout, reason = "a share that explains a figure is printed beside it")]
#![allow(missing_docs, reason = "criterion writes the entry points")]

use std::{collections::BinaryHeap, hint::black_box};

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use dipward_plugin::{Control, PaceTable};
use dipward_search::{Face, Field, Headings, World};
use geo::Coord;
use petgraph::{
    algo::dijkstra,
    csr::Csr,
    visit::{EdgeRef, IntoEdges},
};
use rayon::prelude::*;

/// SplitMix64 (S. Vigna's public-domain generator).
struct Seeded(u64);

impl Seeded {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Random pace with a ratio of greatest to least, a tenth of the cells closed for good.
fn table(side: u32, frames: usize, ratio: f64, seed: u64) -> PaceTable {
    let polar = PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84)
        .expect("a valid projection");
    let grid =
        Grid::new(polar, Coord { x: 0.0, y: 1e6 }, 1000.0, side, side).expect("a valid grid");
    let mut seeded = Seeded(seed);
    let closed: Vec<bool> = (0..grid.len()).map(|_| seeded.uniform() < 0.1).collect();
    let pace: Vec<f32> = (0..frames * grid.len())
        .map(|index| {
            let pace = 0.05 * (1.0 + seeded.uniform() * (ratio - 1.0));
            if closed[index % grid.len()] { f32::INFINITY } else { pace as f32 }
        })
        .collect();
    PaceTable {
        grid,
        hours: (0..frames).map(|frame| frame as f64).collect(),
        settings: 1,
        sectors: 1,
        burn_t_per_h: vec![1.0; pace.len()],
        pace_h_per_km: pace,
        hold_t_per_h: 0.0,
    }
}

/// A cell near the middle that is open.
fn source(table: &PaceTable) -> u32 {
    let middle = table.grid.columns() * (table.grid.rows() / 2) + table.grid.columns() / 2;
    (middle..)
        .find(|&cell| table.pace_h_per_km[cell as usize] < f32::INFINITY)
        .expect("an open cell")
}

fn field(world: &World<'_>, headings: Headings, from: u32) -> Field {
    let start = world.table().grid.centre(from).expect("in the grid");
    Field::solve(world, headings, start, 0.0, f64::INFINITY, &Control::default()).expect("a field")
}

/// The face of a world in petgraph's compressed rows.
fn csr(world: &World<'_>) -> Csr<(), f32> {
    let face = Face::new(world, Headings::Eight, 0.0);
    let cells = world.table().grid.len() as u32;
    let mut edges: Vec<(u32, u32, f32)> = (0..cells)
        .flat_map(|cell| (&face).edges(cell))
        .map(|edge| (edge.source(), edge.target(), *edge.weight()))
        .collect();
    edges.sort_by_key(|edge| (edge.0, edge.1));
    let mut graph = Csr::from_sorted_edges(&edges).expect("sorted edges");
    while graph.node_count() < cells as usize {
        graph.add_node(());
    }
    graph
}

/// Dijkstra with the standard heap over the same compressed rows and a plain array of distances: what
/// a careful hand would write without the ring of buckets.
fn heap(graph: &Csr<(), f32>, from: u32) -> Vec<f32> {
    let mut cost = vec![f32::INFINITY; graph.node_count()];
    // Costs are not negative, so their bits order as they do.
    let mut heap = BinaryHeap::from([(std::cmp::Reverse(0_u32), from)]);
    cost[from as usize] = 0.0;
    while let Some((std::cmp::Reverse(bits), at)) = heap.pop() {
        let here = f32::from_bits(bits);
        if here > cost[at as usize] {
            continue;
        }
        for (&next, &weight) in graph.neighbors_slice(at).iter().zip(graph.edges_slice(at)) {
            let there = here + weight;
            if there < cost[next as usize] {
                cost[next as usize] = there;
                heap.push((std::cmp::Reverse(there.to_bits()), next));
            }
        }
    }
    cost
}

fn against_petgraph(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("static_8_headings");
    group.sample_size(10);
    for (side, seed) in [(1000, 11), (1000, 12), (1000, 13), (2000, 14), (4000, 15)] {
        let table = table(side, 1, 10.0, seed);
        let world = World::new(&table, 0.0, &Control::default()).expect("a world");
        let from = source(&table);
        let graph = csr(&world);
        let ours = field(&world, Headings::Eight, from);
        let theirs = dijkstra(&graph, from, None, |edge| *edge.weight());
        let by_heap = heap(&graph, from);
        for cell in 0..table.grid.len() as u32 {
            let ours = ours.cost_at(&world, cell);
            assert_eq!(ours, theirs.get(&cell).map(|&cost| f64::from(cost)));
            assert_eq!(ours.unwrap_or(f64::INFINITY), f64::from(by_heap[cell as usize]));
        }
        group.throughput(Throughput::Elements(table.grid.len() as u64));
        let name = format!("{side}_seed_{seed}");
        group.bench_function(BenchmarkId::new("dipward", &name), |bencher| {
            bencher.iter(|| field(&world, Headings::Eight, black_box(from)));
        });
        group.bench_function(BenchmarkId::new("binary_heap_on_csr", &name), |bencher| {
            bencher.iter(|| heap(&graph, black_box(from)));
        });
        group.bench_function(BenchmarkId::new("petgraph_csr_dijkstra", &name), |bencher| {
            bencher.iter(|| dijkstra(&graph, black_box(from), None, |edge| *edge.weight()));
        });
    }
    group.finish();
}

fn headings(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("headings_1000");
    group.sample_size(10);
    let table = table(1000, 1, 10.0, 21);
    let world = World::new(&table, 0.0, &Control::default()).expect("a world");
    let from = source(&table);
    group.throughput(Throughput::Elements(table.grid.len() as u64));
    for headings in [Headings::Eight, Headings::Sixteen, Headings::ThirtyTwo] {
        group.bench_function(BenchmarkId::from_parameter(headings.count()), |bencher| {
            bencher.iter(|| field(&world, headings, black_box(from)));
        });
    }
    group.finish();
}

/// Hourly frames that last as long as the field does: some 26 h at 2000 cells of 200 m a side, less than 60 h at
/// 1000 cells of 1 km.
fn through_time(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("through_time");
    group.sample_size(10);
    for (side, cell_m, frames) in [(2000, 200.0, 26), (1000, 1000.0, 60)] {
        for frames in [1, frames] {
            let mut table = table(side, frames, 3.0, 31);
            let grid = &table.grid;
            table.grid = Grid::new(*grid.projection(), grid.origin(), cell_m, side, side)
                .expect("a valid grid");
            let world = World::new(&table, 0.0, &Control::default()).expect("a world");
            let from = source(&table);
            if frames > 1 {
                let field = field(&world, Headings::Eight, from);
                let hours =
                    (0..table.grid.len() as u32).filter_map(|cell| field.hour_at(&world, cell));
                let reached: Vec<f64> = hours.collect();
                let within = reached.iter().filter(|&&hour| hour <= (frames - 1) as f64).count();
                println!(
                    "{side}: {:.1} % of the cells before the last frame",
                    100.0 * within as f64 / reached.len() as f64
                );
            }
            group.throughput(Throughput::Elements(table.grid.len() as u64));
            group.bench_function(BenchmarkId::new(side.to_string(), frames), |bencher| {
                bencher.iter(|| field(&world, Headings::Eight, black_box(from)));
            });
        }
    }
    group.finish();
}

fn growth(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("growth_8_headings");
    group.sample_size(10);
    for side in [250, 500, 1000, 2000, 4000] {
        let table = table(side, 1, 10.0, 41);
        let world = World::new(&table, 0.0, &Control::default()).expect("a world");
        let from = source(&table);
        group.throughput(Throughput::Elements(table.grid.len() as u64));
        group.bench_function(BenchmarkId::from_parameter(side), |bencher| {
            bencher.iter(|| field(&world, Headings::Eight, black_box(from)));
        });
    }
    group.finish();
}

fn ratios(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("greatest_to_least_500");
    group.sample_size(10);
    for ratio in [1.0, 10.0, 1e2, 1e3, 1e4, 1e5] {
        let table = table(500, 1, ratio, 51);
        let world = World::new(&table, 0.0, &Control::default()).expect("a world");
        let from = source(&table);
        let by_heap = heap(&csr(&world), from);
        let ours = field(&world, Headings::Eight, from);
        for cell in 0..table.grid.len() as u32 {
            let ours = ours.cost_at(&world, cell).unwrap_or(f64::INFINITY);
            assert_eq!(ours, f64::from(by_heap[cell as usize]));
        }
        group.throughput(Throughput::Elements(table.grid.len() as u64));
        group.bench_function(BenchmarkId::from_parameter(ratio), |bencher| {
            bencher.iter(|| field(&world, Headings::Eight, black_box(from)));
        });
    }
    group.finish();
}

/// Departures at eight hours through the same world, on one thread and on two.
fn departures(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("departures_1000");
    group.sample_size(10);
    let table = table(1000, 25, 3.0, 61);
    let world = World::new(&table, 0.0, &Control::default()).expect("a world");
    let start = table.grid.centre(source(&table)).expect("in the grid");
    let solve = |hour: u32| {
        let control = Control::default();
        Field::solve(&world, Headings::Eight, start, hour.into(), f64::INFINITY, &control)
            .expect("a field")
    };
    group.throughput(Throughput::Elements(8 * table.grid.len() as u64));
    let mut answers = Vec::new();
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool of threads");
        let all = || (0..8_u32).into_par_iter().map(solve).collect::<Vec<_>>();
        answers.push(pool.install(all));
        group.bench_function(BenchmarkId::new("threads", threads), |bencher| {
            bencher.iter(|| pool.install(all));
        });
    }
    assert_eq!(answers[0], answers[1]);
    group.finish();
}

/// A new plan after one cell in a hundred has changed. Every repair of a field must at the least write
/// each label that changes, in order; how many do is printed, beside what a search from scratch takes.
fn change(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("one_percent_changed_1000");
    group.sample_size(10);
    let before = table(1000, 1, 10.0, 71);
    let from = source(&before);
    let (columns, cells) = (before.grid.columns() as usize, before.grid.len());
    let far = |cell: usize| (cell % columns).abs_diff(columns / 4) < columns / 20;
    let mut seeded = Seeded(72);
    let scattered: Vec<bool> = (0..cells).map(|_| seeded.uniform() < 0.01).collect();
    let tongue: Vec<bool> =
        (0..cells).map(|cell| far(cell) && (cell / columns).abs_diff(500) < 50).collect();
    let control = Control::default();
    let world = World::new(&before, 0.0, &control).expect("a world");
    let old = field(&world, Headings::Eight, from);
    for (name, changed) in [("scattered", scattered), ("tongue", tongue)] {
        let mut after = before.clone();
        for (pace, _) in after.pace_h_per_km.iter_mut().zip(&changed).filter(|cell| *cell.1) {
            *pace *= 1.3;
        }
        let world = World::new(&after, 0.0, &control).expect("a world");
        let new = field(&world, Headings::Eight, from);
        let differ = (0..cells as u32)
            .filter(|&cell| old.cost_at(&world, cell) != new.cost_at(&world, cell))
            .count();
        println!(
            "{name}: {:.1} % of the cells changed, {:.1} % of the labels do",
            100.0 * changed.iter().filter(|&&is| is).count() as f64 / cells as f64,
            100.0 * differ as f64 / cells as f64
        );
        group.throughput(Throughput::Elements(cells as u64));
        group.bench_function(BenchmarkId::new("from_scratch", name), |bencher| {
            bencher.iter(|| field(&world, Headings::Eight, black_box(from)));
        });
    }
    group.finish();
}

criterion_group!(
    benches,
    against_petgraph,
    headings,
    through_time,
    growth,
    ratios,
    departures,
    change
);
criterion_main!(benches);
