use super::super::workbench::{at, build, chart, check_contract, fault, sample};
use super::*;

const CENTRE: (f64, f64) = (-64.0, 136.0);

#[test]
fn the_kind_keeps_its_contract() {
    check_contract::<ConstantSpec>(&[]);
}

#[test]
fn open_water_is_all_known() {
    let layer = build::<ConstantSpec>("ice: {concentration: 0}", &[]).unwrap();
    let chart = chart(layer.as_ref()).unwrap();
    assert_eq!(chart.frames(), [0.0]);
    for quantity in layer.quantities() {
        assert_eq!(sample(&chart, 0.0, quantity, at(CENTRE.0, CENTRE.1)), 0.0, "{quantity}");
    }
    assert_eq!(layer.quantities().len(), 13);
}

#[test]
fn a_constant_holds_in_its_place_and_time() {
    let yaml = "\
values: {speed_limit: 6}
inside: {circle: {latitude_deg: -64, longitude_deg: 136, radius_km: 60}}
from: 2027-01-03T00:00Z
until: 2027-01-05T00:00Z
";
    let layer = build::<ConstantSpec>(yaml, &[]).unwrap();
    let chart = chart(layer.as_ref()).unwrap();
    assert_eq!(chart.frames(), [0.0, 48.0, 48.0, 96.0, 96.0]);
    let limit = |hour, latitude_deg| {
        sample(&chart, hour, Quantity::SPEED_LIMIT, at(latitude_deg, CENTRE.1))
    };
    assert!(limit(0.0, -64.0).is_nan() && limit(96.0, -64.0).is_nan());
    assert_eq!(limit(48.0, -64.0), 6.0);
    assert_eq!(limit(95.0, -64.4), 6.0);
    assert!(limit(48.0, -65.0).is_nan());
}

#[test]
fn a_constant_that_began_before_the_window_is_in_force() {
    let layer = build::<ConstantSpec>("values: {closed: 1}\nfrom: 2026-06-01T00:00Z", &[]).unwrap();
    let chart = chart(layer.as_ref()).unwrap();
    assert_eq!(chart.frames(), [0.0]);
    assert_eq!(sample(&chart, 0.0, Quantity::CLOSED, at(-64.0, 136.0)), 1.0);
}

#[test]
fn faults_have_places() {
    for (yaml, pointer, word) in [
        ("values: {ice_concentraton: 0.5}", "/values/ice_concentraton", "no quantity"),
        ("values: {ice_concentration: 1.5}", "/values/ice_concentration", "not from 0 to 1"),
        ("values: {}", "", "gives nothing"),
        ("ice: {concentration: 0.5}", "/ice", "stage"),
        ("ice: {concentration: 0.5, stage: unknown}", "/ice", "says nothing"),
        ("ice: {concentration: 0}\nvalues: {ice_thickness: 1}", "/values/ice_thickness", "too"),
        (
            "values: {closed: 1}\nfrom: 2027-01-02T00:00Z\nuntil: 2027-01-01T00:00Z",
            "/until",
            "not after",
        ),
    ] {
        let message = fault::<ConstantSpec>(yaml, &[]);
        assert!(message.starts_with(&format!("{pointer} ")), "{message}");
        assert!(message.contains(word), "{message}");
    }
}

#[test]
fn a_part_off_the_grid_is_an_error() {
    let yaml =
        "values: {closed: 1}\ninside: {box: {latitude_deg: [10, 20], longitude_deg: [0, 9]}}";
    let layer = build::<ConstantSpec>(yaml, &[]).unwrap();
    let message = chart(layer.as_ref()).unwrap_err().to_string();
    assert!(message.contains("`layer`") && message.contains("no cell"), "{message}");
}
