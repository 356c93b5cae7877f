//! How sure the order of approaches is, given an ensemble of so many members.
//!
//! All approaches meet the same members. The members are drawn anew, with replacement and the same for
//! all approaches, the figures are computed and the approaches ranked again: how often the order comes
//! out the same says how much of it the ensemble can tell.

use std::cmp::Ordering;

use dipward_plugin::{Approach, Criterion, Error};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::{
    order::{compare, compute_figures},
    scenario::Order,
    station::{distributions, wilson_interval},
};

/// Drawings: a share of one half is known to 3.5 hundredths.
const DRAWS: u64 = 200;
/// Two neighbours are told apart where one is ahead in more than this share of the drawings.
const TOLD_APART: f64 = 0.95;
/// Sets these draws apart from those of the pole tracks.
const STREAM: u64 = 0x636f_6e66;

/// Marks each ranked approach with the probability that it is really the first, and those that the
/// ensemble cannot tell apart from the one before.
///
/// # Source
///
/// B. Efron, Bootstrap methods: another look at the jackknife, Annals of Statistics 7 (1979), 1-26.
///
/// # Errors
///
/// As [`crate::rank`].
pub(crate) fn mark_confidence(
    ranked: &mut [Approach],
    criteria: &[&dyn Criterion],
    order: Order,
    seed: u64,
) -> Result<(), Error> {
    let members = ranked.iter().map(|approach| approach.stay.members.len()).min().unwrap_or(0);
    if members == 0 {
        return Ok(());
    }
    let draws: Vec<Draw> = (0..DRAWS)
        .into_par_iter()
        .map_init(
            || ranked.to_vec(),
            |again, draw| {
                let mut rng = ChaCha8Rng::seed_from_u64(seed ^ STREAM);
                rng.set_stream(draw);
                let picked: Vec<usize> =
                    (0..members).map(|_| rng.random_range(0..members)).collect();
                for (approach, own) in again.iter_mut().zip(&*ranked) {
                    redraw(approach, own, &picked);
                }
                compute_figures(again, criteria)?;
                Ok(Draw::of(again, |a, b| compare(a, b, criteria, order)))
            },
        )
        .collect::<Result<_, Error>>()?;
    let mean =
        |credits: &dyn Fn(&Draw) -> f64| draws.iter().map(credits).sum::<f64>() / DRAWS as f64;
    for (index, approach) in ranked.iter_mut().enumerate() {
        let credit = |credits: &[f64]| credits.get(index).copied().unwrap_or_default();
        approach.first_probability = Some(mean(&|draw| credit(&draw.first)));
        approach.tied_with_previous = index > 0 && mean(&|draw| credit(&draw.behind)) <= TOLD_APART;
    }
    Ok(())
}

/// What one drawing says of the order. Equals share a credit.
struct Draw {
    /// 1 for the approach that is first.
    first: Vec<f64>,
    /// 1 for each approach that is behind the one ranked before it.
    behind: Vec<f64>,
}

impl Draw {
    fn of(again: &[Approach], order: impl Fn(&Approach, &Approach) -> Ordering) -> Self {
        let best = again.iter().min_by(|a, b| order(a, b));
        let is_first = |one| best.is_some_and(|best| order(one, best).is_eq());
        let firsts = again.iter().filter(|one| is_first(*one)).count().max(1) as f64;
        let first =
            again.iter().map(|one| if is_first(one) { 1.0 / firsts } else { 0.0 }).collect();
        let behind = again.windows(2).map(|pair| match order(&pair[0], &pair[1]) {
            Ordering::Less => 1.0,
            Ordering::Equal => 0.5,
            Ordering::Greater => 0.0,
        });
        Self { first, behind: std::iter::once(1.0).chain(behind).collect() }
    }
}

