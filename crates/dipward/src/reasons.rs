//! Why approaches stand as they do, in sentences.

use dipward_plugin::{Approach, Criterion, Direction, LegTravel};

use crate::{
    order::{Parting, RankingRule, good, weighted},
    scenario::Order,
};

/// Why the first approaches stand as they do, in sentences: what the data do not tell apart, what orders
/// the first two and what keeps the second group out of the first.
///
/// # Arguments
///
/// `approaches` as [`crate::rank`] leaves them, all of them, and `partings` as it returns them.
#[must_use]
pub fn reasons(
    approaches: &[Approach],
    criteria: &[&dyn Criterion],
    rule: RankingRule,
    partings: &[Option<Parting>],
) -> Vec<String> {
    let (Some(first), second) = (approaches.first(), approaches.get(1)) else {
        return vec!["No approach is feasible; the reasons stand with each departure.".to_owned()];
    };
    let Some(second) = second else {
        let mut reasons = vec![format!("{} is the only feasible approach.", first.id)];
        reasons.extend(lands(first).map(|lands| format!("It {lands}.")));
        return reasons;
    };
    let together = approaches.iter().take_while(|one| one.group == first.group).count();
    let mut reasons = Vec::new();
    if together > 1 {
        reasons.push(not_told_apart(together, approaches.len(), criteria, rule));
        reasons.extend(within(first, second, criteria, rule));
    }
    if let (Some(next), Some(Some(parting))) = (approaches.get(together), partings.get(together)) {
        reasons.extend(apart(approaches, next, parting, criteria, rule));
    }
    if rule.order == Order::Weighted {
        reasons.extend(turning_weights(first, second, criteria));
    }
    reasons.extend(stages(first, second));
    if let Some(sure) = first.first_probability {
        let indifferent =
            if rule.order == Order::Lexicographic { "did every difference count, " } else { "" };
        reasons.push(format!(
            "With the {} members drawn anew and again, {indifferent}{} would be first in {} of the drawings.",
            first.stay.members.len(),
            first.id,
            percent(sure)
        ));
    }
    let better: Vec<String> = criteria
        .iter()
        .filter(|criterion| good(second, **criterion).exceeds(good(first, **criterion), 0.0))
        .map(|criterion| figures(first, second, *criterion))
        .collect();
    if !better.is_empty() {
        reasons.push(format!("{} is better by {}.", second.id, better.join(" and by ")));
    }
    reasons
}

/// That a group holds several.
fn not_told_apart(
    together: usize,
    all: usize,
    criteria: &[&dyn Criterion],
    rule: RankingRule,
) -> String {
    let whole = if together == all { ", which are all that there are" } else { "" };
    let tells = match rule.order {
        Order::Weighted => "none has a weighted sum below the greatest".to_owned(),
        Order::Lexicographic => {
            let limits: Vec<String> = criteria
                .iter()
                .map(|one| format!("{} by {}", amount(one.indifference(), *one), words(*one)))
                .collect();
            format!(
                "criterion by criterion, none is worse than the best of those left by more than what does \
                 not count ({})",
                limits.join(", ")
            )
        }
    };
    format!(
        "The data do not tell the {together} approaches of group 1 apart{whole}: {tells}, with a confidence \
         of {}.",
        percent(rule.confidence)
    )
}

/// What orders the first two where they are of one group.
fn within(
    first: &Approach,
    second: &Approach,
    criteria: &[&dyn Criterion],
    rule: RankingRule,
) -> Vec<String> {
    let equal = || {
        vec![format!(
            "No figure tells {} and {} apart; the earlier departure stands first.",
            first.id, second.id
        )]
    };
    if rule.order == Order::Weighted {
        let (own, other) = (weighted(first, criteria), weighted(second, criteria));
        if !own.exceeds(other, 0.0) {
            return equal();
        }
        let lead = own.value - other.value;
        return vec![format!(
            "Within the group {} stands before {} by a weighted sum {lead:.2} greater.",
            first.id, second.id
        )];
    }
    let differs = |one: &&&dyn Criterion| {
        let (own, other) = (good(first, **one), good(second, **one));
        own.exceeds(other, 0.0) || other.exceeds(own, 0.0)
    };
    let Some(criterion) = criteria.iter().find(differs) else { return equal() };
    let turn = match criterion.direction() {
        Direction::Greater => "below",
        Direction::Less => "above",
    };
    let other = merit(second, *criterion);
    vec![
        format!(
            "Within the group {} stands before {} by {}, the first criterion by which their plain figures \
             differ.",
            first.id,
            second.id,
            figures(first, second, *criterion)
        ),
        format!(
            "With its {} {turn} {}, worse by {}, the two would change places.",
            words(*criterion),
            amount(other, *criterion),
            amount((merit(first, *criterion) - other).abs(), *criterion)
        ),
    ]
}

