//! The legend.

use dipward_plugin::{Quantity, Report};
use geo::{Coord, coord};
use svg::node::element::{Circle, Group, Rectangle};

use super::{
    ground::{CLASSES, COAST, Hatch, LAND, SHELF, WATER, patterns},
    pole::{CLOUD, ELLIPSE, MEAN_OVAL, QUIET_OVAL, WIDE_DASHES, cross, oval_mark},
    routes::{HOME, HOME_WIDTH, LEG_DASHES, LEG_WIDTH, WIDTHS, diamond},
};
use crate::{
    figures::{date, percent, short_instant},
    paint::{FAINT_INK, INK, Piece, path_data, stroke, tenth, text},
    shown::Shown,
};

/// Width of the legend.
pub(crate) const WIDTH: f64 = 340.0;
const ROW: f64 = 18.0;
const SIZE: f64 = 12.5;
const SWATCH: f64 = 34.0;
const PREFIX: &str = "legend";

/// Rows as they are added, top down.
#[derive(Default)]
pub(super) struct Rows {
    body: Group,
    y: f64,
}

impl Rows {
    pub(super) fn piece(self) -> Piece {
        Piece { width: WIDTH, height: self.y + 4.0, body: self.body }
    }

    fn heading(&mut self, content: &str) {
        self.y += if self.y > 0.0 { 8.0 } else { 0.0 };
        let at = coord! { x: 0.0, y: self.y + 13.0 };
        let heading = text(content, at, SIZE, "start").set("font-weight", "bold");
        self.add(heading, ROW);
    }

    /// A row with a mark drawn about the middle of its swatch.
    fn row(&mut self, content: &str, mark: impl FnOnce(Coord<f64>) -> Group) {
        let middle = coord! { x: SWATCH / 2.0, y: self.y + ROW / 2.0 };
        let words = text(content, middle + coord! { x: SWATCH / 2.0 + 8.0, y: 4.5 }, SIZE, "start");
        self.body = std::mem::replace(&mut self.body, Group::new()).add(mark(middle));
        self.add(words, ROW);
    }

    fn note(&mut self, content: &str) {
        let at = coord! { x: SWATCH + 8.0, y: self.y + 10.0 };
        self.add(text(content, at, 11.0, "start").set("fill", FAINT_INK), 15.0);
    }

    pub(super) fn area(&mut self, content: &str, fill: &str, outlined: Option<&str>) {
        self.row(content, |middle| {
            let area = Rectangle::new()
                .set("x", tenth(middle.x - SWATCH / 2.0))
                .set("y", tenth(middle.y - 6.5))
                .set("width", SWATCH)
                .set("height", 13)
                .set("fill", fill)
                .set("stroke", COAST)
                .set("stroke-width", 0.7);
            Group::new().add(match outlined {
                Some(dashes) => area.set("stroke-dasharray", dashes),
                None => area,
            })
        });
    }

    fn line(&mut self, content: &str, colour: &str, width: f64, dashes: &str) {
        self.row(content, |middle| {
            let half = coord! { x: SWATCH / 2.0, y: 0.0 };
            let data = path_data(&[middle - half, middle + half], false);
            Group::new().add(stroke(data, colour, width, dashes))
        });
    }

    fn add(&mut self, node: svg::node::element::Text, height: f64) {
        self.body = std::mem::replace(&mut self.body, Group::new()).add(node);
        self.y += height;
    }
}

