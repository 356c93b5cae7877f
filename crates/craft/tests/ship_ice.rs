//! What a ship makes of ice whose age, season or origin matters: the kind `icebreaker` through its public
//! face.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use std::path::Path;

use dipward_craft::{IceClass, IcebreakerSpec, RiskValues, SUN_ALTITUDE, StageOfDevelopment};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, CellBatch, Clock, Closure, Craft, CraftPoint, Error, Quantity, Registry, Travel,
};
use proptest::prelude::*;
use serde_json::{Value, json};

const CONCENTRATION: Quantity = Quantity::ICE_CONCENTRATION;
const THICKNESS: Quantity = Quantity::ICE_THICKNESS;

/// A strong invented ship, so that ice does not stop her where the risk index does not.
fn ship(keys: Value) -> Box<dyn Craft> {
    ship_in(Path::new("."), keys)
}

fn ship_in(folder: &Path, keys: Value) -> Box<dyn Craft> {
    let mut spec = json!({
        "kind": "icebreaker",
        "ice_class": "pc5",
        "hull": {
            "length_m": 150, "beam_m": 28, "draught_m": 9, "stem_angle_deg": 25,
            "waterline_angle_deg": 28, "parallel_midbody_m": 60, "bow_length_m": 45,
        },
        "machinery": {
            "propulsion_kw": 60000, "propellers": {"number": 3, "diameter_m": 6},
            "open_water_speed_kn": 19, "service_speed_kn": 19, "hotel_kw": 2000, "specific_consumption_g_per_kwh": 200,
        },
        "fuel": {"capacity_t": 6000},
        "weather": {"sea_margin": 0},
    });
    let own = spec.as_object_mut().unwrap();
    own.extend(keys.as_object().unwrap().clone());
    let mut registry = Registry::default();
    registry.register::<IcebreakerSpec>().unwrap();
    let clock = Clock::new("2027-08-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(folder, Hemisphere::North, clock, 240.0);
    registry.build::<CraftPoint>("", &spec, &context).unwrap().object
}

fn try_one(craft: &dyn Craft, quantities: &[(Quantity, f32)]) -> Result<Travel, Error> {
    let deep = [(Quantity::LAND, 0.0), (Quantity::ELEVATION, -3000.0)];
    let values: Vec<(Quantity, [f32; 1])> =
        quantities.iter().chain(&deep).map(|&(quantity, value)| (quantity, [value])).collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, value)| (*quantity, value.as_slice())).collect();
    let mut out = [Travel::closed(Closure::Open, 0.0)];
    craft.travel(&CellBatch { len: 1, columns: &columns }, 0, 0, &mut out)?;
    Ok(out[0])
}

/// One cell of deep water with the given quantities.
fn one(craft: &dyn Craft, quantities: &[(Quantity, f32)]) -> Travel {
    try_one(craft, quantities).unwrap()
}

fn speed_kn(travel: &Travel) -> f64 {
    (1.0 / f64::from(travel.pace_h_per_km) / 1.852 * 1000.0).round() / 1000.0
}

fn says(craft: &dyn Craft, words: &[&str]) -> bool {
    craft.assumptions().iter().any(|own| words.iter().all(|word| own.text.contains(word)))
}

/// Nine tenths of 1.5 m: +3 as thick first-year ice, -15 as old ice, for PC5.
#[test]
fn thickness_alone_does_not_make_old_ice_young() {
    let cell = [(CONCENTRATION, 0.9), (THICKNESS, 1.5)];
    let risk = |keys: Value| one(&*ship(keys), &cell).risk_index;
    assert_eq!(risk(json!({"ice_age": "first_year"})), 3.0);
    assert_eq!(risk(json!({"ice_age": "second_year"})), -6.0);
    assert_eq!(risk(json!({"ice_age": "multi_year"})), -15.0);
    assert_eq!(risk(json!({})), -15.0);
    assert!(says(&*ship(json!({})), &["multi-year ice", "`ice_age` is not stated"]));
    assert!(says(&*ship(json!({"ice_age": "first_year"})), &["for first-year ice", "states"]));
}

