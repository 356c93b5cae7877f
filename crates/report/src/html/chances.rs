//! Attainment over the days and on station.

use dipward_plugin::Report;

use super::{
    markup::{Cell, Markup},
    plot::{Axis, Chart, Series, swatch},
};
use crate::{
    figures::{NONE, fixed, hours_between, instant, percent, percent_within},
    paint::{INK, LineStyle},
    shown::Shown,
};

const CHANCE: LineStyle = LineStyle { colour: INK, dashes: "none" };

/// The two plots and the table of chances.
pub(super) fn section(page: &mut Markup, report: &Report, shown: &[Shown<'_>]) {
    page.within("section id=\"attainment\"", |page| {
        page.element("h2", "Attainment over the days");
        let within = fixed(report.pole.within_km, 0);
        page.element(
            "p",
            &format!(
                "The pole wanders by the day and with storms about its mean place. By day: the chance \
                 that it comes within {within} km of the mean pole on that day. On station: the chance \
                 that it has come within reach of the craft so far. A craft that knew the pole's track \
                 beforehand could do as well as the table says, and none better."
            ),
        );
        page.within("div class=\"plots\"", |page| {
            if let Some(chart) = by_day(report) {
                page.drawing(&chart.draw());
            }
            if let Some(chart) = on_station(report, shown) {
                page.drawing(&chart.draw());
            }
        });
        let rows: Vec<Vec<Cell>> = shown
            .iter()
            .map(|route| {
                let attainment = &route.approach.attainment;
                vec![
                    Cell::Marked(swatch(route.line), route.approach.rank.to_string()),
                    Cell::Words(route.approach.id.clone()),
                    Cell::Words(instant(route.approach.arrive)),
                    Cell::Words(instant(route.approach.leave)),
                    Cell::Number(percent_within(
                        attainment.probability,
                        attainment.low,
                        attainment.high,
                    )),
                    Cell::Number(percent(attainment.if_holding)),
                    Cell::Number(percent(attainment.if_clairvoyant)),
                    Cell::Number(fixed(attainment.within_km, 0)),
                    Cell::Number(fixed(attainment.median_closest_km, 1)),
                ]
            })
            .collect();
        if !rows.is_empty() {
            page.within("div class=\"wide\"", |page| {
            page.table(
                &[
                    "Rank",
                    "Approach",
                    "On station, UTC",
                    "Leaves, UTC",
                    "Chance (95 % interval)",
                    "If it kept to the mean pole",
                    "If it knew the pole's track",
                    "Within, km",
                    "Median closest, km",
                ],
                &rows,
            );
            });
        }
        stays(page, shown);
    });
}

/// How the stay goes over the members: hours, closest approach, first attainment.
fn stays(page: &mut Markup, shown: &[Shown<'_>]) {
    let rows: Vec<Vec<Cell>> = shown
        .iter()
        .map(|route| {
            let stay = &route.approach.stay;
            let closest = &stay.closest_km;
            let km = |value: f64| Cell::Number(fixed(value, 1));
            let days = |value: Option<f64>| {
                Cell::Number(value.map_or_else(|| NONE.to_owned(), |days| fixed(days, 1)))
            };
            vec![
                Cell::Marked(swatch(route.line), route.approach.rank.to_string()),
                Cell::Words(route.approach.id.clone()),
                Cell::Number(fixed(stay.served_h, 0)),
                Cell::Number(fixed(stay.within_h, 1)),
                km(closest.least),
                km(closest.tenth),
                km(closest.half),
                km(closest.nine_tenths),
                km(closest.most),
                km(closest.mean),
                km(closest.worst_tenth),
                days(stay.first_attained_d.tenth),
                days(stay.first_attained_d.half),
                days(stay.first_attained_d.nine_tenths),
            ]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    page.element("h3", "The stay over the ensemble");
    page.element(
        "p",
        "Hours served until the party leaves, and those with the pole within reach, on the mean of the \
         members. Closest approach: the member that comes closest, what a tenth, a half and nine tenths of \
         the members do not exceed, the one that stays farthest, the mean, and the mean of the worst \
         tenth. Attained by: days from the end of the ship's way out, at the pole or at a landing, by which \
         such a share of the members have attained; a dash where fewer ever do.",
    );
    page.within("div class=\"wide\"", |page| {
        page.table(
            &[
                "Rank",
                "Approach",
                "Served, h",
                "Within reach, h",
                "Closest, km",
                "A tenth within",
                "Half within",
                "Nine tenths within",
                "Farthest",
                "Mean",
                "Worst tenth",
                "A tenth attained by, d",
                "Half by, d",
                "Nine tenths by, d",
            ],
            &rows,
        );
    });
}

fn by_day(report: &Report) -> Option<Chart> {
    let days = &report.pole.chance_by_day;
    let (start, _) = *days.first()?;
    let (last, last_chance) = *days.last()?;
    let end = dipward_plugin::Clock::new(last).instant(24.0);
    let points = days
        .iter()
        .copied()
        .chain([(end, last_chance)])
        .map(|(day, chance)| (hours_between(start, day), Some(chance * 100.0)))
        .collect();
    Some(Chart {
        title: "Chance by day, %".to_owned(),
        x: Axis::of_dates("day, UTC", start, end),
        y: Axis::of("%", 0.0, 100.0, true),
        series: vec![Series { points, line: CHANCE, stepped: true }],
        bands: Vec::new(),
        levels: Vec::new(),
        height: 190.0,
    })
}

fn on_station(report: &Report, shown: &[Shown<'_>]) -> Option<Chart> {
    let mut longest_h: f64 = 0.0;
    let series: Vec<Series> = shown
        .iter()
        .filter_map(|route| {
            let curve = report.attainment_on_station.get(&route.approach.id)?;
            let (start, _) = *curve.first()?;
            let points: Vec<(f64, Option<f64>)> = curve
                .iter()
                .map(|(at, chance)| (hours_between(start, *at), Some(chance * 100.0)))
                .collect();
            longest_h = points.iter().map(|(hour, _)| *hour).fold(longest_h, f64::max);
            Some(Series { points, line: route.line, stepped: false })
        })
        .collect();
    if series.is_empty() {
        return None;
    }
    let best = shown.first().map(|route| percent(route.approach.attainment.probability));
    Some(Chart {
        title: match best {
            Some(best) => format!("Chance so far on station, % (the first ends at {best})"),
            None => "Chance so far on station, %".to_owned(),
        },
        x: Axis::of("hours on station", 0.0, longest_h.max(1.0), false),
        y: Axis::of("%", 0.0, 100.0, true),
        series,
        bands: Vec::new(),
        levels: Vec::new(),
        height: 190.0,
    })
}