/// Gives an approach the members picked of its own, with all that is computed of them.
fn redraw(approach: &mut Approach, own: &Approach, picked: &[usize]) {
    let members = &own.stay.members;
    let stay = &mut approach.stay;
    stay.members.clear();
    stay.members.extend(picked.iter().filter_map(|&member| members.get(member).copied()));
    (stay.closest_km, stay.first_attained_d) = distributions(&stay.members);
    let attained = stay.members.iter().filter(|one| one.attained_after_h.is_some()).count();
    let count = stay.members.len();
    let attainment = &mut approach.attainment;
    attainment.probability = attained as f64 / count.max(1) as f64;
    (attainment.low, attainment.high) = wilson_interval(attained, count);
    attainment.median_closest_km = stay.closest_km.half;
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        BuildContext, Clock, MemberOutcome, Registry,
        conformance::{check_example, specimen},
    };

    use super::*;
    use crate::{criteria::AttainmentSpec, rank};

    /// An approach of 200 members of which the given ones attain.
    fn approach(id: &str, attains: impl Fn(usize) -> bool) -> Approach {
        let mut approach = specimen::approach();
        approach.id = id.to_owned();
        approach.stay.members = (0..200)
            .map(|member| MemberOutcome {
                closest_km: 1.0,
                attained_after_h: attains(member).then_some(5.0),
            })
            .collect();
        let picked: Vec<usize> = (0..200).collect();
        let own = approach.clone();
        redraw(&mut approach, &own, &picked);
        approach
    }

    fn marked(mut approaches: Vec<Approach>) -> Vec<Approach> {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 240.0);
        let mut registry = Registry::default();
        registry.register::<AttainmentSpec>().unwrap();
        let exact = serde_json::json!({"kind": "attainment", "indifference": 0});
        let built = registry
            .build::<dipward_plugin::CriterionPoint>("/ranking/0", &exact, &context)
            .unwrap();
        check_example::<AttainmentSpec>(&context).unwrap();
        let criteria = [built.object.as_ref()];
        rank(&mut approaches, &criteria, Order::Lexicographic).unwrap();
        mark_confidence(&mut approaches, &criteria, Order::Lexicographic, 7).unwrap();
        approaches
    }

    #[test]
    fn what_the_ensemble_tells_apart_is_not_tied() {
        let found = marked(vec![approach("a", |m| m < 60), approach("b", |m| m < 120)]);
        assert_eq!((found[0].id.as_str(), found[0].first_probability), ("b", Some(1.0)));
        assert_eq!((found[1].tied_with_previous, found[1].first_probability), (false, Some(0.0)));
    }

    #[test]
    fn a_lead_of_a_few_members_is_a_tie_unless_they_are_the_same_members() {
        // Independent outcomes: 101 against 98 of 200 says nothing.
        let found = marked(vec![approach("a", |m| m < 101), approach("b", |m| m >= 102)]);
        assert!(found[1].tied_with_previous);
        let first = found[0].first_probability.unwrap();
        assert!((0.5..0.75).contains(&first), "{first}");
        // Common random numbers: `a` attains wherever `b` does, and with six members more.
        let found = marked(vec![approach("a", |m| m < 104), approach("b", |m| m < 98)]);
        assert!(!found[1].tied_with_previous);
        assert!(found[0].first_probability.unwrap() > 0.95);
    }

    #[test]
    fn equals_share_the_first_place_and_are_tied() {
        let found = marked(vec![approach("a", |m| m < 100), approach("b", |m| m < 100)]);
        assert_eq!([0.5, 0.5].map(Some), [found[0].first_probability, found[1].first_probability]);
        assert!(found[1].tied_with_previous && !found[0].tied_with_previous);
    }

    /// Two independent shares: the chance that the first is really ahead by the normal approximation,
    /// half of an exact tie included.
    #[test]
    fn the_probability_of_being_first_is_that_of_the_normal_approximation() {
        let found = marked(vec![approach("a", |m| m < 110), approach("b", |m| m >= 100)]);
        // Shares of 0.55 and 0.5 that are disjoint but for ten members: the variance of the difference
        // over 200 members is that of a variable with values 1, -1 and 0.
        let (plus, minus) = (0.5, 0.45);
        let mean = plus - minus;
        let sigma = ((plus + minus - mean * mean) / 200.0_f64).sqrt();
        let expected = normal(mean / sigma);
        let first = found[0].first_probability.unwrap();
        assert!((first - expected).abs() < 0.08, "{first} against {expected}");
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
}
