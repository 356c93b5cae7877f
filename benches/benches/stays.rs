//! Stays at the pole of the southern demonstration, lived member by member through its chart.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use dipward::{Scenario, World, registry};
use dipward_plugin::{Control, Document};

fn stays(criterion: &mut Criterion) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenarios");
    let path = format!("{folder}/austral-summer.yaml");
    let text = std::fs::read_to_string(&path).unwrap();
    let document = Document::parse(&path, &text).unwrap();
    let scenario = Scenario::read(&document, folder.as_ref(), &registry().unwrap(), None).unwrap();
    let world = World::make(&scenario, &Control::default()).unwrap();
    let moves = world.moves_on_station();
    let station = world.station(&moves);
    let mut group = criterion.benchmark_group("stays");
    group.sample_size(20).throughput(Throughput::Elements(world.tracks.members() as u64));
    // Ten days from the 24th of January on, as the demonstration's longest.
    let (arrive, leave) = (19.0 * 24.0, 29.0 * 24.0);
    group.bench_function("of ten days", |bencher| bencher.iter(|| station.stay(arrive, leave)));
    group.finish();
}

criterion_group!(benches, stays);
criterion_main!(benches);
