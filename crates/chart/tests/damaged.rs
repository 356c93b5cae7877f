//! Files that are not what their names say, cut short or with bits turned over: each is an error that
//! names the file, or its values stay within what the quantity can be. None makes the program panic.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{collections::BTreeMap, fs, path::Path, sync::LazyLock};

use dipward_chart::*;
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{BuildContext, Clock, Control, Document, LayerPoint, Quantity, Registry};
use geo::coord;
use proptest::prelude::*;

fn fixtures() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures"))
}

/// The kinds that read files: name of the file, the rest of the keys with `FILE` for it, and the fixtures
/// that they are made for. A shapefile's other parts lie beside it.
const KINDS: [(&str, &str, &[&str]); 9] = [
    (
        "x.tif",
        "{kind: concentration_geotiff, images: [{file: FILE, valid: 2027-01-01T00:00Z}], \
         ice: {stage: grey}}",
        &["sea_ice_index_s.tif"],
    ),
    (
        "x.tif",
        "{kind: raster, file: FILE, gives: ice_concentration, scale: 0.01}",
        &["percent_float.tif", "resampling.tif", "percent_byte_lon_lat.tif", "spelt_out.tif"],
    ),
    (
        "x.nc",
        "{kind: concentration_netcdf, files: [FILE], ice: {stage: grey}}",
        &["cdr_south.nc", "osi_saf_north.nc", "osi_saf_contradicts.nc", "lon_lat.nc"],
    ),
    (
        "x.bin",
        "{kind: concentration_nsidc, images: [{file: FILE, valid: 2027-01-01T00:00Z}], \
         ice: {stage: grey}}",
        &["nt_invented_s.bin"],
    ),
    (
        "x.grib2",
        "{kind: forecast_grib, files: [FILE]}",
        &["forecast.grib2", "forecast_polar.grib2"],
    ),
    (
        "x.shp",
        "{kind: ice_chart, charts: [{file: FILE, valid: 2027-01-01T00:00Z}]}",
        &["chart_south.shp"],
    ),
    (
        "x.gpkg",
        "{kind: ice_chart, charts: [{file: FILE, valid: 2027-01-01T00:00Z}]}",
        &["chart_conic.gpkg"],
    ),
    ("x.geojson", "{kind: ice_chart, charts: [{file: FILE, valid: 2027-01-01T00:00Z}]}", &[]),
    ("x.csv", "{kind: hazards, file: FILE}", &[]),
];

static FIXTURES: LazyLock<BTreeMap<String, Vec<u8>>> = LazyLock::new(|| {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(fixtures()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_file() && !name.ends_with(".py") {
            all.insert(name, fs::read(&path).unwrap());
        }
    }
    all
});

fn registry() -> Registry {
    let mut registry = Registry::default();
    registry.register::<ConcentrationGeotiffSpec>().unwrap();
    registry.register::<RasterSpec>().unwrap();
    registry.register::<ConcentrationNetcdfSpec>().unwrap();
    registry.register::<ConcentrationNsidcSpec>().unwrap();
    registry.register::<ForecastGribSpec>().unwrap();
    registry.register::<IceChartSpec>().unwrap();
    registry.register::<HazardsSpec>().unwrap();
    registry
}

/// What a quantity can be at all.
fn possible(quantity: Quantity) -> std::ops::RangeInclusive<f32> {
    match quantity.name() {
        "ice_thickness" => 0.0..=1e4,
        "wind_grid_east" | "wind_grid_north" | "wave_height" | "visibility" | "air_temperature" => {
            f32::MIN..=f32::MAX
        }
        _ => -0.001..=1.001,
    }
}

/// Builds and lays a kind on bytes under the kind's own name; the error in words, if there is one.
fn read(kind: usize, bytes: &[u8]) -> Result<(), String> {
    let (file, yaml, _) = KINDS[kind];
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(file), bytes).unwrap();
    if file == "x.shp" {
        for part in ["dbf", "prj"] {
            fs::write(
                folder.path().join(format!("x.{part}")),
                &FIXTURES[&format!("chart_south.{part}")],
            )
            .unwrap();
        }
    }
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(folder.path(), Hemisphere::South, clock, 24.0);
    let text = yaml.replace("FILE", file);
    let document = Document::parse("test", &text).map_err(|failed| failed.1.to_string()).unwrap();
    let layer = registry()
        .build::<LayerPoint>("", document.value(), &context)
        .map_err(|faults| faults.to_string())?
        .object;
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let middle = polar.forward(position(-64.0, 136.0));
    let origin = middle - coord! { x: 250_000.0, y: 250_000.0 };
    let grid = Grid::new(polar, origin, 25_000.0, 21, 21).unwrap();
    let layers = [NamedLayer { name: "layer", layer: layer.as_ref() }];
    let wanted = layer.quantities();
    let control = Control::default();
    let chart = Chart::lay(grid, clock, 24.0, &layers, &wanted, &control)
        .map_err(|error| error.to_string())?;
    for &quantity in chart.quantities() {
        for value in chart.values(0, quantity, &control).map_err(|error| error.to_string())? {
            assert!(
                value.is_nan() || possible(quantity).contains(&value),
                "{file}: {quantity} is {value}"
            );
        }
    }
    Ok(())
}

#[test]
fn a_file_of_another_format_is_told_by_its_name() {
    for (kind, (file, _, own)) in KINDS.iter().enumerate() {
        for (name, bytes) in FIXTURES.iter() {
            let extension = |name: &str| Path::new(name).extension().map(|own| own.to_owned());
            if own.contains(&name.as_str()) || extension(name) == extension(file) {
                continue;
            }
            let message = read(kind, bytes).unwrap_err();
            assert!(message.contains(file), "{name} as {file}: {message}");
        }
    }
}

#[test]
fn every_fixture_reads_under_its_own_kind_and_cut_short_under_none() {
    for (kind, (file, _, own)) in KINDS.iter().enumerate() {
        for name in *own {
            let bytes = &FIXTURES[*name];
            // Fixtures of the other hemisphere, and those made to be refused, say so by name.
            if let Err(message) = read(kind, bytes) {
                assert!(message.contains(file) || message.contains("no cell"), "{name}: {message}");
            }
            for share in [0, 1, 10, 45, 90] {
                let cut = &bytes[..bytes.len() * share / 100];
                let message = read(kind, cut).expect_err(name);
                assert!(message.contains(file), "{share} % of {name}: {message}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn bits_turned_over_make_an_error_or_a_possible_value(
        kind in 0..KINDS.len(),
        which: prop::sample::Index,
        places in prop::collection::vec((any::<prop::sample::Index>(), 0u8..8, any::<bool>()), 1..6),
    ) {
        let own = KINDS[kind].2;
        prop_assume!(!own.is_empty());
        let mut bytes = FIXTURES[own[which.index(own.len())]].clone();
        for (place, bit, head) in places {
            // Headers say how the rest is to be read.
            let length = if head { bytes.len().min(600) } else { bytes.len() };
            let place = place.index(length);
            bytes[place] ^= 1 << bit;
        }
        let _ = read(kind, &bytes);
    }
}
