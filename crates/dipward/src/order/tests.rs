use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, Clock, CriterionPoint, MemberOutcome, Registry, conformance::specimen,
};
use proptest::prelude::*;

use super::*;
use crate::{
    confidence::{Sorted, redraw},
    criteria::{AttainmentSpec, ClosestApproachCvarSpec, FirstAttainedSpec},
    reasons,
};

const LEXICOGRAPHIC: RankingRule =
    RankingRule { order: Order::Lexicographic, confidence: 0.9, seed: 7 };
const WEIGHTED: RankingRule = RankingRule { order: Order::Weighted, ..LEXICOGRAPHIC };

/// A figure that is read off the approach, in a unit of its own.
#[derive(Debug)]
struct Scaled {
    name: &'static str,
    /// How many of the unit make one of the approach's.
    units: f64,
    direction: Direction,
    step: f64,
    weight: f64,
}

impl Criterion for Scaled {
    fn name(&self) -> String {
        self.name.to_owned()
    }

    fn unit(&self) -> String {
        "u".to_owned()
    }

    fn direction(&self) -> Direction {
        self.direction
    }

    fn merit(&self, approach: &Approach) -> f64 {
        let figure = match self.name {
            "margin" => approach.fuel_t.margin,
            "chance" => approach.attainment.probability,
            "worst" => approach.stay.closest_km.worst_tenth,
            "passage" => approach.duration_h,
            _ => approach.risk.hours_elevated,
        };
        figure * self.units
    }

    fn indifference(&self) -> f64 {
        self.step * self.units
    }

    fn weight(&self) -> f64 {
        self.weight / self.units
    }
}

fn scaled(units: [f64; 5]) -> [Scaled; 5] {
    use Direction::{Greater, Less};
    let one =
        |name, units, direction, step, weight| Scaled { name, units, direction, step, weight };
    [
        one("chance", units[0], Greater, 0.1, 64.0),
        one("margin", units[1], Greater, 16.0, 0.5),
        one("worst", units[2], Less, 1.0, 4.0),
        one("passage", units[3], Less, 8.0, 1.0),
        one("elevated", units[4], Less, 0.0, 2.0),
    ]
}

/// The specimen with other members.
fn with_members(id: &str, members: Vec<MemberOutcome>) -> Approach {
    let mut approach = specimen::approach();
    approach.id = id.to_owned();
    redraw(&mut approach, &Sorted::of(&members), &vec![1; members.len()]);
    // In their own order, as all approaches meet them.
    approach.stay.members = members;
    approach
}

/// Margin, passage and hours elevated, and for each member how close it comes in km and after how many
/// hours it attains, if it does.
type Figures = ((i32, i32, i32), Vec<(u8, Option<u8>)>);

fn approach(id: &str, ((margin, passage, elevated), members): &Figures) -> Approach {
    let members = members.iter().map(|(km, hours)| MemberOutcome {
        closest_km: f64::from(*km),
        attained_after_h: hours.map(f64::from),
    });
    let mut approach = with_members(id, members.collect());
    approach.fuel_t.margin = f64::from(*margin);
    approach.duration_h = f64::from(*passage);
    approach.risk.hours_elevated = f64::from(*elevated);
    approach
}

const MEMBERS: usize = 8;

/// Of few figures, so that many are equal.
fn figures() -> impl Strategy<Value = Figures> {
    let member = (0_u8..5, proptest::option::of(1_u8..4));
    let margin = (-4..4).prop_map(|steps| 8 * steps);
    ((margin, 0..32, 0..4), proptest::collection::vec(member, MEMBERS))
}

/// What makes an approach worse, or no better.
fn losses() -> impl Strategy<Value = Figures> {
    let km = prop_oneof![3 => Just(0_u8), 1 => 0_u8..5];
    let member = (km, proptest::option::weighted(0.9, 0_u8..3));
    ((0..24, 0..12, 0..3), proptest::collection::vec(member, MEMBERS))
}

