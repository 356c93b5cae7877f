//! What a planner decides against what nobody decides: choices by their worst years and their regret.

use std::collections::BTreeMap;

use dipward_plugin::{SeasonAxes, SeasonCase, SeasonChoice};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::{
    groups::{Column, Good, groups, levels},
    tail::expected_shortfall,
};

/// Drawings of years.
const DRAWS: u64 = 400;
/// Sets these draws apart from those of the pole tracks and of members.
const STREAM: u64 = 0x7965_6172;

/// By what choices are told apart beside their figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChoiceRule {
    /// A difference of chance that does not count.
    pub indifference: f64,
    /// The share of the drawings of years in which a difference must count.
    pub confidence: f64,
    /// Seed of the drawings.
    pub seed: u64,
}

/// All choices of a study - craft, port, day and policy - with how they fare over its years, group by
/// group and within a group the most robust first: by the worst tenth of the years, then by the mean, then
/// by the greatest regret, then in the order of the cases.
///
/// A year in which no approach is feasible counts as no chance. The regret of a choice in a year is
/// what the best choice of that year has more. All years weigh the same.
///
/// Group 1 is what is left when each choice has fallen whose worst tenth, and then whose mean, lies behind
/// that of the best of those left by more than does not count, with the stated confidence; group 2 is what
/// is left of the rest, and so on. What is drawn anew, with replacement and the same for all choices, are the
/// years: the members of a year share its ice and its activity, so that they are not so many independent
/// seasons, and the noise of their number is part of what differs from year to year. One year alone tells
/// nothing of others: its plain figures then make the groups.
///
/// # Arguments
///
/// `cases`: all cases of the study. A choice that lacks a case for some year is left out.
///
/// # Source
///
/// A. C. Davison and D. V. Hinkley, Bootstrap Methods and their Application (1997), section 3.8, for drawing
/// whole clusters (from memory).
#[must_use]
pub fn choices(axes: &SeasonAxes, cases: &[SeasonCase], rule: ChoiceRule) -> Vec<SeasonChoice> {
    let mut by_choice: BTreeMap<Key<'_>, Vec<&SeasonCase>> = BTreeMap::new();
    let mut best_of_year: BTreeMap<&str, f64> = BTreeMap::new();
    // Numbered in the order of the cases, so that equals keep it.
    let mut order: BTreeMap<Key<'_>, usize> = BTreeMap::new();
    for case in cases {
        let key = (&*case.craft, &*case.port, &*case.day, &*case.policy);
        let count = order.len();
        order.entry(key).or_insert(count);
        by_choice.entry(key).or_default().push(case);
        let best = best_of_year.entry(&case.year).or_insert(0.0);
        *best = best.max(case.attainment());
    }
    let mut numbers = Vec::new();
    let mut chances: Vec<Vec<f64>> = Vec::new();
    let mut all = Vec::new();
    for (key, cases) in by_choice {
        let of_year = |year: &String| cases.iter().find(|case| case.year == *year);
        let by_year: Option<Vec<f64>> =
            axes.years.iter().map(|year| of_year(year).map(|case| case.attainment())).collect();
        let Some(by_year) = by_year.filter(|_| cases.len() == axes.years.len()) else { continue };
        let Some(found) = choice(key, &cases, &best_of_year) else { continue };
        numbers.push(order.get(&key).copied().unwrap_or_default());
        chances.push(by_year);
        all.push(found);
    }
    let columns = columns(&chances, axes.years.len(), rule);
    let groups = groups(&columns, all.len(), rule.confidence);
    let regrets: Vec<Good> = all.iter().map(|one| good(-one.greatest_regret)).collect();
    let plain = columns.iter().map(|column| column.plain.as_slice()).chain([regrets.as_slice()]);
    let levels: Vec<Vec<usize>> = plain.map(levels).collect();
    let mut sorted: Vec<_> = all
        .into_iter()
        .zip(groups)
        .zip(numbers)
        .enumerate()
        .map(|(index, ((choice, (group, _)), number))| {
            let place: Vec<_> = levels.iter().map(|level| level.get(index).copied()).collect();
            ((group, place, number), SeasonChoice { group, ..choice })
        })
        .collect();
    sorted.sort_by(|(a, _), (b, _)| a.cmp(b));
    sorted.into_iter().map(|(_, choice)| choice).collect()
}

