//! The kind `tracked_party` and the layer `sunlight` through their public face.
#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_craft::{
    SUN_ALTITUDE, SURFACE_SLOPE, SunlightSpec, TrackedPartySpec, TraverseBurn, sun_in_sky,
};
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use dipward_plugin::{
    BuildContext, CellBatch, Clock, Closure, Control, Craft, CraftMode, CraftPoint, Ground,
    Quantity, Registry, Travel,
    conformance::{check_craft, check_example, check_layer},
};
use proptest::prelude::*;
use serde_json::{Value, json};

fn context() -> BuildContext {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    BuildContext::new(".", Hemisphere::South, clock, 30.0)
}

fn party() -> Value {
    json!({
        "kind": "tracked_party",
        "vehicles": {"speed_km_h": 12, "heaviest_t": 10, "payload_t": 5, "empty_l_per_km": 2,
            "per_tonne_l_per_km": 0.1, "idle_l_per_h": 2},
        "fuel": {"capacity_l": 5000, "density_kg_per_l": 0.8, "reserve_fraction": 0.25},
        "bearing": {"convention": {"gold": {"a_kg_per_cm2": 4}}, "sea_ice_factor": 1.0,
            "stands": false, "thickness_margin": 1.0, "melt": {"season": "cold"}},
        "travel_hours_per_day": 12,
        "greatest_slope_deg": 6,
    })
}

fn build(spec: &Value) -> Box<dyn Craft> {
    let mut registry = Registry::default();
    registry.register::<TrackedPartySpec>().unwrap();
    registry.build::<CraftPoint>("", spec, &context()).unwrap().object
}

fn one(craft: &dyn Craft, quantities: &[(Quantity, f32)]) -> Travel {
    let values: Vec<(Quantity, [f32; 1])> =
        quantities.iter().map(|&(quantity, value)| (quantity, [value])).collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, value)| (*quantity, value.as_slice())).collect();
    let mut out = [Travel::closed(Closure::Open, 0.0)];
    craft.travel(&CellBatch { len: 1, columns: &columns }, 0, 0, &mut out).unwrap();
    out[0]
}

fn sea_ice(concentration: f32, thickness_m: f32) -> [(Quantity, f32); 3] {
    [
        (Quantity::LAND, 0.0),
        (Quantity::ICE_CONCENTRATION, concentration),
        (Quantity::ICE_THICKNESS, thickness_m),
    ]
}

#[test]
fn the_examples_build_and_resolve() {
    let built = check_example::<TrackedPartySpec>(&context()).unwrap();
    check_craft(built.object.as_ref()).unwrap();
    assert_eq!(built.object.mode(), CraftMode::OverIce);
    assert!(built.object.assumptions().iter().any(|said| said.text.contains("low risk")));
    check_example::<SunlightSpec>(&context()).unwrap();
}

#[test]
fn the_convention_must_be_chosen() {
    let mut spec = party();
    spec["bearing"] = json!({});
    let mut registry = Registry::default();
    registry.register::<TrackedPartySpec>().unwrap();
    let faults = registry.build::<CraftPoint>("", &spec, &context()).unwrap_err();
    assert!(faults.to_string().contains("convention"), "{faults}");
}

#[test]
fn ice_bears_or_does_not() {
    let light = build(&party());
    // Gold at 4 kg/cm2: 50 cm for 10 t.
    assert_eq!(one(&*light, &sea_ice(1.0, 0.501)).closure, Closure::Open);
    assert_eq!(one(&*light, &sea_ice(1.0, 0.499)).closure, Closure::Bearing);
    assert_eq!(one(&*light, &sea_ice(0.9, 3.0)).closure, Closure::Bearing);
    assert_eq!(one(&*light, &sea_ice(0.0, f32::NAN)).closure, Closure::Bearing);
    assert_eq!(one(&*light, &sea_ice(f32::NAN, 2.0)).closure, Closure::Unknown);
    assert_eq!(one(&*light, &sea_ice(1.0, f32::NAN)).closure, Closure::Unknown);
    assert_eq!(one(&*light, &[]).closure, Closure::Unknown);
    // Standing on sea ice half as strong, thinnest place half the mean: twice the root of four.
    let mut spec = party();
    spec["bearing"] = json!({"convention": {"gold": {"a_kg_per_cm2": 4}}, "sea_ice_factor": 0.5,
        "stands": true, "thickness_margin": 2.0, "melt": {"season": "cold"}});
    let careful = build(&spec);
    assert_eq!(one(&*careful, &sea_ice(1.0, 1.99)).closure, Closure::Bearing);
    assert_eq!(one(&*careful, &sea_ice(1.0, 2.01)).closure, Closure::Open);
    spec["bearing"]["convention"] = json!("army_manual");
    assert_eq!(one(&*build(&spec), &sea_ice(1.0, 1.5)).closure, Closure::Open);
}

