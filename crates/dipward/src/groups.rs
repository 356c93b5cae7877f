//! Groups of approaches that the data do not tell apart.
//!
//! Group 1 is found criterion by criterion, the most important first. At each, the best of those left are
//! those with the best plain figure, all members counted once. Another one falls where its figure lies
//! behind that of one of them by more than the criterion's indifference, in at least the stated share of
//! the drawings of members; a figure that does not hang on the members differs by the same in each. What
//! is left after the last criterion is group 1; group 2 is what is left of the rest, and so on.
//!
//! Three details make the groups those of the approaches and not of their company:
//!
//! - Of several that are equally the best, each may make another one fall, and none of them falls. Which
//!   of them is looked at first decides nothing.
//! - Differences are compared with the indifference itself, from the best of those left: no lattice, whose
//!   edges would decide. A difference of just the indifference is kept.
//! - Figures that differ by less than 1e-9 of the larger one are equal, so that the last bits decide
//!   nothing.
//!
//! So an approach that another one dominates changes nothing of group 1 but that it may join it: it falls
//! where the other one does and makes none fall that the other one would not. One that all others dominate
//! changes no group, and is in the last or in one of its own behind it.

/// What of a figure is rounding.
const ROUNDING: f64 = 1e-9;

/// A figure of merit of an approach, greater is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Good {
    pub(crate) value: f64,
    /// The size of what it is made of: that of its greatest part where it is a sum.
    pub(crate) size: f64,
}

impl Good {
    /// Whether it is better than another one by more than a difference that does not count.
    pub(crate) fn exceeds(self, other: Self, indifference: f64) -> bool {
        let size = self.size.max(other.size).max(indifference);
        self.value - other.value - indifference > ROUNDING * size
    }
}

/// The figures of all approaches by one criterion.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Column {
    /// With each member counted once.
    pub(crate) plain: Vec<Good>,
    /// In each drawing of members, of all approaches.
    pub(crate) drawn: Vec<Vec<Good>>,
    /// A difference that does not count.
    pub(crate) indifference: f64,
}

/// What keeps an approach out of the group before its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Behind {
    /// The column.
    pub(crate) column: usize,
    /// The approach that it is behind, one of the best of those left.
    pub(crate) best: usize,
    /// The share of the drawings in which it is behind by more than the indifference.
    pub(crate) share: f64,
}

/// Each approach's group, from 1, and what keeps it out of the one before.
///
/// # Arguments
///
/// `count`: how many approaches there are.
pub(crate) fn groups(
    columns: &[Column],
    count: usize,
    confidence: f64,
) -> Vec<(u32, Option<Behind>)> {
    let levels: Vec<Vec<usize>> = columns.iter().map(|column| levels(&column.plain)).collect();
    let mut found = vec![(0, None); count];
    let mut left: Vec<usize> = (0..count).collect();
    let mut group = 0;
    while !left.is_empty() {
        group += 1;
        let mut kept = left.clone();
        for (number, (column, levels)) in columns.iter().zip(&levels).enumerate() {
            let level = |one: &usize| levels.get(*one).copied();
            let best_level = kept.iter().filter_map(level).min();
            let best: Vec<usize> =
                kept.iter().copied().filter(|one| level(one) == best_level).collect();
            kept.retain(|one| {
                if level(one) == best_level {
                    return true;
                }
                let behind = best
                    .iter()
                    .map(|&best| Behind { column: number, best, share: share(column, best, *one) })
                    .reduce(|most, next| if next.share > most.share { next } else { most })
                    .filter(|behind| behind.share >= confidence - ROUNDING);
                if let (Some(behind), Some(slot)) = (behind, found.get_mut(*one)) {
                    slot.1 = Some(behind);
                }
                behind.is_none()
            });
        }
        for &one in &kept {
            if let Some(slot) = found.get_mut(one) {
                slot.0 = group;
            }
        }
        left.retain(|one| !kept.contains(one));
    }
    found
}

/// The share of the drawings in which one is better than another by more than the indifference; of the
/// plain figures alone where there are no drawings.
fn share(column: &Column, best: usize, other: usize) -> f64 {
    let ahead = |goods: &Vec<Good>| match (goods.get(best), goods.get(other)) {
        (Some(best), Some(other)) => best.exceeds(*other, column.indifference),
        _ => false,
    };
    if column.drawn.is_empty() {
        return f64::from(u8::from(ahead(&column.plain)));
    }
    column.drawn.iter().filter(|goods| ahead(goods)).count() as f64 / column.drawn.len() as f64
}

/// The place of each figure among all, 0 for the best; figures that differ by rounding alone share one.
pub(crate) fn levels(goods: &[Good]) -> Vec<usize> {
    let mut sorted: Vec<(usize, Good)> = goods.iter().copied().enumerate().collect();
    sorted.sort_by(|(_, a), (_, b)| b.value.total_cmp(&a.value));
    let mut levels = vec![0; goods.len()];
    let mut level = 0;
    let mut before: Option<Good> = None;
    for (index, good) in sorted {
        if before.is_some_and(|before| before.exceeds(good, 0.0)) {
            level += 1;
        }
        before = Some(good);
        if let Some(slot) = levels.get_mut(index) {
            *slot = level;
        }
    }
    levels
}

