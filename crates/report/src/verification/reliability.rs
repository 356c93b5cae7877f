//! The reliability diagram: of the times when so much was told, how often it was so.

use dipward_field::verification::EventScores;
use geo::{Coord, coord};
use svg::{
    Document,
    node::element::{Circle, Group, Title},
};

use crate::{
    figures::{clean, fixed},
    paint::{FAINT_INK, FONTS, INK, LINES, RULE, path_data, stroke, tenth, text},
};

const WIDTH: f64 = 320.0;
const LEFT: f64 = 48.0;
const TOP: f64 = 42.0;
const SIDE: f64 = 256.0;
const HEIGHT: f64 = TOP + SIDE + 48.0;
const SIZE: f64 = 12.0;
/// Radii of the marks: the area grows with the share of the starts.
const LEAST_RADIUS: f64 = 3.0;
const GREATEST_RADIUS: f64 = 15.0;

/// Draws the diagram of an event: a mark a bin, its area by the share of the starts.
pub(super) fn diagram(event: &EventScores) -> Document {
    let title = format!("Within {} km for {} h", event.within_km, event.for_h);
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {} {}", tenth(WIDTH), tenth(HEIGHT)))
        .set("role", "img")
        .set("class", "plot")
        .set("font-family", FONTS)
        .add(Title::new(clean(&title)))
        .add(text(&title, coord! { x: 0.0, y: 14.0 }, 13.0, "start").set("font-weight", "bold"));
    for step in 0..=5 {
        let share = f64::from(step) / 5.0;
        let label = fixed(100.0 * share, 0);
        let (from, across) = (at(0.0, share), at(1.0, share));
        let (bottom, up) = (at(share, 0.0), at(share, 1.0));
        document = document
            .add(stroke(path_data(&[from, across], false), RULE, 0.6, "none"))
            .add(stroke(path_data(&[bottom, up], false), RULE, 0.6, "none"))
            .add(faint(&label, from + coord! { x: -16.0, y: 4.0 }, "end"))
            .add(faint(&label, bottom + coord! { x: 0.0, y: 26.0 }, "middle"));
    }
    document = document
        .add(stroke(path_data(&[at(0.0, 0.0), at(1.0, 1.0)], false), INK, 1.0, "5 3"))
        .add(marks(event))
        .add(text("told, %", at(0.5, 0.0) + coord! { x: 0.0, y: 42.0 }, SIZE, "middle"));
    document.add(text("happened, %", coord! { x: 0.0, y: TOP - 8.0 }, 11.0, "start"))
}

fn marks(event: &EventScores) -> Group {
    let known = event.bins.iter().filter_map(|bin| {
        let (told, was) = bin.forecast.zip(bin.observed)?;
        Some((bin.starts as f64 / event.starts.max(1) as f64, at(told, was), bin))
    });
    let known: Vec<_> = known.collect();
    let line: Vec<Coord<f64>> = known.iter().map(|(_, at, _)| *at).collect();
    let mut group = Group::new();
    if line.len() > 1 {
        group = group.add(stroke(path_data(&line, false), LINES[1].colour, 1.5, "none"));
    }
    for (share, at, bin) in known {
        let radius = (GREATEST_RADIUS * share.sqrt()).max(LEAST_RADIUS);
        let words = format!(
            "told {} %, happened {} %, {} starts",
            fixed(100.0 * bin.forecast.unwrap_or(f64::NAN), 1),
            fixed(100.0 * bin.observed.unwrap_or(f64::NAN), 1),
            bin.starts
        );
        group = group.add(
            Circle::new()
                .set("cx", tenth(at.x))
                .set("cy", tenth(at.y))
                .set("r", tenth(radius))
                .set("fill", LINES[1].colour)
                .set("fill-opacity", 0.55)
                .set("stroke", LINES[1].colour)
                .add(Title::new(words)),
        );
    }
    group
}

fn at(told: f64, happened: f64) -> Coord<f64> {
    coord! { x: LEFT + told * SIDE, y: TOP + (1.0 - happened) * SIDE }
}

fn faint(words: &str, at: Coord<f64>, anchor: &'static str) -> svg::node::element::Text {
    text(words, at, SIZE, anchor).set("fill", FAINT_INK)
}
