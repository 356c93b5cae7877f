//! Wind, waves, night, fog and fuel rules of the kind `icebreaker`.
#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is the report")]

use dipward_craft::{IcebreakerSpec, SUN_ALTITUDE};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, CellBatch, Clock, Closure, Craft, CraftPoint, Document, Error, Look, Quantity,
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
    // Sailed at full power, so that what the weather takes shows.
    spec["machinery"]["service_speed_kn"] = json!(16.5);
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
    let gale = [(Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, -16.0)];
    let speeds = [0, 2, 4, 8].map(|sector| speed_kn(&*ship, sector, &gale));
    assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "{speeds:?}");
    assert!(speeds[3] < 16.5 && speeds[0] > 10.0, "{speeds:?}");
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    near(speed_kn(&*ship, 4, &gale), speed_kn(&*ship, 12, &gale));
    // The frame turns with the wind.
    let westerly = [(Quantity::WIND_GRID_EAST, 16.0), (Quantity::WIND_GRID_NORTH, 0.0)];
    near(speed_kn(&*ship, 12, &westerly), speeds[0]);
    // Where the chart has no wind, the sea margin of 15 % of power: 16.5 / 1.15^(1/3).
    let unknown = [(Quantity::WIND_GRID_EAST, f32::NAN), (Quantity::WIND_GRID_NORTH, f32::NAN)];
    assert!((speed_kn(&*ship, 0, &unknown) - 15.749).abs() < 1e-3);
    // Waves alone count from ahead on every heading.
    let waves = [(Quantity::WAVE_HEIGHT, 4.0)];
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
    let calm = [limit, (Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, 0.0)];
    let gale = [limit, (Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, -16.0)];
    let travel = |quantities: &[(Quantity, f32)]| try_one(&*ship, 0, quantities).unwrap();
    assert_eq!(travel(&calm).pace_h_per_km, travel(&gale).pace_h_per_km);
    assert!(travel(&calm).burn_t_per_h < travel(&gale).burn_t_per_h);
}

