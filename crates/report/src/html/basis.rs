//! What the result rests on: the pole, rejections, assumptions, layers and provenance.

use dipward_plugin::Report;

use super::markup::{Cell, Markup};
use crate::figures::{
    NONE, compass, date, fixed, instant, instant_in_words, latitude, longitude, percent, place,
};

/// The mean pole, its drift and how far it strays.
pub(super) fn pole(page: &mut Markup, report: &Report) {
    let summary = &report.ranking.pole;
    page.within("section id=\"pole\"", |page| {
        page.element("h2", "The pole");
        page.element(
            "p",
            &format!(
                "The {} dip pole of {} lies at {}, {} on {} UTC and drifts by {} km a year toward {}° ({}).",
                summary.hemisphere,
                summary.model,
                latitude(summary.latitude_deg, 3),
                longitude(summary.longitude_deg, 3),
                instant_in_words(summary.epoch),
                fixed(summary.drift_km_per_year, 1),
                fixed(summary.drift_bearing_deg, 0),
                compass(summary.drift_bearing_deg),
            ),
        );
        let track = &report.pole.mean_track;
        if let (Some((start, from)), Some((end, to))) = (track.first(), track.last()) {
            page.element(
                "p",
                &format!(
                    "From {} to {} the mean pole moves from {} to {}.",
                    date(*start),
                    date(*end),
                    place(from.y(), from.x()),
                    place(to.y(), to.x()),
                ),
            );
        }
        let ellipses = [report.pole.ellipse_50, report.pole.ellipse_95];
        let rows: Vec<Vec<Cell>> = ellipses
            .iter()
            .flatten()
            .map(|ellipse| {
                vec![
                    Cell::Words(percent(ellipse.probability)),
                    Cell::Words(place(ellipse.centre.y(), ellipse.centre.x())),
                    Cell::Number(fixed(ellipse.semi_major_km, 1)),
                    Cell::Number(fixed(ellipse.semi_minor_km, 1)),
                    Cell::Number(fixed(ellipse.bearing_deg, 0)),
                ]
            })
            .collect();
        if !rows.is_empty() {
            page.element("h3", "Ellipses of the instantaneous pole");
            page.table(
                &["Holds", "Centre", "Half long axis, km", "Half short axis, km", "Long axis, ° true"],
                &rows,
            );
        }
    });
}

/// What was tried and is no approach.
pub(super) fn rejected(page: &mut Markup, report: &Report) {
    page.within("section id=\"rejected\"", |page| {
        page.element("h2", "Rejected");
        let rejected = &report.ranking.rejected;
        if rejected.is_empty() {
            page.element("p", "Nothing that was tried was rejected.");
            return;
        }
        let rows: Vec<Vec<Cell>> = rejected
            .iter()
            .map(|rejected| {
                vec![
                    Cell::Words(rejected.from.clone()),
                    Cell::Words(instant(rejected.depart)),
                    Cell::Words(rejected.reason.clone()),
                ]
            })
            .collect();
        page.table(&["From", "Depart, UTC", "Reason"], &rows);
    });
}

/// What nobody measured for this voyage.
pub(super) fn assumptions(page: &mut Markup, report: &Report) {
    page.within("section id=\"assumptions\"", |page| {
        page.element("h2", "Assumptions");
        if report.ranking.assumptions.is_empty() {
            page.element("p", "No part of the plan states an assumption.");
            return;
        }
        let rows: Vec<Vec<Cell>> = report
            .ranking
            .assumptions
            .iter()
            .map(|assumption| {
                vec![Cell::Words(assumption.part.clone()), Cell::Words(assumption.text.clone())]
            })
            .collect();
        page.table(&["Part", "Assumption"], &rows);
    });
}

/// The chart's layers with coverage and age.
pub(super) fn layers(page: &mut Markup, report: &Report) {
    page.within("section id=\"layers\"", |page| {
        page.element("h2", "Layers of the chart");
        if report.layers.is_empty() {
            page.element("p", "The chart has no layers.");
            return;
        }
        page.element("p", "Where two layers cover a cell, the one that stands first wins.");
        let rows: Vec<Vec<Cell>> = report
            .layers
            .iter()
            .map(|layer| {
                let span = |(first, last)| format!("{} to {}", instant(first), instant(last));
                let age = |hours: f64| format!("{} days", fixed(hours / 24.0, 1));
                let licence = layer.provenance.licence.clone();
                vec![
                    Cell::Words(format!("{} ({})", layer.name, layer.kind)),
                    Cell::Number(percent(layer.coverage)),
                    Cell::Words(layer.instants.map_or_else(|| "does not change".to_owned(), span)),
                    Cell::Words(layer.age_at_end_h.map_or_else(|| NONE.to_owned(), age)),
                    Cell::Words(format!("{}: {}", layer.provenance.name, layer.provenance.source)),
                    Cell::Words(licence.unwrap_or_else(|| NONE.to_owned())),
                ]
            })
            .collect();
        page.table(
            &[
                "Layer",
                "Chart covered",
                "Data, UTC",
                "Age at the window's end",
                "Source",
                "Licence",
            ],
            &rows,
        );
    });
}

/// How to get the same result again. No timings: they would make the page differ from run to run.
pub(super) fn provenance(page: &mut Markup, report: &Report) {
    page.within("section id=\"provenance\"", |page| {
        page.element("h2", "Provenance");
        let run = &report.run;
        page.element(
            "p",
            &format!(
                "dipward {}, seed {}, field model {}.",
                report.ranking.dipward_version, report.ranking.seed, report.ranking.pole.model
            ),
        );
        if !run.counts.is_empty() {
            let counts: Vec<String> =
                run.counts.iter().map(|(name, count)| format!("{name} {count}")).collect();
            page.element("p", &format!("Size: {}.", counts.join(", ")));
        }
        let rows: Vec<Vec<Cell>> = run
            .inputs_sha256
            .iter()
            .map(|(name, hash)| vec![Cell::Words(name.clone()), Cell::Words(hash.clone())])
            .collect();
        if !rows.is_empty() {
            page.within("div class=\"hashes\"", |page| {
                page.table(&["Input", "SHA-256"], &rows);
            });
        }
        if !report.resolved_scenario.trim().is_empty() {
            page.within("details", |page| {
                page.element("summary", "The scenario with every default written out");
                page.within("pre", |page| {
                    for line in report.resolved_scenario.lines() {
                        page.text(line);
                        page.own("\n");
                    }
                });
            });
        }
    });
}
