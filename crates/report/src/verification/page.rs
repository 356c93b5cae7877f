//! `verification.html`.

use dipward_field::verification::{HourScores, Knowing, LagCorrelation, Verification};

use super::reliability::diagram;
use crate::{
    figures::{NONE, date, fixed, percent, place},
    html::{Axis, Cell, Chart, Level, Markup, Series, page_of, swatch},
    paint::{LINES, LineStyle},
};

const MODEL: LineStyle = LINES[0];
const RECORD: LineStyle = LINES[1];
const MODEL_EAST: LineStyle = LineStyle { colour: MODEL.colour, dashes: "3 3" };
const RECORD_EAST: LineStyle = LineStyle { colour: RECORD.colour, dashes: "3 3" };

/// The page.
pub(super) fn page(caution: &str, told: &Verification) -> String {
    let title = format!("Verification at {}", told.station.name);
    page_of(&title, |page| {
        page.element("h1", &title);
        page.caution(caution);
        opening(page, told);
        hours(page, told);
        reliability(page, told);
        memory(page, told);
        by_kind(page, told);
        basis(page, told);
    })
}

fn opening(page: &mut Markup, told: &Verification) {
    let mut sentence = told.sentence();
    if let Some(first) = sentence.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    page.element("p class=\"lead\"", &format!("{sentence}."));
    let station = &told.station;
    let knowing = match told.knowing {
        Knowing::Scenario => "what the scenario knows of Kp",
        Knowing::Kp => "the Kp that was observed",
        Knowing::Climate => "the Kp of past years in the same season",
    };
    page.element(
        "p",
        &format!(
            "The record: {}, {}, from {} to {}. The model: {}, taken to know {knowing}, {} members, seed \
             {}, averaged as the record is.",
            station.name,
            place(station.latitude_deg, station.longitude_deg),
            date(told.first),
            date(told.last),
            told.disturbance,
            told.members,
            told.seed,
        ),
    );
    page.element(
        "p",
        "A region is right when it holds as much of the record as it says; less is too sure, more is too \
         wide. CRPS is how far the forecast of the perturbation's length is off, in nT; a table of month \
         and hour that the record itself makes is the least that a model must beat.",
    );
}

fn hours(page: &mut Markup, told: &Verification) {
    page.within("section id=\"hours\"", |page| {
        page.element("h2", "Model beside record");
        legend(page, &[(RECORD, "record"), (MODEL, "model")]);
        let kp: Vec<(f64, HourScores)> =
            told.by_kp.iter().map(|row| (f64::from(row.kp), row.scores)).collect();
        let hour: Vec<(f64, HourScores)> =
            told.by_hour.iter().map(|row| (f64::from(row.hour), row.scores)).collect();
        let month: Vec<(f64, HourScores)> =
            told.by_month.iter().map(|row| (f64::from(row.month), row.scores)).collect();
        page.within("div class=\"plots\"", |page| {
            let kinds = [
                ("Kp", Axis::of("Kp, rounded", 0.0, 9.0, false), &kp),
                ("hour", Axis::of("hour, UTC", 0.0, 23.0, false), &hour),
                ("month", Axis::of("month", 1.0, 12.0, false), &month),
            ];
            for (name, axis, rows) in &kinds {
                page.drawing(&coverage(name, axis.clone(), rows).draw());
            }
            for (name, axis, rows) in &kinds {
                page.drawing(&lengths(name, axis.clone(), rows).draw());
            }
        });
    });
}

fn legend(page: &mut Markup, lines: &[(LineStyle, &str)]) {
    let cells = lines.iter().map(|(line, words)| Cell::Marked(swatch(*line), (*words).to_owned()));
    page.grid("table", &[], &[cells.collect()]);
}