/// Gold's rule is for cold ice, and after some days above freezing the army manual bears nothing: the ice
/// of an August march bore as in winter.
#[test]
fn melting_ice_bears_less_or_nothing() {
    let build_at = |melt: Option<Value>, from: &str| {
        let mut spec = party();
        let bearing = spec["bearing"].as_object_mut().unwrap();
        bearing.remove("melt");
        bearing.extend(melt.map(|melt| ("melt".to_owned(), melt)));
        let mut registry = Registry::default();
        registry.register::<TrackedPartySpec>().unwrap();
        let clock = Clock::new(from.parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::North, clock, 240.0);
        registry.build::<CraftPoint>("", &spec, &context).unwrap().object
    };
    let closure = |craft: &dyn Craft, metres| one(craft, &sea_ice(1.0, metres)).closure;
    let (march, august) = ("2027-03-01T00:00Z", "2027-08-01T00:00Z");
    let (winter, summer) = (build_at(None, march), build_at(None, august));
    assert_eq!(closure(&*winter, 0.501), Closure::Open);
    assert_eq!(closure(&*summer, 9.0), Closure::Bearing);
    // A quarter of the strength wants twice the thickness.
    let stated = build_at(Some(json!({"strength": 0.25})), august);
    assert_eq!(closure(&*stated, 0.999), Closure::Bearing);
    assert_eq!(closure(&*stated, 1.001), Closure::Open);
    // The chart goes before the dates.
    let charted = |craft: &dyn Craft, melts| {
        let mut cell = sea_ice(1.0, 0.6).to_vec();
        cell.push((Quantity::ICE_MELTING, melts));
        one(craft, &cell).closure
    };
    assert_eq!(charted(&*summer, 0.0), Closure::Open);
    assert_eq!(charted(&*winter, 1.0), Closure::Bearing);
    let says = |craft: &dyn Craft, word: &str| {
        craft.assumptions().iter().any(|own| own.text.contains(word))
    };
    assert!(
        says(&*summer, "melting by the dates of the window") && says(&*summer, "bears nothing")
    );
    assert!(says(&*stated, "keeps 25 % of its strength, as stated, and bears from 1.00 m"));
}

/// A dozer of 40 t by Gold's formula overstresses the ice: seen in an abstract on its limitations.
#[test]
fn published_limit_of_golds_formula() {
    let warned = |mass_t: f64| {
        let mut spec = party();
        spec["vehicles"]["heaviest_t"] = json!(mass_t);
        build(&spec).assumptions().iter().any(|said| said.text.contains("heavy plant"))
    };
    assert!(warned(40.0) && !warned(20.0));
}

#[test]
fn slopes_slow_and_stop() {
    let party = build(&party());
    let land = |slope: f32| one(&*party, &[(Quantity::LAND, 1.0), (SURFACE_SLOPE, slope)]);
    let level = land(0.0);
    assert!(land(3.0).pace_h_per_km > level.pace_h_per_km);
    assert!((land(6.0).pace_h_per_km / level.pace_h_per_km - 2.0).abs() < 1e-5);
    assert_eq!(land(6.1).closure, Closure::Land);
    assert_eq!(land(f32::NAN).closure, Closure::Unknown);
    assert_eq!(one(&*party, &[(Quantity::SHELF, 1.0)]).closure, Closure::Open);
    let cracked = [(Quantity::SHELF, 1.0), (Quantity::CREVASSES, 1.0)];
    assert_eq!(one(&*party, &cracked).closure, Closure::Land);
    let closed = [(Quantity::SHELF, 1.0), (Quantity::CLOSED, 1.0)];
    assert_eq!(one(&*party, &closed).closure, Closure::Zone);
}

#[test]
fn days_have_rest_and_fuel_its_weight() {
    let mut spec = party();
    spec["ground"] = json!({"shelf": 1.0});
    let party = build(&spec);
    let shelf = one(&*party, &[(Quantity::SHELF, 1.0)]);
    // 12 km/h in 12 of 24 hours.
    assert!((f64::from(shelf.pace_h_per_km) - 1.0 / 6.0).abs() < 1e-6);
    // 2 l/km and 0.1 for each of 5 t of payload and 4 t of fuel, at 12 km/h; then 12 hours at 2
    // l/h.
    let litres_per_h = ((2.0 + 0.1 * 9.0) * 12.0 + 2.0) / 2.0;
    assert!((f64::from(shelf.burn_t_per_h) - litres_per_h * 0.0008).abs() < 1e-6);
    let stores = party.stores();
    assert!((stores.capacity_t - 4.0).abs() < 1e-12 && (stores.reserve_t - 1.0).abs() < 1e-12);
}

