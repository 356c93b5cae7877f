use super::super::workbench::{at, build, chart, fault, sample};
use super::super::{ConcentrationNsidcSpec, IceChartSpec};
use super::*;

/// A file of the southern grid, all of one concentration.
fn image(steps: u8) -> Vec<u8> {
    let mut bytes = format!("00255\0{:5}\0{:5}\0", 316, 332).into_bytes();
    bytes.resize(300, 0);
    bytes.resize(300 + 316 * 332, steps);
    bytes
}

fn nsidc(more: &str) -> Box<dyn dipward_plugin::Layer> {
    let bytes = image(125);
    let yaml = format!(
        "images: [{{file: a.bin, valid: 2026-12-31T00:00Z}}]\nice: {{stage: grey, thickness_m: 0.2}}\n{more}"
    );
    build::<ConcentrationNsidcSpec>(&yaml, &[("a.bin", &bytes)]).unwrap()
}

const HERE: (f64, f64) = (-64.0, 136.0);

#[test]
fn doubt_grows_with_the_root_of_the_age_and_changes_nothing_by_itself() {
    let layer =
        nsidc("doubt: {concentration_per_root_day: 0.06, thickness_share_per_root_day: 0.2}");
    let laid = chart(layer.as_ref()).unwrap();
    let here = at(HERE.0, HERE.1);
    for (hour, days) in [(0.0, 1.0_f32), (24.0, 2.0), (71.9, 3.99), (72.0, 4.0), (360.0, 16.0)] {
        // Reckoned once a day, and linear between.
        let sigma = sample(&laid, hour, CONCENTRATION_SIGMA, here);
        assert!((sigma - 0.06 * days.sqrt()).abs() < 2e-3, "{hour} {sigma}");
        let thickness = sample(&laid, hour, THICKNESS_SIGMA, here);
        assert!((thickness - 0.2 * 0.2 * days.sqrt()).abs() < 2e-3, "{hour} {thickness}");
        assert!((sample(&laid, hour, Quantity::ICE_CONCENTRATION, here) - 0.5).abs() < 1e-4);
        assert!((sample(&laid, hour, Quantity::ICE_THICKNESS, here) - 0.2).abs() < 1e-6);
        // The chart itself grows old, however often it is shown anew.
        let origin = laid.origin(hour, Quantity::ICE_CONCENTRATION, here).unwrap().unwrap();
        assert_eq!(origin.age_h, Some(hour + 24.0));
    }
    assert_eq!(laid.instants(), [Some((-24.0, -24.0))]);
    assert!(layer.assumptions().iter().any(|one| one.text.contains("as charted all the same")));
    // Without the key there is no such quantity.
    assert!(!nsidc("").quantities().contains(&CONCENTRATION_SIGMA));
}

#[test]
fn a_cautious_plan_finds_heavier_ice_whose_parts_still_add_up() {
    let keys = "doubt: {concentration_per_root_day: 0.1, cautious_sigmas: 2}";
    let layer = nsidc(keys);
    let laid = chart(layer.as_ref()).unwrap();
    let here = at(HERE.0, HERE.1);
    for (hour, days) in [(0.0, 1.0_f32), (72.0, 4.0), (168.0, 8.0), (696.0, 30.0)] {
        let ice = sample(&laid, hour, Quantity::ICE_CONCENTRATION, here);
        assert!((ice - (0.5 + 0.2 * days.sqrt()).min(1.0)).abs() < 1e-3, "{hour} {ice}");
        let parts: f32 =
            Quantity::ICE_PARTIALS.into_iter().map(|part| sample(&laid, hour, part, here)).sum();
        assert!((parts - ice).abs() < 1e-5, "{hour} {parts} {ice}");
        let thickness = sample(&laid, hour, Quantity::ICE_THICKNESS, here);
        assert!((thickness - 0.2 * (1.0 + 0.2 * days.sqrt())).abs() < 1e-3, "{hour} {thickness}");
    }
}

const CHART: &str = r#"{"type":"FeatureCollection","features":[
    {"type":"Feature","properties":{"CT":"50","CA":"50","SA":"86"},"geometry":{"type":"Polygon",
     "coordinates":[[[110,-70],[136,-70],[136,-58],[110,-58],[110,-70]]]}},
    {"type":"Feature","properties":{"CT":"00"},"geometry":{"type":"Polygon",
     "coordinates":[[[136,-70],[165,-70],[165,-58],[136,-58],[136,-70]]]}}]}"#;

