//! A helicopter's sorties: what it lands on, the weather along its whole line, and one rule for the plan and
//! the chance.
//!
//! Invented: ice of 100 km about the pole that stops the ship, and a helicopter that flies 185 km in an hour.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward_plugin::{Approach, Ranking};
use trials::{planned, scenario, staged_trial};

const HELICOPTER: &str = "  - kind: helicopter
    machine: { airspeed_kn: 100, fuel_kg: 600, burn_kg_per_h: 200, contingency_fraction: 0, least_sun_deg: -18 }
    fuel_aboard_kg: 6000
    allowance_km: 10
    reach_shares: [1]
";

const ICE: &str = "    - kind: constant
      ice: { concentration: 1, stage: multi_year, thickness_m: 3 }
      inside: { circle: { latitude_deg: -66, longitude_deg: 0, radius_km: 100 } }
";

const CLEAR: &str = "    - kind: constant
      values: { visibility: 20, wind_grid_east: 0, wind_grid_north: 0 }
";

fn ranking(layers: &str, legs: &str) -> Ranking {
    let trial = staged_trial(10.0, layers.to_owned(), legs);
    planned(&scenario(&trial.yaml()))
}

fn staged(ranking: &Ranking) -> Vec<&Approach> {
    ranking.approaches.iter().filter(|one| one.last_leg.is_some()).collect()
}

fn about_the_pole(values: &str, radius_km: f64) -> String {
    format!(
        "    - kind: constant
      {values}
      inside: {{ circle: {{ latitude_deg: -66, longitude_deg: 0, radius_km: {radius_km} }} }}
"
    )
}

#[track_caller]
fn hindered(layers: &str, legs: &str, why: &str) {
    let ranking = ranking(layers, legs);
    assert!(staged(&ranking).is_empty());
    let told = ranking.rejected.iter().any(|one| one.reason.contains(why));
    assert!(told, "{why}: {:?}", ranking.rejected);
}

#[test]
fn it_looks_at_what_it_lands_on() {
    let firm = ranking(&format!("{ICE}{CLEAR}"), HELICOPTER);
    assert!(!staged(&firm).is_empty(), "{:?}", firm.rejected);

    let zone = about_the_pole("values: { closed: 1 }", 20.0);
    hindered(&format!("{zone}{ICE}{CLEAR}"), HELICOPTER, "closed zone");
    // A lead about the pole, thin ice, and ice of an age that is not old enough.
    let lead = about_the_pole("ice: { concentration: 0 }", 20.0);
    hindered(&format!("{lead}{ICE}{CLEAR}"), HELICOPTER, "open water where it is to land");
    let thin = about_the_pole("ice: { concentration: 1, stage: grey, thickness_m: 0.15 }", 20.0);
    hindered(&format!("{thin}{ICE}{CLEAR}"), HELICOPTER, "too thin");
    let young =
        about_the_pole("ice: { concentration: 1, stage: thick_first_year, thickness_m: 2 }", 20.0);
    let second_year = format!("{HELICOPTER}    lands_on: {{ youngest: second_year }}\n");
    hindered(&format!("{young}{ICE}{CLEAR}"), &second_year, "too young");
    let old = ranking(&format!("{ICE}{CLEAR}"), &second_year);
    assert!(!staged(&old).is_empty(), "{:?}", old.rejected);
    let floats = format!("{HELICOPTER}    lands_on: {{ floats: true }}\n");
    assert!(!staged(&ranking(&format!("{lead}{ICE}{CLEAR}"), &floats)).is_empty());
}

/// Clear at the ship and at the pole, and fog or a gale in a ring between them.
#[test]
fn it_looks_at_the_weather_along_the_whole_line() {
    let clear =
        about_the_pole("values: { visibility: 20, wind_grid_east: 0, wind_grid_north: 0 }", 30.0);
    let fog = about_the_pole("values: { visibility: 1 }", 75.0);
    hindered(&format!("{ICE}{clear}{fog}{CLEAR}"), HELICOPTER, "visibility below");
    let gale = about_the_pole("values: { wind_grid_east: 25, wind_grid_north: 0 }", 75.0);
    hindered(&format!("{ICE}{clear}{gale}{CLEAR}"), HELICOPTER, "wind above");
}

/// Some hours are clear when the ship comes, and none after: five are enough by the hour in which she comes, too
/// few by the whole hours that are left. What is planned is what the members fly: on a pole that stands still
/// each of them attains, or there is no such approach.
#[test]
fn no_sortie_is_planned_in_a_gap_where_the_chance_counts_none() {
    let open = ranking(&format!("{ICE}{CLEAR}"), HELICOPTER);
    let arrive = staged(&open).first().unwrap().last_leg.as_ref().unwrap().ship_arrives;
    let hour = arrive.as_second() / 3600;
    let mut planned = 0;
    for clear_h in 4..=8 {
        let at = |minutes: i64| jiff::Timestamp::from_second(hour * 3600 + minutes * 60).unwrap();
        let fog = "    - kind: constant\n      values: { visibility: 1 }\n";
        let layers = format!(
            "{ICE}{fog}      until: {}\n{fog}      from: {}\n{CLEAR}",
            at(-1),
            at(60 * clear_h - 30)
        );
        let ranking = ranking(&layers, HELICOPTER);
        for approach in staged(&ranking) {
            assert_eq!(approach.attainment.probability, 1.0, "{clear_h} h: {approach:?}");
            planned += 1;
        }
    }
    assert!(planned > 0, "eight clear hours do for a sortie");
}
