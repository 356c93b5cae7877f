use proptest::prelude::*;

use super::super::workbench::{
    at, box_feature, build, chart, check_contract, collection, fault, grid, sample,
};
use super::*;

const CONCENTRATION: Quantity = Quantity::ICE_CONCENTRATION;

fn ice_file(tenths: &str, stage: &str) -> Vec<u8> {
    collection(&[
        box_feature(
            (130.0, 136.0),
            (-66.0, -62.0),
            &format!(r#"{{"CT":"{tenths}","CA":null,"SA":"{stage}","FA":"04","POLY_TYPE":"I"}}"#),
        ),
        box_feature((136.0, 138.0), (-66.0, -62.0), r#"{"CT":0,"POLY_TYPE":"W"}"#),
        box_feature((138.0, 139.0), (-66.0, -62.0), r#"{"POLY_TYPE":"L","CT":null}"#),
        box_feature(
            (139.0, 140.0),
            (-66.0, -62.0),
            r#"{"ct":81,"ca":"60","sa":"97","fa":"-9","cb":20,"sb":91,"poly_type":"I"}"#,
        ),
    ])
    .into_bytes()
}

fn two_charts(rules: &str) -> Box<dyn Layer> {
    let yaml = format!(
        "charts:\n  - {{file: b, valid: 2027-01-11T00:00Z}}\n  - {{file: a, valid: 2027-01-01T00:00Z}}\n{rules}"
    );
    build::<IceChartSpec>(&yaml, &[("a", &ice_file("90", "93")), ("b", &ice_file("50", "87"))])
        .unwrap()
}

#[test]
fn the_kind_keeps_its_contract() {
    let files: [(&str, &[u8]); 2] = [
        ("ice-2027-01-01.geojson", &ice_file("90", "93")),
        ("ice-2027-01-11.geojson", &ice_file("90", "93")),
    ];
    check_contract::<IceChartSpec>(&files);
}

#[test]
fn charts_are_shown_in_the_order_of_time_and_step() {
    let chart = chart(two_charts("").as_ref()).unwrap();
    assert_eq!(chart.frames(), [0.0, 240.0, 240.0]);
    let pack = at(-64.0, 134.0);
    assert_eq!(sample(&chart, 239.0, CONCENTRATION, pack), 0.9);
    assert_eq!(sample(&chart, 240.0, CONCENTRATION, pack), 0.5);
    assert_eq!(sample(&chart, 9999.0, CONCENTRATION, pack), 0.5);
    assert_eq!(sample(&chart, 0.0, Quantity::ICE_THICKNESS, pack), 1.6);
    assert_eq!(sample(&chart, 0.0, Quantity::ICE_PARTIALS[7], pack), 0.9);
    assert_eq!(sample(&chart, 240.0, Quantity::ICE_PARTIALS[4], pack), 0.5);
    let water = at(-64.0, 137.0);
    assert_eq!(sample(&chart, 0.0, CONCENTRATION, water), 0.0);
    assert_eq!(sample(&chart, 0.0, Quantity::ICE_PARTIALS[7], water), 0.0);
    // Land and what lies outside the chart are unknown, never open water.
    assert!(sample(&chart, 0.0, CONCENTRATION, at(-64.0, 138.5)).is_nan());
    assert!(sample(&chart, 0.0, CONCENTRATION, at(-64.0, 140.5)).is_nan());
    let old = at(-64.0, 139.5);
    // 81 is 8 to 10 tenths: the parts of 6 and 2 tenths grow to 7.5 and 2.5.
    assert_eq!(sample(&chart, 0.0, Quantity::ICE_PARTIALS[10], old), 0.75);
    assert_eq!(sample(&chart, 0.0, Quantity::ICE_PARTIALS[6], old), 0.25);
    assert_eq!(chart.outlines().len(), 1);
}

#[test]
fn charts_may_change_linearly_and_grow_too_old() {
    let chart = chart(two_charts("change: linear\nmax_age_h: 100").as_ref()).unwrap();
    let pack = at(-64.0, 134.0);
    assert!((sample(&chart, 120.0, CONCENTRATION, pack) - 0.7).abs() < 1e-6);
    assert_eq!(sample(&chart, 339.0, CONCENTRATION, pack), 0.5);
    assert!(sample(&chart, 341.0, CONCENTRATION, pack).is_nan());
    let rows = chart.coverage(&Control::default()).unwrap();
    let row = rows.iter().find(|row| row.quantity == "ice_concentration").unwrap();
    assert!(row.covered[0] > 0.3 && row.covered[1] == 0.0, "{:?}", row.covered);
    assert_eq!(row.age_h[0], Some(0.0));
}

#[test]
fn a_chart_that_refuses_the_window_says_so() {
    let message = chart(two_charts("beyond: refuse").as_ref()).unwrap_err().to_string();
    assert!(message.contains("`layer`") && message.contains("240"), "{message}");
}

#[test]
fn what_is_wrong_with_a_chart_is_told_at_its_line() {
    let here = |properties: &str| {
        collection(&[box_feature((135.0, 137.0), (-65.0, -64.0), properties)]).into_bytes()
    };
    for (bytes, word) in [
        (here("{}"), "neither `CT` nor `POLY_TYPE`"),
        (here(r#"{"CT":"33"}"#), "`CT` is 33"),
        (here(r#"{"CT":"90","SA":"90"}"#), "`SA` is 90"),
        (here(r#"{"CT":"much"}"#), "`CT`: `much` is not a code"),
        (here(r#"{"CT":"90","POLY_TYPE":"X"}"#), "`POLY_TYPE` is `X`"),
    ] {
        let yaml = "charts: [{file: x.geojson, valid: 2027-01-01T00:00Z}]";
        let message = fault::<IceChartSpec>(yaml, &[("x.geojson", &bytes)]);
        assert!(message.starts_with("/charts/0/file x.geojson: feature 1: "), "{message}");
        assert!(message.contains(word), "{message}");
    }
    let same = "charts: [{file: x, valid: 2027-01-01T00:00Z}, {file: x, valid: 2027-01-01T00:00Z}]";
    let message = fault::<IceChartSpec>(same, &[("x", &ice_file("90", "93"))]);
    assert!(message.starts_with("/charts/1/valid "), "{message}");
    let thick = "charts: [{file: x, valid: 2027-01-01T00:00Z}]\nthickness_m: {multi_year: -1}";
    let message = fault::<IceChartSpec>(thick, &[("x", &ice_file("90", "93"))]);
    assert!(message.starts_with("/thickness_m/multi_year "), "{message}");
}

/// Code 91 is one of concentration; charts have it in FA for strips and patches of nine tenths and more.
#[test]
fn a_form_that_the_format_has_not_does_not_refuse_the_chart() {
    let odd = |form: &str| {
        let properties = format!(r#"{{"CT":"90","SA":"93","FA":{form}}}"#);
        let chart = collection(&[
            box_feature((130.0, 136.0), (-66.0, -62.0), &properties),
            box_feature((136.0, 140.0), (-66.0, -62.0), r#"{"CT":"50","SA":"87","FA":"04"}"#),
        ]);
        let yaml = "charts: [{file: x.geojson, valid: 2027-01-01T00:00Z}]";
        build::<IceChartSpec>(yaml, &[("x.geojson", chart.as_bytes())]).unwrap()
    };
    for form in [r#""91""#, "91", "77", r#""much""#, r#""9191""#] {
        let layer = odd(form);
        let ice = chart(layer.as_ref()).unwrap();
        assert_eq!(sample(&ice, 0.0, CONCENTRATION, at(-64.0, 134.0)), 0.9);
        let told = layer.assumptions();
        let told = told.iter().find(|own| own.text.contains("count as unknown")).unwrap();
        assert!(told.text.contains("x.geojson") && told.text.contains("feature 1: `FA` is"));
    }
    let plain = odd(r#""08""#).assumptions();
    assert!(plain.iter().all(|own| !own.text.contains("count as unknown")));
}

#[test]
fn bergs_and_bergy_water_reach_the_chart() {
    let bergs = collection(&[
        box_feature((130.0, 132.0), (-66.0, -62.0), r#"{"CT":"02","POLY_TYPE":"W"}"#),
        box_feature((132.0, 134.0), (-66.0, -62.0), r#"{"POLY_TYPE":"W","CF":"1099"}"#),
        box_feature((134.0, 136.0), (-66.0, -62.0), r#"{"CT":"30","SA":"98","FA":"10"}"#),
        box_feature((136.0, 138.0), (-66.0, -62.0), r#"{"CT":"90","SA":"93","CN":"98"}"#),
        box_feature((138.0, 140.0), (-66.0, -62.0), r#"{"CT":"90","SA":"93"}"#),
    ]);
    let yaml = "charts: [{file: x.geojson, valid: 2027-01-01T00:00Z}]";
    let layer = build::<IceChartSpec>(yaml, &[("x.geojson", bergs.as_bytes())]).unwrap();
    let laid = chart(layer.as_ref()).unwrap();
    let land_ice = |longitude| sample(&laid, 0.0, Quantity::LAND_ICE, at(-64.0, longitude));
    assert_eq!([131.0, 133.0, 135.0, 137.0, 139.0].map(land_ice), [0.05, 0.05, 0.3, 0.05, 0.0]);
    assert!(layer.assumptions().iter().any(|own| own.text.contains("land origin")));
    // A chart that tells of none has no such quantity, and costs nothing for it.
    assert!(!two_charts("").quantities().contains(&Quantity::LAND_ICE));
}

#[test]
fn all_faults_are_told_at_once() {
    let yaml = "charts: [{file: a, valid: 2027-01-01T00:00Z}, {file: b, valid: 2027-01-02T00:00Z}]";
    assert_eq!(build::<IceChartSpec>(yaml, &[]).unwrap_err().as_slice().len(), 2);
}

#[test]
fn a_chart_of_other_waters_is_an_error() {
    let far = collection(&[box_feature((0.0, 9.0), (60.0, 70.0), r#"{"CT":"90"}"#)]).into_bytes();
    let yaml = "charts: [{file: x.geojson, valid: 2027-01-01T00:00Z}]";
    let layer = build::<IceChartSpec>(yaml, &[("x.geojson", &far)]).unwrap();
    let message = chart(layer.as_ref()).unwrap_err().to_string();
    assert!(message.contains("covers no cell of the grid"), "{message}");
}

#[test]
fn partials_add_to_the_concentration_in_every_cell_at_every_frame() {
    let chart = chart(two_charts("change: linear").as_ref()).unwrap();
    for frame in 0..chart.frames().len() {
        chart
            .batch(frame, 0..grid().len() as u32, |batch| {
                let total = batch.column(CONCENTRATION).unwrap();
                for (cell, total) in total.iter().enumerate() {
                    let partials = Quantity::ICE_PARTIALS.map(|q| batch.column(q).unwrap()[cell]);
                    let sum: f32 = partials.iter().sum();
                    assert!((sum - total).abs() < 1e-5 || sum.is_nan() && total.is_nan());
                }
            })
            .unwrap();
    }
}

proptest! {
    #[test]
    fn mutated_files_do_not_panic(place in 0usize..1300, byte: u8) {
        let mut bytes = ice_file("90", "93");
        let place = place % bytes.len();
        bytes[place] = byte;
        let yaml = "charts: [{file: x, valid: 2027-01-01T00:00Z}]";
        if let Ok(layer) = build::<IceChartSpec>(yaml, &[("x", &bytes)]) {
            let _ = chart(layer.as_ref());
        }
    }
}
