//! The kind `icebreaker` through its public face: closures, limits, fuel, and that no chart makes
//! it answer nonsense.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use std::sync::LazyLock;

use dipward_craft::{DemoIcebreakerSpec, IcebreakerSpec};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, CellBatch, Clock, Closure, Craft, CraftPoint, Quantity, Registry, Spec, Travel,
    conformance::{check_craft, check_example},
};
use proptest::prelude::*;
use serde_json::{Value, json};

const KNOT_KM_H: f64 = 1.852;

fn context(folder: &std::path::Path) -> BuildContext {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    BuildContext::new(folder, Hemisphere::South, clock, 240.0)
}

/// Ship A of the published checks with round numbers for fuel: 10 MW, 16 kn, 200 g/kWh.
fn ship_a() -> Value {
    json!({
        "kind": "icebreaker",
        "ice_class": "pc6",
        "hull": {
            "length_m": 150, "beam_m": 25, "draught_m": 9, "stem_angle_deg": 30,
            "waterline_angle_deg": 24, "parallel_midbody_m": 70, "bow_length_m": 45,
        },
        "machinery": {
            "propulsion_kw": 10000, "propellers": {"number": 1, "diameter_m": 5},
            "open_water_speed_kn": 16, "service_speed_kn": 16, "hotel_kw": 1000, "specific_consumption_g_per_kwh": 200,
        },
        "fuel": {"capacity_t": 1000, "unpumpable_fraction": 0.02,
            "reserve": {"fraction": 0.2, "besetment_days": 5}},
        "power_settings": [1.0, 0.5],
        "weather": {"sea_margin": 0},
        "under_keel_clearance_m": 6,
    })
}

fn with(path: &str, value: Value) -> Value {
    let mut spec = ship_a();
    let (parent, key) = path.rsplit_once('/').unwrap();
    let parent = spec.pointer_mut(parent).unwrap().as_object_mut().unwrap();
    parent.insert(key.to_owned(), value);
    spec
}

fn try_build(spec: &Value) -> Result<Box<dyn Craft>, String> {
    let mut registry = Registry::default();
    registry.register::<IcebreakerSpec>().unwrap();
    registry
        .build::<CraftPoint>("", spec, &context(std::path::Path::new(".")))
        .map(|built| built.object)
        .map_err(|faults| faults.to_string())
}

fn build(spec: &Value) -> Box<dyn Craft> {
    try_build(spec).unwrap()
}

/// One cell of deep water with the given quantities.
fn one(craft: &dyn Craft, quantities: &[(Quantity, f32)]) -> Travel {
    at_setting(craft, 0, quantities)
}

fn at_setting(craft: &dyn Craft, setting: usize, quantities: &[(Quantity, f32)]) -> Travel {
    let deep = [(Quantity::LAND, 0.0), (Quantity::ELEVATION, -3000.0)];
    let values: Vec<(Quantity, [f32; 1])> =
        quantities.iter().chain(&deep).map(|&(quantity, value)| (quantity, [value])).collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, value)| (*quantity, value.as_slice())).collect();
    let mut out = [Travel::closed(Closure::Open, 0.0)];
    craft.travel(&CellBatch { len: 1, columns: &columns }, setting, 0, &mut out).unwrap();
    out[0]
}

/// Columns for ice of one stage (an index into the partial concentrations).
fn ice(concentration: f32, thickness_m: f32, stage: usize) -> Vec<(Quantity, f32)> {
    let mut cell =
        vec![(Quantity::ICE_CONCENTRATION, concentration), (Quantity::ICE_THICKNESS, thickness_m)];
    cell.extend(
        Quantity::ICE_PARTIALS
            .iter()
            .enumerate()
            .map(|(index, &quantity)| (quantity, if index == stage { concentration } else { 0.0 })),
    );
    cell
}

fn speed_kn(travel: &Travel) -> f64 {
    1.0 / f64::from(travel.pace_h_per_km) / KNOT_KM_H
}

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want} within {tolerance}");
}

const THIN: usize = 3;
const MEDIUM: usize = 6;
const HEAVY: usize = 10;

