//! What a planner decides against what nobody decides: choices by their worst years and their regret.

use std::collections::BTreeMap;

use dipward_plugin::{SeasonAxes, SeasonCase, SeasonChoice};

use crate::tail::expected_shortfall;

/// All choices of a study - craft, port, day and policy - with how they fare over its years, the most
/// robust first: by the worst tenth of the years, then by the mean, then by the greatest regret, then
/// in the order of the cases.
///
/// A year in which no approach is feasible counts as no chance. The regret of a choice in a year is
/// what the best choice of that year has more.
///
/// # Arguments
///
/// `cases`: all cases of the study. A choice that lacks a case for some year is left out.
#[must_use]
pub fn choices(axes: &SeasonAxes, cases: &[SeasonCase]) -> Vec<SeasonChoice> {
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
    let mut all: Vec<(usize, SeasonChoice)> = by_choice
        .into_iter()
        .filter(|(_, cases)| cases.len() == axes.years.len())
        .filter_map(|(key, cases)| {
            let number = order.get(&key).copied().unwrap_or_default();
            Some((number, choice(key, &cases, &best_of_year)?))
        })
        .collect();
    all.sort_by(|(a_number, a), (b_number, b)| {
        b.worst_tenth
            .total_cmp(&a.worst_tenth)
            .then_with(|| b.mean.total_cmp(&a.mean))
            .then_with(|| a.greatest_regret.total_cmp(&b.greatest_regret))
            .then_with(|| a_number.cmp(b_number))
    });
    all.into_iter().map(|(_, choice)| choice).collect()
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
    let mut losses: Vec<f64> = cases.iter().map(|case| -case.attainment()).collect();
    losses.sort_by(f64::total_cmp);
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
        mean: cases.iter().map(|case| case.attainment()).sum::<f64>() / cases.len() as f64,
        worst_tenth: -expected_shortfall(&losses, 0.9)?,
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
        let found = choices(&axes(&["1", "2", "3"], &["early", "late"]), &cases);
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
        assert!(choices(&axes, &[case("1", "early", Some(0.5))]).is_empty());
        let both = [case("1", "early", None), case("2", "early", None)];
        let found = choices(&axes, &both);
        assert_eq!((found[0].mean, found[0].least_margin_t), (0.0, None));
    }
}