/// Half a metre over the cell in five tenths is ice of a metre.
#[test]
fn volume_per_area_is_told_from_thickness() {
    let ship = ship(json!({"ice_age": "first_year"}));
    let by = |quantity, amount| one(&*ship, &[(CONCENTRATION, 0.5), (quantity, amount)]);
    let (volume, thickness) = (by(Quantity::ICE_VOLUME_PER_AREA, 0.5), by(THICKNESS, 1.0));
    assert_eq!(volume, thickness);
    assert!(by(THICKNESS, 0.5).pace_h_per_km < volume.pace_h_per_km);
    assert!(by(THICKNESS, 0.5).risk_index > volume.risk_index);
}

/// The stand-in was 0.9 of thick first-year ice: normal operation for PC1 to PC5.
#[test]
fn unknown_ice_is_the_worst_there_is_for_every_class() {
    for class in
        ["pc1", "pc2", "pc3", "pc4", "pc5", "pc6", "pc7", "ia_super", "ia", "ib", "ic", "none"]
    {
        let ship = ship(json!({"ice_class": class}));
        let unknown = one(&*ship, &[(CONCENTRATION, f32::NAN)]);
        let class: IceClass = serde_json::from_value(json!(class)).unwrap();
        let worst = RiskValues::normal(class).values().iter().min().copied().unwrap();
        assert_eq!(unknown.risk_index, 10.0 * f32::from(worst), "{class}");
        let normal = unknown.closure == Closure::Open && !unknown.elevated;
        assert_eq!(normal, matches!(class, IceClass::Pc1 | IceClass::Pc2), "{class}");
        assert!(says(&*ship, &["without ice information", "100 % heavy multi-year ice of 3 m"]));
    }
    let stated = json!({"cautious_ice": {"concentration": 0.9, "stage": "thick_first_year", "thickness_m": 1.2}});
    assert!(says(&*ship(stated), &["90 % thick first-year ice of 1.2 m"]));
}