fn ice_chart(more: &str) -> Result<Box<dyn dipward_plugin::Layer>, Faults> {
    let grib = include_bytes!("../../../tests/fixtures/forecast.grib2");
    let yaml = format!("charts: [{{file: c.geojson, valid: 2027-01-01T00:00Z}}]\n{more}");
    build::<IceChartSpec>(&yaml, &[("c.geojson", CHART.as_bytes()), ("f.grib2", grib)])
}

/// Longitude of the ice's edge along a parallel, to a twentieth of a degree.
fn edge_deg(laid: &crate::Chart, hour: f64, latitude_deg: f64) -> f64 {
    (0..160)
        .map(|step| 132.0 + f64::from(step) / 20.0)
        .find(|longitude| {
            sample(laid, hour, Quantity::ICE_CONCENTRATION, at(latitude_deg, *longitude)) < 0.25
        })
        .unwrap()
}

#[test]
fn ice_drifts_with_the_forecast_and_is_trusted_no_longer_than_said() {
    let layer = ice_chart("drift: {wind: {files: [f.grib2]}, at_most_h: 18}").unwrap();
    let laid = chart(layer.as_ref()).unwrap();
    let charted_deg = edge_deg(&laid, 0.0, -64.0);
    assert!((charted_deg - 136.0).abs() < 0.2, "{charted_deg}");
    // The fixture's wind about there: 8 + 3 sin(c / 15) east, -4 + 2 cos(r / 11) north, with c = 52
    // and r = 16, m/s; turned by 30 degrees to the left, east of it at 2 %.
    let (east, north) = (8.0 + 3.0 * (52.0_f64 / 15.0).sin(), -4.0 + 2.0 * (16.0_f64 / 11.0).cos());
    let metres = 0.02 * 18.0 * 3600.0;
    let eastward_km =
        (east * 30_f64.to_radians().cos() - north * 30_f64.to_radians().sin()) * metres / 1000.0;
    let degree_km = 111.3 * 64_f64.to_radians().cos();
    let moved_km = (edge_deg(&laid, 18.0, -64.0) - charted_deg) * degree_km;
    // Cells of 10 km.
    assert!((moved_km - eastward_km).abs() < 8.0, "{moved_km} {eastward_km}");
    assert!(sample(&laid, 18.1, Quantity::ICE_CONCENTRATION, at(-64.0, 134.0)).is_nan());
    let text = &layer.assumptions().iter().map(|one| one.text.clone()).collect::<String>();
    for word in ["drifts freely", "at most 18 h", "internal stress", "0.8", "no coast"] {
        assert!(text.contains(word), "{word}: {text}");
    }
    assert!(!text.contains("persists"), "{text}");
}

#[test]
fn a_drift_without_wind_is_told() {
    let late =
        "charts: [{file: c.geojson, valid: 2026-12-20T00:00Z}]\ndrift: {wind: {files: [f.grib2]}}";
    let grib = include_bytes!("../../../tests/fixtures/forecast.grib2");
    let files: [(&str, &[u8]); 2] = [("c.geojson", CHART.as_bytes()), ("f.grib2", grib)];
    let layer = build::<IceChartSpec>(late, &files).unwrap();
    // Twelve days old at the start, trusted for three: it covers nothing, and says so in time.
    let laid = chart(layer.as_ref());
    assert!(laid.is_err_and(|error| error.to_string().contains("the wind is known for")));
    let refused = ice_chart("beyond: refuse\ndrift: {wind: {files: [f.grib2]}}").unwrap_err();
    assert_eq!(refused.as_slice()[0].pointer(), "/beyond");
    let missing = fault::<IceChartSpec>(
        "charts: [{file: c.geojson, valid: 2027-01-01T00:00Z}]\ndrift: {wind: {files: [x.grib2]}}",
        &[("c.geojson", CHART.as_bytes())],
    );
    assert!(missing.starts_with("/drift/wind/files/0 x.grib2"), "{missing}");
}

#[test]
fn the_end_of_a_layer_stays_where_it_was() {
    let layer = nsidc("max_age_h: 100\ndoubt: {}");
    let laid = chart(layer.as_ref()).unwrap();
    let here = at(HERE.0, HERE.1);
    // Dated 24 h before the window.
    assert!(!sample(&laid, 76.0, Quantity::ICE_CONCENTRATION, here).is_nan());
    assert!(sample(&laid, 76.1, Quantity::ICE_CONCENTRATION, here).is_nan());
}
