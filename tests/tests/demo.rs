//! The demonstration scenarios, on a coarser grid: what must hold of every ranking.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a failed expectation is the test's report, in its functions too"
)]

use std::{path::Path, sync::OnceLock};

use dipward::{Scenario, plan, registry};
use dipward_geodesy::{distance_km, position};
use dipward_plugin::{Control, Document, LegTravel, Registry, Report};

fn all_kinds() -> Registry {
    let mut registry = registry().expect("the kinds are distinct");
    dipward_report::register(&mut registry).expect("the kinds are distinct");
    registry
}

fn scenarios() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

fn read(name: &str, change: impl Fn(String) -> String) -> Scenario {
    let text = std::fs::read_to_string(scenarios().join(name)).expect("the scenario is there");
    let document = Document::parse(name, &change(text)).expect("the scenario is YAML");
    Scenario::read(&document, &scenarios(), &all_kinds(), None)
        .unwrap_or_else(|faults| panic!("{name}: {faults}"))
}

/// Larger cells, fewer members, departures and approaches and one alternative: the same voyage in seconds.
fn coarse(text: String) -> String {
    text.replace("voyage:\n", "voyage:\n  keep: 8\n")
        .replace("cell_km: 5", "cell_km: 10")
        .replace("cell_km: 15", "cell_km: 10")
        .replace("members: 500", "members: 60")
        .replace("members: 300", "members: 60")
        .replace("routes: 3", "routes: 2")
        .replace("every_h: 192", "every_h: 768")
        .replace("every_h: 168", "every_h: 672")
}

const NAMES: [&str; 3] =
    ["austral-summer.yaml", "arctic-late-summer.yaml", "arctic-two-stages.yaml"];

#[test]
fn a_resolved_scenario_reads_as_itself() {
    for name in NAMES {
        let resolved = read(name, |text| text).resolved();
        let text = serde_yaml::to_string(&resolved).unwrap();
        let again = read(name, |_| text.clone()).resolved();
        assert_eq!(again, resolved, "{name}");
    }
}

fn planned(name: &str, threads: usize) -> Report {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("a pool of a thread or two");
    pool.install(|| {
        plan(&read(name, coarse), &Control::default()).unwrap_or_else(|error| panic!("{error}"))
    })
}

/// The reports, planned on two threads.
fn report(name: &str) -> &'static Report {
    static REPORTS: [OnceLock<Report>; NAMES.len()] = [const { OnceLock::new() }; NAMES.len()];
    let number = NAMES.iter().position(|known| *known == name).expect("it is one of the scenarios");
    REPORTS[number].get_or_init(|| planned(name, 2))
}

#[test]
fn rankings_do_not_depend_on_threads() {
    for name in NAMES {
        let [both, alone] = [report(name), &planned(name, 1)]
            .map(|report| serde_json::to_string(&report.ranking).expect("a ranking is JSON"));
        assert_eq!(both, alone, "{name}: one thread and two differ");
    }
}

