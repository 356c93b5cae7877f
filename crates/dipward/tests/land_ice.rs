//! Ice of land origin through a whole plan: risk, closure and what the report warns of.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward_plugin::Approach;
use dipward_tests::Trial;
use trials::{planned, scenario};

fn constant(values: &str, inside: &str) -> String {
    format!("    - kind: constant\n      values: {{ {values} }}\n      inside: {inside}\n")
}

const BAND: &str = "{ box: { latitude_deg: [88.9, 89.1], longitude_deg: [-180, 180] } }";

fn best(layers: String) -> Approach {
    let ranking = planned(&scenario(&Trial { layers, ..Trial::default() }.yaml()));
    ranking.approaches.into_iter().next().unwrap()
}

/// Bergs on the way were open water: full speed, an index of 30 and not a word.
#[test]
fn bergy_water_on_the_way_is_told_and_counts_as_elevated() {
    let (clear, bergy) = (best(String::new()), best(constant("land_ice: 0.05", BAND)));
    assert_eq!(clear.risk.hours_elevated, 0.0);
    assert!(clear.warnings.iter().all(|own| !own.text.contains("land origin")));
    assert!(bergy.risk.hours_elevated > 1.0, "{:?}", bergy.risk);
    assert!(bergy.risk.minimum_rio.unwrap() < 30.0);
    let warning = bergy.warnings.iter().find(|own| own.text.contains("land origin")).unwrap();
    // 22 km of band, four times.
    assert!((60.0..120.0).contains(&warning.distance_km), "{}", warning.distance_km);
    assert!((88.85..89.15).contains(&warning.latitude_deg), "{}", warning.latitude_deg);
}

#[test]
fn glacier_ice_about_the_pole_closes_it_and_the_reason_is_told() {
    let about = "{ circle: { latitude_deg: 88, longitude_deg: 180, radius_km: 60 } }";
    let layers = constant("land_ice: 0.2", about);
    let ranking = planned(&scenario(&Trial { layers, ..Trial::default() }.yaml()));
    assert!(ranking.approaches.is_empty());
    assert!(!ranking.rejected.is_empty());
    let told = |word: &str| ranking.assumptions.iter().any(|own| own.text.contains(word));
    assert!(told("never normal operation"));
}