/// The legend of what this report's map shows, and of nothing else.
pub(crate) fn legend(report: &Report, shown: &[Shown<'_>]) -> Piece {
    let mut rows = Rows { body: Group::new().add(patterns(PREFIX)), y: 0.0 };
    if !shown.is_empty() {
        rows.heading("Routes, by rank");
    }
    for (index, route) in shown.iter().enumerate() {
        let approach = route.approach;
        let words = shortened(&format!(
            "{} · {}, {}",
            approach.rank,
            approach.from,
            short_instant(approach.depart)
        ));
        let width = if index == 0 { WIDTHS.0 } else { WIDTHS.1 };
        rows.line(&words, route.line.colour, width, route.line.dashes);
        if let Some(rank) = route.same_way_as {
            rows.note(&format!("goes the way of {rank}; not drawn on the map"));
        }
    }
    if let Some(best) = shown.first() {
        let rank = best.approach.rank;
        rows.line(&format!("way home of {rank}"), HOME.colour, HOME_WIDTH, HOME.dashes);
        if shown.iter().any(|route| route.approach.last_leg.is_some()) {
            rows.line("last leg, in its route's colour", HOME.colour, LEG_WIDTH, LEG_DASHES);
        }
        if let Some(turn) = &best.approach.turn_back {
            let limit = turn.limit.map_or(String::new(), |limit| format!(" ({})", limit.name()));
            let words = format!("turn-back of {rank}{limit}");
            rows.row(&words, |middle| Group::new().add(diamond(middle)));
        }
    }
    add_pole(report, &mut rows);
    add_ground(report, &mut rows);
    rows.piece()
}

fn add_pole(report: &Report, rows: &mut Rows) {
    let pole = &report.pole;
    rows.heading(&format!("Dip pole, {}", report.ranking.pole.hemisphere));
    let epoch = date(report.ranking.pole.epoch);
    rows.row(&format!("mean pole, {epoch}"), |middle| cross(middle, 7.0));
    if pole.mean_track.len() > 1 {
        rows.line("path of the mean pole", INK, 2.0, "none");
    }
    let mean = "mean daily oval, storms included".to_owned();
    let quiet = format!("daily oval of quiet hours, Kp below {}", pole.quiet_below_kp);
    for (oval, words, line) in
        [(&pole.daily_oval, mean, MEAN_OVAL), (&pole.quiet_oval, quiet, QUIET_OVAL)]
    {
        if oval.len() > 2 {
            rows.row(&words, |middle| {
                let half = coord! { x: SWATCH / 2.0, y: 0.0 };
                oval_mark(path_data(&[middle - half, middle + half], false), line)
            });
        }
    }
    if !pole.cloud.is_empty() {
        rows.row("instantaneous pole, a sample", |middle| {
            [(-10.0, 2.0), (-3.0, -3.0), (4.0, 3.0), (10.0, -1.0)].into_iter().fold(
                Group::new(),
                |group, (dx, dy)| {
                    group.add(
                        Circle::new()
                            .set("cx", tenth(middle.x + dx))
                            .set("cy", tenth(middle.y + dy))
                            .set("r", 1.3)
                            .set("fill", CLOUD),
                    )
                },
            )
        });
    }
    for (ellipse, dashes) in [(pole.ellipse_50, "none"), (pole.ellipse_95, WIDE_DASHES)] {
        if let Some(ellipse) = ellipse {
            let share = percent(ellipse.probability);
            let words = format!("holds {share} of all hours, storms included");
            rows.line(&words, ELLIPSE, 1.8, dashes);
        }
    }
}

fn add_ground(report: &Report, rows: &mut Rows) {
    let map = &report.map;
    if map.ice_concentration.is_empty() {
        rows.heading("Water");
        rows.area("sea; the chart has no ice layer", WATER, None);
    } else {
        rows.heading(&format!("Sea ice, {}", date(map.at)));
        rows.area("below 1 tenth", WATER, None);
        for (words, _, tint) in CLASSES {
            rows.area(words, tint, None);
        }
        if map.ice_concentration.iter().any(|value| value.is_nan()) {
            rows.area("unknown", &Hatch::Unknown.fill(PREFIX), None);
        }
    }
    if map.elevated.contains(&true) {
        rows.area("elevated risk to the craft", &Hatch::Elevated.fill(PREFIX), None);
    }
    if map.closed.contains(&true) {
        rows.area("closed: zone, depth or uncharted", &Hatch::Closed.fill(PREFIX), None);
    }
    rows.heading("Land");
    rows.area("land", LAND, None);
    if map.outlines.iter().any(|outline| outline.quantity == Quantity::SHELF) {
        rows.area("ice shelf", SHELF, Some("3 2"));
    }
}

/// Words cut to the legend's width.
fn shortened(words: &str) -> String {
    const MOST: usize = 42;
    if words.chars().count() <= MOST {
        return words.to_owned();
    }
    words.chars().take(MOST - 1).chain(['…']).collect()
}