#[test]
fn rankings_hold_together() {
    for name in NAMES {
        let report = report(name);
        let ranking = &report.ranking;
        assert!(!ranking.approaches.is_empty(), "{name}: {:?}", ranking.rejected);
        assert!(ranking.caution.contains("planning aid") && !ranking.assumptions.is_empty());
        for (rank, approach) in (1..).zip(&ranking.approaches) {
            let id = &approach.id;
            assert_eq!(approach.rank, rank);
            assert!(report.profiles.contains_key(id), "{id} has no profile");
            let fuel = approach.fuel_t;
            let used = fuel.out + fuel.station + fuel.home;
            assert!((fuel.capacity - fuel.reserve - used - fuel.margin).abs() < 1e-6, "{id}");
            assert!(fuel.margin >= 0.0 && fuel.reserve > 0.0, "{id} comes home on its reserve");
            assert!(approach.depart < approach.arrive && approach.arrive < approach.leave, "{id}");
            assert!(approach.leave < approach.back);
            assert!(approach.turn_back.is_none_or(|turn| approach.leave <= turn.time));
            let below =
                |bound: Option<f64>, taken: f64| bound.is_none_or(|it| it <= taken * (1.0 + 1e-6));
            assert!(below(approach.lower_bound_h, approach.duration_h), "{id}");
            assert!(below(approach.lower_bound_t, fuel.out), "{id}");
            let home =
                approach.home_bound.unwrap_or_else(|| panic!("{id}: no bound on its way home"));
            let home_h = approach.back.duration_since(approach.leave).as_secs_f64() / 3600.0;
            assert!(below(home.lower_bound_h, home_h), "{id}: {home:?} {home_h}");
            assert!(below(home.lower_bound_t, fuel.home), "{id}: {home:?}");
            let near = |bound: Option<f64>, taken: f64| bound.is_some_and(|it| it > 0.8 * taken);
            assert!(
                near(home.lower_bound_h, home_h) || near(home.lower_bound_t, fuel.home),
                "{id}"
            );
            let chance = approach.attainment;
            assert!(chance.low <= chance.probability && chance.probability <= chance.high, "{id}");
            assert!(chance.probability <= chance.if_clairvoyant, "{id}: better than foresight");
            for way in [&approach.waypoints, &approach.home] {
                assert!(way.len() >= 2 && way.windows(2).all(|leg| leg[0].time <= leg[1].time));
                assert!(way.windows(2).all(|leg| leg[0].fuel_used_t <= leg[1].fuel_used_t));
            }
            let ends = [approach.waypoints.last(), approach.home.first()].map(|end| {
                let end = end.expect("a way has points");
                position(end.latitude_deg, end.longitude_deg)
            });
            let target = position(ranking.pole.latitude_deg, ranking.pole.longitude_deg);
            let ends = match &approach.last_leg {
                None => ends.to_vec(),
                Some(leg) => {
                    let landing = position(leg.landing_latitude_deg, leg.landing_longitude_deg);
                    assert!(ends.iter().all(|end| distance_km(*end, landing) < 0.1), "{id}");
                    assert!(leg.fuel_t.margin >= 0.0 && leg.short_km <= leg.radius_km, "{id}");
                    assert!(leg.out_h <= leg.no_return_h, "{id} goes beyond its return");
                    assert!(
                        leg.ship_arrives < approach.arrive && leg.ship_leaves == approach.leave
                    );
                    [leg.out.last(), leg.home.first()]
                        .map(|end| {
                            let end = end.expect("a leg has points");
                            position(end.latitude_deg, end.longitude_deg)
                        })
                        .to_vec()
                }
            };
            for end in ends {
                // The mean pole drifts by less than this in the half window.
                assert!(distance_km(end, target) < 5.0, "{id} does not end at the pole");
            }
        }
    }
}

/// One ranking holds the ship that goes all the way, the one that flies and the one that lands a party.
#[test]
fn one_stage_and_two_stages_are_ranked_together() {
    let report = report(NAMES[2]);
    let travel = |wanted: Option<LegTravel>| {
        let all = &report.ranking.approaches;
        all.iter().any(|one| one.last_leg.as_ref().map(|leg| leg.travel) == wanted)
    };
    assert!(travel(None) && travel(Some(LegTravel::Air)) && travel(Some(LegTravel::OverIce)));
    // Where one of the first two lands a party, the reasons say how far from the pole.
    let staged = report.ranking.approaches.iter().take(2).any(|one| one.last_leg.is_some());
    let told = report.ranking.why.iter().any(|why| why.contains("km short of the pole"));
    assert_eq!(told, staged);
}

#[test]
fn layers_tell_the_span_and_the_age_of_their_data() {
    let report = report(NAMES[0]);
    let of_kind = |kind: &str| {
        report.layers.iter().find(|layer| layer.kind == kind).expect("the layer is recorded")
    };
    assert_eq!(of_kind("coast").instants, None);
    let (first, last) = of_kind("ice_chart").instants.expect("ice charts have instants");
    assert_eq!(first.to_string(), "2027-01-04T00:00:00Z");
    assert_eq!(last.to_string(), "2027-03-05T00:00:00Z");
    // The window ends ten days after the last chart.
    assert_eq!(of_kind("ice_chart").age_at_end_h, Some(240.0));
    for layer in &report.layers {
        assert!((0.0..=1.0).contains(&layer.coverage), "{}: {}", layer.name, layer.coverage);
    }
}
