//! GeoTIFF layers against files written, and values found, by rasterio and pyproj.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{fs, path::Path};

use dipward_chart::{Chart, ConcentrationGeotiffSpec, NamedLayer};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Faults, Ground, Layer, LayerPoint, Quantity, Registry,
    conformance::{check_example, check_layer},
};
use geo::coord;
use proptest::prelude::*;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

fn build(folder: &Path, yaml: &str) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<ConcentrationGeotiffSpec>().unwrap();
    let yaml = format!("kind: concentration_geotiff\n{yaml}");
    let document = Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, Hemisphere::South, clock(), 240.0);
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

fn yaml(file: &str, rest: &str) -> String {
    format!(
        "images: [{{file: {file}, valid: 2027-01-01T00:00Z}}]\nice: {{stage: medium_first_year}}\n{rest}"
    )
}

/// Cells of a metre about each place: their centres are the places, to within the projection.
fn value_at(layer: &dyn Layer, latitude_deg: f64, longitude_deg: f64) -> f32 {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let at = position(latitude_deg, longitude_deg);
    let grid = Grid::new(polar, polar.forward(at), 1.0, 1, 1).unwrap();
    let layers = [NamedLayer { name: "ice", layer }];
    let wanted = [Quantity::ICE_CONCENTRATION];
    match Chart::lay(grid, clock(), 240.0, &layers, &wanted, &Control::default()) {
        Ok(chart) => chart.sample(0.0, Quantity::ICE_CONCENTRATION, at).unwrap(),
        // The one cell is not covered.
        Err(error) => {
            assert!(error.to_string().contains("covers no cell"), "{error}");
            f32::NAN
        }
    }
}

/// Rows of the samples: latitude, longitude, pixel, bilinear.
fn samples(file: &str) -> Vec<[f64; 4]> {
    let text = fs::read_to_string(fixtures().join("geotiff_samples.csv")).unwrap();
    let rows: Vec<[f64; 4]> = text
        .lines()
        .filter_map(|line| line.strip_prefix(&format!("{file},")))
        .map(|line| {
            let numbers: Vec<f64> = line.split(',').map(|number| number.parse().unwrap()).collect();
            numbers.try_into().unwrap()
        })
        .collect();
    assert_eq!(rows.len(), 400);
    rows
}

/// Holds a layer against the samples; `full` is the number that stands for all ice.
fn compare(file: &str, rest: &str, full: f64) {
    let nearest = build(fixtures(), &yaml(file, &format!("{rest}\nresampling: nearest"))).unwrap();
    let bilinear = build(fixtures(), &yaml(file, rest)).unwrap();
    let (mut numbers, mut gaps) = (0, 0);
    for [latitude_deg, longitude_deg, pixel, mixed] in samples(file) {
        let value = value_at(nearest.as_ref(), latitude_deg, longitude_deg);
        let smooth = value_at(bilinear.as_ref(), latitude_deg, longitude_deg);
        if mixed.is_nan() {
            assert!(value.is_nan() && smooth.is_nan(), "{latitude_deg} {longitude_deg}");
            gaps += 1;
            continue;
        }
        // Concentrations are kept in hundredths of a percent.
        assert!((f64::from(value) - pixel / full).abs() < 6e-5, "{value} {pixel}");
        assert!((f64::from(smooth) - mixed / full).abs() < 1e-4, "{smooth} {mixed}");
        numbers += 1;
    }
    assert!(numbers > 200 && gaps > 0, "{numbers} {gaps}");
}

#[test]
fn the_kind_keeps_its_contract() {
    let folder = tempfile::tempdir().unwrap();
    let from = fixtures().join("sea_ice_index_s.tif");
    fs::copy(from, folder.path().join("concentration.tif")).unwrap();
    let context = BuildContext::new(folder.path(), Hemisphere::South, clock(), 240.0);
    let built = check_example::<ConcentrationGeotiffSpec>(&context).unwrap();
    let polar = PolarStereographic::variant_b(Hemisphere::South, -70.0, 0.0, Ellipsoid::WGS84);
    let grid = Grid::new(polar.unwrap(), coord! { x: 1e6, y: -2.4e6 }, 20_000.0, 60, 60).unwrap();
    check_layer(built.object.as_ref(), Ground { grid: &grid, clock: clock() }).unwrap();
}

#[test]
fn the_sea_ice_index_layout_agrees_with_rasterio() {
    compare("sea_ice_index_s.tif", "", 1000.0);
}

#[test]
fn tiled_floats_with_a_no_data_value_agree_with_rasterio() {
    let rest = "encoding: {scaled: {scale: 0.01}}";
    compare("percent_float.tif", rest, 100.0);
}

#[test]
fn bytes_in_longitude_and_latitude_agree_with_rasterio() {
    let rest = "encoding: {scaled: {scale: 0.01, missing: [255]}}";
    compare("percent_byte_lon_lat.tif", rest, 100.0);
}

#[test]
fn the_hole_about_the_pole_is_unknown_unless_the_scenario_fills_it() {
    let unknown = build(fixtures(), &yaml("sea_ice_index_s.tif", "")).unwrap();
    assert!(value_at(unknown.as_ref(), -89.0, 20.0).is_nan());
    let filled = build(fixtures(), &yaml("sea_ice_index_s.tif", "pole_hole: 0.75")).unwrap();
    assert_eq!(value_at(filled.as_ref(), -89.0, 20.0), 0.75);
    assert!(filled.assumptions().iter().any(|assumption| assumption.text.contains("0.75")));
    // Land stays unknown.
    assert!(value_at(filled.as_ref(), -75.0, 20.0).is_nan());
}

