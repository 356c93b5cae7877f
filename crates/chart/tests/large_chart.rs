//! What a chart of 16 million cells and 48 hourly images takes. Run by hand:
//!
//! ```text
//! cargo test --release -p dipward-chart --test large_chart -- --ignored --nocapture
//! ```

use std::{fs, path::Path, time::Instant};

use dipward_chart::{Chart, ConcentrationNsidcSpec, NamedLayer};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use dipward_plugin::{BuildContext, Clock, Control, Document, LayerPoint, Quantity, Registry};
use geo::coord;

/// The most memory that this process has had, MiB, where the system tells.
fn most_mib() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kib| kib / 1024)
}

#[test]
#[ignore = "takes minutes and 2 GiB"]
fn sixteen_million_cells_and_48_hours() {
    let bytes =
        fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/nt_invented_s.bin"))
            .unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("x.bin"), bytes).unwrap();
    let images: Vec<String> = (0..48)
        .map(|hour| {
            format!("{{file: x.bin, valid: '2027-01-{:02}T{:02}:00Z'}}", 1 + hour / 24, hour % 24)
        })
        .collect();
    let yaml = format!(
        "{{kind: concentration_nsidc, ice: {{stage: grey}}, images: [{}]}}",
        images.join(", ")
    );
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(folder.path(), Hemisphere::South, clock, 47.0);
    let mut registry = Registry::default();
    registry.register::<ConcentrationNsidcSpec>().unwrap();
    let document = Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let layer = registry.build::<LayerPoint>("", document.value(), &context).unwrap().object;
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 30.0, Ellipsoid::WGS84).unwrap();
    for side in [1000_u32, 2000, 4000] {
        let cell_m = 8_000_000.0 / f64::from(side);
        let corner = coord! { x: -4e6 + cell_m / 2.0, y: -4e6 + cell_m / 2.0 };
        let grid = Grid::new(polar, corner, cell_m, side, side).unwrap();
        let layers = [NamedLayer { name: "ice", layer: layer.as_ref() }];
        let begun = Instant::now();
        let wanted = layer.quantities();
        let chart = Chart::lay(grid, clock, 47.0, &layers, &wanted, &Control::default()).unwrap();
        let laid_s = begun.elapsed().as_secs_f64();
        let merged =
            chart.at(23.5).merged(Quantity::ICE_CONCENTRATION, &Control::default()).unwrap();
        assert!(merged.values.iter().any(|value| *value > 0.0));
        println!(
            "{side} x {side} cells, {} frames: laid in {laid_s:.1} s, at most {:?} MiB so far",
            chart.frames().len(),
            most_mib()
        );
        drop(chart);
    }
}
