//! Ports: none is lost by its name, and a voyage ends where the scenario lets it end.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use std::collections::BTreeSet;

use dipward::{Scenario, Standing, registry, replan};
use dipward_geodesy::position;
use dipward_plugin::{Control, Document, Faults, Ranking};
use dipward_tests::Trial;
use trials::{former, planned, scenario};

/// A trial with two ports, the second 30 km nearer to the pole.
fn yaml(names: [&str; 2], more: &str) -> String {
    let one = "ports: [{ name: Trial Haven, latitude_deg: 88, longitude_deg: 0 }]";
    let [first, second] = names.map(|name| serde_json::to_string(name).unwrap());
    let two = format!(
        "ports: [{{ name: {first}, latitude_deg: 88, longitude_deg: 0 }}, \
         {{ name: {second}, latitude_deg: 88.3, longitude_deg: 0 }}]{more}"
    );
    let trial = Trial { cell_km: 4.0, ..Trial::default() }.yaml();
    assert!(trial.contains(one), "{trial}");
    trial.replace(one, &two)
}

fn faults(yaml: &str) -> Faults {
    let document = Document::parse("trial.yaml", yaml).unwrap_or_else(|why| panic!("{why:?}"));
    Scenario::read(&document, ".".as_ref(), &registry().unwrap(), None).unwrap_err()
}

fn of_two(names: [&str; 2], more: &str) -> Ranking {
    planned(&scenario(&yaml(names, more)))
}

#[test]
fn approaches_of_ports_with_like_names_are_all_there() {
    for names in [
        ["St. Paul", "St Paul"],
        ["Hobart", "hobart"],
        ["Port Louis", "Port-Louis"],
        ["Tromsø", "Troms"],
        ["Kópavogur", "Kòpavogur"],
        ["北京", "東京"],
        ["Bluff", "Bluff!"],
    ] {
        let ranking = of_two(names, "");
        for name in names {
            assert!(
                ranking.approaches.iter().any(|one| one.from == name),
                "{name}: {:?}",
                ranking.rejected
            );
        }
        let ids: BTreeSet<&str> = ranking.approaches.iter().map(|one| one.id.as_str()).collect();
        assert_eq!(ids.len(), ranking.approaches.len());
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        assert!(ids.iter().all(|id| id.chars().all(plain) && id.len() < 100), "{ids:?}");
    }
}

#[test]
fn two_ports_of_one_name_are_a_fault_with_its_place() {
    for names in [["Hobart", "Hobart"], ["Hobart", " Hobart"], ["St Paul", "St  Paul"]] {
        let told = faults(&yaml(names, "")).to_string();
        assert!(told.contains("voyage.ports.1.name"), "{told}");
        assert!(told.contains("voyage.ports.0"), "{told}");
        assert!(told.contains(names[0]) && told.contains(names[1]), "{told}");
    }
}

#[test]
fn voyages_end_where_the_scenario_lets_them_end() {
    let names = ["Far", "Near"];
    let ends = |more: &str| -> BTreeSet<(String, String)> {
        let ranking = of_two(names, more);
        ranking.approaches.into_iter().map(|one| (one.from, one.home_to)).collect()
    };
    let pairs = |all: [(&str, &str); 2]| all.map(|(a, b)| (a.to_owned(), b.to_owned())).into();
    assert_eq!(ends(""), pairs([("Far", "Near"), ("Near", "Near")]));
    assert_eq!(ends("\n  home: any"), pairs([("Far", "Near"), ("Near", "Near")]));
    assert_eq!(ends("\n  home: same"), pairs([("Far", "Far"), ("Near", "Near")]));
    assert_eq!(ends("\n  home: Far"), pairs([("Far", "Far"), ("Near", "Far")]));
}

#[test]
fn a_voyage_that_returns_to_its_port_is_held_to_it_under_way() {
    let scenario = scenario(&yaml(["Far", "Near"], "\n  home: same"));
    let ranking = planned(&scenario);
    let mut plan = former(&ranking);
    plan.approach = ranking.approaches.iter().find(|one| one.from == "Far").unwrap().clone();
    let first = plan.approach.waypoints[0];
    let standing = Standing {
        position: position(first.latitude_deg, first.longitude_deg),
        at: plan.approach.depart,
        fuel_t: plan.approach.fuel_t.capacity,
    };
    let (answers, report) = replan(&scenario, None, &plan, &standing, &Control::default()).unwrap();
    assert!(report.ranking.approaches.iter().all(|one| one.home_to == "Far"));
    assert_eq!(answers.present.approach.unwrap().turn_back, plan.approach.turn_back);
}

#[test]
fn a_port_to_return_to_that_is_none_is_a_fault() {
    for (names, more, told) in [
        (["Far", "Near"], "\n  home: Farther", "no port is called `Farther`"),
        (["Far", "any"], "", "`any` is a word of the key"),
        (["same", "Near"], "\n  home: same", "`same` is a word of the key"),
    ] {
        let faults = faults(&yaml(names, more)).to_string();
        assert!(faults.contains(told), "{faults}");
    }
    let away = yaml(["Far", "Near"], "\n  home: same")
        .replace("longitude_deg: 0 }]", "longitude_deg: 0, home: false }]");
    let told = faults(&away).to_string();
    assert!(told.contains("voyage.home") && told.contains("`Near`"), "{told}");
    let named = away.replace("home: same", "home: Near");
    assert!(faults(&named).to_string().contains("`Near` has `home: false`"));
}