#[test]
fn the_example_builds_and_resolves() {
    let built = check_example::<IcebreakerSpec>(&context(std::path::Path::new("."))).unwrap();
    check_craft(built.object.as_ref()).unwrap();
    assert_eq!(built.object.settings().len(), 3);
    assert!(built.resolved["ice"]["least_speed_kn"].is_number());
    assert_eq!(IcebreakerSpec::KIND, "icebreaker");
}

#[test]
fn every_demo_ship_sails() {
    check_example::<DemoIcebreakerSpec>(&context(std::path::Path::new("."))).unwrap();
    let mut registry = Registry::default();
    registry.register::<DemoIcebreakerSpec>().unwrap();
    let mut fastest = Vec::new();
    for model in ["expedition", "research", "heavy"] {
        let spec = json!({"kind": "demo_icebreaker", "model": model});
        let context = context(std::path::Path::new("."));
        let ship = registry.build::<CraftPoint>("", &spec, &context).unwrap().object;
        assert!(ship.name().starts_with("an invented"));
        let stores = ship.stores();
        assert!(stores.capacity_t > 2.0 * stores.reserve_t);
        // Each is slower in half a metre of ice than the next stronger.
        fastest.push(speed_kn(&one(&*ship, &ice(1.0, 0.5, THIN))));
    }
    assert!(fastest.is_sorted() && fastest[0] > 1.0, "{fastest:?}");
}

#[test]
fn open_water_goes_by_the_cube_law() {
    let ship = build(&ship_a());
    let open = [(Quantity::ICE_CONCENTRATION, 0.0)];
    let full = at_setting(&*ship, 0, &open);
    near(speed_kn(&full), 16.0, 1e-4);
    near(f64::from(full.burn_t_per_h), 11_000.0 * 200.0 / 1e6, 1e-6);
    assert_eq!(full.risk_index, 30.0);
    let half = at_setting(&*ship, 1, &open);
    near(speed_kn(&half), 16.0 * 0.5_f64.cbrt(), 1e-4);
    near(f64::from(half.burn_t_per_h), 6_000.0 * 200.0 / 1e6, 1e-6);
}

#[test]
fn level_ice_goes_by_the_curve_and_beset_is_beset() {
    let ship = build(&with("/ice_class", json!("pc1")));
    near(speed_kn(&one(&*ship, &ice(1.0, 0.5, THIN))), 6.567, 0.003);
    near(speed_kn(&one(&*ship, &ice(1.0, 0.9, THIN))), 1.057, 0.003);
    let beset = one(&*ship, &ice(1.0, 1.0, THIN));
    assert_eq!((beset.closure, beset.risk_index), (Closure::Ice, 20.0));
    assert!(beset.pace_h_per_km.is_infinite());
    // Half the ground covered is half the thickness to break.
    near(speed_kn(&one(&*ship, &ice(0.5, 1.0, THIN))), 6.567, 0.003);
}

#[test]
fn the_risk_index_closes_and_slows() {
    let ship = build(&ship_a());
    // PC6 in medium first-year ice: 0, normal.
    let medium = one(&*ship, &ice(1.0, 0.3, MEDIUM));
    assert_eq!((medium.risk_index, medium.elevated), (0.0, false));
    // Six tenths of heavy multi-year ice, -6: elevated, 3 knots.
    let mixed = one(&*ship, &ice(0.6, 0.2, HEAVY));
    assert_eq!((mixed.risk_index, mixed.elevated), (-6.0, true));
    near(speed_kn(&mixed), 3.0, 1e-4);
    let solid = one(&*ship, &ice(1.0, 0.3, HEAVY));
    assert_eq!((solid.risk_index, solid.closure), (-30.0, Closure::RiskIndex));

    let escorted = build(&with("/ice", json!({"escorted": true})));
    assert_eq!(one(&*escorted, &ice(0.6, 0.2, HEAVY)).risk_index, 4.0);
    let allowed =
        build(&with("/ice", json!({"special_consideration": {"allow": {"speed_kn": 2.0}}})));
    let slow = one(&*allowed, &ice(1.0, 0.3, HEAVY));
    assert!(slow.elevated);
    near(speed_kn(&slow), 2.0, 1e-4);
    // Below the Polar Classes there is no elevated operation.
    let baltic = build(&with("/ice_class", json!("ia")));
    assert_eq!(one(&*baltic, &ice(1.0, 0.3, MEDIUM)).closure, Closure::RiskIndex);
}

