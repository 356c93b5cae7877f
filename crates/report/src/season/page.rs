//! `seasons.html`: one page, no network, no script.

use dipward_plugin::{SeasonChoice, SeasonReport};

use super::{heat, words};
use crate::{
    figures::{NONE, fixed, percent},
    html::{Cell, Markup, page_of},
};

/// Choices in the long table.
const SHOWN: usize = 20;

pub(super) fn page(report: &SeasonReport) -> String {
    page_of(&report.title, |page| {
        page.within("header", |page| {
            page.element("h1", &report.title);
            page.caution(&report.caution);
            for note in &report.notes {
                page.element("p class=\"note\"", note);
            }
        });
        summary(page, report);
        meeting(page, report);
        heat::section(page, report);
        all_choices(page, report);
        infeasible(page, report);
        basis(page, report);
    })
}

fn summary(page: &mut Markup, report: &SeasonReport) {
    page.within("section id=\"summary\"", |page| {
        page.element("h2", "Summary");
        for (index, sentence) in words::summary(report).iter().enumerate() {
            // The result comes after what was asked.
            page.element(if index == 1 { "p class=\"lead\"" } else { "p" }, sentence);
        }
    });
}

const HEADINGS: [&str; 12] = [
    "Group",
    "Craft",
    "Port",
    "Departure",
    "Policy",
    "Mean chance",
    "Its error",
    "Worst tenth",
    "Worst year",
    "Greatest regret",
    "Feasible years",
    "Least margin, t",
];

fn row(report: &SeasonReport, choice: &SeasonChoice) -> Vec<Cell> {
    vec![
        Cell::Number(choice.group.to_string()),
        Cell::Words(choice.craft.clone()),
        Cell::Words(choice.port.clone()),
        Cell::Words(choice.day.clone()),
        Cell::Words(choice.policy.clone()),
        Cell::Number(percent(choice.mean)),
        Cell::Number(
            choice.mean_error.map_or_else(|| NONE.to_owned(), |one| fixed(one * 100.0, 1)),
        ),
        Cell::Number(percent(choice.worst_tenth)),
        Cell::Words(choice.worst_year.clone()),
        Cell::Number(percent(choice.greatest_regret)),
        Cell::Number(format!("{} of {}", choice.feasible_years, report.axes.years.len())),
        Cell::Number(choice.least_margin_t.map_or_else(|| NONE.to_owned(), |t| fixed(t, 0))),
    ]
}

/// One line for each craft and port: the most robust departure from there.
fn meeting(page: &mut Markup, report: &SeasonReport) {
    let mut rows = Vec::new();
    for craft in &report.axes.crafts {
        for port in &report.axes.ports {
            let own = |choice: &&SeasonChoice| choice.craft == *craft && choice.port == *port;
            rows.extend(report.choices.iter().find(own).map(|choice| row(report, choice)));
        }
    }
    page.within("section id=\"meeting\"", |page| {
        page.element("h2", "For the meeting: the robust departure of each craft and port");
        page.element(
            "p",
            "Worst tenth: the mean chance over the worst tenth of the years, at least of the worst year. \
             Regret: what the best choice of a year has more. Margin: fuel left beyond the reserve. Group: \
             choices of one group are not told apart by the years. Its error: the standard error of the mean, in \
             hundredths, by the scatter of the years.",
        );
        page.within("div class=\"wide\"", |page| page.table(&HEADINGS, &rows));
    });
}

fn all_choices(page: &mut Markup, report: &SeasonReport) {
    page.within("section id=\"choices\"", |page| {
        page.element("h2", "Choices, group by group, the most robust first");
        let left = report.choices.len().saturating_sub(SHOWN);
        if left > 0 {
            page.element("p", &format!("The first {SHOWN}; {left} more stand in seasons.json."));
        }
        let rows: Vec<Vec<Cell>> =
            report.choices.iter().take(SHOWN).map(|choice| row(report, choice)).collect();
        page.within("div class=\"wide\"", |page| page.table(&HEADINGS, &rows));
    });
}

/// Where no approach is feasible: how often, and the reason of the first such case.
fn infeasible(page: &mut Markup, report: &SeasonReport) {
    let mut rows = Vec::new();
    for craft in &report.axes.crafts {
        for port in &report.axes.ports {
            let own =
                || report.cases.iter().filter(|case| case.craft == *craft && case.port == *port);
            let without: Vec<_> = own().filter(|case| case.outcome.is_none()).collect();
            if let Some(first) = without.first() {
                rows.push(vec![
                    Cell::Words(craft.clone()),
                    Cell::Words(port.clone()),
                    Cell::Number(format!("{} of {}", without.len(), own().count())),
                    Cell::Words(format!("{}, {}", first.year, first.day)),
                    Cell::Words(first.reason.clone().unwrap_or_default()),
                ]);
            }
        }
    }
    if rows.is_empty() {
        return;
    }
    page.within("section id=\"infeasible\"", |page| {
        page.element("h2", "Without a feasible approach");
        page.element("p", "The reason of the first such case; that of each stands in seasons.csv.");
        page.table(&["Craft", "Port", "Cases", "First", "Reason"], &rows);
    });
}

fn basis(page: &mut Markup, report: &SeasonReport) {
    page.within("section id=\"basis\"", |page| {
        page.element("h2", "What the study takes for granted");
        let mut rows = vec![vec![
            Cell::Words("station".to_owned()),
            Cell::Words(
                "all cases of a year meet one ensemble of pole tracks, so that differences between \
                 craft, ports, days and policies are not those of chance"
                    .to_owned(),
            ),
        ]];
        rows.extend(
            report
                .assumptions
                .iter()
                .map(|one| vec![Cell::Words(one.part.clone()), Cell::Words(one.text.clone())]),
        );
        page.table(&["Of", "Assumption"], &rows);
        page.element(
            "p class=\"note\"",
            &format!(
                "dipward {}, seed {}, study {}.",
                report.dipward_version, report.seed, report.study_sha256
            ),
        );
    });
}
