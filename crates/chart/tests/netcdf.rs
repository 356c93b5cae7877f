//! NetCDF and NSIDC binary layers against files written by netCDF4 and numpy, and values found with
//! pyproj.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{fs, path::Path};

use dipward_chart::{Chart, ConcentrationNetcdfSpec, ConcentrationNsidcSpec, NamedLayer};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Faults, Ground, Layer, LayerPoint, Quantity, Registry,
    conformance::{check_example, check_layer},
};
use proptest::prelude::*;

const ICE: Quantity = Quantity::ICE_CONCENTRATION;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

fn clock() -> Clock {
    Clock::new("2027-01-01T00:00Z".parse().unwrap())
}

fn build(folder: &Path, yaml: &str) -> Result<Box<dyn Layer>, Faults> {
    let mut registry = Registry::default();
    registry.register::<ConcentrationNetcdfSpec>().unwrap();
    registry.register::<ConcentrationNsidcSpec>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, Hemisphere::South, clock(), 72.0);
    registry.build::<LayerPoint>("", document.value(), &context).map(|built| built.object)
}

fn yaml(file: &str, rest: &str) -> String {
    let what = if file.ends_with(".bin") {
        format!("kind: concentration_nsidc\nimages: [{{file: {file}, valid: 2027-01-01T00:00Z}}]")
    } else {
        format!("kind: concentration_netcdf\nfiles: [{file}]")
    };
    format!("{what}\nice: {{stage: grey}}\n{rest}")
}

fn value_at(layer: &dyn Layer, hour: f64, latitude_deg: f64, longitude_deg: f64) -> f32 {
    let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let polar =
        PolarStereographic::variant_b(hemisphere, hemisphere.sign() * 70.0, 0.0, Ellipsoid::WGS84)
            .unwrap();
    let at = position(latitude_deg, longitude_deg);
    let grid = Grid::new(polar, polar.forward(at), 1.0, 1, 1).unwrap();
    let layers = [NamedLayer { name: "ice", layer }];
    match Chart::lay(grid, clock(), 72.0, &layers, &[ICE], &Control::default()) {
        Ok(chart) => chart.sample(hour, ICE, at).unwrap(),
        Err(error) => {
            assert!(error.to_string().contains("covers no cell"), "{error}");
            f32::NAN
        }
    }
}

fn compare(file: &str, rest: &str, hours_a_step: f64) {
    let nearest = build(fixtures(), &yaml(file, &format!("{rest}\nresampling: nearest"))).unwrap();
    let bilinear = build(fixtures(), &yaml(file, rest)).unwrap();
    let text = fs::read_to_string(fixtures().join("netcdf_samples.csv")).unwrap();
    let (mut numbers, mut gaps) = (0, 0);
    for line in text.lines().filter_map(|line| line.strip_prefix(&format!("{file},"))) {
        let row: Vec<f64> = line.split(',').map(|number| number.parse().unwrap()).collect();
        let [step, latitude_deg, longitude_deg, pixel, mixed] = row.try_into().unwrap();
        let hour = step * hours_a_step;
        for (layer, expected) in [(&nearest, pixel), (&bilinear, mixed)] {
            let value = f64::from(value_at(layer.as_ref(), hour, latitude_deg, longitude_deg));
            assert!(
                (value - expected).abs() < 1e-4 || value.is_nan() && expected.is_nan(),
                "{line}: {value}"
            );
        }
        if pixel.is_nan() { gaps += 1 } else { numbers += 1 }
    }
    assert!(numbers > 100 && gaps > 0, "{numbers} {gaps}");
}

#[test]
fn the_climate_data_record_agrees_with_its_writer() {
    compare("cdr_south.nc", "", 24.0);
}

#[test]
fn osi_saf_files_agree_with_their_writer() {
    compare("osi_saf_north.nc", "", 0.0);
}

#[test]
fn longitude_and_latitude_agree_with_their_writer() {
    compare("lon_lat.nc", "valid: 2027-01-01T00:00Z", 0.0);
}

