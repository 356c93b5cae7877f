//! Approaches in two stages against closed forms and brute force: a ship lands a party that flies, or
//! goes over the ice, to the pole and back.
//!
//! The helicopter is invented: 100 kn, 200 kg/h, 600 kg, 30 min of reserve, no contingency. In still air
//! its radius of action is (600 - 100) / 200 / 2 hours at 100 kn. It has floats, and lands on open water.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a failed expectation is the test's report, in its functions too"
)]

use dipward::{Scenario, plan, registry};
use dipward_craft::{ground_speed, radius_of_action_nm};
use dipward_geodesy::{distance_km, inverse, position};
use dipward_plugin::{Approach, Control, Document, LastLegPlan, LegTravel, Ranking};
use dipward_tests::{HOLD_T_PER_H, PARTY_KM_H, SPEED_KM_PER_H, Trial, party};

const KM: f64 = 1.852;
const STILL_RADIUS_KM: f64 = 500.0 / 200.0 / 2.0 * 100.0 * KM;

const PORT: (f64, f64) = (-60.0, 0.0);
const POLE: (f64, f64) = (-66.0, 0.0);

const HELICOPTER: &str = "  - kind: helicopter
    machine: { airspeed_kn: 100, fuel_kg: 600, burn_kg_per_h: 200, reserve_min: 30, contingency_fraction: 0, least_sun_deg: -18 }
    fuel_aboard_kg: 6000
    lands_on: { floats: true }
    allowance_km: 10
    reach_shares: [1]
";

const CLEAR: &str = "    - kind: constant
      values: { visibility: 20, wind_grid_east: 0, wind_grid_north: 0 }
";

/// A pole on the meridian that is straight up on the grid, so that its winds are true ones there. In
/// January the sun over 66 S is never 18 degrees below the horizon.
fn trial(layers: &str, last_leg: &str) -> Trial {
    Trial {
        hemisphere: "south",
        port: PORT,
        pole: POLE,
        cell_km: 5.0,
        margin_km: 120.0,
        layers: layers.to_owned(),
        last_leg: last_leg.to_owned(),
        station: "{ within_km: 5, for_h: 1, at_least_h: 12, at_most_h: 24, leave_every_h: 12 }",
        ..Trial::default()
    }
}

fn run(trial: &Trial) -> Ranking {
    run_yaml(&trial.yaml())
}

fn run_yaml(yaml: &str) -> Ranking {
    let document = Document::parse("trial.yaml", yaml).expect("the trial is YAML");
    let scenario = Scenario::read(&document, ".".as_ref(), &registry().unwrap(), None)
        .unwrap_or_else(|faults| panic!("{faults}"));
    plan(&scenario, &Control::default()).unwrap_or_else(|error| panic!("{error}")).ranking
}

fn staged(ranking: &Ranking) -> Vec<(&Approach, &LastLegPlan)> {
    let all = ranking.approaches.iter();
    all.filter_map(|approach| Some((approach, approach.last_leg.as_ref()?))).collect()
}

#[track_caller]
fn first_staged(ranking: &Ranking) -> (&Approach, &LastLegPlan) {
    *staged(ranking).first().unwrap_or_else(|| panic!("{:?}", ranking.rejected))
}

fn hours(from: jiff::Timestamp, to: jiff::Timestamp) -> f64 {
    (to.as_millisecond() - from.as_millisecond()) as f64 / 3.6e6
}