/// The South Pole traverse from McMurdo, as seen in accounts of it: some 1600 km at 11 km/h; 27 to
/// 31 days out with rest, which is 53 to 61 km a day (recomputed). A party of that speed that
/// travels 5.2 hours in 24 keeps that mean.
#[test]
fn published_traverse_pace() {
    let mut spec = party();
    spec["vehicles"]["speed_km_h"] = json!(11);
    spec["travel_hours_per_day"] = json!(5.2);
    spec["ground"] = json!({"shelf": 1.0});
    let shelf = one(&*build(&spec), &[(Quantity::SHELF, 1.0)]);
    let km_per_day = 24.0 / f64::from(shelf.pace_h_per_km);
    assert!((53.0..61.0).contains(&km_per_day), "{km_per_day}");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 3000, failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn no_chart_makes_nonsense(
        values in prop::collection::vec(
            prop_oneof![
                4 => -1.0_f32..10.0,
                1 => prop::sample::select(vec![f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e-40]),
                1 => any::<f32>(),
            ],
            8,
        ),
    ) {
        let party = build(&party());
        let cell: Vec<(Quantity, f32)> = party.reads().into_iter().zip(values).collect();
        let travel = one(&*party, &cell);
        prop_assert!(travel.pace_h_per_km > 0.0);
        prop_assert_eq!(travel.pace_h_per_km.is_finite(), travel.closure == Closure::Open);
        prop_assert!(travel.burn_t_per_h.is_finite() && travel.burn_t_per_h >= 0.0);
    }

    #[test]
    fn what_bears_more_still_bears(thin in 0.0_f32..3.0, more in 0.0_f32..3.0) {
        let party = build(&party());
        if one(&*party, &sea_ice(1.0, thin)).closure == Closure::Open {
            prop_assert_eq!(one(&*party, &sea_ice(1.0, thin + more)).closure, Closure::Open);
        }
    }
}

#[test]
fn sunlight_is_that_of_the_cell() {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid =
        Grid::covering(polar, &[position(-66.0, 140.0), position(-64.0, 136.0)], 50.0, 100.0)
            .unwrap();
    let mut registry = Registry::default();
    registry.register::<SunlightSpec>().unwrap();
    let spec = json!({"kind": "sunlight", "step_h": 6});
    let context = context();
    let layer = registry.build::<dipward_plugin::LayerPoint>("", &spec, &context).unwrap().object;
    let ground = Ground { grid: &grid, clock: context.clock() };
    check_layer(layer.as_ref(), ground).unwrap();
    let laid = layer.lay(ground, &Control::default()).unwrap();
    assert_eq!(laid.hours(), [0.0, 6.0, 12.0, 18.0, 24.0, 30.0]);
    let cells = grid.len() as u32;
    let mut out = vec![0.0; grid.len()];
    for (instant, &hour) in laid.hours().iter().enumerate() {
        laid.fill(SUN_ALTITUDE, instant, 0..cells, &mut out).unwrap();
        for cell in [0, cells / 2, cells - 1] {
            let place = grid.centre(cell).unwrap();
            let sun = sun_in_sky(context.clock().instant(hour), place.y(), place.x());
            assert!((f64::from(out[cell as usize]) - sun.altitude_deg).abs() < 1e-4);
        }
    }
    assert!(laid.fill(SUN_ALTITUDE, 6, 0..1, &mut out[..1]).is_err());
    assert!(laid.fill(SUN_ALTITUDE, 0, 0..cells + 1, &mut out).is_err());
}

proptest! {
    /// The search adds up burn that does not know the load; a march fits by it just where it fits by
    /// the exponential law, whose closed form is `TraverseBurn::range_km`.
    #[test]
    fn a_falling_load_fits_as_far_as_the_closed_form(
        empty in 0.5..6.0, slope in 0.01..0.2, payload in 0.0..50.0, litres in 500.0..60_000.0,
        reserve in 0.0..0.6,
    ) {
        let mut spec = party();
        spec["vehicles"] = json!({"speed_km_h": 12, "heaviest_t": 10, "payload_t": payload,
            "empty_l_per_km": empty, "per_tonne_l_per_km": slope});
        spec["fuel"] = json!({"capacity_l": litres, "density_kg_per_l": 0.8,
            "reserve_fraction": reserve, "load": "falling"});
        spec["travel_hours_per_day"] = json!(24);
        spec["ground"] = json!({"shelf": 1.0});
        let falling = build(&spec);
        let travel = one(falling.as_ref(), &[(Quantity::SHELF, 1.0), (SURFACE_SLOPE, 0.0)]);
        let t_per_km = f64::from(travel.burn_t_per_h) * f64::from(travel.pace_h_per_km);
        let stores = falling.stores();
        let reach_km = (stores.capacity_t - stores.reserve_t) / t_per_km;
        let burn = TraverseBurn::new(empty, slope, payload, 0.8).unwrap();
        let range_km = burn.range_km(stores.capacity_t, stores.reserve_t);
        prop_assert!((reach_km / range_km - 1.0).abs() < 1e-5, "{} {}", reach_km, range_km);
        spec["fuel"]["load"] = json!("full");
        let full = one(build(&spec).as_ref(), &[(Quantity::SHELF, 1.0), (SURFACE_SLOPE, 0.0)]);
        prop_assert!(full.burn_t_per_h > travel.burn_t_per_h);
    }
}