#[test]
fn the_flat_binary_agrees_with_its_writer() {
    compare("nt_invented_s.bin", "", 0.0);
}

#[test]
fn the_kinds_keep_their_contract() {
    let folder = tempfile::tempdir().unwrap();
    for (from, to) in
        [("cdr_south.nc", "concentration.nc"), ("nt_invented_s.bin", "nt_20270101_s.bin")]
    {
        fs::copy(fixtures().join(from), folder.path().join(to)).unwrap();
    }
    let context = BuildContext::new(folder.path(), Hemisphere::South, clock(), 72.0);
    let polar = PolarStereographic::variant_b(Hemisphere::South, -70.0, 0.0, Ellipsoid::WGS84);
    let grid =
        Grid::new(polar.unwrap(), geo::coord! { x: 1.5e6, y: -2.2e6 }, 25_000.0, 9, 9).unwrap();
    for built in [
        check_example::<ConcentrationNetcdfSpec>(&context).unwrap(),
        check_example::<ConcentrationNsidcSpec>(&context).unwrap(),
    ] {
        check_layer(built.object.as_ref(), Ground { grid: &grid, clock: clock() }).unwrap();
    }
}

#[test]
fn times_come_from_the_file_and_only_those_needed_are_read() {
    let layer = build(fixtures(), &yaml("cdr_south.nc", "")).unwrap();
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -70.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, geo::coord! { x: 1.5e6, y: -2.2e6 }, 25_000.0, 9, 9).unwrap();
    let layers = [NamedLayer { name: "ice", layer: layer.as_ref() }];
    let chart = Chart::lay(grid, clock(), 72.0, &layers, &[ICE], &Control::default()).unwrap();
    assert_eq!(chart.frames(), [0.0, 24.0, 48.0]);
}

#[test]
fn what_is_wrong_with_a_file_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let cdr = fs::read(fixtures().join("cdr_south.nc")).unwrap();
    fs::write(folder.path().join("short.nc"), &cdr[..cdr.len() / 2]).unwrap();
    fs::write(folder.path().join("text.nc"), "no such thing").unwrap();
    for name in ["osi_saf_contradicts.nc", "lon_lat.nc", "cdr_south.nc"] {
        fs::copy(fixtures().join(name), folder.path().join(name)).unwrap();
    }
    for (file, rest, word) in [
        ("missing.nc", "", "cannot be read"),
        ("text.nc", "", "NetCDF"),
        ("short.nc", "", "short.nc: "),
        ("osi_saf_contradicts.nc", "", "contradicts itself"),
        ("lon_lat.nc", "", "when it is valid"),
        ("cdr_south.nc", "variable: ice_age", "has no variable ice_age"),
        ("cdr_south.nc", "variable: x", "no field `x` of rows and columns"),
    ] {
        let faults = build(folder.path(), &yaml(file, rest)).unwrap_err();
        let fault = &faults.as_slice()[0];
        assert_eq!((fault.pointer(), faults.as_slice().len()), ("/files/0", 1));
        assert!(fault.message().starts_with(file), "{}", fault.message());
        assert!(fault.message().contains(word), "{}", fault.message());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn mutated_files_do_not_panic(
        file in prop::sample::select(vec!["cdr_south.nc", "osi_saf_north.nc", "lon_lat.nc"]),
        places in prop::collection::vec((0usize..50_000, any::<u8>(), any::<bool>()), 1..5),
        cut in prop::option::of(0usize..50_000),
    ) {
        let mut bytes = fs::read(fixtures().join(file)).unwrap();
        for (place, byte, head) in places {
            let place = if head { place % 4000 } else { place } % bytes.len();
            bytes[place] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut);
        }
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("x.nc"), bytes).unwrap();
        if let Ok(layer) = build(folder.path(), &yaml("x.nc", "")) {
            let value = value_at(layer.as_ref(), 0.0, -64.0, 136.0);
            prop_assert!(value.is_nan() || (0.0..=1.0).contains(&value));
        }
    }
}
