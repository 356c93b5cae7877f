//! Resampling against rasterio's.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{fs, path::Path};

use dipward_chart::{Chart, NamedLayer, RasterSpec};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use dipward_plugin::{BuildContext, Clock, Control, Document, LayerPoint, Quantity, Registry};
use geo::coord;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

/// The image on a grid; not a number where it has none.
fn resampled(how: &str, central_deg: f64, grid: (f64, f64, f64, u32, u32)) -> Vec<f32> {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(fixtures(), Hemisphere::South, clock, 24.0);
    let yaml = format!(
        "{{kind: raster, file: resampling.tif, gives: ice_concentration, scale: 0.01, resampling: {how}}}"
    );
    let mut registry = Registry::default();
    registry.register::<RasterSpec>().unwrap();
    let document = Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let layer = registry.build::<LayerPoint>("", document.value(), &context).unwrap().object;
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, central_deg, Ellipsoid::WGS84)
            .unwrap();
    let (x, y, cell_m, columns, rows) = grid;
    let grid = Grid::new(polar, coord! { x: x, y: y }, cell_m, columns, rows).unwrap();
    let layers = [NamedLayer { name: "image", layer: layer.as_ref() }];
    let wanted = layer.quantities();
    let chart = Chart::lay(grid, clock, 24.0, &layers, &wanted, &Control::default()).unwrap();
    chart.values(0, Quantity::ICE_CONCENTRATION, &Control::default()).unwrap()
}

/// Cells of a case in which both have a number, and in which only rasterio has one.
fn compare(case: &str, values: &[f32], columns: usize, tolerance: f64) -> (usize, usize) {
    let text = fs::read_to_string(fixtures().join("resampling_samples.csv")).unwrap();
    let (mut both, mut only_theirs) = (0, 0);
    for line in text.lines().filter_map(|line| line.strip_prefix(&format!("{case},"))) {
        let fields: Vec<&str> = line.split(',').collect();
        let place = |at: usize| fields[at].parse::<usize>().unwrap();
        let ours = f64::from(values[place(0) * columns + place(1)]) * 100.0;
        match fields[2].parse::<f64>() {
            Err(_) => assert!(ours.is_nan(), "{line}: {ours}"),
            Ok(_) if ours.is_nan() => only_theirs += 1,
            Ok(theirs) => {
                assert!((ours - theirs).abs() < tolerance, "{line}: {ours}");
                both += 1;
            }
        }
    }
    (both, only_theirs)
}

#[test]
fn areas_agree_on_one_map() {
    let values = resampled("conservative", 0.0, (1_041_000.0, -1_861_000.0, 62_000.0, 14, 12));
    let (both, only_theirs) = compare("coarser", &values, 14, 0.01);
    // Where less than half of a cell has a number, ours has none.
    assert!(both > 145 && only_theirs < 20, "{both} {only_theirs}");
}

#[test]
fn areas_agree_on_a_map_turned_against_the_image() {
    let values = resampled("conservative", 20.0, (1_500_000.0, -1_300_000.0, 80_000.0, 12, 12));
    // 1600 points a cell are the less exact of the two.
    let (both, _) = compare("turned", &values, 12, 0.15);
    assert!(both > 100, "{both}");
}

#[test]
fn bilinear_agrees() {
    let values = resampled("bilinear", 0.0, (1_093_000.0, -1_807_000.0, 11_000.0, 45, 40));
    let (both, only_theirs) = compare("finer", &values, 45, 0.01);
    assert!(both > 1500 && only_theirs == 0, "{both} {only_theirs}");
    let values = resampled("bilinear", 20.0, (1_500_000.0, -1_250_000.0, 23_000.0, 36, 36));
    // Where cells are about as large as pixels rasterio widens the triangle of its weights a little:
    // against the plain formula it is off by 0.14 in the median and by 0.64 at most.
    let (both, only_theirs) = compare("turned_bilinear", &values, 36, 0.7);
    assert!(both > 500 && only_theirs == 0, "{both} {only_theirs}");
}

#[test]
fn nearest_agrees() {
    let values = resampled("nearest", 0.0, (1_062_300.0, -1_842_300.0, 17_000.0, 30, 30));
    let (both, only_theirs) = compare("nearest", &values, 30, 0.001);
    assert!(both > 780 && only_theirs == 0, "{both} {only_theirs}");
}
