//! The order of approaches: criteria, the Pareto front, and the reasons in words.

use std::cmp::Ordering;

use dipward_plugin::{Approach, Criterion, Direction, Error, LegTravel};

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
    compute_figures(approaches, criteria)?;
    mark_front(approaches, criteria);
    approaches.sort_by(|a, b| {
        compare(a, b, criteria, order)
            .then_with(|| a.depart.cmp(&b.depart))
            .then_with(|| a.id.cmp(&b.id))
    });
    for (rank, approach) in (1..).zip(approaches.iter_mut()) {
        approach.rank = rank;
    }
    Ok(())
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

/// `Less` where `a` is better by its figures.
pub(crate) fn compare(
    a: &Approach,
    b: &Approach,
    criteria: &[&dyn Criterion],
    order: Order,
) -> Ordering {
    match order {
        Order::Lexicographic => lexicographic(a, b, criteria),
        Order::Weighted => weighted(b, criteria).total_cmp(&weighted(a, criteria)),
    }
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
        .map(|criterion| compare_by(a, b, *criterion))
        .find(|ordering| ordering.is_ne())
        .unwrap_or(Ordering::Equal)
}

fn compare_by(a: &Approach, b: &Approach, criterion: &dyn Criterion) -> Ordering {
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
        let mut reasons = vec![format!("{} is the only feasible approach.", first.id)];
        reasons.extend(lands(first).map(|lands| format!("It {lands}.")));
        return reasons;
    };
    let mut reasons = match order {
        Order::Lexicographic => lexicographic_reasons(first, second, criteria),
        Order::Weighted => weighted_reasons(first, second, criteria),
    };
    reasons.extend(stages(first, second));
    if let Some(sure) = first.first_probability {
        let members = first.stay.members.len();
        let tied = if second.tied_with_previous {
            ", which does not tell the first two apart"
        } else {
            ""
        };
        reasons.push(format!(
            "With the {members} members drawn anew {} is first in {:.0} of 100 drawings{tied}.",
            first.id,
            sure * 100.0
        ));
    }
    let better: Vec<String> = criteria
        .iter()
        .filter(|criterion| compare_by(first, second, **criterion) == Ordering::Greater)
        .map(|criterion| figures(first, second, *criterion))
        .collect();
    if !better.is_empty() {
        reasons.push(format!("{} is better by {}.", second.id, better.join(" and by ")));
    }
    reasons
}

/// How two approaches differ in their stages, where they do.
fn stages(first: &Approach, second: &Approach) -> Option<String> {
    let told =
        |approach: &Approach| lands(approach).unwrap_or_else(|| "goes all the way".to_owned());
    let staged = first.last_leg.is_some() || second.last_leg.is_some();
    staged.then(|| format!("{} {}; {} {}.", first.id, told(first), second.id, told(second)))
}

/// "lands 41 km short and flies: 0.4 h out, radius of action 180 km, 2.1 sorties in 31 h fit to fly".
pub(crate) fn lands(approach: &Approach) -> Option<String> {
    let leg = approach.last_leg.as_ref()?;
    let mut told = format!(
        "lands {} {:.0} km short of the pole, from where it {}: {:.1} h out, {} {:.0} km",
        leg.by,
        leg.short_km,
        leg.travel.verb(),
        leg.out_h,
        match leg.travel {
            LegTravel::Air => "radius of action",
            LegTravel::OverIce => "reach out and home",
        },
        leg.radius_km
    );
    if let Some(sorties) = &leg.sorties {
        told += &format!(
            ", {:.1} sorties in {} h that are fit to fly",
            sorties.mean, sorties.hours_to_fly
        );
    }
    Some(told)
}

