//! The order of approaches: criteria, the Pareto front, and the reasons in words.

use std::cmp::Ordering;

use dipward_plugin::{Approach, Criterion, Direction, Error};

use crate::scenario::Order;

/// Computes every approach's figures of merit, marks the Pareto front, sorts best first and numbers
/// the ranks.
///
/// Lexicographic order compares by the first criterion; where two approaches differ by no more than
/// its indifference the next decides. Indifference is not transitive, so figures are compared on a
/// lattice of that step: two figures are equal where they round to the same multiple. What no
/// criterion tells apart stands in the order of departure and id.
///
/// # Errors
///
/// [`Error::Contract`] for a criterion that gives a figure that is not finite.
pub fn rank(
    approaches: &mut [Approach],
    criteria: &[&dyn Criterion],
    order: Order,
) -> Result<(), Error> {
    for approach in approaches.iter_mut() {
        for criterion in criteria {
            let merit = criterion.merit(approach);
            if !merit.is_finite() {
                let message = format!("gives {merit} for {}", approach.id);
                return Err(Error::Contract { kind: criterion.name(), message });
            }
            approach.criteria.insert(criterion.name(), merit);
        }
    }
    mark_front(approaches, criteria);
    approaches.sort_by(|a, b| {
        let by_merit = match order {
            Order::Lexicographic => lexicographic(a, b, criteria),
            Order::Weighted => weighted(b, criteria).total_cmp(&weighted(a, criteria)),
        };
        by_merit.then_with(|| a.depart.cmp(&b.depart)).then_with(|| a.id.cmp(&b.id))
    });
    for (rank, approach) in (1..).zip(approaches.iter_mut()) {
        approach.rank = rank;
    }
    Ok(())
}

/// The figure with "greater is better" for all criteria.
fn goodness(approach: &Approach, criterion: &dyn Criterion) -> f64 {
    let merit = approach.criteria.get(&criterion.name()).copied().unwrap_or(f64::NEG_INFINITY);
    match criterion.direction() {
        Direction::Greater => merit,
        Direction::Less => -merit,
    }
}

/// `Less` where `a` is better.
fn lexicographic(a: &Approach, b: &Approach, criteria: &[&dyn Criterion]) -> Ordering {
    criteria
        .iter()
        .map(|criterion| compare(a, b, *criterion))
        .find(|ordering| ordering.is_ne())
        .unwrap_or(Ordering::Equal)
}

fn compare(a: &Approach, b: &Approach, criterion: &dyn Criterion) -> Ordering {
    let step = criterion.indifference();
    let rounded = |approach| {
        let good = goodness(approach, criterion);
        if step > 0.0 { (good / step).round() } else { good }
    };
    rounded(b).total_cmp(&rounded(a))
}

fn weighted(approach: &Approach, criteria: &[&dyn Criterion]) -> f64 {
    criteria.iter().map(|criterion| criterion.weight() * goodness(approach, *criterion)).sum()
}

/// Marks the approaches that no other one dominates: at least as good by every criterion and better
/// by one.
fn mark_front(approaches: &mut [Approach], criteria: &[&dyn Criterion]) {
    let goods: Vec<Vec<f64>> = approaches
        .iter()
        .map(|approach| criteria.iter().map(|one| goodness(approach, *one)).collect())
        .collect();
    for (approach, own) in approaches.iter_mut().zip(&goods) {
        approach.on_front = !goods.iter().any(|other| dominates(other, own));
    }
}

fn dominates(a: &[f64], b: &[f64]) -> bool {
    let pairs = || a.iter().zip(b);
    pairs().all(|(a, b)| a >= b) && pairs().any(|(a, b)| a > b)
}

/// Why the first approach stands before the second, in sentences.
#[must_use]
pub fn reasons(approaches: &[Approach], criteria: &[&dyn Criterion], order: Order) -> Vec<String> {
    let (Some(first), second) = (approaches.first(), approaches.get(1)) else {
        return vec!["No approach is feasible; the reasons stand with each departure.".to_owned()];
    };
    let Some(second) = second else {
        return vec![format!("{} is the only feasible approach.", first.id)];
    };
    let mut reasons = match order {
        Order::Lexicographic => vec![lexicographic_reason(first, second, criteria)],
        Order::Weighted => weighted_reasons(first, second, criteria),
    };
    let better: Vec<String> = criteria
        .iter()
        .filter(|criterion| compare(first, second, **criterion) == Ordering::Greater)
        .map(|criterion| figures(first, second, *criterion))
        .collect();
    if !better.is_empty() {
        reasons.push(format!("{} is better by {}.", second.id, better.join(" and by ")));
    }
    reasons
}

fn lexicographic_reason(
    first: &Approach,
    second: &Approach,
    criteria: &[&dyn Criterion],
) -> String {
    let decides = criteria.iter().find(|one| compare(first, second, **one).is_ne());
    let Some(criterion) = decides else {
        return format!(
            "No criterion tells {} and {} apart; the earlier departure stands first.",
            first.id, second.id
        );
    };
    let told = figures(first, second, *criterion);
    let (first, second) = (&first.id, &second.id);
    let indifference = criterion.indifference();
    let limit = if indifference > 0.0 {
        format!(
            " Figures that round to the same {indifference} {} count as equal.",
            unit(*criterion)
        )
    } else {
        String::new()
    };
    format!(
        "{first} stands before {second} by {told}, the first criterion in which they differ.{limit}"
    )
}

fn weighted_reasons(
    first: &Approach,
    second: &Approach,
    criteria: &[&dyn Criterion],
) -> Vec<String> {
    let lead = weighted(first, criteria) - weighted(second, criteria);
    let mut reasons = vec![format!(
        "{} stands before {} by a weighted sum {lead:.2} greater.",
        first.id, second.id
    )];
    for criterion in criteria {
        let gain = goodness(first, *criterion) - goodness(second, *criterion);
        // The order flips where this weight's part of the lead has used up the whole lead.
        let flip = if gain == 0.0 { f64::NAN } else { criterion.weight() - lead / gain };
        if flip.is_finite() && flip >= 0.0 {
            let way = if gain > 0.0 { "below" } else { "above" };
            reasons.push(format!(
                "With a weight of {} {way} {flip:.3} (now {}) the order would turn.",
                criterion.name(),
                criterion.weight()
            ));
        }
    }
    reasons
}

fn unit(criterion: &dyn Criterion) -> String {
    let unit = criterion.unit();
    if unit == "1" { String::new() } else { unit }
}

fn figures(a: &Approach, b: &Approach, criterion: &dyn Criterion) -> String {
    let figure = |approach: &Approach| {
        let value = approach.criteria.get(&criterion.name()).copied().unwrap_or(f64::NAN);
        format!("{value:.2} {}", unit(criterion)).trim_end().to_owned()
    };
    format!("{} ({} against {})", criterion.name(), figure(a), figure(b))
}