/// The worst tenth and the mean of all choices, plain and in each drawing of years.
///
/// # Arguments
///
/// `chances`: of each choice, year by year.
fn columns(chances: &[Vec<f64>], years: usize, rule: ChoiceRule) -> Vec<Column> {
    let figures = |picked: &[usize]| -> [Vec<Good>; 2] {
        let (mut worst, mut mean) = (Vec::new(), Vec::new());
        for by_year in chances {
            let drawn: Vec<f64> =
                picked.iter().filter_map(|&year| by_year.get(year).copied()).collect();
            worst.push(good(worst_tenth(&drawn)));
            mean.push(good(mean_of(&drawn)));
        }
        [worst, mean]
    };
    let mut columns: Vec<Column> = figures(&(0..years).collect::<Vec<_>>())
        .into_iter()
        .map(|plain| Column { plain, drawn: Vec::new(), indifference: rule.indifference })
        .collect();
    if years > 1 {
        for draw in 0..DRAWS {
            let mut rng = ChaCha8Rng::seed_from_u64(rule.seed ^ STREAM);
            rng.set_stream(draw);
            let picked: Vec<usize> = (0..years).map(|_| rng.random_range(0..years)).collect();
            for (column, goods) in columns.iter_mut().zip(figures(&picked)) {
                column.drawn.push(goods);
            }
        }
    }
    columns
}

fn good(value: f64) -> Good {
    Good { value, size: value.abs() }
}

fn mean_of(chances: &[f64]) -> f64 {
    chances.iter().sum::<f64>() / chances.len().max(1) as f64
}

/// The mean chance of the worst tenth, at least of the worst.
fn worst_tenth(chances: &[f64]) -> f64 {
    let mut losses: Vec<f64> = chances.iter().map(|chance| -chance).collect();
    losses.sort_by(f64::total_cmp);
    expected_shortfall(&losses, 0.9).map_or(0.0, |loss| -loss)
}

/// The standard error of the mean over years, from their scatter; nothing of one year.
fn error_of_mean(chances: &[f64]) -> Option<f64> {
    let count = chances.len();
    if count < 2 {
        return None;
    }
    let mean = mean_of(chances);
    let squares: f64 = chances.iter().map(|chance| (chance - mean).powi(2)).sum();
    Some((squares / (count - 1) as f64 / count as f64).sqrt())
}

/// Craft, port, day and policy.
type Key<'a> = (&'a str, &'a str, &'a str, &'a str);

