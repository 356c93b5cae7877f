//! The order of approaches: criteria, the Pareto front, groups that the data tell apart.

use dipward_plugin::{Approach, Criterion, Direction, Error};

use crate::{
    confidence::drawings,
    groups::{Behind, Column, Good, first_in, groups, levels},
    scenario::{Order, ScenarioKeys},
};

/// By what approaches are ranked beside their figures of merit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankingRule {
    /// How the figures make an order.
    pub order: Order,
    /// The share of the drawings of members in which a difference must count, 0.5 to below 1.
    pub confidence: f64,
    /// Seed of the drawings.
    pub seed: u64,
}

impl From<&ScenarioKeys> for RankingRule {
    fn from(keys: &ScenarioKeys) -> Self {
        Self { order: keys.order, confidence: keys.confidence, seed: keys.seed }
    }
}

/// What keeps a ranked approach out of the group before its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Parting {
    /// Place among the criteria of the one that tells them apart; nothing where the weighted sum does.
    pub criterion: Option<usize>,
    /// The approach that it is behind: one of the best of those left at that criterion.
    pub best: String,
    /// The share of the drawings in which it is behind by more than does not count.
    pub share: f64,
}

/// Computes every approach's figures of merit, marks the Pareto front, tells the groups, sorts best first
/// and numbers the ranks through all groups.
///
/// Group 1 is what is left when criterion by criterion each approach has fallen whose figure lies behind
/// the best of those left by more than the criterion's indifference, with the stated confidence: in at
/// least that share of the drawings of the common members. Group 2 is what is left of the rest, and so on.
/// Where the order is weighted the one criterion is the weighted sum, with an indifference of 0. Within a
/// group the plain figures decide, the first criterion first; what they do not tell apart stands in the
/// order of departure and id.
///
/// # Returns
///
/// For each ranked approach what keeps it out of the group before its own; nothing for those of group 1.
///
/// # Errors
///
/// [`Error::Contract`] for a criterion that gives a figure that is not finite.
pub fn rank(
    approaches: &mut [Approach],
    criteria: &[&dyn Criterion],
    rule: RankingRule,
) -> Result<Vec<Option<Parting>>, Error> {
    compute_figures(approaches, criteria)?;
    mark_front(approaches, criteria);
    let columns = columns(approaches, criteria, rule)?;
    mark_first(approaches, &columns);
    let groups = groups(&columns, approaches.len(), rule.confidence);
    let levels: Vec<Vec<usize>> = columns.iter().map(|column| levels(&column.plain)).collect();
    let place = |index: usize| {
        let group = groups.get(index).map(|(group, _)| *group);
        (group, levels.iter().map(|column| column.get(index).copied()).collect::<Vec<_>>())
    };
    let mut sorted: Vec<usize> = (0..approaches.len()).collect();
    sorted.sort_by_cached_key(|&index| {
        let named = approaches.get(index).map(|one| (one.depart, one.id.clone()));
        (place(index), named)
    });
    let parting = |behind: Behind| Parting {
        criterion: (rule.order == Order::Lexicographic).then_some(behind.column),
        best: approaches.get(behind.best).map(|one| one.id.clone()).unwrap_or_default(),
        share: behind.share,
    };
    let partings = sorted
        .iter()
        .map(|&index| groups.get(index).and_then(|(_, behind)| behind.map(parting)))
        .collect();
    let mut ranks = vec![0; approaches.len()];
    for (rank, &index) in (1..).zip(&sorted) {
        if let Some(slot) = ranks.get_mut(index) {
            *slot = rank;
        }
    }
    for ((approach, (group, _)), rank) in approaches.iter_mut().zip(&groups).zip(ranks) {
        (approach.group, approach.rank) = (*group, rank);
    }
    approaches.sort_by_key(|approach| approach.rank);
    let mut before = None;
    for approach in approaches {
        approach.tied_with_previous = before == Some(approach.group);
        before = Some(approach.group);
    }
    Ok(partings)
}