/// (F - R) / (f / g_out + f / g_home), by algebra: in uniform weather the landing that is earliest at
/// the pole is as far as the radius of action less the allowance, to within a cell.
#[test]
fn in_still_air_the_ship_lands_at_the_radius_of_action() {
    let ranking = run(&trial(CLEAR, HELICOPTER));
    let (approach, leg) = first_staged(&ranking);
    assert_eq!(leg.travel, LegTravel::Air);
    assert!((leg.radius_km - STILL_RADIUS_KM).abs() < 1e-6, "{}", leg.radius_km);
    let reach_km = STILL_RADIUS_KM - 10.0;
    assert!(leg.short_km <= reach_km && leg.short_km > reach_km - 5.0 * 2_f64.sqrt());
    let landing = position(leg.landing_latitude_deg, leg.landing_longitude_deg);
    assert!((distance_km(landing, position(POLE.0, POLE.1)) - leg.short_km).abs() < 1e-6);
    // Speed, burn and no return by hand.
    assert!((leg.out_h - leg.short_km / (100.0 * KM)).abs() < 1e-9);
    assert!((leg.fuel_t.out - 0.2 * leg.out_h).abs() < 1e-9);
    assert!(
        (leg.fuel_t.margin
            - 0.4 * 10.0 / (100.0 * KM)
            - 0.4 * (reach_km - leg.short_km) / (100.0 * KM))
            .abs()
            < 1e-9
    );
    assert!((leg.no_return_h - 1.25).abs() < 1e-9);
    assert!((hours(leg.ship_arrives, approach.arrive) - leg.out_h).abs() < 1e-3);
    let port = position(PORT.0, PORT.1);
    let sailed_h = distance_km(port, landing) / SPEED_KM_PER_H;
    assert!((hours(approach.depart, leg.ship_arrives) / sailed_h - 1.0).abs() < 0.003);
    // A pole that does not move, seen by a party that may stand there.
    assert_eq!(approach.attainment.probability, 1.0);
    assert!(approach.attainment.if_clairvoyant >= approach.attainment.probability);
}

/// As above in a wind of 30 kn along the leg, which shortens it by the closed form, against all places
/// of a lattice: none within the radius of action that its own wind triangle gives is earlier at the pole.
#[test]
fn wind_shortens_the_reach_and_no_other_landing_is_earlier() {
    let wind_m_s = 30.0 * 1852.0 / 3600.0;
    let layers = format!(
        "    - kind: constant
      values: {{ visibility: 20, wind_grid_east: 0, wind_grid_north: {wind_m_s} }}
"
    );
    let ranking = run(&trial(&layers, HELICOPTER));
    let (approach, leg) = first_staged(&ranking);
    let radius_km = KM * radius_of_action_nm(600.0, 100.0, (200.0, 130.0), (200.0, 70.0)).unwrap();
    assert!((leg.radius_km / radius_km - 1.0).abs() < 0.002, "{} {radius_km}", leg.radius_km);
    assert!(leg.short_km <= leg.radius_km - 10.0);

    let pole = position(POLE.0, POLE.1);
    let port = position(PORT.0, PORT.1);
    let mut least_h = f64::INFINITY;
    for step in 0..200 * 120 {
        let (north, east) = (f64::from(step / 120), f64::from(step % 120));
        let place = position(POLE.0 - 2.0 + 0.03 * north, -6.0 + 0.1 * east);
        let line = inverse(place, pole);
        // South of the equator north is at the longitude's own angle on the map, whose +y the wind goes.
        let on_map_deg = line.initial_course_deg + place.x();
        let out_kn = ground_speed(100.0, 30.0, 180.0, on_map_deg).unwrap();
        let home_kn = ground_speed(100.0, 30.0, 180.0, on_map_deg + 180.0).unwrap();
        let reach_km = KM * 500.0 / (200.0 / out_kn + 200.0 / home_kn);
        if reach_km >= line.distance_km + 10.0 {
            let sailed_h = distance_km(port, place) / SPEED_KM_PER_H;
            least_h = least_h.min(sailed_h + line.distance_km / (KM * out_kn));
        }
    }
    // A cell of 5 km, and ways on the grid that are up to 0.3 % longer.
    let cell_h = 5.0 * 2_f64.sqrt() / SPEED_KM_PER_H;
    let found_h = approach.duration_h;
    assert!(found_h >= least_h * (1.0 - 1e-3), "{found_h} {least_h}");
    assert!(found_h <= least_h * 1.003 + cell_h, "{found_h} {least_h}");
}

#[test]
fn fog_darkness_and_ignorance_close_the_flight() {
    let fog = "    - kind: constant
      values: { visibility: 2, wind_grid_east: 0, wind_grid_north: 0 }
";
    // About the pole alone: there the ship heaves to, and still comes through.
    let gale = format!(
        "    - kind: constant
      values: {{ visibility: 20, wind_grid_east: 25, wind_grid_north: 0 }}
      inside: {{ circle: {{ latitude_deg: -66, longitude_deg: 0, radius_km: 20 }} }}
{CLEAR}"
    );
    let night = HELICOPTER.replace("least_sun_deg: -18", "least_sun_deg: 10");
    let winter =
        Trial { hemisphere: "north", port: (72.0, 0.0), pole: (76.0, 0.0), ..trial(CLEAR, &night) };
    let closed = |trial: &Trial, why: &str| {
        let ranking = run(trial);
        assert!(staged(&ranking).is_empty());
        // The ship goes on by herself, and the page says why nothing flies.
        assert_eq!(ranking.approaches.len(), 1);
        let told = ranking.rejected.iter().any(|rejected| rejected.reason.contains(why));
        assert!(told, "{why}: {:?}", ranking.rejected);
    };
    closed(&trial(fog, HELICOPTER), "visibility");
    closed(&trial("", HELICOPTER), "visibility below the helicopter's limit, or unknown");
    closed(&trial(&gale, HELICOPTER), "wind above");
    closed(&winter, "too dark");
}

