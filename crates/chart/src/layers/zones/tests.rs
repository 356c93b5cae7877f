use proptest::prelude::*;

use super::super::workbench::{
    at, box_feature, build, chart, check_contract, collection, fault, sample,
};
use super::*;

fn file(features: &[String]) -> Vec<u8> {
    collection(features).into_bytes()
}

fn two_zones() -> Vec<u8> {
    file(&[
        box_feature((135.0, 137.0), (-64.5, -63.5), r#"{"name":"park","no_go":true}"#),
        box_feature(
            (134.0, 138.0),
            (-65.0, -63.0),
            r#"{"speed_limit_kn":8,"until":"2027-01-11T00:00Z"}"#,
        ),
        box_feature(
            (134.0, 138.0),
            (-65.0, -64.0),
            r#"{"speed_limit_kn":5,"from":"2027-01-06T00:00:00Z"}"#,
        ),
    ])
}

#[test]
fn the_kind_keeps_its_contract() {
    let zones = two_zones();
    check_contract::<ZonesSpec>(&[("zones.geojson", &zones)]);
}

#[test]
fn zones_close_and_limit_while_they_are_in_force() {
    let layer = build::<ZonesSpec>("file: z.geojson", &[("z.geojson", &two_zones())]).unwrap();
    let chart = chart(layer.as_ref()).unwrap();
    assert_eq!(chart.frames(), [0.0, 120.0, 120.0, 240.0, 240.0]);
    let closed =
        |hour, latitude, longitude| sample(&chart, hour, Quantity::CLOSED, at(latitude, longitude));
    assert_eq!(closed(0.0, -64.0, 136.0), 1.0);
    assert_eq!(closed(500.0, -64.0, 136.0), 1.0);
    assert!(closed(0.0, -64.0, 139.0).is_nan());
    let limit = |hour, latitude| sample(&chart, hour, Quantity::SPEED_LIMIT, at(latitude, 134.4));
    assert_eq!([limit(0.0, -64.6), limit(120.0, -64.6), limit(240.0, -64.6)], [8.0, 5.0, 5.0]);
    assert_eq!([limit(0.0, -63.3), limit(120.0, -63.3)], [8.0, 8.0]);
    assert!(limit(240.0, -63.3).is_nan());
    let outlines = chart.outlines();
    assert_eq!(outlines.len(), 2);
    assert_eq!(outlines[0].1.quantity, Quantity::CLOSED);
}

#[test]
fn a_zone_smaller_than_a_cell_closes_it() {
    let tiny = box_feature((136.01, 136.02), (-64.012, -64.011), r#"{"no_go":true}"#);
    let layer = build::<ZonesSpec>("file: z", &[("z", &file(&[tiny]))]).unwrap();
    let chart = chart(layer.as_ref()).unwrap();
    let closed = chart.values(0, Quantity::CLOSED, &Control::default()).unwrap();
    assert!((1..=4).contains(&closed.iter().filter(|closed| **closed == 1.0).count()));
}

#[test]
fn what_is_wrong_with_a_zone_is_told() {
    let here = |properties: &str| file(&[box_feature((135.0, 137.0), (-65.0, -64.0), properties)]);
    for (bytes, word) in [
        (here("{}"), "neither"),
        (here(r#"{"no_go":"yes"}"#), "true or false"),
        (here(r#"{"speed_limit_kn":-3}"#), "above 0"),
        (here(r#"{"no_go":true,"from":"tomorrow"}"#), "tomorrow"),
        (
            here(r#"{"no_go":true,"from":"2027-02-01T00:00Z","until":"2027-01-01T00:00Z"}"#),
            "not after",
        ),
        (here(r#"{"name":"reef","no_go":false}"#), "feature 1 `reef`"),
    ] {
        let message = fault::<ZonesSpec>("file: z.geojson", &[("z.geojson", &bytes)]);
        assert!(message.starts_with("/file z.geojson: feature 1"), "{message}");
        assert!(message.contains(word), "{message}");
    }
    let message = fault::<ZonesSpec>("file: missing.geojson", &[]);
    assert!(message.contains("missing.geojson: cannot be read"), "{message}");
}

#[test]
fn a_zone_off_the_grid_is_named_or_ignored() {
    let far = file(&[box_feature((0.0, 5.0), (-60.0, -55.0), r#"{"name":"far","no_go":true}"#)]);
    let layer = build::<ZonesSpec>("file: z.geojson", &[("z.geojson", &far)]).unwrap();
    let message = chart(layer.as_ref()).unwrap_err().to_string();
    assert!(message.contains("`far`: covers no cell of the grid"), "{message}");
    let yaml = "file: z.geojson\noff_grid: ignore";
    let layer = build::<ZonesSpec>(yaml, &[("z.geojson", &far)]).unwrap();
    assert!(chart(layer.as_ref()).is_ok());
}

proptest! {
    #[test]
    fn mutated_files_do_not_panic(place in 0usize..1200, byte: u8) {
        let mut bytes = two_zones();
        let place = place % bytes.len();
        bytes[place] = byte;
        if let Ok(layer) = build::<ZonesSpec>("file: z", &[("z", &bytes)]) {
            let _ = chart(layer.as_ref());
        }
    }
}
