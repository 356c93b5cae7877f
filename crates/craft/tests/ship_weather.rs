//! Wind, waves, night, fog and fuel rules of the kind `icebreaker`.
#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_craft::{
    IcebreakerSpec, SUN_ALTITUDE, VISIBILITY, WAVE_HEIGHT, WIND_GRID_EAST, WIND_GRID_NORTH,
};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, CellBatch, Clock, Closure, Craft, CraftPoint, Document, Error, Quantity,
    Registry, Spec, Travel,
};
use proptest::prelude::*;
use serde_json::{Value, json};

fn try_build(
    key: &str,
    value: Value,
    hemisphere: Hemisphere,
    start: &str,
) -> Result<Box<dyn Craft>, String> {
    let document = Document::parse("example", IcebreakerSpec::EXAMPLE).unwrap();
    let mut spec = document.value().clone();
    spec[key] = value;
    let mut registry = Registry::default();
    registry.register::<IcebreakerSpec>().unwrap();
    let context = BuildContext::new(".", hemisphere, Clock::new(start.parse().unwrap()), 240.0);
    registry
        .build::<CraftPoint>("", &spec, &context)
        .map(|built| built.object)
        .map_err(|faults| faults.to_string())
}

fn with_weather(weather: Value) -> Box<dyn Craft> {
    try_build("weather", weather, Hemisphere::South, "2027-01-01T00:00Z").unwrap()
}

fn try_one(
    craft: &dyn Craft,
    sector: u16,
    quantities: &[(Quantity, f32)],
) -> Result<Travel, Error> {
    let deep = [(Quantity::ELEVATION, -3000.0), (Quantity::ICE_CONCENTRATION, 0.0)];
    let values: Vec<(Quantity, [f32; 1])> =
        quantities.iter().chain(&deep).map(|&(quantity, value)| (quantity, [value])).collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, value)| (*quantity, value.as_slice())).collect();
    let mut out = [Travel::closed(Closure::Open, 0.0)];
    craft.travel(&CellBatch { len: 1, columns: &columns }, 0, sector, &mut out)?;
    Ok(out[0])
}

fn speed_kn(craft: &dyn Craft, sector: u16, quantities: &[(Quantity, f32)]) -> f64 {
    let travel = try_one(craft, sector, quantities).unwrap();
    1.0 / f64::from(travel.pace_h_per_km) / 1.852
}

#[test]
fn wind_ahead_slows_more_than_astern() {
    let ship = with_weather(json!({"loss": {"block_coefficient": 0.6}}));
    assert_eq!(ship.sectors(), 16);
    // 16 m/s towards -y: from ahead for sector 0, from astern for sector 8.
    let gale = [(WIND_GRID_EAST, 0.0), (WIND_GRID_NORTH, -16.0)];
    let speeds = [0, 2, 4, 8].map(|sector| speed_kn(&*ship, sector, &gale));
    assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "{speeds:?}");
    assert!(speeds[3] < 16.5 && speeds[0] > 10.0, "{speeds:?}");
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    near(speed_kn(&*ship, 4, &gale), speed_kn(&*ship, 12, &gale));
    // The frame turns with the wind.
    let westerly = [(WIND_GRID_EAST, 16.0), (WIND_GRID_NORTH, 0.0)];
    near(speed_kn(&*ship, 12, &westerly), speeds[0]);
    // Where the chart has no wind nothing is lost.
    let unknown = [(WIND_GRID_EAST, f32::NAN), (WIND_GRID_NORTH, f32::NAN)];
    assert!((speed_kn(&*ship, 0, &unknown) - 16.5).abs() < 1e-4);
    // Waves alone count from ahead on every heading.
    let waves = [(WAVE_HEIGHT, 4.0)];
    near(speed_kn(&*ship, 0, &waves), speed_kn(&*ship, 8, &waves));
    assert!(speed_kn(&*ship, 0, &waves) < 16.0);
    // Full power throughout.
    let burn =
        |quantities: &[(Quantity, f32)]| try_one(&*ship, 0, quantities).unwrap().burn_t_per_h;
    assert_eq!(burn(&gale), burn(&unknown));
}