#[test]
fn a_projection_spelt_out_by_parameters_is_read() {
    let rest = "encoding: {scaled: {scale: 0.01}}";
    let layer = build(fixtures(), &yaml("spelt_out.tif", rest)).unwrap();
    // 64S 136E is EPSG:3412 (1989478.041, -2060164.820): inside the image of 50 %.
    assert_eq!(value_at(layer.as_ref(), -64.0, 136.0), 0.5);
}

#[test]
fn all_ice_quantities_come_together() {
    let layer = build(fixtures(), &yaml("sea_ice_index_s.tif", "")).unwrap();
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, coord! { x: 1e6, y: -2.4e6 }, 20_000.0, 60, 60).unwrap();
    let layers = [NamedLayer { name: "ice", layer: layer.as_ref() }];
    let quantities = layer.quantities();
    let chart =
        Chart::lay(grid, clock(), 240.0, &layers, &quantities, &Control::default()).unwrap();
    let all = |quantity| chart.values(0, quantity, &Control::default()).unwrap();
    let total = all(Quantity::ICE_CONCENTRATION);
    let medium = all(Quantity::ICE_PARTIALS[6]);
    let thick = all(Quantity::ICE_PARTIALS[7]);
    let thickness = all(Quantity::ICE_THICKNESS);
    let mut kinds = [0; 3];
    for cell in 0..total.len() {
        if total[cell].is_nan() {
            assert!(medium[cell].is_nan() && thick[cell].is_nan() && thickness[cell].is_nan());
            kinds[0] += 1;
        } else {
            assert_eq!((medium[cell], thick[cell]), (total[cell], 0.0));
            assert_eq!(thickness[cell], if total[cell] > 0.0 { 0.95 } else { 0.0 });
            kinds[if total[cell] > 0.0 { 1 } else { 2 }] += 1;
        }
    }
    assert!(kinds.iter().all(|count| *count > 10), "{kinds:?}");
}

#[test]
fn what_is_wrong_with_an_image_is_told() {
    let bytes = fs::read(fixtures().join("sea_ice_index_s.tif")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("short.tif"), &bytes[..bytes.len() - 9000]).unwrap();
    fs::write(folder.path().join("text.tif"), "no image").unwrap();
    for name in ["percent_float.tif", "sea_ice_index_s.tif"] {
        fs::copy(fixtures().join(name), folder.path().join(name)).unwrap();
    }
    for (file, rest, word) in [
        ("missing.tif", "", "cannot be read"),
        ("text.tif", "", "GeoTIFF"),
        ("short.tif", "", "cannot be"),
        // Read with the wrong encoding: told, not silently wrong.
        ("sea_ice_index_s.tif", "encoding: {scaled: {scale: 0.01}}", "which its encoding has not"),
        ("percent_float.tif", "encoding: {scaled: {scale: 0.1}}", "column"),
    ] {
        let faults = build(folder.path(), &yaml(file, rest)).unwrap_err();
        let fault = &faults.as_slice()[0];
        assert_eq!((fault.pointer(), faults.as_slice().len()), ("/images/0/file", 1));
        assert!(fault.message().starts_with(file), "{}", fault.message());
        assert!(fault.message().contains(word), "{}", fault.message());
    }
    let other = "images: [{file: percent_float.tif, valid: 2027-01-01T00:00Z}]\nice: {stage: unknown}\nencoding: {scaled: {scale: 0.01}}";
    assert_eq!(build(folder.path(), other).unwrap_err().as_slice()[0].pointer(), "/ice");
}

#[test]
fn an_image_of_the_other_pole_is_an_error() {
    let layer = build(fixtures(), &yaml("sea_ice_index_s.tif", "")).unwrap();
    let polar =
        PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, coord! { x: 0.0, y: 0.0 }, 5000.0, 20, 20).unwrap();
    let layers = [NamedLayer { name: "ice", layer: layer.as_ref() }];
    let wanted = [Quantity::ICE_CONCENTRATION];
    let error =
        Chart::lay(grid, clock(), 240.0, &layers, &wanted, &Control::default()).unwrap_err();
    assert!(error.to_string().contains("other pole"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Most of these files is colour map and pixels, so the mutations aim at the ends too.
    #[test]
    fn mutated_files_do_not_panic(
        file in prop::sample::select(vec!["percent_float.tif", "spelt_out.tif", "percent_byte_lon_lat.tif"]),
        places in prop::collection::vec((0usize..30_000, any::<u8>(), any::<bool>()), 1..6),
        cut in prop::option::of(0usize..30_000),
    ) {
        let mut bytes = fs::read(fixtures().join(file)).unwrap();
        for (place, byte, head) in places {
            let place = if head { place % 400 } else { place % bytes.len() };
            bytes[place] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut);
        }
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("x.tif"), bytes).unwrap();
        let rest = "encoding: {scaled: {scale: 0.01, missing: [255]}}";
        if let Ok(layer) = build(folder.path(), &yaml("x.tif", rest)) {
            let value = value_at(layer.as_ref(), -64.0, 136.0);
            prop_assert!(value.is_nan() || (0.0..=1.0).contains(&value));
        }
    }
}
