//! Ports: none is lost by its name.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use std::collections::BTreeSet;

use dipward::{Scenario, registry};
use dipward_plugin::{Document, Faults, Ranking};
use dipward_tests::Trial;
use trials::{planned, scenario};

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
        assert!(told.contains("/voyage/ports/1/name"), "{told}");
        assert!(told.contains("/voyage/ports/0"), "{told}");
        assert!(told.contains(names[0]) && told.contains(names[1]), "{told}");
    }
}
