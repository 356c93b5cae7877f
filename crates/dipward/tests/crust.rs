//! The first approach at half and at twice the crust.

#![expect(
    clippy::panic,
    clippy::unwrap_used,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward_plugin::{ChanceOfStay, Ranking};
use dipward_tests::Trial;
use trials::{planned, scenario};

/// A trial whose pole is known to so many km, and wanders.
fn trial(sigma_km: f64) -> Ranking {
    let mut yaml = Trial { cell_km: 8.0, ..Trial::default() }.yaml();
    for (from, to) in [
        ("sigma_km: 0", format!("sigma_km: {sigma_km}")),
        ("disturbance: { kind: quiet }", "disturbance: { kind: kp_history }".to_owned()),
        ("members: 3", "members: 60".to_owned()),
    ] {
        assert!(yaml.contains(from), "{from}");
        yaml = yaml.replace(from, &to);
    }
    planned(&scenario(&yaml))
}

/// Of a surveyed pole what is scaled is the survey's own error: so a plan with a survey half as wrong must
/// give the chances that the other plan tells for half.
#[test]
fn half_and_twice_are_the_chances_of_plans_with_half_and_twice_the_doubt() {
    let [half, assumed, twice] = [4.0, 8.0, 16.0].map(trial);
    let told = assumed.crust_sensitivity.as_ref().unwrap();
    let first = &assumed.approaches[0];
    assert_eq!((&told.approach, &told.untold), (&first.id, &None));
    for (told, plan) in [(told.half, half), (told.twice, twice)] {
        let found = plan.approaches.iter().find(|one| one.id == first.id).unwrap();
        assert_eq!((found.arrive, found.leave), (first.arrive, first.leave));
        let ChanceOfStay { probability, if_holding } = told.unwrap();
        assert_eq!(if_holding, found.attainment.if_holding);
        // A policy may go by where the ensemble's poles are found most often, which is its own.
        assert!((probability - found.attainment.probability).abs() < 0.15);
    }
    let [half, twice] = [told.half, told.twice].map(|one| one.unwrap().if_holding);
    let held = first.attainment.if_holding;
    assert!(half > held && held > twice, "{half} {held} {twice}");
    let sentence = told.in_words(&first.attainment);
    assert!(sentence.contains("half as strong") && sentence.contains("twice as strong"));
}