#[test]
fn a_capped_speed_burns_what_it_needs() {
    let ship = build(&ship_a());
    let capped = one(&*ship, &[(Quantity::ICE_CONCENTRATION, 0.0), (Quantity::SPEED_LIMIT, 8.0)]);
    near(speed_kn(&capped), 8.0, 1e-4);
    near(f64::from(capped.burn_t_per_h), (10_000.0 / 8.0 + 1_000.0) * 200.0 / 1e6, 1e-6);
    let mut cell = ice(1.0, 0.5, THIN);
    cell.push((Quantity::SPEED_LIMIT, 2.0));
    let in_ice = one(&*ship, &cell);
    let free = one(&*ship, &ice(1.0, 0.5, THIN));
    assert!(in_ice.burn_t_per_h > capped.burn_t_per_h && in_ice.burn_t_per_h < free.burn_t_per_h);
    assert_eq!(one(&*ship, &[(Quantity::SPEED_LIMIT, 0.0)]).closure, Closure::Zone);
}

#[test]
fn places_close_with_their_reason() {
    let ship = build(&ship_a());
    let nan = f32::NAN;
    for (quantities, want) in [
        (vec![(Quantity::LAND, 1.0)], Closure::Land),
        (vec![(Quantity::SHELF, 1.0)], Closure::Shelf),
        (vec![(Quantity::CLOSED, 1.0)], Closure::Zone),
        (vec![(Quantity::ELEVATION, -14.9)], Closure::Depth),
        (vec![(Quantity::ELEVATION, 5.0)], Closure::Depth),
        (vec![(Quantity::ELEVATION, nan)], Closure::Depth),
        (vec![(Quantity::ELEVATION, -15.0)], Closure::Open),
        (vec![(Quantity::ELEVATION, -29.0), (Quantity::DEPTH_DOUBT, 2.0)], Closure::Depth),
        (vec![(Quantity::ELEVATION, -30.0), (Quantity::DEPTH_DOUBT, 2.0)], Closure::Open),
        (vec![(Quantity::ELEVATION, -30.0), (Quantity::DEPTH_DOUBT, nan)], Closure::Open),
        (vec![(Quantity::ELEVATION, -9e9), (Quantity::DEPTH_DOUBT, f32::INFINITY)], Closure::Depth),
        (vec![(Quantity::SHELF, nan), (Quantity::CLOSED, nan)], Closure::Open),
    ] {
        let mut cell = quantities.clone();
        cell.push((Quantity::ICE_CONCENTRATION, 0.0));
        assert_eq!(one(&*ship, &cell).closure, want, "{quantities:?}");
    }
}

#[test]
fn unknown_ice_is_not_open_water() {
    let unknown = [(Quantity::ICE_CONCENTRATION, f32::NAN)];
    let cautious = build(&with("/ice_class", json!("pc1")));
    let cell = one(&*cautious, &unknown);
    assert_eq!(cell.closure, Closure::Ice);
    // All of it heavy multi-year ice.
    assert_eq!(cell.risk_index, 10.0);
    let stated = with("/cautious_ice", json!({"concentration": 1.0, "thickness_m": 0.5}));
    let mut stated = stated;
    stated["ice_class"] = json!("pc1");
    near(speed_kn(&one(&*build(&stated), &unknown)), 6.567, 0.003);
    let refuse = build(&with("/unknown_ice", json!("refuse")));
    assert_eq!(one(&*refuse, &unknown).closure, Closure::Unknown);
    let pass = build(&with("/unknown_ice", json!("pass")));
    near(speed_kn(&one(&*pass, &unknown)), 16.0, 1e-4);
    // Known concentration, unknown stage: the heaviest that the thickness allows, else the cautious one.
    let half = [(Quantity::ICE_CONCENTRATION, 0.5), (Quantity::ICE_THICKNESS, 0.6)];
    let mut first_year = with("/unknown_ice", json!("refuse"));
    first_year["ice_age"] = json!("first_year");
    assert_eq!(one(&*build(&first_year), &half).risk_index, 20.0);
    assert_eq!(one(&*refuse, &half).risk_index, 0.0);
    assert_eq!(one(&*refuse, &half[..1]).closure, Closure::Unknown);
    assert_eq!(one(&*pass, &half[..1]).risk_index, 0.0);
}