/// No better in any figure and any member.
fn worsened(((margin, passage, elevated), members): &Figures, losses: &Figures) -> Figures {
    let ((margin_loss, passage_loss, elevated_loss), of_members) = losses;
    let members = members.iter().zip(of_members).map(|((km, hours), (km_loss, hours_loss))| {
        (km + km_loss, hours.zip(*hours_loss).map(|(hours, loss)| hours + loss))
    });
    let figures = (margin - margin_loss, passage + passage_loss, elevated + elevated_loss);
    (figures, members.collect())
}

/// The worst of all figures and all members.
fn worst_of(all: &[Figures]) -> Figures {
    let worst = |figure: &dyn Fn(&Figures) -> i32| all.iter().map(figure).max().unwrap();
    let of_member = |member: usize| {
        let outcomes = || all.iter().map(|(_, members)| members[member]);
        let hours: Option<Vec<u8>> = outcomes().map(|(_, hours)| hours).collect();
        let km = outcomes().map(|(km, _)| km).max().unwrap();
        (km, hours.and_then(|hours| hours.into_iter().max()))
    };
    let figures = (-worst(&|one| -one.0.0), worst(&|one| one.0.1), worst(&|one| one.0.2));
    (figures, (0..MEMBERS).map(of_member).collect())
}

fn ranked(all: &[Figures], units: [f64; 5], rule: RankingRule) -> Vec<Approach> {
    joined(None, all, units, rule)
}

/// The id of an approach that joins others: the last.
const NEW: &str = "new";

/// Ranked with a newcomer, which is looked at before the others.
fn joined(
    newcomer: Option<&Figures>,
    all: &[Figures],
    units: [f64; 5],
    rule: RankingRule,
) -> Vec<Approach> {
    let mut approaches: Vec<Approach> =
        newcomer.map(|one| approach(NEW, one)).into_iter().collect();
    let numbered = all.iter().enumerate();
    approaches.extend(numbered.map(|(index, figures)| approach(&format!("{index:02}"), figures)));
    let criteria = scaled(units);
    let criteria: Vec<&dyn Criterion> = criteria.iter().map(|one| one as &dyn Criterion).collect();
    rank(&mut approaches, &criteria, rule).unwrap();
    approaches
}

/// Ids and groups, best first, but for one approach.
fn standing(ranked: &[Approach], without: Option<&str>) -> Vec<(String, u32)> {
    ranked
        .iter()
        .filter(|one| without != Some(&one.id))
        .map(|one| (one.id.clone(), one.group))
        .collect()
}

fn rule(weighted: bool, confidence: f64) -> RankingRule {
    RankingRule { confidence, ..if weighted { WEIGHTED } else { LEXICOGRAPHIC } }
}

fn some(most: usize) -> impl Strategy<Value = Vec<Figures>> {
    proptest::collection::vec(figures(), 1..most)
}