fn coverage(by: &str, x: Axis, rows: &[(f64, HourScores)]) -> Chart {
    let series = |share: fn(&HourScores) -> f64, line| Series {
        points: rows.iter().map(|(at, scores)| (*at, Some(100.0 * share(scores)))).collect(),
        line,
        stepped: false,
    };
    Chart {
        title: format!("In the regions for 95 % (whole) and 50 % (dotted) by {by}"),
        x,
        y: Axis::of("%", 0.0, 100.0, true),
        series: vec![
            series(|scores| scores.coverage_95, MODEL),
            series(|scores| scores.coverage_50, MODEL_EAST),
        ],
        bands: Vec::new(),
        levels: vec![
            Level::named_below(95.0, "95 %".to_owned()),
            Level::named_below(50.0, "50 %".to_owned()),
        ],
        height: 150.0,
    }
}

fn lengths(by: &str, x: Axis, rows: &[(f64, HourScores)]) -> Chart {
    let series = |length: fn(&HourScores) -> f64, line| Series {
        points: rows.iter().map(|(at, scores)| (*at, Some(length(scores)))).collect(),
        line,
        stepped: false,
    };
    let all = rows.iter().flat_map(|(_, scores)| [scores.mean_nt, scores.forecast_mean_nt]);
    Chart {
        title: format!("Mean length of the perturbation by {by}, nT"),
        x,
        y: Axis::of("nT", 0.0, all.fold(1.0, f64::max), true),
        series: vec![
            series(|scores| scores.forecast_mean_nt, MODEL),
            series(|scores| scores.mean_nt, RECORD),
        ],
        bands: Vec::new(),
        levels: Vec::new(),
        height: 150.0,
    }
}

fn reliability(page: &mut Markup, told: &Verification) {
    if told.events.is_empty() {
        return;
    }
    page.within("section id=\"reliability\"", |page| {
        page.element("h2", "Chances that the pole stays near");
        page.element(
            "p",
            "The chance told at each recorded hour that from then on the pole stays within so many km of \
             its mean, against how often it did. Marks on the broken line are right; below it too sure of \
             staying. The larger a mark, the more often such a chance was told.",
        );
        page.within("div class=\"maps\"", |page| {
            for event in &told.events {
                page.drawing(&diagram(event));
            }
        });
        let number = |value: f64, decimals| Cell::Number(fixed(value, decimals));
        let share = |value: Option<f64>| Cell::Number(value.map_or(NONE.to_owned(), percent));
        let rows: Vec<Vec<Cell>> = told
            .events
            .iter()
            .map(|event| {
                vec![
                    Cell::Number(event.within_km.to_string()),
                    Cell::Number(event.for_h.to_string()),
                    Cell::Number(event.starts.to_string()),
                    share(Some(event.forecast)),
                    share(Some(event.observed)),
                    number(event.brier, 3),
                    number(event.skill.unwrap_or(f64::NAN), 2),
                    number(event.calibration_error, 3),
                    Cell::Number(event.high.starts.to_string()),
                    share(event.high.observed),
                ]
            })
            .collect();
        page.within("div class=\"wide\"", |page| {
            page.table(
                &[
                    "Within, km",
                    "For, h",
                    "Starts",
                    "Told, mean",
                    "Happened",
                    "Brier score",
                    "Skill",
                    "Calibration error",
                    "Told 98.5 % or more",
                    "of these happened",
                ],
                &rows,
            );
        });
    });
}