#[test]
fn a_chart_without_depths_or_ice_is_told() {
    let ship = build(&ship_a());
    let mut out = [Travel::closed(Closure::Open, 0.0)];
    let empty = CellBatch { len: 1, columns: &[] };
    let error = ship.travel(&empty, 0, 0, &mut out).unwrap_err();
    assert!(error.to_string().contains("elevation"), "{error}");
    assert!(ship.travel(&empty, 9, 0, &mut out).is_err());
    let mut refuse = with("/unknown_ice", json!("refuse"));
    refuse["unknown_depth"] = json!("pass");
    let error = build(&refuse).travel(&empty, 0, 0, &mut out).unwrap_err();
    assert!(error.to_string().contains("ice_concentration"), "{error}");
}

#[test]
fn stores_keep_the_reserve() {
    let stores = build(&ship_a()).stores();
    near(stores.capacity_t, 980.0, 1e-9);
    near(stores.hold_t_per_h, 0.2, 1e-12);
    near(stores.reserve_t, 0.2 * 980.0 + 5.0 * 24.0 * 0.2, 1e-9);
}

#[test]
fn faults_have_places() {
    for (path, value, place) in [
        ("/hull/bow_length_m", json!(100), "hull: midbody and bow are longer"),
        ("/machinery/propellers/diameter_m", json!(10), "machinery.propellers.diameter_m"),
        ("/power_settings", json!([0.5, 1.0]), "power_settings: the settings must fall"),
        ("/fuel/capacity_t", json!(10), "fuel: the reserve of"),
        ("/fuel/capacity_t", json!(0), "fuel.capacity_t"),
        ("/hull/beam_m", json!(-3), "hull.beam_m"),
        ("/ice", json!({"decayed_values": "nowhere.csv"}), "ice.decayed_values"),
        ("/ice_class", json!("pc9"), "ice_class"),
    ] {
        let faults = try_build(&with(path, value)).unwrap_err();
        assert!(faults.contains(place), "{faults}");
    }
    let mut steep = with("/hull/stem_angle_deg", json!(90));
    steep["ice"] = json!({"resistance": "lindqvist"});
    assert!(try_build(&steep).unwrap_err().contains("ice.resistance"));
}

fn any_value() -> impl Strategy<Value = f32> {
    prop_oneof![
        4 => -1.0_f32..20.0,
        2 => 0.0_f32..1.0,
        1 => prop::sample::select(vec![
            f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 0.0, -0.0, 1.0, f32::MAX, f32::MIN,
            f32::MIN_POSITIVE, 1e-40,
        ]),
        1 => any::<f32>(),
    ]
}

static SHIP_A: LazyLock<Box<dyn Craft>> = LazyLock::new(|| build(&ship_a()));

