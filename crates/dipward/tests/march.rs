//! A party's march from the ship over the ice: where it begins, what it draws, what it burns, what cuts it
//! off.
//!
//! Invented: a ship, ice about the pole of 60 km that stops her and bears the party, a party of 12 km/h on
//! hard snow, half of that on sea ice, for 12 hours of 24.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward::{Scenario, registry};
use dipward_geodesy::{distance_km, position};
use dipward_plugin::{Approach, Document, LastLegPlan, Ranking, Waypoint};
use dipward_tests::{PARTY_KM_H, Trial, party};
use trials::{planned, scenario, staged_trial};

fn trial(legs: &str, ice_until: &str) -> Trial {
    let layers = format!(
        "    - kind: constant
      ice: {{ concentration: 1, stage: multi_year, thickness_m: 3 }}
      inside: {{ circle: {{ latitude_deg: -66, longitude_deg: 0, radius_km: 60 }} }}
{ice_until}"
    );
    staged_trial(8.0, layers, legs)
}

fn ranking(legs: &str) -> Ranking {
    planned(&scenario(&trial(legs, "").yaml()))
}

#[track_caller]
fn first(ranking: &Ranking) -> (&Approach, &LastLegPlan) {
    let staged = ranking.approaches.iter().find_map(|one| Some((one, one.last_leg.as_ref()?)));
    staged.unwrap_or_else(|| panic!("{:?}", ranking.rejected))
}

fn length_km(way: &[Waypoint]) -> f64 {
    let at = |point: &Waypoint| position(point.latitude_deg, point.longitude_deg);
    way.windows(2).map(|pair| distance_km(at(&pair[0]), at(&pair[1]))).sum()
}

/// From the ship, not from the middle of the cell beside her: hours and fuel hold all of the way.
#[test]
fn the_march_begins_and_ends_at_the_berth() {
    let ranking = ranking(&party(1500.0, ""));
    let (approach, leg) = first(&ranking);
    let berth = (leg.landing_latitude_deg, leg.landing_longitude_deg);
    let place = |point: &Waypoint| (point.latitude_deg, point.longitude_deg);
    assert_eq!(place(leg.out.first().unwrap()), berth);
    assert_eq!(place(leg.home.last().unwrap()), berth);
    let pole = position(-66.0, 0.0);
    assert!((leg.short_km - distance_km(position(berth.0, berth.1), pole)).abs() < 1e-6);
    // The berth is a cell of open water, so that the way is longer than the ice is wide.
    assert!(leg.short_km > 60.0 && length_km(&leg.out) >= leg.short_km - 1e-6, "{}", leg.short_km);
    assert!((leg.out_h * PARTY_KM_H / length_km(&leg.out) - 1.0).abs() < 0.005);
    assert!((leg.home_h * PARTY_KM_H / length_km(&leg.home) - 1.0).abs() < 0.005);
    assert_eq!(leg.out.first().unwrap().time, leg.ship_arrives);
    assert!((approach.duration_h - hours(approach.depart, approach.arrive)).abs() < 1e-3);
    // Two kilometres' worth of hard snow for each: F(s) = (F0 + c/k) exp(-k s) - c/k.
    let (c, k) = ((2.0 + 0.2 * 2.0) * 0.8e-3, 0.2 * 0.8e-3);
    let left_t = (1.2 + c / k) * (-k * 2.0 * leg.out_h * PARTY_KM_H).exp() - c / k;
    assert!((leg.fuel_t.out - (1.2 - left_t)).abs() < 1e-6, "{:?} {left_t}", leg.fuel_t);
}

fn hours(from: jiff::Timestamp, to: jiff::Timestamp) -> f64 {
    (to.as_millisecond() - from.as_millisecond()) as f64 / 3.6e6
}

/// On ice that lies still the way home is the way out, and the depot is on it.
#[test]
fn a_depot_on_the_way_home_is_drawn() {
    let ranking = ranking(&party(1100.0, "    depots: [{ at_km: 20, fuel_l: 200 }]\n"));
    let (_, leg) = first(&ranking);
    assert_eq!(leg.depots.len(), 1);
    let depot = leg.depots[0];
    assert!((depot.laid_t - 0.16).abs() < 1e-12 && (depot.drawn_t - 0.16).abs() < 1e-12);
    assert_eq!(depot.off_way_km, None);
}