#[test]
fn a_cap_in_weather_burns_more_than_in_calm() {
    let ship = with_weather(json!({"loss": {"block_coefficient": 0.6}}));
    let limit = (Quantity::SPEED_LIMIT, 8.0);
    let calm = [limit, (WIND_GRID_EAST, 0.0), (WIND_GRID_NORTH, 0.0)];
    let gale = [limit, (WIND_GRID_EAST, 0.0), (WIND_GRID_NORTH, -16.0)];
    let travel = |quantities: &[(Quantity, f32)]| try_one(&*ship, 0, quantities).unwrap();
    assert_eq!(travel(&calm).pace_h_per_km, travel(&gale).pace_h_per_km);
    assert!(travel(&calm).burn_t_per_h < travel(&gale).burn_t_per_h);
}

#[test]
fn night_and_fog_cap_the_speed() {
    let ship = with_weather(json!({"night_speed_kn": 6, "fog_speed_kn": 4}));
    assert_eq!(ship.sectors(), 1);
    for (sun_deg, visibility_km, want_kn) in [
        (10.0, 20.0, 16.5),
        (-5.9, 20.0, 16.5),
        (-6.1, 20.0, 6.0),
        (10.0, 0.9, 4.0),
        (-30.0, 0.5, 4.0),
        (-30.0, f32::NAN, 6.0),
    ] {
        let got = speed_kn(&*ship, 0, &[(SUN_ALTITUDE, sun_deg), (VISIBILITY, visibility_km)]);
        assert!((got - want_kn).abs() < 1e-4, "{got} {want_kn}");
    }
}

#[test]
fn a_rule_without_its_column_is_told() {
    for (weather, word) in [
        (json!({"night_speed_kn": 6}), "sunlight"),
        (json!({"fog_speed_kn": 6}), "visibility"),
        (json!({"loss": {"block_coefficient": 0.6}}), "wind"),
    ] {
        let error = try_one(&*with_weather(weather), 0, &[]).unwrap_err();
        assert!(error.to_string().contains(word), "{error}");
    }
    let bad = json!({"loss": {"block_coefficient": 0.8, "form": "full_loaded"}});
    let fault = try_build("weather", bad, Hemisphere::South, "2027-01-01T00:00Z").unwrap_err();
    assert!(fault.contains("weather.loss: the displaced volume"), "{fault}");
}

#[test]
fn heavy_fuel_is_warned_of_where_it_is_banned() {
    let warned = |hemisphere, start, protected| {
        let fuel = json!({"kind": "heavy_fuel_oil", "capacity_t": 3000,
            "protected_tanks": protected});
        let ship = try_build("fuel", fuel, hemisphere, start).unwrap();
        ship.assumptions().iter().any(|said| said.text.contains("regulation 43"))
    };
    assert!(warned(Hemisphere::South, "2027-01-01T00:00Z", true));
    assert!(warned(Hemisphere::North, "2027-01-01T00:00Z", false));
    assert!(!warned(Hemisphere::North, "2027-01-01T00:00Z", true));
    assert!(warned(Hemisphere::North, "2029-07-01T00:00Z", true));
    assert!(!warned(Hemisphere::North, "2024-05-01T00:00Z", false));
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2000, failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn no_weather_makes_nonsense(
        weather in prop::collection::vec(prop_oneof![-60.0_f32..60.0, any::<f32>()], 5),
        concentration in 0.0_f32..1.0,
        sector in 0_u16..40,
    ) {
        let ship = with_weather(json!({
            "loss": {"block_coefficient": 0.6}, "night_speed_kn": 6, "fog_speed_kn": 4,
        }));
        let names = [WIND_GRID_EAST, WIND_GRID_NORTH, WAVE_HEIGHT, SUN_ALTITUDE, VISIBILITY];
        let mut cell: Vec<(Quantity, f32)> = names.into_iter().zip(weather).collect();
        cell.push((Quantity::ICE_CONCENTRATION, concentration));
        cell.push((Quantity::ICE_THICKNESS, 0.3));
        let travel = try_one(&*ship, sector, &cell).unwrap();
        prop_assert_eq!(travel.closure, Closure::Open);
        prop_assert!(travel.pace_h_per_km.is_finite() && travel.pace_h_per_km > 0.0);
        prop_assert!(travel.burn_t_per_h.is_finite() && travel.burn_t_per_h > 0.0);
    }
}