#[test]
fn night_and_fog_cap_the_speed() {
    let ship = with_weather(json!({
        "night_speed_kn": 6, "fog_speed_kn": 4, "sea_margin": 0,
    }));
    assert_eq!(ship.sectors(), 1);
    for (sun_deg, visibility_km, want_kn) in [
        (10.0, 20.0, 16.5),
        (-5.9, 20.0, 16.5),
        (-6.1, 20.0, 6.0),
        (10.0, 0.9, 4.0),
        (-30.0, 0.5, 4.0),
        (-30.0, f32::NAN, 6.0),
    ] {
        let got =
            speed_kn(&*ship, 0, &[(SUN_ALTITUDE, sun_deg), (Quantity::VISIBILITY, visibility_km)]);
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
    let warned = |kind: &str, hemisphere, start, protected| {
        let fuel = json!({"kind": kind, "capacity_t": 3000, "protected_tanks": protected});
        let ship = try_build("fuel", fuel, hemisphere, start).unwrap();
        ship.assumptions().iter().any(|said| said.text.starts_with("caution: fuel that is heavy"))
    };
    // Regression: light fuel oil, RMA to RMD, came under no ban.
    for kind in ["heavy_fuel_oil", "light_fuel_oil", "very_low_sulphur_fuel_oil"] {
        assert!(warned(kind, Hemisphere::South, "2027-01-01T00:00Z", true));
        assert!(warned(kind, Hemisphere::North, "2027-01-01T00:00Z", false));
        assert!(!warned(kind, Hemisphere::North, "2027-01-01T00:00Z", true));
        assert!(warned(kind, Hemisphere::North, "2029-07-01T00:00Z", true));
        assert!(!warned(kind, Hemisphere::North, "2024-05-01T00:00Z", false));
    }
    assert!(!warned("marine_gas_oil", Hemisphere::South, "2027-01-01T00:00Z", false));
}

#[test]
fn density_and_viscosity_make_a_fuel_heavy() {
    let told = |fuel: Value| -> Vec<String> {
        let ship = try_build("fuel", fuel, Hemisphere::South, "2027-01-01T00:00Z").unwrap();
        cautions(&*ship, -64.0, 12.0, 0.0, &[])
    };
    let banned =
        |fuel: Value| told(fuel).iter().any(|text| text.contains("MARPOL Annex I regulation 43)"));
    for (fuel, want) in [
        (json!({"capacity_t": 3000}), false),
        (json!({"capacity_t": 3000, "density_kg_m3": 900}), false),
        (json!({"capacity_t": 3000, "density_kg_m3": 900.5}), true),
        (json!({"capacity_t": 3000, "viscosity_mm2_s": 180.5}), true),
        (json!({"capacity_t": 3000, "kind": "light_fuel_oil"}), true),
        (json!({"capacity_t": 3000, "kind": "light_fuel_oil", "density_kg_m3": 890}), false),
        (json!({"capacity_t": 3000, "kind": "very_low_sulphur_fuel_oil"}), true),
        (json!({"capacity_t": 3000, "kind": "methanol"}), false),
    ] {
        assert_eq!(banned(fuel.clone()), want, "{fuel}");
    }
    let gas = json!({"capacity_t": 3000, "kind": "methanol", "density_kg_m3": 950});
    let fault = try_build("fuel", gas, Hemisphere::South, "2027-01-01T00:00Z").unwrap_err();
    assert!(fault.contains("fuel.density_kg_m3: the fuel is no oil"), "{fault}");
}

/// What the ship says at a latitude, going at a speed on a course, by wind, sea and temperatures.
fn cautions(
    ship: &dyn Craft,
    latitude_deg: f64,
    speed_kn: f64,
    grid_course_deg: f64,
    quantities: &[(Quantity, f32)],
) -> Vec<String> {
    let values: Vec<(Quantity, [f32; 1])> =
        quantities.iter().map(|&(quantity, value)| (quantity, [value])).collect();
    let columns: Vec<(Quantity, &[f32])> =
        values.iter().map(|(quantity, value)| (*quantity, value.as_slice())).collect();
    ship.cautions(&Look {
        latitude_deg,
        longitude_deg: 140.0,
        time: "2027-01-15T06:00Z".parse().unwrap(),
        speed_kn,
        grid_course_deg,
        cell: &CellBatch { len: 1, columns: &columns },
    })
}

#[test]
fn wind_sea_and_icing_become_cautions_at_their_place() {
    let ship = with_weather(json!({"roll_period_s": 16.5}));
    let told = |speed_kn, course_deg, quantities: &[(Quantity, f32)]| {
        cautions(&*ship, -58.0, speed_kn, course_deg, quantities).join("\n")
    };
    assert_eq!(told(12.0, 0.0, &[]), "");
    let gale = [
        (Quantity::WIND_GRID_EAST, 0.0),
        (Quantity::WIND_GRID_NORTH, 20.0),
        (Quantity::WAVE_HEIGHT, 7.0),
    ];
    let said = told(12.0, 90.0, &gale);
    for word in ["gale", "high sea, waves of 6 to 9 m", "the ship heaves to"] {
        assert!(said.contains(word), "{word}: {said}");
    }
    // 120 m and 20 knots before a following sea: over 1.8 sqrt(120) = 19.7.
    let astern = [
        (Quantity::WIND_GRID_EAST, 0.0),
        (Quantity::WIND_GRID_NORTH, 12.0),
        (Quantity::WAVE_HEIGHT, 3.0),
    ];
    assert!(told(20.0, 0.0, &astern).contains("surf-riding"));
    assert!(!told(20.0, 90.0, &astern).contains("surf-riding"));
    // Waves told to come from abeam are not those of the wind.
    let told_abeam =
        [astern.as_slice(), &[(Quantity::WAVES_GRID_EAST, 1.0), (Quantity::WAVES_GRID_NORTH, 0.0)]]
            .concat();
    assert!(!told(20.0, 0.0, &told_abeam).contains("surf-riding"));
    // Waves of 10 s are met every 16.7 s at 12 knots in a following sea.
    let timed = [astern.as_slice(), &[(Quantity::WAVE_PERIOD, 10.0)]].concat();
    assert!(told(12.0, 0.0, &timed).contains("synchronous rolling"));
    assert!(told(12.0, 0.0, &timed).contains("parametric rolling"));
    // Regression: a sea at -1.8 C gave no icing.
    let cold = [
        (Quantity::WIND_GRID_EAST, 0.0),
        (Quantity::WIND_GRID_NORTH, 15.0),
        (Quantity::AIR_TEMPERATURE, -12.0),
    ];
    let freezing = [cold.as_slice(), &[(Quantity::SEA_TEMPERATURE, -1.8)]].concat();
    assert!(told(12.0, 0.0, &freezing).contains("extreme icing"), "{}", told(12.0, 0.0, &freezing));
    assert!(told(12.0, 0.0, &cold).contains("counts as freezing"));
    let warm = [cold.as_slice(), &[(Quantity::SEA_TEMPERATURE, 13.0)]].concat();
    assert!(!told(12.0, 0.0, &warm).contains("icing"));
    // Pack lets no sea rise and no spray fly.
    let pack = [freezing.as_slice(), &[(Quantity::ICE_CONCENTRATION, 0.8)]].concat();
    assert_eq!(told(12.0, 0.0, &pack), "");
}

fn heavy_weather(rule: &str) -> Box<dyn Craft> {
    with_weather(json!({"loss": {"block_coefficient": 0.6}, "heavy_weather": rule}))
}

/// Regression: from Hobart to the pole in a constant wind of 0, 15, 22, 26 and 36 m/s took 82, 96,
/// 144, 100 and 82 hours: from force 8 up the wind cost less and less.
#[test]
fn the_harder_it_blows_the_longer_it_takes() {
    const WINDS_M_S: [f32; 5] = [0.0, 15.0, 22.0, 26.0, 36.0];
    for (rule, hove_to_kn) in [("heave_to", 1.0), ("steerage_way", 4.0)] {
        let ship = heavy_weather(rule);
        for sector in 0..16 {
            let speeds = WINDS_M_S.map(|wind| {
                speed_kn(
                    &*ship,
                    sector,
                    &[(Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, -wind)],
                )
            });
            assert!(speeds.windows(2).all(|pair| pair[0] >= pair[1]), "{sector}: {speeds:?}");
            assert!(speeds[4] <= hove_to_kn + 1e-6, "{sector}: {speeds:?}");
        }
        // Regression: a beam wind of 28 m/s and waves of 10 m cost nothing.
        let calm = speed_kn(&*ship, 4, &[(Quantity::WAVE_HEIGHT, 0.0)]);
        for beyond in [
            [(Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, 28.0)],
            [(Quantity::WAVE_HEIGHT, 10.0); 2],
        ] {
            assert!(speed_kn(&*ship, 4, &beyond) <= hove_to_kn + 1e-6 && calm > 16.0);
        }
    }
    let shut = try_one(&*heavy_weather("closed"), 4, &[(Quantity::WAVE_HEIGHT, 10.0)]).unwrap();
    assert_eq!(shut.closure, Closure::Weather);
    // In pack no sea rises.
    let pack = [(Quantity::WAVE_HEIGHT, 10.0), (Quantity::ICE_CONCENTRATION, 0.8)];
    assert_eq!(try_one(&*heavy_weather("closed"), 4, &pack).unwrap().closure, Closure::Open);
    // Heavy weather stops a ship too that states no loss.
    let plain = with_weather(json!({}));
    assert!(speed_kn(&*plain, 0, &[(Quantity::WAVE_HEIGHT, 6.0)]) <= 1.0 + 1e-6);
}

/// Regression: a ship of 16 knots sailed calm water at full power where the chart has no weather. A
/// real one averages 12.4 between 45 and 60 S (Australian Antarctic Data Centre, underway data of RSV
/// Nuyina, 2021/22, CC BY 4.0).
#[test]
fn published_service_speed_of_a_ship_of_16_knots() {
    let document = Document::parse("example", IcebreakerSpec::EXAMPLE).unwrap();
    let mut machinery = document.value()["machinery"].clone();
    machinery["open_water_speed_kn"] = json!(16);
    let build = |machinery: Value| {
        try_build("machinery", machinery, Hemisphere::South, "2027-01-01T00:00Z")
    };
    let ship = build(machinery.clone()).unwrap();
    let travel = try_one(&*ship, 0, &[]).unwrap();
    let sailed_kn = 1.0 / f64::from(travel.pace_h_per_km) / 1.852;
    assert!((sailed_kn - 12.4).abs() < 0.01, "{sailed_kn}");
    // Power for 12.4 knots in calm water and 15 % more, and hotel load.
    let power_kw = 16_000.0 * (12.4_f64 / 16.0).powi(3) * 1.15 + 1_800.0;
    assert!(
        (f64::from(travel.burn_t_per_h) - power_kw * 200.0 / 1e6).abs() < 0.01 * power_kw * 2e-4
    );
    let said =
        |ship: &dyn Craft, word: &str| ship.assumptions().iter().any(|own| own.text.contains(word));
    assert!(said(&*ship, "12.4 kn at most, 77.5 % of her speed at full power"));
    assert!(said(&*ship, "15 % more power than calm water"));
    machinery["service_speed_kn"] = json!(14);
    assert!(said(&*build(machinery.clone()).unwrap(), "14.0 kn at most, as `machinery"));
    machinery["service_speed_kn"] = json!(16.5);
    let fault = build(machinery).unwrap_err();
    assert!(fault.contains("machinery.service_speed_kn"), "{fault}");
}

/// Beyond the Froude number of the method the ship is held to it: 0.30 at 40 m is 11.6 knots.
#[test]
fn no_ship_outruns_the_method_of_its_loss() {
    let hull = json!({"length_m": 40, "beam_m": 10, "draught_m": 5, "stem_angle_deg": 26,
        "waterline_angle_deg": 28, "parallel_midbody_m": 12, "bow_length_m": 10});
    let document = Document::parse("example", IcebreakerSpec::EXAMPLE).unwrap();
    let mut spec = document.value().clone();
    spec["hull"] = hull;
    spec["machinery"]["service_speed_kn"] = json!(16.5);
    spec["weather"] = json!({"loss": {"block_coefficient": 0.6}});
    let mut registry = Registry::default();
    registry.register::<IcebreakerSpec>().unwrap();
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
    let ship = registry.build::<CraftPoint>("", &spec, &context).unwrap().object;
    let calm = [(Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, 0.0)];
    let sailed_kn = speed_kn(&*ship, 0, &calm);
    assert!((sailed_kn - 0.3 * (9.81_f64 * 40.0).sqrt() * 3600.0 / 1852.0).abs() < 1e-3);
    assert!(ship.assumptions().iter().any(|own| own.text.contains("Froude")));
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
        let names = [Quantity::WIND_GRID_EAST, Quantity::WIND_GRID_NORTH, Quantity::WAVE_HEIGHT, SUN_ALTITUDE, Quantity::VISIBILITY];
        let mut cell: Vec<(Quantity, f32)> = names.into_iter().zip(weather).collect();
        cell.push((Quantity::ICE_CONCENTRATION, concentration));
        cell.push((Quantity::ICE_THICKNESS, 0.3));
        let travel = try_one(&*ship, sector, &cell).unwrap();
        prop_assert_eq!(travel.closure, Closure::Open);
        prop_assert!(travel.pace_h_per_km.is_finite() && travel.pace_h_per_km > 0.0);
        prop_assert!(travel.burn_t_per_h.is_finite() && travel.burn_t_per_h > 0.0);
    }

    /// Nothing gets cheaper as wind or sea rise: the ship is no faster and burns no less, on any
    /// heading, with or without a speed limit, and what is closed stays closed.
    #[test]
    fn more_wind_or_sea_never_costs_less(
        rule in prop::sample::select(vec!["heave_to", "steerage_way", "closed"]),
        winds in (0.0..45.0_f64, 0.0..45.0_f64),
        waves in (0.0..16.0_f32, 0.0..16.0_f32),
        (from_deg, waves_deg) in (0.0..360.0_f64, prop::option::of(0.0..360.0_f64)),
        sector in 0_u16..16,
        limit_kn in prop_oneof![Just(f32::NAN), 3.0_f32..17.0],
        concentration in prop_oneof![Just(0.0_f32), 0.0_f32..1.0],
    ) {
        let ship = heavy_weather(rule);
        let travel = |wind: f64, wave: f32| {
            let towards = (from_deg + 180.0).to_radians();
            let mut cell = vec![
                (Quantity::WIND_GRID_EAST, (wind * towards.sin()) as f32),
                (Quantity::WIND_GRID_NORTH, (wind * towards.cos()) as f32),
                (Quantity::WAVE_HEIGHT, wave),
                (Quantity::SPEED_LIMIT, limit_kn),
                (Quantity::ICE_CONCENTRATION, concentration),
                (Quantity::ICE_THICKNESS, 0.3),
            ];
            if let Some(degrees) = waves_deg {
                let towards = degrees.to_radians();
                cell.push((Quantity::WAVES_GRID_EAST, towards.sin() as f32));
                cell.push((Quantity::WAVES_GRID_NORTH, towards.cos() as f32));
            }
            try_one(&*ship, sector, &cell).unwrap()
        };
        let calm = travel(winds.0.min(winds.1), waves.0.min(waves.1));
        let rough = travel(winds.0.max(winds.1), waves.0.max(waves.1));
        prop_assert!(
            rough.pace_h_per_km >= calm.pace_h_per_km * (1.0 - 1e-6), "{calm:?} {rough:?}"
        );
        prop_assert!(
            rough.closure == Closure::Weather
                || rough.burn_t_per_h >= calm.burn_t_per_h * (1.0 - 1e-6),
            "{calm:?} {rough:?}"
        );
    }

    /// No course off the wind makes more good against it than the course into it, and none into it
    /// is faster than one off it: the edges of the method's directions give nothing away.
    #[test]
    fn no_heading_is_a_cheap_way_round(
        rule in prop::sample::select(vec!["heave_to", "steerage_way"]),
        wind in 0.0..45.0_f64,
        sector in 0_u16..16,
    ) {
        let ship = heavy_weather(rule);
        let cell = [(Quantity::WIND_GRID_EAST, 0.0), (Quantity::WIND_GRID_NORTH, -wind as f32)];
        let speed = |sector| speed_kn(&*ship, sector, &cell);
        let off_deg = f64::from(sector.min(16 - sector)) * 22.5;
        prop_assert!(speed(sector) >= speed(0) * (1.0 - 1e-6));
        if off_deg < 90.0 {
            let good = speed(sector) * off_deg.to_radians().cos();
            prop_assert!(good <= speed(0) * (1.0 + 1e-6), "{good} {}", speed(0));
        }
    }
}