const CONFIDENCES: [f64; 3] = [0.5, 0.9, 0.99];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    /// Powers of two change no digits, so that all must be the very same.
    #[test]
    fn order_groups_and_front_do_not_depend_on_units(
        all in some(9),
        powers in [-6..6, -6..6, -6..6, -6..6, -6..6],
        weighted in any::<bool>(),
        confidence in proptest::sample::select(&CONFIDENCES[..]),
    ) {
        let rule = rule(weighted, confidence);
        let told = |units| {
            let ranked = ranked(&all, units, rule);
            let front: Vec<bool> = ranked.iter().map(|one| one.on_front).collect();
            let first: Vec<_> = ranked.iter().map(|one| one.first_probability).collect();
            (standing(&ranked, None), front, first)
        };
        prop_assert_eq!(told(powers.map(|power| 2.0_f64.powi(power))), told([1.0; 5]));
    }

    /// What the last digits say decides nothing: units of tens and of twelfths round everything anew.
    #[test]
    fn order_and_groups_do_not_depend_on_the_last_digits(
        all in some(9),
        units in [0.1..10.0, 0.1..10.0, 0.1..10.0, 0.1..10.0, 0.1..10.0],
        weighted in any::<bool>(),
    ) {
        let rule = rule(weighted, 0.9);
        prop_assert_eq!(
            standing(&ranked(&all, units, rule), None),
            standing(&ranked(&all, [1.0; 5], rule), None)
        );
    }

    #[test]
    fn what_another_one_dominates_changes_nothing_of_group_1(
        all in some(8),
        of in any::<prop::sample::Index>(),
        losses in losses(),
        weighted in any::<bool>(),
        confidence in proptest::sample::select(&CONFIDENCES[..]),
    ) {
        let rule = rule(weighted, confidence);
        let newcomer = worsened(of.get(&all), &losses);
        let first = |ranked: &[Approach]| -> Vec<(String, u32)> {
            standing(ranked, Some(NEW)).into_iter().filter(|(_, group)| *group == 1).collect()
        };
        let with = joined(Some(&newcomer), &all, [1.0; 5], rule);
        prop_assert_eq!(first(&with), first(&ranked(&all, [1.0; 5], rule)));
    }

    #[test]
    fn what_is_worse_than_all_stands_last_and_changes_no_group(
        all in some(8),
        losses in losses(),
        weighted in any::<bool>(),
        confidence in proptest::sample::select(&CONFIDENCES[..]),
    ) {
        let rule = rule(weighted, confidence);
        let newcomer = worsened(&worst_of(&all), &losses);
        let with = joined(Some(&newcomer), &all, [1.0; 5], rule);
        prop_assert_eq!(&with.last().unwrap().id, NEW);
        prop_assert_eq!(standing(&with, Some(NEW)), standing(&ranked(&all, [1.0; 5], rule), None));
    }

    #[test]
    fn groups_run_from_1_in_the_order_of_the_ranks(all in some(9), weighted in any::<bool>()) {
        let ranked = ranked(&all, [1.0; 5], rule(weighted, 0.9));
        prop_assert_eq!(ranked[0].group, 1);
        for (pair, rank) in ranked.windows(2).zip(2..) {
            let step = pair[1].group - pair[0].group;
            prop_assert!(step <= 1 && pair[1].rank == rank);
            prop_assert_eq!(pair[1].tied_with_previous, step == 0);
        }
        let sum: f64 = ranked.iter().filter_map(|one| one.first_probability).sum();
        prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn the_order_does_not_depend_on_that_of_the_input(all in some(9), weighted in any::<bool>()) {
        let rule = rule(weighted, 0.9);
        let criteria = scaled([1.0; 5]);
        let criteria: Vec<&dyn Criterion> =
            criteria.iter().map(|one| one as &dyn Criterion).collect();
        let mut turned = ranked(&all, [1.0; 5], rule);
        let once = standing(&turned, None);
        turned.reverse();
        rank(&mut turned, &criteria, rule).unwrap();
        prop_assert_eq!(standing(&turned, None), once);
    }
}

/// A voyage of more hours and less fuel does not stand first because a chance rounds to another multiple.
#[test]
fn a_little_more_chance_does_not_outweigh_much_less_fuel() {
    // Of 40 members 39 attain, and 38: with an indifference of 0.05 the lattice had an edge between.
    let members = |attain: usize| {
        (0..40).map(|member| (1, (member < attain).then_some(5))).collect::<Vec<(u8, Option<u8>)>>()
    };
    let long = ((100, 345, 0), members(39));
    let short = ((148, 300, 0), members(38));
    let ranked = ranked(&[long, short], [1.0; 5], LEXICOGRAPHIC);
    let told: Vec<_> = ranked.iter().map(|one| (one.id.as_str(), one.group)).collect();
    assert_eq!(told, [("01", 1), ("00", 2)]);
}