/// Fog that lifts is waited for, and the party is not sent where it would come back in it.
#[test]
fn fog_that_lifts_is_waited_for() {
    let layers = "    - kind: constant
      values: { visibility: 2, wind_grid_east: 0, wind_grid_north: 0 }
      until: 2027-01-03T12:00Z
    - kind: constant
      values: { visibility: 20, wind_grid_east: 0, wind_grid_north: 0 }
";
    let ranking = run(&trial(layers, HELICOPTER));
    let (_, leg) = first_staged(&ranking);
    let lifts: jiff::Timestamp = "2027-01-03T12:00Z".parse().unwrap();
    assert_eq!(leg.ship_arrives, lifts);
}

/// In open water all the way the ship may follow a pole that is not where the mean is, and attains more
/// than a party that must keep to its radius of action: by that criterion she goes all the way.
#[test]
fn in_open_water_the_ship_goes_all_the_way() {
    let yaml = trial(CLEAR, HELICOPTER)
        .yaml()
        .replace("sigma_km: 0", "sigma_km: 40")
        .replace("members: 3", "members: 200")
        .replace("leave_every_h: 12", "leave_every_h: 12, policy: { kind: pursue, leash_km: 200 }, chase_fuel_t: 50, reading_range_km: 500")
        .replace("kind: arrival", "kind: attainment, indifference: 0.05");
    let ranking = run_yaml(&yaml);
    assert!(ranking.approaches[0].last_leg.is_none(), "{:?}", ranking.why);
    let alone = ranking.approaches[0].attainment;
    let (flown, leg) = first_staged(&ranking);
    assert!(alone.probability > 0.95, "{alone:?}");
    assert!(flown.attainment.probability < 0.8 && flown.attainment.probability > 0.2);
    assert!(flown.attainment.if_clairvoyant >= flown.attainment.probability);
    let sorties = leg.sorties.unwrap();
    assert!(sorties.most_fuel_t <= sorties.aboard_t && sorties.mean > 0.0);
    let told = ranking.why.iter().find(|why| why.contains("km short")).unwrap();
    assert!(told.contains("flies"), "{told}");
}

/// Stopped by ice short of the pole, the ship attains nothing alone, and flies from the ice's edge.
#[test]
fn stopped_by_ice_only_two_stages_attain() {
    let ice = "    - kind: constant
      ice: { concentration: 1, stage: multi_year, thickness_m: 3 }
      inside: { circle: { latitude_deg: -66, longitude_deg: 0, radius_km: 100 } }
";
    let layers = format!("{ice}{CLEAR}");
    let alone = run(&trial(&layers, ""));
    assert!(alone.approaches.is_empty());
    let ranking = run(&trial(&layers, HELICOPTER));
    assert!(ranking.approaches.iter().all(|approach| approach.last_leg.is_some()));
    // In open water the way to the landing is the geodesic, and its bound is below it by no more than what
    // the wind takes on one heading more than on another.
    for approach in ranking.approaches.iter().filter(|it| it.sought == "earliest arrival") {
        let (least_h, hours) = (approach.lower_bound_h.unwrap(), approach.duration_h);
        assert!(least_h <= hours && least_h > 0.9 * hours, "{least_h} {hours}");
    }
    let (approach, leg) = first_staged(&ranking);
    assert!(leg.short_km >= 100.0 - 5.0 && leg.short_km <= STILL_RADIUS_KM - 10.0);
    assert_eq!(approach.attainment.probability, 1.0);
    let told = ranking.why.join(" ");
    assert!(told.contains("km short") && told.contains("flies"), "{told}");
}

const FAST_ICE: &str = "    - kind: constant
      ice: { concentration: 1, stage: multi_year, thickness_m: 3 }
      inside: { circle: { latitude_deg: -66, longitude_deg: 0, radius_km: 60 } }
";