/// What keeps the second group out of the first.
fn apart(
    approaches: &[Approach],
    next: &Approach,
    parting: &Parting,
    criteria: &[&dyn Criterion],
    rule: RankingRule,
) -> Option<String> {
    let best = approaches.iter().find(|one| one.id == parting.best)?;
    let often = if parting.share >= 1.0 {
        "whichever members are drawn".to_owned()
    } else {
        format!(
            "in {} of the drawings of members, where {} would do",
            percent(parting.share),
            percent(rule.confidence)
        )
    };
    let heads = format!("{} heads group 2: it is behind {}", next.id, best.id);
    let Some(criterion) = parting.criterion.and_then(|place| criteria.get(place)) else {
        let lead = weighted(best, criteria).value - weighted(next, criteria).value;
        return Some(format!("{heads} by a weighted sum {lead:.2} less, and so {often}."));
    };
    let difference = (merit(best, *criterion) - merit(next, *criterion)).abs();
    let counts = if criterion.indifference() > 0.0 {
        let limit = amount(criterion.indifference(), *criterion);
        format!(
            "a difference of {}: more than the {limit} that do not count",
            amount(difference, *criterion)
        )
    } else {
        format!("a difference of {}", amount(difference, *criterion))
    };
    Some(format!("{heads} by {}, {counts}, {often}.", figures(next, best, *criterion)))
}

/// The weights with which the first two would change places.
fn turning_weights(
    first: &Approach,
    second: &Approach,
    criteria: &[&dyn Criterion],
) -> Vec<String> {
    let lead = weighted(first, criteria).value - weighted(second, criteria).value;
    let mut reasons = Vec::new();
    for criterion in criteria {
        let gain = good(first, *criterion).value - good(second, *criterion).value;
        // The order flips where this weight's part of the lead has used up the whole lead.
        let flip = if gain == 0.0 { f64::NAN } else { criterion.weight() - lead / gain };
        if flip.is_finite() && flip >= 0.0 {
            let way = if gain > 0.0 { "below" } else { "above" };
            reasons.push(format!(
                "With a weight of {} {way} {flip:.3} (now {}) the sum of {} would be greater than that of {}.",
                words(*criterion),
                criterion.weight(),
                second.id,
                first.id
            ));
        }
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

fn merit(approach: &Approach, criterion: &dyn Criterion) -> f64 {
    approach.criteria.get(&criterion.name()).copied().unwrap_or(f64::NAN)
}

/// "fuel margin (120 t against 80 t)", with as many digits as tell the two apart.
fn figures(a: &Approach, b: &Approach, criterion: &dyn Criterion) -> String {
    let (a, b) = (merit(a, criterion), merit(b, criterion));
    let decimals = (2..9).find(|&decimals| format!("{a:.decimals$}") != format!("{b:.decimals$}"));
    let decimals = decimals.unwrap_or(2);
    format!(
        "{} ({} against {})",
        words(criterion),
        with_unit(format!("{a:.decimals$}"), criterion),
        with_unit(format!("{b:.decimals$}"), criterion)
    )
}

/// A figure with its unit, to about three digits where it is below 1 and to hundredths otherwise.
fn amount(value: f64, criterion: &dyn Criterion) -> String {
    let size = value.abs();
    let decimals = if size > 0.0 && size < 0.1 { 2 + (-size.log10()).floor() as usize } else { 2 };
    let text = format!("{value:.decimals$}", decimals = decimals.min(12));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    with_unit(text.to_owned(), criterion)
}

/// A share is a number without a unit.
fn with_unit(number: String, criterion: &dyn Criterion) -> String {
    match criterion.unit().as_str() {
        "1" => number,
        unit => format!("{number} {unit}"),
    }
}

/// "97.5 %".
fn percent(share: f64) -> String {
    let text = format!("{:.2}", share * 100.0);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

/// "fuel_margin_t" in t as "fuel margin".
fn words(criterion: &dyn Criterion) -> String {
    let name = criterion.name();
    let stem = name.strip_suffix(&format!("_{}", criterion.unit())).unwrap_or(&name);
    stem.replace('_', " ")
}
