//! The invented ice of the demonstration scenarios: whole, known everywhere, and as it was meant.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::path::Path;

use dipward_chart::{
    Chart, CoastSpec, ConcentrationGeotiffSpec, DepthSpec, IceChartSpec, NamedLayer,
};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Document, Layer, LayerPoint, Quantity, Registry,
};

const AUSTRAL: [&str; 6] =
    ["2027-01-04", "2027-01-16", "2027-01-28", "2027-02-09", "2027-02-21", "2027-03-05"];
const ARCTIC: [&str; 6] =
    ["2027-08-01", "2027-08-15", "2027-08-29", "2027-09-12", "2027-09-26", "2027-10-10"];

fn clock(start: &str) -> Clock {
    Clock::new(start.parse().unwrap())
}

fn layer(yaml: &str, hemisphere: Hemisphere, start: &str) -> Box<dyn Layer> {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../scenarios/data"));
    let mut registry = Registry::default();
    registry.register::<CoastSpec>().unwrap();
    registry.register::<DepthSpec>().unwrap();
    registry.register::<IceChartSpec>().unwrap();
    registry.register::<ConcentrationGeotiffSpec>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let context = BuildContext::new(folder, hemisphere, clock(start), 1656.0);
    registry
        .build::<LayerPoint>("", document.value(), &context)
        .map_err(|faults| faults.to_string())
        .unwrap()
        .object
}

fn charts(folder: &str, dates: &[&str]) -> String {
    let list: Vec<String> = dates
        .iter()
        .map(|date| {
            let file = date.replace('-', "");
            format!("{{file: {folder}/ice-{file}.geojson, valid: {date}T00:00Z}}")
        })
        .collect();
    format!("kind: ice_chart\ncharts: [{}]", list.join(", "))
}

fn lay(grid: Grid, ice: &dyn Layer, hemisphere: Hemisphere, start: &str) -> Chart {
    let coast = layer("kind: coast", hemisphere, start);
    let depth = layer("kind: depth", hemisphere, start);
    let named = [
        NamedLayer { name: "coast", layer: coast.as_ref() },
        NamedLayer { name: "depth", layer: depth.as_ref() },
        NamedLayer { name: "ice", layer: ice },
    ];
    let wanted: Vec<Quantity> = named.iter().flat_map(|named| named.layer.quantities()).collect();
    Chart::lay(grid, clock(start), 1656.0, &named, &wanted, &Control::default()).unwrap()
}

/// Every cell of sea poleward of 45 degrees has ice information at every frame.
fn check_known(chart: &Chart, hemisphere: Hemisphere) {
    let control = Control::default();
    let land = chart.values(0, Quantity::LAND, &control).unwrap();
    for frame in 0..chart.frames().len() {
        let ice = chart.values(frame, Quantity::ICE_CONCENTRATION, &control).unwrap();
        let partial = chart.values(frame, Quantity::ICE_PARTIALS[0], &control).unwrap();
        for cell in 0..ice.len() {
            let centre = chart.grid().centre(cell as u32).unwrap();
            if land[cell] == 0.0 && centre.y() * hemisphere.sign() > 58.5 {
                assert!(!ice[cell].is_nan() && !partial[cell].is_nan(), "frame {frame} {centre:?}");
            }
        }
    }
}

fn grid(hemisphere: Hemisphere, places: &[Position]) -> Grid {
    let (true_scale_deg, central_deg) = match hemisphere {
        Hemisphere::North => (70.0, -45.0),
        Hemisphere::South => (-71.0, 0.0),
    };
    let polar =
        PolarStereographic::variant_b(hemisphere, true_scale_deg, central_deg, Ellipsoid::WGS84)
            .unwrap();
    Grid::covering(polar, places, 10.0, 300.0).unwrap()
}

#[test]
fn the_austral_summer_is_known_everywhere_and_retreats() {
    let south = Hemisphere::South;
    let start = "2027-01-05T00:00Z";
    let ice = layer(&charts("austral-summer", &AUSTRAL), south, start);
    let pole = position(-63.8, 135.0);
    let places = [position(-42.88, 147.35), pole, position(-43.61, 172.72)];
    let chart = lay(grid(south, &places), ice.as_ref(), south, start);
    assert_eq!(chart.frames().len(), 11);
    check_known(&chart, south);
    let at = |hour, quantity| chart.sample(hour, quantity, pole).unwrap();
    // A tongue with second-year ice lies on the pole at first; half-open pack is left at last.
    assert!(at(0.0, Quantity::ICE_PARTIALS[8]) > 0.3);
    assert!(at(0.0, Quantity::ICE_CONCENTRATION) > 0.8);
    let last = at(1600.0, Quantity::ICE_CONCENTRATION);
    assert!((0.1..0.8).contains(&last), "{last}");
    assert_eq!(chart.sample(0.0, Quantity::ICE_CONCENTRATION, places[0]).unwrap(), 0.0);
}

#[test]
fn the_arctic_late_summer_is_known_everywhere_up_to_the_pole() {
    let north = Hemisphere::North;
    let start = "2027-08-01T00:00Z";
    let ice = layer(&charts("arctic-late-summer", &ARCTIC), north, start);
    let places = [
        position(69.66, 18.96),
        position(78.24, 15.6),
        position(85.4, 134.0),
        position(89.9, -60.0),
        position(80.0, 120.0),
    ];
    let chart = lay(grid(north, &places), ice.as_ref(), north, start);
    check_known(&chart, north);
    let at = |hour, quantity, place| chart.sample(hour, quantity, place).unwrap();
    assert!(at(0.0, Quantity::ICE_CONCENTRATION, places[2]) > 0.3);
    assert!(at(0.0, Quantity::ICE_PARTIALS[10], position(86.0, -60.0)) > 0.5);
    // The Siberian side opens, and freezes again.
    let siberian = position(81.5, 120.0);
    let through: Vec<f32> =
        [0.0, 1020.0, 1700.0].map(|hour| at(hour, Quantity::ICE_CONCENTRATION, siberian)).into();
    assert!(through[1] < through[0] && through[1] < through[2], "{through:?}");
}

#[test]
fn the_image_lies_below_the_charts_and_covers_what_they_do_not() {
    let south = Hemisphere::South;
    let start = "2027-01-05T00:00Z";
    let yaml = "\
kind: concentration_geotiff
images: [{file: austral-summer/concentration-20270104.tif, valid: 2027-01-04T00:00Z}]
ice: {stage: medium_first_year}
";
    let image = layer(yaml, south, start);
    let ice = layer(&charts("austral-summer", &AUSTRAL[..1]), south, start);
    // West of 84E there is no chart.
    let places = [position(-63.8, 135.0), position(-64.0, 70.0)];
    let named = [
        NamedLayer { name: "charts", layer: ice.as_ref() },
        NamedLayer { name: "image", layer: image.as_ref() },
    ];
    let chart = Chart::lay(
        grid(south, &places),
        clock(start),
        100.0,
        &named,
        &[Quantity::ICE_CONCENTRATION],
        &Control::default(),
    )
    .unwrap();
    let from = |place| {
        let origin = chart.origin(0.0, Quantity::ICE_CONCENTRATION, place).unwrap().unwrap();
        assert_eq!(origin.age_h, Some(24.0));
        origin.layer
    };
    assert_eq!(from(places[0]), "charts");
    assert_eq!(from(places[1]), "image");
}