/// Each approach's credit for standing first in a drawing, by the first column and where that leaves
/// several by the next, without indifference; equals share it.
///
/// # Arguments
///
/// `columns`: the figures of all approaches in the drawing, column by column.
pub(crate) fn first_in(columns: &[Vec<Good>]) -> Vec<f64> {
    let count = columns.first().map_or(0, Vec::len);
    let mut first: Vec<usize> = (0..count).collect();
    for column in columns {
        let good = |one: &usize| column.get(*one).copied();
        let best = first
            .iter()
            .filter_map(good)
            .reduce(|best, next| if next.value > best.value { next } else { best });
        first.retain(|one| match (best, good(one)) {
            (Some(best), Some(own)) => !best.exceeds(own, 0.0),
            _ => true,
        });
    }
    let credit = 1.0 / first.len().max(1) as f64;
    (0..count).map(|one| if first.contains(&one) { credit } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn good(value: f64) -> Good {
        Good { value, size: value.abs() }
    }

    fn plain(values: &[f64], indifference: f64) -> Column {
        let plain = values.iter().map(|&value| good(value)).collect();
        Column { plain, drawn: Vec::new(), indifference }
    }

    fn numbers(columns: &[Column]) -> Vec<u32> {
        let count = columns.first().map_or(0, |column| column.plain.len());
        groups(columns, count, 0.9).into_iter().map(|(group, _)| group).collect()
    }

    /// Two chances on either side of a multiple of a half step, and all else against the first.
    #[test]
    fn no_edge_of_a_lattice_decides() {
        let chances = plain(&[0.975, 0.97], 0.05);
        let margins = plain(&[100.0, 148.0], 20.0);
        assert_eq!(numbers(&[chances, margins]), [2, 1]);
    }

    #[test]
    fn a_difference_of_just_the_indifference_is_kept() {
        // In binary the first difference is a little more than the indifference.
        let chances = [0.975, 0.97];
        assert!(chances[0] - chances[1] > 0.005);
        assert_eq!(numbers(&[plain(&chances, 0.005)]), [1, 1]);
        assert_eq!(numbers(&[plain(&[0.3, 0.1 + 0.2], 0.0), plain(&[1.0, 2.0], 0.0)]), [2, 1]);
        assert_eq!(numbers(&[plain(&[60.0, 40.0, 39.999], 20.0)]), [1, 1, 2]);
    }

    #[test]
    fn the_best_of_those_left_is_the_measure_and_not_the_best_of_all() {
        // The one of the greatest margin has fallen by its chance.
        let chances = plain(&[0.9, 0.88, 0.5], 0.05);
        let margins = plain(&[10.0, 25.0, 90.0], 20.0);
        assert_eq!(numbers(&[chances, margins]), [1, 1, 2]);
    }

    #[test]
    fn a_difference_counts_only_in_the_stated_share_of_drawings() {
        let drawn = |ahead: usize| {
            (0..10).map(move |draw| vec![good(if draw < ahead { 2.0 } else { 1.0 }), good(1.0)])
        };
        let column = |ahead| Column { drawn: drawn(ahead).collect(), ..plain(&[2.0, 1.0], 0.5) };
        assert_eq!(numbers(&[column(8)]), [1, 1]);
        assert_eq!(numbers(&[column(9)]), [1, 2]);
        let behind = groups(&[column(9)], 2, 0.9)[1].1;
        assert_eq!(behind, Some(Behind { column: 0, best: 0, share: 0.9 }));
    }

    #[test]
    fn the_equally_best_do_not_fall_and_each_makes_others_fall() {
        // 0 and 1 are the best; only 1 is ahead of 2 in the drawings, and 1 is ahead of 0 there too.
        let drawn = vec![vec![good(1.0), good(3.0), good(1.0)]; 10];
        let column = Column { drawn, ..plain(&[3.0, 3.0, 2.0], 0.5) };
        assert_eq!(numbers(&[column]), [1, 1, 2]);
    }

    #[test]
    fn nothing_has_no_groups() {
        assert!(groups(&[], 0, 0.9).is_empty() && groups(&[plain(&[], 0.0)], 0, 0.9).is_empty());
        // Without a criterion nothing is told apart.
        assert_eq!(groups(&[], 2, 0.9), [(1, None); 2]);
        assert!(first_in(&[]).is_empty());
    }

    #[test]
    fn the_first_place_of_a_drawing_is_shared_by_equals() {
        let column = |values: &[f64]| values.iter().map(|&value| good(value)).collect::<Vec<_>>();
        assert_eq!(first_in(&[column(&[1.0, 2.0, 2.0])]), [0.0, 0.5, 0.5]);
        assert_eq!(first_in(&[column(&[2.0, 2.0]), column(&[0.0, 1.0])]), [0.0, 1.0]);
    }
}
