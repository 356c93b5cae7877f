//! Heat maps of attainment: departure days down, years across, a colour and a number in each cell.

use std::collections::BTreeMap;

use dipward_plugin::{SeasonCase, SeasonReport};

use crate::{
    figures::{fixed, plain},
    html::{Cell, Markup},
};

/// The cells of a scale of eleven colours, from no chance to certainty, and that of no approach.
const STEPS: [&str; 11] = [
    "heat h0", "heat h1", "heat h2", "heat h3", "heat h4", "heat h5", "heat h6", "heat h7",
    "heat h8", "heat h9", "heat h10",
];
const NO_APPROACH: &str = "heat none";

/// All heat maps: one for each craft, port and policy.
pub(super) fn section(page: &mut Markup, report: &SeasonReport) {
    let axes = &report.axes;
    let mut cases: BTreeMap<[&str; 5], &SeasonCase> = BTreeMap::new();
    for case in &report.cases {
        cases.insert([&case.craft, &case.port, &case.policy, &case.day, &case.year], case);
    }
    page.within("section id=\"heat\"", |page| {
        page.element("h2", "Attainment by departure day and year");
        page.element(
            "p",
            &format!(
                "The chance, in hundredths, of coming within {} km of the pole for {} h, by the best \
                 approach of each departure. A dash: no approach is feasible.",
                plain(report.within_km),
                plain(report.for_h),
            ),
        );
        legend(page);
        page.within("div class=\"heatmaps\"", |page| {
            for craft in &axes.crafts {
                for port in &axes.ports {
                    for policy in &axes.policies {
                        map(page, report, &cases, [craft, port, policy]);
                    }
                }
            }
        });
    });
}

fn map(
    page: &mut Markup,
    report: &SeasonReport,
    cases: &BTreeMap<[&str; 5], &SeasonCase>,
    [craft, port, policy]: [&str; 3],
) {
    let axes = &report.axes;
    let shade_of =
        |day: &str, year: &str| shade(cases.get(&[craft, port, policy, day, year]).copied());
    let rows: Vec<Vec<Cell>> = axes
        .days
        .iter()
        .map(|day| {
            let cells = axes.years.iter().map(|year| shade_of(day, year));
            std::iter::once(Cell::Words(day.clone())).chain(cells).collect()
        })
        .collect();
    let years = axes.years.iter().map(String::as_str);
    let headings: Vec<&str> = std::iter::once("Departure").chain(years).collect();
    page.within("div class=\"wide\"", |page| {
        page.element("h3", &format!("{craft} from {port}: {policy}"));
        page.grid("table class=\"heatmap\"", &headings, &rows);
    });
}

fn legend(page: &mut Markup) {
    let cells: Vec<Cell> = STEPS
        .iter()
        .enumerate()
        .map(|(step, class)| Cell::Classed(class, (step * 10).to_string()))
        .chain([Cell::Classed(NO_APPROACH, "–".to_owned())])
        .collect();
    page.within("div class=\"wide\"", |page| {
        page.grid("table class=\"heatmap shades\" aria-label=\"Scale\"", &[], &[cells]);
    });
}

fn shade(case: Option<&SeasonCase>) -> Cell {
    match case.and_then(|case| case.outcome.as_ref()) {
        None => Cell::Classed(NO_APPROACH, "–".to_owned()),
        Some(outcome) => {
            let step = (outcome.attainment * 10.0).round().clamp(0.0, 10.0) as usize;
            let class = STEPS.get(step).copied().unwrap_or(NO_APPROACH);
            Cell::Classed(class, fixed(outcome.attainment * 100.0, 0))
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use dipward_plugin::SeasonOutcome;

    use super::*;

    /// An invented case.
    pub(crate) fn case(year: &str, day: &str, attainment: Option<f64>) -> SeasonCase {
        let at = |text: &str| text.parse().unwrap();
        SeasonCase {
            case: 0,
            year: year.to_owned(),
            craft: "RV Aster".to_owned(),
            port: "Haven".to_owned(),
            day: day.to_owned(),
            policy: "hold".to_owned(),
            depart: at("2027-01-08T00:00Z"),
            seed: 17,
            outcome: attainment.map(|attainment| SeasonOutcome {
                sought: "earliest arrival".to_owned(),
                home_to: "Haven".to_owned(),
                arrive: at("2027-01-15T03:30Z"),
                leave: at("2027-01-20T00:00Z"),
                back: at("2027-01-29T00:00Z"),
                distance_km: 2500.25,
                duration_h: 171.5,
                out_t: 210.0,
                station_t: 31.0,
                home_t: 220.0,
                margin_t: 120.0,
                attainment,
                attainment_low: attainment * 0.9,
                attainment_high: attainment * 1.05,
                if_holding: attainment * 0.8,
                if_clairvoyant: 1.0,
                expected_closest_km: 4.5,
                worst_tenth_closest_km: 14.25,
                half_attained_d: Some(2.5),
                minimum_rio: None,
                hours_elevated: 12.0,
            }),
            reason: attainment.is_none().then(|| "no open way".to_owned()),
        }
    }

    #[test]
    fn colours_and_numbers_go_together() {
        let of = |attainment| match shade(Some(&case("2027", "01-08", attainment))) {
            Cell::Classed(class, text) => (class, text),
            other => panic!("{other:?}"),
        };
        assert_eq!(of(Some(0.0)), ("heat h0", "0".to_owned()));
        assert_eq!(of(Some(0.449)), ("heat h4", "45".to_owned()));
        assert_eq!(of(Some(1.0)), ("heat h10", "100".to_owned()));
        assert_eq!(of(None), ("heat none", "–".to_owned()));
    }
}
