//! The result of a study in sentences, for the page and for the terminal.

use dipward_plugin::{SeasonChoice, SeasonReport};

use crate::figures::{clean, fixed, percent};

/// What was asked, the robust choice first, the choice of least regret, the best on the mean.
pub(super) fn summary(report: &SeasonReport) -> Vec<String> {
    let axes = &report.axes;
    let count = |names: &[String], one: &str, many: &str| {
        format!("{} {}", names.len(), if names.len() == 1 { one } else { many })
    };
    let mut told = vec![format!(
        "{} cases: {}, {}, {}, {} of departure and {}. What a planner decides is judged by how it fares \
         over the years, which nobody decides; a year without a feasible approach counts as no chance. All \
         cases of a year meet the same random pole tracks, so that choices are compared on common draws; each \
         year has draws of its own.",
        report.cases.len(),
        count(&axes.years, "year", "years"),
        count(&axes.crafts, "craft", "craft"),
        count(&axes.ports, "port", "ports"),
        count(&axes.days, "day", "days"),
        count(&axes.policies, "policy", "policies"),
    )];
    let best = |better: fn(&SeasonChoice, &SeasonChoice) -> bool| {
        // The first of equals, which is the more robust one.
        report.choices.iter().reduce(|best, one| if better(one, best) { one } else { best })
    };
    let (Some(robust), Some(sparing), Some(mean)) = (
        report.choices.first(),
        best(|one, best| one.greatest_regret < best.greatest_regret),
        best(|one, best| one.mean > best.mean),
    ) else {
        return told;
    };
    if mean.mean == 0.0 {
        told.push("No choice has any chance in any year.".to_owned());
        return told;
    }
    told.push(format!(
        "Robust choice: {}. In the worst tenth of the years its chance is {}, on the mean of all years {}; \
         its worst year is {}.",
        named(robust),
        percent(robust.worst_tenth),
        mean_in_words(robust),
        clean(&robust.worst_year)
    ));
    told.extend(apart(report, robust));
    told.push(if sparing == robust {
        format!("It is also the choice of least regret: {}.", regret(sparing))
    } else {
        format!(
            "Least regret: {}: {}. In the worst tenth its chance is {}.",
            named(sparing),
            regret(sparing),
            percent(sparing.worst_tenth)
        )
    });
    if mean != robust {
        told.push(format!(
            "Best on the mean of the years: {} with {}; in the worst tenth its chance is {}.",
            named(mean),
            mean_in_words(mean),
            percent(mean.worst_tenth)
        ));
    }
    told
}

/// "62 % (standard error 4 hundredths, by the scatter of the years)".
fn mean_in_words(choice: &SeasonChoice) -> String {
    let mean = percent(choice.mean);
    choice.mean_error.map_or_else(
        || mean.clone(),
        |error| {
            let hundredths = fixed(error * 100.0, 1);
            format!("{mean} (standard error {hundredths} hundredths, by the scatter of the years)")
        },
    )
}

/// What the years tell of the first choice and of the others.
fn apart(report: &SeasonReport, robust: &SeasonChoice) -> Option<String> {
    let others = report.choices.iter().filter(|one| one.group == robust.group).count() - 1;
    if robust.group == 0 || report.choices.len() < 2 {
        return None;
    }
    let limit = fixed(report.indifference * 100.0, 1);
    if report.axes.years.len() < 2 {
        return Some(format!(
            "One year tells nothing of others: {others} further choices lie within {limit} hundredths of it \
             in that year, which is no more than that year's figures say."
        ));
    }
    let confidence = percent(report.confidence);
    Some(match others {
        0 => format!(
            "The years tell it apart from all other choices: each is behind it by more than {limit} hundredths \
             in the worst tenth, or on the mean, in {confidence} or more of the drawings of the years anew."
        ),
        _ => format!(
            "The years do not tell it apart from {others} of the other {}: in the worst tenth and then on the \
             mean these are not behind the best of those left by more than {limit} hundredths with a confidence \
             of {confidence}, the years drawn anew as wholes. They are group 1.",
            report.choices.len() - 1
        ),
    })
}

fn regret(choice: &SeasonChoice) -> String {
    if choice.greatest_regret <= 0.0 {
        return "no other choice is better in any year".to_owned();
    }
    format!(
        "in no year is the best choice more than {} hundredths above it, and that is in {}",
        fixed(choice.greatest_regret * 100.0, 0),
        clean(&choice.regret_year)
    )
}

fn named(choice: &SeasonChoice) -> String {
    let SeasonChoice { craft, port, day, policy, .. } = choice;
    clean(&format!("{craft} from {port} on {day}, policy {policy}"))
}