#[test]
fn a_decayed_table_of_ones_own_is_used_in_its_season_and_said() {
    let folder = std::env::temp_dir().join(format!("dipward-ship-ice-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("decayed.csv"), "pc5,3,3,3,3,2,2,2,2,1,-1,-2,-2\n").unwrap();
    let build = |ice: Value| ship_in(&folder, json!({"ice": ice, "ice_age": "first_year"}));
    let unknown = build(json!({"decayed_values": "decayed.csv"}));
    let melting = build(json!({"decayed_values": "decayed.csv", "season": "melting"}));
    let cold = build(json!({"decayed_values": "decayed.csv", "season": "cold"}));
    std::fs::remove_dir_all(&folder).unwrap();
    let thick = [(CONCENTRATION, 1.0), (THICKNESS, 1.3)];
    let charted = |melts: f32| [thick[0], thick[1], (Quantity::ICE_MELTING, melts)];
    assert_eq!(one(&*melting, &thick).risk_index, 10.0);
    assert_eq!(one(&*cold, &thick).risk_index, 0.0);
    assert_eq!(one(&*unknown, &thick).risk_index, 0.0);
    assert_eq!(one(&*unknown, &charted(1.0)).risk_index, 10.0);
    assert_eq!(one(&*melting, &charted(0.0)).risk_index, 0.0);
    assert!(says(&*melting, &["unverified", "`season: melting` states"]));
    assert!(says(&*unknown, &["`season` does not state it"]));
}

/// Bergy water was open water with an index of 30 and full speed.
#[test]
fn bergy_water_is_not_normal_operation() {
    let bergy = [(CONCENTRATION, 0.0), (Quantity::LAND_ICE, 0.05)];
    let poor = one(&*ship(json!({})), &bergy);
    assert!(poor.elevated && poor.risk_index < 30.0, "{poor:?}");
    assert_eq!((poor.closure, speed_kn(&poor)), (Closure::Open, 3.0));
    let good = ship(json!({"land_ice": {"view": "good"}}));
    assert_eq!(speed_kn(&one(&*good, &bergy)), 6.0);
    let closed = ship(json!({"land_ice": {"closed_from": 0.0}}));
    assert_eq!(one(&*closed, &bergy).closure, Closure::LandIce);
    // Neither is told, and neither is there.
    for clear in [0.0, f32::NAN] {
        let open = one(&*ship(json!({})), &[(CONCENTRATION, 0.0), (Quantity::LAND_ICE, clear)]);
        assert_eq!((open.risk_index, open.elevated, speed_kn(&open)), (30.0, false, 19.0));
    }
    // The chart's own limit holds where it is lower.
    let limited = [bergy[0], bergy[1], (Quantity::SPEED_LIMIT, 1.5)];
    assert_eq!(speed_kn(&one(&*good, &limited)), 1.5);
    assert!(says(&*good, &["ice of land origin", "never normal operation", "3 kn in a poor view"]));
}

/// MSC.1/Circ.1519 gives glacier ice no value: keep away (from memory).
#[test]
fn a_tenth_of_glacier_ice_closes_to_every_class() {
    let heaviest = StageOfDevelopment::HeavyMultiYear.index();
    for class in ["pc1", "pc5", "none"] {
        let ship = ship(json!({"ice_class": class}));
        let mut cell = vec![(CONCENTRATION, 0.1), (THICKNESS, 5.0), (Quantity::LAND_ICE, 0.1)];
        let partials = Quantity::ICE_PARTIALS.into_iter().enumerate();
        cell.extend(partials.map(|(at, own)| (own, if at == heaviest { 0.1 } else { 0.0 })));
        let travel = one(&*ship, &cell);
        assert_eq!(travel.closure, Closure::LandIce, "{class}");
        // Counted once: nine tenths of open water and one of heavy multi-year ice.
        let class: IceClass = serde_json::from_value(json!(class)).unwrap();
        let value = RiskValues::normal(class).value(Some(StageOfDevelopment::HeavyMultiYear));
        assert_eq!(travel.risk_index, 27.0 + f32::from(value));
    }
}

#[test]
fn bergs_are_passed_by_the_view_that_there_is() {
    let off = |berths: f32, more: &[(Quantity, f32)]| {
        let mut cell = vec![(CONCENTRATION, 0.0), (Quantity::BERG_DISTANCE, berths)];
        cell.extend(more);
        cell
    };
    let closure = |ship: &dyn Craft, cell: &[(Quantity, f32)]| one(ship, cell).closure;
    let (poor, good) = (ship(json!({})), ship(json!({"land_ice": {"view": "good"}})));
    assert_eq!(closure(&*good, &off(0.99, &[])), Closure::LandIce);
    assert_eq!(closure(&*good, &off(1.01, &[])), Closure::Open);
    assert_eq!(closure(&*poor, &off(1.99, &[])), Closure::LandIce);
    assert_eq!(closure(&*poor, &off(2.01, &[])), Closure::Open);
    assert_eq!(closure(&*poor, &off(f32::NAN, &[])), Closure::Open);

    let charted = ship(json!({"land_ice": {"view": "charted"}}));
    for (sun_deg, visibility_km, wave_m, want) in [
        (10.0, 20.0, 0.5, Closure::Open),
        (10.0, 20.0, f32::NAN, Closure::Open),
        (-7.0, 20.0, 0.5, Closure::LandIce),
        (10.0, 4.0, 0.5, Closure::LandIce),
        (10.0, 20.0, 1.5, Closure::LandIce),
        (f32::NAN, 20.0, 0.5, Closure::LandIce),
        (10.0, f32::NAN, 0.5, Closure::LandIce),
    ] {
        let view = [
            (SUN_ALTITUDE, sun_deg),
            (Quantity::VISIBILITY, visibility_km),
            (Quantity::WAVE_HEIGHT, wave_m),
        ];
        assert_eq!(closure(&*charted, &off(1.5, &view)), want, "{view:?}");
    }
    let error = try_one(&*charted, &off(1.5, &[])).unwrap_err().to_string();
    assert!(error.contains("sun_altitude"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2000, failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn more_ice_of_land_origin_is_never_safer(
        amounts in (0.0_f32..0.2, 0.0_f32..0.2), concentration in 0.0_f32..1.0, metres in 0.0_f32..1.0,
    ) {
        let ship = ship(json!({"ice_age": "first_year"}));
        let (less, more) = (amounts.0.min(amounts.1), amounts.0.max(amounts.1));
        let with = |amount: f32| one(
            &*ship,
            &[(CONCENTRATION, concentration), (THICKNESS, metres), (Quantity::LAND_ICE, amount)],
        );
        let (light, heavy) = (with(less), with(more));
        prop_assert!(heavy.pace_h_per_km >= light.pace_h_per_km);
        prop_assert!(heavy.risk_index <= light.risk_index);
        prop_assert!(heavy.elevated || more == 0.0 || heavy.closure != Closure::Open);
    }
}