const ADRIFT: &str = "    depots: [{ at_km: 20, fuel_l: 200 }]
    ice_drift: { km_per_day: 8, toward_deg: 90 }
";

/// The ice carries it away: with fuel enough the party goes straight home, and what it laid is gone.
#[test]
fn a_depot_that_has_drifted_off_the_way_home_is_not_drawn() {
    let ranking = ranking(&party(1500.0, ADRIFT));
    let (_, leg) = first(&ranking);
    let depot = leg.depots[0];
    assert_eq!(depot.drawn_t, 0.0);
    // Some 60 hours after it was laid, at 8 km a day.
    let off_km = depot.off_way_km.unwrap();
    assert!(off_km > 10.0 && off_km < 30.0, "{depot:?}");
    let fuel = leg.fuel_t;
    let spent_t = fuel.out + fuel.stay + fuel.home + depot.laid_t;
    assert!((fuel.capacity - spent_t - fuel.reserve - fuel.margin).abs() < 1e-9, "{fuel:?}");
}

/// With less it goes home by way of where the depot is by then; without that it would not come home.
#[test]
fn a_party_short_of_fuel_goes_home_by_way_of_its_depot() {
    let plenty = ranking(&party(1500.0, ADRIFT));
    let short = ranking(&party(1050.0, ADRIFT));
    let (straight, by_depot) = (first(&plenty).1, first(&short).1);
    assert!((by_depot.depots[0].drawn_t - 0.16).abs() < 1e-9, "{:?}", by_depot.depots);
    assert!(by_depot.home_h > straight.home_h + 1.0, "{} {}", by_depot.home_h, straight.home_h);
    assert!(by_depot.fuel_t.margin >= 0.0);
    let bound = by_depot.home_bound.unwrap().lower_bound_h.unwrap();
    assert!(bound <= by_depot.home_h);
}

/// The ice lies until two days after the party has gone out over it, not until it is home.
#[test]
fn ice_that_breaks_under_the_way_home_is_told_as_that() {
    let yaml = trial(&party(1500.0, ""), "      until: 2027-01-04T00:00Z\n").yaml();
    let ranking = planned(&scenario(&yaml));
    assert!(ranking.approaches.iter().all(|approach| approach.last_leg.is_none()));
    let reasons: Vec<&str> = ranking.rejected.iter().map(|one| one.reason.as_str()).collect();
    assert!(
        reasons.iter().any(|reason| reason.contains("the ice does not bear the party home")),
        "{reasons:?}"
    );
}

/// A party that stands on a pole that does not move attains it an hour after its arrival there; the hours
/// are counted from when the ship lay at her berth, as of any other leg.
#[test]
fn the_march_counts_toward_the_first_attainment() {
    let ranking = ranking(&party(1500.0, ""));
    let (approach, leg) = first(&ranking);
    let start = "2027-01-01T00:00Z".parse().unwrap();
    let [ship, pole] = [leg.ship_arrives, approach.arrive].map(|at| hours(start, at).ceil());
    let attained_h = 24.0 * approach.stay.first_attained_d.half.unwrap();
    assert!((attained_h - (pole + 1.0 - ship)).abs() < 1e-9, "{attained_h} {ship} {pole}");
}

#[test]
fn an_aircraft_that_may_not_stand_long_enough_is_a_fault() {
    let legs = "  - kind: helicopter
    machine: { airspeed_kn: 100, fuel_kg: 600, burn_kg_per_h: 200 }
    fuel_aboard_kg: 6000
    most_ground_h: 3
";
    let yaml = trial(legs, "").yaml().replace("for_h: 1", "for_h: 3.5");
    let document = Document::parse("trial.yaml", &yaml).unwrap();
    let told = Scenario::read(&document, ".".as_ref(), &registry().unwrap(), None).unwrap_err();
    let told = told.to_string();
    assert!(told.contains("stands on the ice for up to 3 h"), "{told}");
    let enough = yaml.replace("most_ground_h: 3", "most_ground_h: 4");
    let document = Document::parse("trial.yaml", &enough).unwrap();
    assert!(Scenario::read(&document, ".".as_ref(), &registry().unwrap(), None).is_ok());
}