/// The ice that stops the ship bears the party: hours by its pace, fuel by F(s) = (F0 + c/k) exp(-k s) -
/// c/k with the depot taken off at 20 km and put on again on the way home, s twice the way on ice that leaves
/// half the speed.
#[test]
fn a_party_goes_over_the_ice_that_stops_the_ship() {
    assert!(run(&trial(FAST_ICE, "")).approaches.is_empty());
    let legs = party(1000.0, "    depots: [{ at_km: 20, fuel_l: 200 }]\n");
    let ranking = run(&trial(FAST_ICE, &legs));
    let (approach, leg) = first_staged(&ranking);
    assert_eq!(leg.travel, LegTravel::OverIce);
    assert!(leg.short_km > 60.0 && leg.short_km < 70.0, "{}", leg.short_km);
    for (bound, hours) in [(leg.out_bound, leg.out_h), (leg.home_bound, leg.home_h)] {
        let least_h = bound.unwrap().lower_bound_h.unwrap();
        assert!(least_h <= hours && least_h > 0.95 * hours, "{bound:?} {hours}");
    }
    let out_km = leg.out_h * PARTY_KM_H;
    assert!((leg.home_h / leg.out_h - 1.0).abs() < 1e-3);
    // The ways of the search are up to 0.3 % longer, and there is a corner at the ice beside the ship.
    assert!((out_km / leg.short_km - 1.0).abs() < 0.01, "{out_km} {}", leg.short_km);
    let (c, k) = ((2.0 + 0.2 * 2.0) * 0.8e-3, 0.2 * 0.8e-3);
    let after = |fuel_t: f64, km: f64| (fuel_t + c / k) * (-k * 2.0 * km).exp() - c / k;
    let at_pole_t = after(after(0.8, 20.0) - 0.16, out_km - 20.0);
    assert!((leg.fuel_t.out - (0.8 - 0.16 - at_pole_t)).abs() < 1e-4, "{:?}", leg.fuel_t);
    let left_t = after(after(at_pole_t, out_km - 20.0) + 0.16, 20.0);
    assert!((leg.fuel_t.margin - (left_t - 0.2)).abs() < 2e-4, "{:?} {left_t}", leg.fuel_t);
    assert!(leg.radius_km > out_km);
    assert_eq!(leg.depots.len(), 1);
    assert_eq!(approach.attainment.probability, 1.0);
    // The ship waits for the party.
    let waited_h = hours(leg.ship_arrives, leg.ship_leaves);
    assert!(waited_h >= leg.out_h + 12.0 + leg.home_h, "{waited_h}");
    assert!((approach.fuel_t.station / waited_h / HOLD_T_PER_H - 1.0).abs() < 1e-3);
}

/// A party is not landed to wait for ice that does not bear yet: the ship waits for it.
#[test]
fn a_party_is_landed_when_the_ice_bears() {
    let layers = format!("{FAST_ICE}      from: 2027-01-05T00:00Z\n");
    let ranking = run(&trial(&layers, &party(1000.0, "")));
    let (_, leg) = first_staged(&ranking);
    let bears: jiff::Timestamp = "2027-01-05T00:00Z".parse().unwrap();
    assert!(leg.ship_arrives >= bears, "{}", leg.ship_arrives);
    assert!((leg.out_h * PARTY_KM_H / leg.short_km - 1.0).abs() < 0.01, "{} h", leg.out_h);
}

#[test]
fn a_party_without_the_fuel_is_told() {
    // Some 120 km at 4.8 l/km and more, with a quarter in reserve.
    let ranking = run(&trial(FAST_ICE, &party(300.0, "")));
    assert!(ranking.approaches.is_empty());
    let reason = &ranking.rejected[0].reason;
    assert!(reason.contains("a trial party") && reason.contains("down to the reserve"), "{reason}");
    let thin = FAST_ICE.replace("thickness_m: 3", "thickness_m: 0.2");
    let closed = format!(
        "{}{thin}",
        "    - kind: constant
      values: { speed_limit: 0.1 }
      inside: { circle: { latitude_deg: -66, longitude_deg: 0, radius_km: 60 } }
"
    );
    let ranking = run(&trial(&closed, &party(1000.0, "")));
    assert!(ranking.approaches.iter().all(|approach| approach.last_leg.is_none()));
    let told = ranking.rejected.iter().any(|one| one.reason.contains("no ice that bears"));
    assert!(told, "{:?}", ranking.rejected);
}