fn memory(page: &mut Markup, told: &Verification) {
    if told.autocorrelation.is_empty() {
        return;
    }
    page.within("section id=\"memory\"", |page| {
        page.element("h2", "Memory");
        page.element(
            "p",
            "Correlation of the perturbation with itself some hours later, about the mean of the month and \
             the hour.",
        );
        legend(
            page,
            &[
                (RECORD, "record, north"),
                (RECORD_EAST, "record, east"),
                (MODEL, "model, north"),
                (MODEL_EAST, "model, east"),
            ],
        );
        type Part = fn(&LagCorrelation) -> Option<f64>;
        let series = |part: Part, line| Series {
            points: std::iter::once((0.0, Some(1.0)))
                .chain(told.autocorrelation.iter().map(|lag| (lag.lag_h, part(lag))))
                .collect(),
            line,
            stepped: false,
        };
        let parts: [(Part, LineStyle); 4] = [
            (|lag| lag.record_north, RECORD),
            (|lag| lag.record_east, RECORD_EAST),
            (|lag| lag.model_north, MODEL),
            (|lag| lag.model_east, MODEL_EAST),
        ];
        let all = parts.iter().flat_map(|(part, _)| told.autocorrelation.iter().filter_map(part));
        let low = all.fold(0.0, f64::min);
        let end = told.autocorrelation.last().map_or(24.0, |lag| lag.lag_h);
        let chart = Chart {
            title: "Autocorrelation".to_owned(),
            x: Axis::of("lag, h", 0.0, end, false),
            y: Axis::of("", low, 1.0, true),
            series: parts.into_iter().map(|(part, line)| series(part, line)).collect(),
            bands: Vec::new(),
            levels: Vec::new(),
            height: 180.0,
        };
        page.within("div class=\"plots\"", |page| page.drawing(&chart.draw()));
    });
}

fn by_kind(page: &mut Markup, told: &Verification) {
    page.within("section id=\"tables\"", |page| {
        page.element("h2", "In numbers");
        let kp = told.by_kp.iter().map(|row| (format!("Kp {}", row.kp), row.scores));
        let month = told.by_month.iter().map(|row| (format!("month {}", row.month), row.scores));
        let hour = told.by_hour.iter().map(|row| (format!("{:02} UTC", row.hour), row.scores));
        let rows: Vec<Vec<Cell>> = std::iter::once(("all".to_owned(), told.all))
            .chain(kp)
            .chain(month)
            .chain(hour)
            .map(|(name, scores)| {
                let share = |share: f64| Cell::Number(fixed(100.0 * share, 1));
                let length = |nt: f64| Cell::Number(fixed(nt, 1));
                vec![
                    Cell::Words(name),
                    Cell::Number(scores.hours.to_string()),
                    share(scores.coverage_95),
                    share(scores.coverage_50),
                    length(scores.mean_nt),
                    length(scores.forecast_mean_nt),
                    length(scores.crps_nt),
                ]
            })
            .collect();
        let headings = [
            "Hours of",
            "How many",
            "In the region for 95 %, %",
            "for 50 %, %",
            "Recorded length, nT",
            "Model's length, nT",
            "CRPS, nT",
        ];
        page.table(&headings, &rows);
        page.element(
            "p",
            &format!("CRPS of a table of month and hour: {} nT.", fixed(told.crps_climate_nt, 1)),
        );
    });
}

fn basis(page: &mut Markup, told: &Verification) {
    page.within("section id=\"basis\"", |page| {
        page.element("h2", "What it rests on");
        let pole = &told.pole;
        let [[nn, ne], [en, ee]] = pole.jacobian_nt_per_km;
        page.element(
            "p",
            &format!(
                "Kilometres by the Jacobian of the dip pole at {} in {}: {}, {} and {}, {} nT/km toward north \
                 and east.",
                place(pole.latitude_deg, pole.longitude_deg),
                fixed(pole.decimal_year, 2),
                fixed(nn, 2),
                fixed(ne, 2),
                fixed(en, 2),
                fixed(ee, 2)
            ),
        );
        if told.hours_without_kp > 0 {
            let hours = told.hours_without_kp;
            page.element("p", &format!("The Kp of {hours} selected hours is not in the history."));
        }
        page.within("ul", |page| {
            for remark in &told.remarks {
                page.element("li", remark);
            }
            for assumption in &told.assumptions {
                page.element("li", &format!("Assumed: {}", assumption.text));
            }
        });
    });
}