fn choice(
    (craft, port, day, policy): Key<'_>,
    cases: &[&SeasonCase],
    best_of_year: &BTreeMap<&str, f64>,
) -> Option<SeasonChoice> {
    let regret = |case: &SeasonCase| {
        best_of_year.get(case.year.as_str()).copied().unwrap_or(0.0) - case.attainment()
    };
    // The first of equals, in the order of the years.
    let worst = cases
        .iter()
        .copied()
        .reduce(|worst, case| if case.attainment() < worst.attainment() { case } else { worst })?;
    let sorest = cases
        .iter()
        .copied()
        .reduce(|sorest, case| if regret(case) > regret(sorest) { case } else { sorest })?;
    let chances: Vec<f64> = cases.iter().map(|case| case.attainment()).collect();
    let outcomes = || cases.iter().filter_map(|case| case.outcome.as_ref().map(|one| (case, one)));
    let least = |figures: &mut dyn Iterator<Item = f64>| figures.reduce(f64::min);
    let days = |from: jiff::Timestamp, to: jiff::Timestamp| {
        (to.as_millisecond() - from.as_millisecond()) as f64 / 86_400_000.0
    };
    Some(SeasonChoice {
        craft: craft.to_owned(),
        port: port.to_owned(),
        day: day.to_owned(),
        policy: policy.to_owned(),
        feasible_years: outcomes().count() as u32,
        group: 0,
        mean: mean_of(&chances),
        mean_error: error_of_mean(&chances),
        worst_tenth: worst_tenth(&chances),
        worst_year: worst.year.clone(),
        greatest_regret: regret(sorest),
        regret_year: sorest.year.clone(),
        least_margin_t: least(&mut outcomes().map(|(_, one)| one.margin_t)),
        longest_d: outcomes().map(|(case, one)| days(case.depart, one.back)).reduce(f64::max),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axes(years: &[&str], days: &[&str]) -> SeasonAxes {
        let owned = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect();
        SeasonAxes {
            years: owned(years),
            crafts: owned(&["A"]),
            ports: owned(&["Haven"]),
            days: owned(days),
            policies: owned(&["hold"]),
        }
    }

    fn case(year: &str, day: &str, attainment: Option<f64>) -> SeasonCase {
        let at = |text: &str| text.parse().unwrap();
        SeasonCase {
            case: 0,
            year: year.to_owned(),
            craft: "A".to_owned(),
            port: "Haven".to_owned(),
            day: day.to_owned(),
            policy: "hold".to_owned(),
            depart: at("2027-01-01T00:00Z"),
            seed: 1,
            outcome: attainment.map(|attainment| dipward_plugin::SeasonOutcome {
                sought: "earliest arrival".to_owned(),
                home_to: "Haven".to_owned(),
                arrive: at("2027-01-05T00:00Z"),
                leave: at("2027-01-08T00:00Z"),
                back: at("2027-01-12T12:00Z"),
                distance_km: 1000.0,
                duration_h: 96.0,
                out_t: 50.0,
                station_t: 5.0,
                home_t: 50.0,
                margin_t: 100.0 * attainment,
                attainment,
                attainment_low: attainment,
                attainment_high: attainment,
                if_holding: attainment,
                if_clairvoyant: 1.0,
                expected_closest_km: 5.0,
                worst_tenth_closest_km: 9.0,
                half_attained_d: None,
                minimum_rio: None,
                hours_elevated: 0.0,
            }),
            reason: attainment.is_none().then(|| "ice".to_owned()),
        }
    }

    const RULE: ChoiceRule = ChoiceRule { indifference: 0.01, confidence: 0.9, seed: 1 };

    /// Days with a chance in each of some years.
    fn study(days: &[(&str, &[f64])]) -> Vec<SeasonChoice> {
        let count = days[0].1.len();
        let years: Vec<String> = (0..count).map(|year| year.to_string()).collect();
        let years: Vec<&str> = years.iter().map(String::as_str).collect();
        let names: Vec<&str> = days.iter().map(|(name, _)| *name).collect();
        let cases: Vec<SeasonCase> = years
            .iter()
            .enumerate()
            .flat_map(|(at, year)| {
                days.iter().map(move |(day, all)| case(year, day, Some(all[at])))
            })
            .collect();
        choices(&axes(&years, &names), &cases, RULE)
    }

    fn groups_of(found: &[SeasonChoice]) -> Vec<(&str, u32)> {
        found.iter().map(|one| (one.day.as_str(), one.group)).collect()
    }

    #[test]
    fn years_that_disagree_tell_no_choice_apart() {
        // 96 against 95 hundredths on the mean, and each is ahead in half of the years.
        let early = [0.99, 0.93, 0.98, 0.94, 0.97, 0.95];
        let late = [0.93, 0.97, 0.94, 0.97, 0.93, 0.96];
        let found = study(&[("late", &late), ("early", &early)]);
        assert_eq!(groups_of(&found), [("early", 1), ("late", 1)]);
        // By hand: the squares about 0.96 sum to 0.0028; divided by 5 and by 6, the root.
        assert!((found[0].mean_error.unwrap() - (0.0028_f64 / 30.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_lead_in_every_year_is_one_and_years_alone_are_not_enough_if_it_does_not_count() {
        let good = [0.9, 0.5, 0.7, 0.8, 0.6, 0.9];
        let less = good.map(|chance| chance - 0.05);
        let close = good.map(|chance| chance - 0.01);
        let found = study(&[("less", &less), ("close", &close), ("good", &good)]);
        assert_eq!(groups_of(&found), [("good", 1), ("close", 1), ("less", 2)]);
    }

    #[test]
    fn one_year_has_no_error() {
        let found = study(&[("a", &[0.5]), ("b", &[0.9]), ("c", &[0.895])]);
        assert_eq!(groups_of(&found), [("b", 1), ("c", 1), ("a", 2)]);
        assert_eq!(found[0].mean_error, None);
    }

    /// Two days over three years, by hand.
    #[test]
    fn the_robust_day_and_the_day_of_least_regret_may_differ() {
        let cases = [
            case("1", "early", Some(0.9)),
            case("1", "late", Some(0.4)),
            case("2", "early", Some(0.9)),
            case("2", "late", Some(0.5)),
            case("3", "early", None),
            case("3", "late", Some(0.3)),
        ];
        let found = choices(&axes(&["1", "2", "3"], &["early", "late"]), &cases, RULE);
        let [late, early] = &found[..] else { panic!("{found:?}") };
        assert_eq!((late.day.as_str(), early.day.as_str()), ("late", "early"));
        assert!((late.worst_tenth - 0.3).abs() < 1e-12 && early.worst_tenth == 0.0);
        assert!((late.mean - 0.4).abs() < 1e-12 && (early.mean - 0.6).abs() < 1e-12);
        assert_eq!((late.worst_year.as_str(), early.worst_year.as_str()), ("3", "3"));
        assert!((late.greatest_regret - 0.5).abs() < 1e-12 && late.regret_year == "1");
        assert!((early.greatest_regret - 0.3).abs() < 1e-12 && early.regret_year == "3");
        assert_eq!((early.feasible_years, late.feasible_years), (2, 3));
        assert_eq!(early.least_margin_t, Some(90.0));
        assert_eq!(late.longest_d, Some(11.5));
    }

    #[test]
    fn a_choice_without_all_its_years_is_none() {
        let axes = axes(&["1", "2"], &["early"]);
        assert!(choices(&axes, &[case("1", "early", Some(0.5))], RULE).is_empty());
        let both = [case("1", "early", None), case("2", "early", None)];
        let found = choices(&axes, &both, RULE);
        assert_eq!((found[0].mean, found[0].least_margin_t), (0.0, None));
    }
}