#[test]
fn the_reasons_tell_groups_and_what_orders_the_first_two() {
    let flat = |margin| ((margin, 100, 0), vec![(1, Some(1)); MEMBERS]);
    let told = |margins: &[i32]| {
        let all: Vec<Figures> = margins.iter().map(|margin| flat(*margin)).collect();
        let mut approaches = ranked(&all, [1.0; 5], LEXICOGRAPHIC);
        let criteria = scaled([1.0; 5]);
        let criteria: Vec<&dyn Criterion> =
            criteria.iter().map(|one| one as &dyn Criterion).collect();
        let partings = rank(&mut approaches, &criteria, LEXICOGRAPHIC).unwrap();
        reasons(&approaches, &criteria, LEXICOGRAPHIC, &partings).join(" ")
    };
    let all = told(&[60, 50, 40]);
    for part in [
        "The data do not tell the 2 approaches of group 1 apart: criterion by criterion, none is worse than \
         the best of those left by more than what does not count (0.1 u by chance, 16 u by margin,",
        "with a confidence of 90 %.",
        "Within the group 00 stands before 01 by margin (60.00 u against 50.00 u),",
        "With its margin below 50 u, worse by 10 u, the two would change places.",
        "02 heads group 2: it is behind 00 by margin (40.00 u against 60.00 u), a difference of 20 u: more \
         than the 16 u that do not count, whichever members are drawn.",
        "00 would be first in 100 % of the drawings.",
    ] {
        assert!(all.contains(part), "{all}");
    }
    assert!(told(&[60, 50]).contains("of group 1 apart, which are all that there are:"));
    assert!(told(&[60, 60]).contains("No figure tells 00 and 01 apart"));
    assert_eq!(told(&[60]), "00 is the only feasible approach.");
    let apart = told(&[60, 20]);
    assert!(!apart.contains("do not tell") && apart.starts_with("01 heads group 2"), "{apart}");
}

/// An approach of 200 members of which the given ones attain.
fn attaining(id: &str, attains: impl Fn(usize) -> bool) -> Approach {
    let members = (0..200).map(|member| MemberOutcome {
        closest_km: 1.0,
        attained_after_h: attains(member).then_some(5.0),
    });
    with_members(id, members.collect())
}