/// Computes every approach's figures of merit.
///
/// # Errors
///
/// As [`rank`].
pub(crate) fn compute_figures(
    approaches: &mut [Approach],
    criteria: &[&dyn Criterion],
) -> Result<(), Error> {
    for approach in approaches {
        for criterion in criteria {
            let merit = criterion.merit(approach);
            if !merit.is_finite() {
                let message = format!("gives {merit} for {}", approach.id);
                return Err(Error::Contract { kind: criterion.name(), message });
            }
            approach.criteria.insert(criterion.name(), merit);
        }
    }
    Ok(())
}

/// What decides, the most important first: the criteria, or their weighted sum.
fn columns(
    approaches: &[Approach],
    criteria: &[&dyn Criterion],
    rule: RankingRule,
) -> Result<Vec<Column>, Error> {
    let figures = |approaches: &[Approach]| -> Vec<Vec<Good>> {
        match rule.order {
            Order::Lexicographic => criteria
                .iter()
                .map(|one| approaches.iter().map(|approach| good(approach, *one)).collect())
                .collect(),
            Order::Weighted => {
                vec![approaches.iter().map(|approach| weighted(approach, criteria)).collect()]
            }
        }
    };
    let drawings = drawings(approaches, criteria, rule.seed, figures)?;
    let mut columns: Vec<Column> = figures(approaches)
        .into_iter()
        .zip(criteria)
        .map(|(plain, criterion)| Column {
            plain,
            drawn: Vec::with_capacity(drawings.len()),
            indifference: match rule.order {
                Order::Lexicographic => criterion.indifference(),
                Order::Weighted => 0.0,
            },
        })
        .collect();
    for drawing in drawings {
        for (column, goods) in columns.iter_mut().zip(drawing) {
            column.drawn.push(goods);
        }
    }
    Ok(columns)
}

/// Marks each approach with the share of the drawings in which it has the best figures; nothing where
/// there are no drawings.
fn mark_first(approaches: &mut [Approach], columns: &[Column]) {
    let draws = columns.first().map_or(0, |column| column.drawn.len());
    let mut credits = vec![0.0; approaches.len()];
    for draw in 0..draws {
        let figures: Vec<Vec<Good>> =
            columns.iter().filter_map(|column| column.drawn.get(draw).cloned()).collect();
        for (sum, credit) in credits.iter_mut().zip(first_in(&figures)) {
            *sum += credit;
        }
    }
    // One alone is the first whatever is drawn.
    let alone = approaches.len() == 1;
    for (approach, credit) in approaches.iter_mut().zip(credits) {
        approach.first_probability = if alone && !approach.stay.members.is_empty() {
            Some(1.0)
        } else {
            (draws > 0).then(|| credit / draws as f64)
        };
    }
}

/// A figure with "greater is better" for all criteria.
pub(crate) fn good(approach: &Approach, criterion: &dyn Criterion) -> Good {
    let merit = approach.criteria.get(&criterion.name()).copied().unwrap_or(f64::NEG_INFINITY);
    let value = match criterion.direction() {
        Direction::Greater => merit,
        Direction::Less => -merit,
    };
    Good { value, size: value.abs() }
}

/// The weighted sum of an approach's figures.
pub(crate) fn weighted(approach: &Approach, criteria: &[&dyn Criterion]) -> Good {
    let parts = criteria.iter().map(|one| one.weight() * good(approach, *one).value);
    parts.fold(Good { value: 0.0, size: 0.0 }, |sum, part| Good {
        value: sum.value + part,
        size: sum.size.max(part.abs()),
    })
}

/// Marks the approaches that no other one dominates: at least as good by every criterion and better
/// by one.
fn mark_front(approaches: &mut [Approach], criteria: &[&dyn Criterion]) {
    let goods: Vec<Vec<f64>> = approaches
        .iter()
        .map(|approach| criteria.iter().map(|one| good(approach, *one).value).collect())
        .collect();
    for (approach, own) in approaches.iter_mut().zip(&goods) {
        approach.on_front = !goods.iter().any(|other| dominates(other, own));
    }
}

fn dominates(a: &[f64], b: &[f64]) -> bool {
    let pairs = || a.iter().zip(b);
    pairs().all(|(a, b)| a >= b) && pairs().any(|(a, b)| a > b)
}

#[cfg(test)]
mod tests;