fn lexicographic_reasons(
    first: &Approach,
    second: &Approach,
    criteria: &[&dyn Criterion],
) -> Vec<String> {
    let decides = criteria.iter().find(|one| compare_by(first, second, **one).is_ne());
    let Some(criterion) = decides else {
        return vec![format!(
            "No criterion tells {} and {} apart; the earlier departure stands first.",
            first.id, second.id
        )];
    };
    let told = figures(first, second, *criterion);
    let step = criterion.indifference();
    let limit = if step > 0.0 {
        format!(" Figures that round to the same {step} {} count as equal.", unit(*criterion))
    } else {
        String::new()
    };
    // The first falls behind where it rounds to less than the second does.
    let (own, other) = (goodness(first, *criterion), goodness(second, *criterion));
    let behind = if step > 0.0 { ((other / step).round() - 0.5) * step } else { other };
    let turn = match criterion.direction() {
        Direction::Greater => format!("below {behind:.2}"),
        Direction::Less => format!("above {:.2}", -behind),
    };
    vec![
        format!(
            "{} stands before {} by {told}, the first criterion in which they differ.{limit}",
            first.id, second.id
        ),
        format!(
            "With its {} {turn} {}, worse by {:.2}, the order would turn.",
            words(*criterion),
            unit(*criterion),
            own - behind
        )
        .replace(" ,", ","),
    ]
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
                words(*criterion),
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
    format!("{} ({} against {})", words(criterion), figure(a), figure(b))
}

/// "fuel_margin_t" in t as "fuel margin".
fn words(criterion: &dyn Criterion) -> String {
    let name = criterion.name();
    let stem = name.strip_suffix(&format!("_{}", criterion.unit())).unwrap_or(&name);
    stem.replace('_', " ")
}

#[cfg(test)]
mod tests {
    use dipward_plugin::conformance::specimen;
    use proptest::prelude::*;

    use super::*;

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

    fn criteria(units: [f64; 3]) -> [Scaled; 3] {
        let one =
            |name, units, direction, step, weight| Scaled { name, units, direction, step, weight };
        [
            one("margin", units[0], Direction::Greater, 16.0, 0.5),
            one("passage", units[1], Direction::Less, 8.0, 1.0),
            one("elevated", units[2], Direction::Less, 0.0, 2.0),
        ]
    }

    fn ranked(figures: &[(i32, i32, i32)], units: [f64; 3], order: Order) -> Vec<(String, bool)> {
        let mut approaches: Vec<Approach> = figures
            .iter()
            .enumerate()
            .map(|(index, (margin, passage, elevated))| {
                let mut approach = specimen::approach();
                approach.id = format!("{index:02}");
                approach.fuel_t.margin = f64::from(*margin);
                approach.duration_h = f64::from(*passage);
                approach.risk.hours_elevated = f64::from(*elevated);
                approach
            })
            .collect();
        let criteria = criteria(units);
        let criteria: Vec<&dyn Criterion> =
            criteria.iter().map(|criterion| criterion as &dyn Criterion).collect();
        rank(&mut approaches, &criteria, order).unwrap();
        approaches.into_iter().map(|approach| (approach.id, approach.on_front)).collect()
    }

    proptest! {
        /// Powers of two change no digits, so that the order must be the very same.
        #[test]
        fn the_order_and_the_front_do_not_depend_on_units(
            figures in proptest::collection::vec((-64..64, 0..64, 0..16), 1..12),
            powers in [-6..6, -6..6, -6..6],
            weighted in any::<bool>(),
        ) {
            let order = if weighted { Order::Weighted } else { Order::Lexicographic };
            let units = powers.map(|power| 2.0_f64.powi(power));
            prop_assert_eq!(ranked(&figures, units, order), ranked(&figures, [1.0; 3], order));
        }
    }

    #[test]
    fn the_reasons_tell_what_would_turn_the_order() {
        let mut approaches = vec![specimen::approach(), specimen::approach()];
        approaches[0].id = "first".to_owned();
        approaches[0].fuel_t.margin = 100.0;
        approaches[1].id = "second".to_owned();
        approaches[1].fuel_t.margin = 40.0;
        let own = criteria([1.0; 3]);
        let own: Vec<&dyn Criterion> = own.iter().map(|one| one as &dyn Criterion).collect();
        rank(&mut approaches, &own, Order::Lexicographic).unwrap();
        let told = reasons(&approaches, &own, Order::Lexicographic).join(" ");
        // 40 rounds to 48 in steps of 16, and a margin below 40 to less.
        assert!(told.contains("With its margin below 40.00 u, worse by 60.00,"), "{told}");
        approaches[0].fuel_t.margin = 39.9;
        rank(&mut approaches, &own, Order::Lexicographic).unwrap();
        assert_eq!(approaches[0].id, "second");
    }
}