/// Ranked by the chance alone with no indifference.
fn by_chance(approaches: Vec<Approach>) -> Vec<Approach> {
    by(approaches, r#"{"kind": "attainment", "indifference": 0}"#)
}

fn by(mut approaches: Vec<Approach>, criterion: &str) -> Vec<Approach> {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
    let mut registry = Registry::default();
    registry.register::<AttainmentSpec>().unwrap();
    registry.register::<ClosestApproachCvarSpec>().unwrap();
    registry.register::<FirstAttainedSpec>().unwrap();
    let keys = serde_json::from_str(criterion).unwrap();
    let built = registry.build::<CriterionPoint>("/ranking/0", &keys, &context).unwrap();
    rank(&mut approaches, &[built.object.as_ref()], LEXICOGRAPHIC).unwrap();
    approaches
}

#[test]
fn what_the_ensemble_tells_apart_is_of_two_groups() {
    let found = by_chance(vec![attaining("a", |m| m < 60), attaining("b", |m| m < 120)]);
    assert_eq!((found[0].id.as_str(), found[0].first_probability), ("b", Some(1.0)));
    assert_eq!((found[1].group, found[1].first_probability), (2, Some(0.0)));
}

#[test]
fn a_lead_of_a_few_members_tells_nothing_unless_they_are_the_same_members() {
    // Independent outcomes: 101 against 98 of 200 says nothing.
    let found = by_chance(vec![attaining("a", |m| m < 101), attaining("b", |m| m >= 102)]);
    assert!(found[1].tied_with_previous && found[1].group == 1);
    let first = found[0].first_probability.unwrap();
    assert!((0.5..0.75).contains(&first), "{first}");
    // Common random numbers: `a` attains wherever `b` does, and with six members more.
    let found = by_chance(vec![attaining("a", |m| m < 104), attaining("b", |m| m < 98)]);
    assert!(!found[1].tied_with_previous && found[1].group == 2);
    assert!(found[0].first_probability.unwrap() > 0.95);
}

#[test]
fn equals_share_the_first_place_and_a_group() {
    let found = by_chance(vec![attaining("a", |m| m < 100), attaining("b", |m| m < 100)]);
    assert_eq!([0.5, 0.5].map(Some), [found[0].first_probability, found[1].first_probability]);
    assert!(found[1].tied_with_previous && !found[0].tied_with_previous);
    assert_eq!([1, 1], [found[0].group, found[1].group]);
}

/// Two independent shares: the chance that the first is really ahead by the normal approximation,
/// half of an exact tie included.
#[test]
fn the_share_of_first_places_is_that_of_the_normal_approximation() {
    let found = by_chance(vec![attaining("a", |m| m < 110), attaining("b", |m| m >= 100)]);
    // Shares of 0.55 and 0.5 that are disjoint but for ten members: the variance of the difference
    // over 200 members is that of a variable with values 1, -1 and 0.
    let (plus, minus) = (0.5, 0.45);
    let mean = plus - minus;
    let sigma = ((plus + minus - mean * mean) / 200.0_f64).sqrt();
    let expected = normal(mean / sigma);
    let first = found[0].first_probability.unwrap();
    assert!((first - expected).abs() < 0.06, "{first} against {expected}");
}

/// A paired difference of means with a known error, on either side of what 90 % of drawings ask.
#[test]
fn the_confidence_is_that_of_the_paired_difference() {
    let closest = |id: &str, lead_km: f64| {
        // Differences of `lead_km` plus or minus 10 km: their mean has an error of 10 / sqrt(200).
        let members = (0..200).map(|member| {
            let scatter = if member % 2 == 0 { 10.0 } else { -10.0 };
            let own = if id == "b" { lead_km + scatter } else { 0.0 };
            MemberOutcome { closest_km: 50.0 + own, attained_after_h: None }
        });
        with_members(id, members.collect())
    };
    let mean = r#"{"kind": "closest_approach_cvar", "alpha": 0.0, "indifference": 2}"#;
    let group = |lead_km| by(vec![closest("a", 0.0), closest("b", lead_km)], mean)[1].group;
    let error_km = 10.0 / 200.0_f64.sqrt();
    // The normal distribution has 90 % above 1.28 errors below its mean.
    assert_eq!([group(2.0 + 1.0 * error_km), group(2.0 + 1.6 * error_km)], [1, 2]);
}

#[test]
fn approaches_without_members_are_told_apart_by_their_plain_figures() {
    let bare = |id: &str, probability| {
        let mut approach = specimen::approach();
        approach.id = id.to_owned();
        approach.stay.members.clear();
        approach.attainment.probability = probability;
        approach
    };
    let found = by_chance(vec![bare("a", 0.5), bare("b", 0.6), bare("c", 0.6)]);
    let told: Vec<_> = found.iter().map(|one| (one.id.as_str(), one.group)).collect();
    assert_eq!(told, [("b", 1), ("c", 1), ("a", 2)]);
    assert!(found.iter().all(|one| one.first_probability.is_none()));
    assert!(by_chance(Vec::new()).is_empty());
}

/// The normal distribution function by Simpson's rule.
fn normal(x: f64) -> f64 {
    let density = |t: f64| (-t * t / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let steps = 200;
    let h = x / f64::from(steps);
    let sum: f64 = (0..steps)
        .map(|step| {
            let a = f64::from(step) * h;
            (density(a) + 4.0 * density(a + h / 2.0) + density(a + h)) * h / 6.0
        })
        .sum();
    0.5 + sum
}