/// Ship A with each formula of resistance and each policy for unknown ice.
static SHIPS: LazyLock<Vec<Box<dyn Craft>>> = LazyLock::new(|| {
    let mut ships = Vec::new();
    for resistance in ["riska", "lindqvist"] {
        for policy in ["refuse", "cautious", "pass"] {
            let mut spec = with("/unknown_ice", json!(policy));
            let view = if resistance == "riska" { "good" } else { "poor" };
            spec["land_ice"] = json!({"view": view});
            spec["ice"] = json!({"resistance": resistance});
            ships.push(build(&spec));
        }
    }
    ships
});

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 3000, failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn no_chart_makes_nonsense(
        values in prop::collection::vec(any_value(), 22),
        ship in 0_usize..6,
        setting in 0_usize..2,
    ) {
        let ship = &SHIPS[ship];
        let cell: Vec<(Quantity, f32)> = ship.reads().into_iter().zip(values).collect();
        let travel = at_setting(&**ship, setting, &cell);
        prop_assert!(travel.pace_h_per_km > 0.0);
        prop_assert_eq!(travel.pace_h_per_km.is_finite(), travel.closure == Closure::Open);
        prop_assert!(travel.burn_t_per_h.is_finite() && travel.burn_t_per_h >= 0.0);
        prop_assert!(!travel.risk_index.is_infinite());
        if travel.closure == Closure::Open {
            prop_assert!((-80.0..=30.0).contains(&travel.risk_index));
            let full = f64::from(travel.burn_t_per_h);
            prop_assert!((0.2..=2.2 + 1e-6).contains(&full));
        }
    }

    #[test]
    fn more_ice_is_never_faster(
        concentration in (0.0_f32..1.0, 0.0_f32..1.0),
        thickness_m in (0.0_f32..2.0, 0.0_f32..2.0),
        stage in 0_usize..11,
    ) {
        let ship = &*SHIP_A;
        let order = |(a, b): (f32, f32)| if a < b { (a, b) } else { (b, a) };
        let (less, more) = order(concentration);
        let (thin, thick) = order(thickness_m);
        let light = one(&**ship, &ice(less, thin, stage));
        let heavy = one(&**ship, &ice(more, thick, stage));
        prop_assert!(heavy.pace_h_per_km >= light.pace_h_per_km);
        prop_assert!(heavy.risk_index <= light.risk_index);
    }

    #[test]
    fn less_power_is_never_faster_nor_hungrier(
        concentration in 0.0_f32..1.0, thickness_m in 0.0_f32..2.0, stage in 0_usize..11,
    ) {
        let ship = &*SHIP_A;
        let cell = ice(concentration, thickness_m, stage);
        let (full, half) = (at_setting(&**ship, 0, &cell), at_setting(&**ship, 1, &cell));
        prop_assert!(half.pace_h_per_km >= full.pace_h_per_km);
        if half.closure == Closure::Open {
            prop_assert!(half.burn_t_per_h <= full.burn_t_per_h);
        }
    }
}

/// The planner asks for whole charts: a cell must cost little. Asserted loosely, for slow machines.
#[test]
fn a_batch_is_fast() {
    let ship = build(&ship_a());
    let cells = 4096;
    let values: Vec<(Quantity, Vec<f32>)> = ship
        .reads()
        .into_iter()
        .enumerate()
        .map(|(column, quantity)| {
            let value = |cell: usize| ((cell * 7919 + column * 104_729) % 1000) as f32 / 10_000.0;
            let scale = if quantity == Quantity::ELEVATION { -1.0e6 } else { 1.0 };
            let flag = [Quantity::LAND, Quantity::SPEED_LIMIT, Quantity::BERG_DISTANCE]
                .contains(&quantity);
            let column = (0..cells).map(|cell| if flag { f32::NAN } else { value(cell) * scale });
            (quantity, column.collect())
        })
        .collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, values)| (*quantity, values.as_slice())).collect();
    let batch = CellBatch { len: cells, columns: &columns };
    let mut out = vec![Travel::closed(Closure::Open, 0.0); cells];
    let mut best = f64::INFINITY;
    for _ in 0..20 {
        let start = std::time::Instant::now();
        ship.travel(&batch, 0, 0, &mut out).unwrap();
        best = best.min(start.elapsed().as_secs_f64());
    }
    let nanoseconds = best * 1e9 / cells as f64;
    println!("{nanoseconds:.1} ns a cell");
    assert!(out.iter().filter(|travel| travel.closure == Closure::Open).count() > cells / 2);
    assert!(nanoseconds < 2000.0, "{nanoseconds} ns a cell");
}

/// The first of the rules' sample ships: at least 7840 kW for IA Super (table from memory).
#[test]
fn published_least_power_of_the_class_is_held() {
    let ship = |class: &str, power_kw: f64| {
        let mut spec = with("/machinery/propulsion_kw", json!(power_kw));
        spec["ice_class"] = json!(class);
        spec["hull"]["stem_angle_deg"] = json!(90);
        spec["ice"] = json!({"channel": {"bow_waterplane_m2": 500, "bow_rake_deg": 30}});
        try_build(&spec).map(|_| ())
    };
    assert_eq!(ship("ia_super", 7841.0), Ok(()));
    let message = ship("ia_super", 7839.0).unwrap_err();
    for word in ["machinery.propulsion_kw", "7839 kW is less than the 7840 kW", "IA Super"] {
        assert!(message.contains(word), "{message}");
    }
    assert_eq!(ship("ia", 7839.0), Ok(()));
    let message = ship("pc6", 10_000.0).unwrap_err();
    assert!(message.contains("ice.channel") && message.contains("do not know"), "{message}");
}
