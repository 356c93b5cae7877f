//! Fuel, risk and ice along the routes.

use dipward_plugin::{Approach, Profile, Report, Warning};

use super::{
    markup::Markup,
    plot::{Axis, Chart, Level, Series},
};
use crate::{
    figures::{fixed, hours_between, instant_in_words, percent, place},
    paint::LineStyle,
    shown::Shown,
};

/// Ice is drawn apart from the risk index by more than its place.
const ICE: LineStyle = LineStyle { colour: "#4f6b87", dashes: "none" };

/// A card for each approach shown.
pub(super) fn section(page: &mut Markup, report: &Report, shown: &[Shown<'_>]) {
    page.within("section id=\"along\"", |page| {
        page.element("h2", "Fuel, risk and ice along each route");
        page.element(
            "p",
            "Days run from the departure; the grey band is the time on station. The risk index \
             outcome (RIO) is that of the Polar Code's POLARIS method: below 0 the operation is \
             subject to elevated risk, and gaps are where it has no \
             meaning or the ice is unknown.",
        );
        let hidden = report.ranking.approaches.len() - shown.len();
        if hidden > 0 {
            page.element(
                "p",
                &format!("{} are plotted; ranking.json holds all.", counted(shown.len())),
            );
        }
        page.within("div class=\"cards\"", |page| {
            for route in shown {
                page.within("article class=\"card\"", |page| card(page, report, route));
            }
        });
    });
}

fn counted(approaches: usize) -> String {
    if approaches == 1 { "One approach".to_owned() } else { format!("{approaches} approaches") }
}

/// "H under 6000 nT: from 12 Jan, 06:00 UTC at 62.31° S, 140.20° E, for 480 km out and home."
fn warned(warning: &Warning) -> String {
    format!(
        "{}: from {} UTC at {}, for {} km out and home.",
        warning.text,
        instant_in_words(warning.time),
        place(warning.latitude_deg, warning.longitude_deg),
        fixed(warning.distance_km, 0)
    )
}

fn card(page: &mut Markup, report: &Report, route: &Shown<'_>) {
    let approach = route.approach;
    page.element("h3", &format!("{}. {}", approach.rank, approach.id));
    page.element("p", &facts(approach));
    if !approach.on_station.is_empty() {
        page.element("p", &format!("On station: {}.", approach.on_station.trim_end_matches('.')));
    }
    if !approach.trade.is_empty() {
        let trade = approach.trade.trim_end_matches('.');
        page.element("p", &format!("Against the best of its departure: {trade}."));
    }
    if !approach.warnings.is_empty() {
        page.within("ul class=\"warnings\"", |page| {
            for warning in &approach.warnings {
                page.element("li", &warned(warning));
            }
        });
    }
    match report.profiles.get(&approach.id).filter(|profile| !profile.hour.is_empty()) {
        Some(profile) => {
            page.within("div class=\"charts\"", |page| {
                for chart in charts(approach, profile, route.line) {
                    page.drawing(&chart.draw());
                }
            });
        }
        None => page.element("p class=\"note\"", "No samples along this route."),
    }
}

fn facts(approach: &Approach) -> String {
    format!(
        "From {} on {} UTC, sought as {}: at the mean pole on {} UTC after {} km, home in {} on {} UTC. \
         Chance {}.",
        approach.from,
        instant_in_words(approach.depart),
        approach.sought,
        instant_in_words(approach.arrive),
        fixed(approach.distance_km, 0),
        approach.home_to,
        instant_in_words(approach.back),
        percent(approach.attainment.probability),
    )
}

fn charts(approach: &Approach, profile: &Profile, line: LineStyle) -> Vec<Chart> {
    let end_h = profile.hour.iter().copied().filter(|hour| hour.is_finite()).fold(0.0, f64::max);
    let arrive_h = hours_between(approach.depart, approach.arrive);
    let leave_h = hours_between(approach.depart, approach.leave);
    let chart = |title: String, y: Axis, values: Vec<Option<f64>>, line: LineStyle| Chart {
        title,
        x: Axis::of("days from departure", 0.0, end_h / 24.0, false),
        y,
        series: vec![Series {
            points: profile.hour.iter().map(|hour| hour / 24.0).zip(values).collect(),
            line,
            stepped: false,
        }],
        bands: vec![(arrive_h / 24.0, leave_h / 24.0, "station".to_owned())],
        levels: Vec::new(),
        height: 110.0,
    };
    let fuel = &approach.fuel_t;
    let usable = fuel.capacity - fuel.reserve;
    let burnt = profile.fuel_used_t.iter().copied().filter(|fuel| fuel.is_finite());
    let most = burnt.fold(fuel.capacity.max(1.0), f64::max);
    let mut fuel_chart = chart(
        "Fuel used, t".to_owned(),
        Axis::of("t", 0.0, most, true),
        profile.fuel_used_t.iter().copied().map(Some).collect(),
        line,
    );
    fuel_chart.levels = vec![
        Level::named_above(fuel.capacity, format!("capacity {} t", fixed(fuel.capacity, 0))),
        Level::named_below(usable, format!("less reserve {} t", fixed(usable, 0))),
    ];
    let mut all = vec![fuel_chart];

    let known = |values: &[Option<f64>]| {
        values.iter().flatten().copied().filter(|value| value.is_finite()).collect::<Vec<_>>()
    };
    let risk = known(&profile.risk_index);
    if !risk.is_empty() {
        let low = risk.iter().copied().fold(-10.0, f64::min);
        let high = risk.iter().copied().fold(10.0, f64::max);
        let mut risk_chart = chart(
            "Risk index outcome (RIO)".to_owned(),
            Axis::of("RIO", low, high, true),
            profile.risk_index.clone(),
            line,
        );
        risk_chart.levels = vec![Level::named_below(0.0, "elevated risk".to_owned())];
        all.push(risk_chart);
    }
    if !known(&profile.ice_concentration).is_empty() {
        let tenths = profile.ice_concentration.iter().map(|share| share.map(|share| share * 10.0));
        all.push(chart(
            "Sea ice, tenths".to_owned(),
            Axis::of("tenths", 0.0, 10.0, true),
            tenths.collect(),
            ICE,
        ));
    }
    all
}
