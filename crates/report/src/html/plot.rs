//! Line charts.

use geo::{Coord, coord};
use jiff::Timestamp;
use svg::{
    Document,
    node::element::{Group, Line, Rectangle, Title},
};

use crate::{
    figures::{Ticks, clean, day, hours_between},
    paint::{FAINT_INK, FONTS, INK, LineStyle, RULE, path_data, stroke, tenth, text, text_width},
};

const WIDTH: f64 = 440.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 40.0;
const SIZE: f64 = 12.0;

/// An axis: what it measures with the unit, its range, and its ticks with their labels.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    label: String,
    low: f64,
    high: f64,
    ticks: Vec<(f64, String)>,
}

impl Axis {
    /// An axis of plain numbers that holds all values, widened to whole steps where `whole`.
    pub(crate) fn of(label: &str, low: f64, high: f64, whole: bool) -> Self {
        let (low, high) = if low.is_finite() && high > low && high.is_finite() {
            (low, high)
        } else if low.is_finite() {
            (low, low + 1.0)
        } else {
            (0.0, 1.0)
        };
        let mut ticks = Ticks::new(low, high, 6);
        let (mut from, mut to) = (low, high);
        if whole {
            from = (low / ticks.step + 1e-9).floor() * ticks.step;
            to = (high / ticks.step - 1e-9).ceil() * ticks.step;
            ticks = Ticks::new(from, to, 6);
        }
        let ticks = ticks.values().map(|value| (value, ticks.label(value))).collect();
        Self { label: label.to_owned(), low: from, high: to, ticks }
    }

    /// An axis of hours since an instant, with midnights (UTC) for ticks.
    pub(crate) fn of_dates(label: &str, from: Timestamp, to: Timestamp) -> Self {
        const DAY_MS: i64 = 86_400_000;
        let span_h = hours_between(from, to).max(1.0);
        let step = [1_u16, 2, 5, 7, 14, 30, 60, 90, 180, 365]
            .into_iter()
            .find(|days| span_h / (24.0 * f64::from(*days)) <= 6.5)
            .unwrap_or(730);
        let first_ms = from.as_millisecond().div_euclid(DAY_MS) * DAY_MS;
        let ticks = (0..400_i64)
            .map_while(|index| {
                let at_ms = first_ms + index * i64::from(step) * DAY_MS;
                let at = Timestamp::from_millisecond(at_ms).ok()?;
                let hour = hours_between(from, at);
                (hour <= span_h).then(|| (hour, day(at)))
            })
            .filter(|(hour, _)| *hour >= 0.0)
            .collect();
        Self { label: label.to_owned(), low: 0.0, high: span_h, ticks }
    }

    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// A line of a chart. A missing value breaks it.
#[derive(Debug, Clone)]
pub(crate) struct Series {
    pub(crate) points: Vec<(f64, Option<f64>)>,
    pub(crate) line: LineStyle,
    /// Whether a value holds until the next point.
    pub(crate) stepped: bool,
}

/// A value of y that a line is to be held against.
#[derive(Debug, Clone)]
pub(crate) struct Level {
    value: f64,
    name: String,
    below: bool,
}

impl Level {
    pub(crate) fn named_above(value: f64, name: String) -> Self {
        Self { value, name, below: false }
    }

    pub(crate) fn named_below(value: f64, name: String) -> Self {
        Self { value, name, below: true }
    }
}

/// A chart of lines over one x axis.
#[derive(Debug, Clone)]
pub(crate) struct Chart {
    pub(crate) title: String,
    pub(crate) x: Axis,
    pub(crate) y: Axis,
    pub(crate) series: Vec<Series>,
    /// Spans of x with a name.
    pub(crate) bands: Vec<(f64, f64, String)>,
    /// Values of y with a name.
    pub(crate) levels: Vec<Level>,
    /// Height of the plot without title, ticks and labels.
    pub(crate) height: f64,
}

impl Chart {
    /// The drawing.
    pub(crate) fn draw(&self) -> Document {
        let whole = TOP + self.height + BOTTOM;
        let mut document = Document::new()
            .set("viewBox", format!("0 0 {} {}", tenth(WIDTH), tenth(whole)))
            .set("role", "img")
            .set("class", "plot")
            .set("font-family", FONTS)
            .add(Title::new(clean(&self.title)))
            .add(
                text(&self.title, coord! { x: 0.0, y: 14.0 }, 13.0, "start")
                    .set("font-weight", "bold"),
            );
        let (low, high) = (self.at(self.x.low, self.y.high), self.at(self.x.high, self.y.low));
        for (from, to, name) in &self.bands {
            document = document.add(self.band(*from, *to, name));
        }
        for (value, label) in &self.y.ticks {
            let at = self.at(self.x.low, *value);
            document = document.add(rule(at, coord! { x: high.x, y: at.y }, RULE, 0.6)).add(
                text(label, at + coord! { x: -6.0, y: 4.0 }, SIZE, "end").set("fill", FAINT_INK),
            );
        }
        for (value, label) in &self.x.ticks {
            let at = self.at(*value, self.y.low);
            let half = text_width(label, SIZE) / 2.0;
            let x = at.x.min(WIDTH - half).max(half);
            let label_at = coord! { x: x, y: at.y + 16.0 };
            document = document
                .add(rule(at, at + coord! { x: 0.0, y: 4.0 }, INK, 1.0))
                .add(text(label, label_at, SIZE, "middle").set("fill", FAINT_INK));
        }
        document = document.add(rule(coord! { x: low.x, y: high.y }, high, INK, 1.0)).add(rule(
            low,
            coord! { x: low.x, y: high.y },
            INK,
            1.0,
        ));
        for level in &self.levels {
            document = document.add(self.level(level));
        }
        for series in self.series.iter().rev() {
            document = document.add(self.line(series));
        }
        let middle = f64::midpoint(low.x, high.x);
        document.add(text(&self.x.label, coord! { x: middle, y: whole - 6.0 }, SIZE, "middle"))
    }

    fn at(&self, x: f64, y: f64) -> Coord<f64> {
        coord! {
            x: LEFT + self.x.share(x).clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT),
            y: TOP + (1.0 - self.y.share(y).clamp(0.0, 1.0)) * self.height,
        }
    }

    fn line(&self, series: &Series) -> Group {
        let mut group = Group::new();
        let mut piece: Vec<Coord<f64>> = Vec::new();
        let mut pieces: Vec<Vec<Coord<f64>>> = Vec::new();
        for (x, y) in &series.points {
            match y.filter(|y| y.is_finite() && x.is_finite()) {
                Some(y) => {
                    let at = self.at(*x, y);
                    if let Some(last) = piece.last().filter(|_| series.stepped) {
                        piece.push(coord! { x: at.x, y: last.y });
                    }
                    piece.push(at);
                }
                None => pieces.push(std::mem::take(&mut piece)),
            }
        }
        pieces.push(piece);
        for piece in pieces.iter().filter(|piece| !piece.is_empty()) {
            let data = path_data(piece, false);
            group = group.add(stroke(data, series.line.colour, 2.0, series.line.dashes));
        }
        group
    }

    fn band(&self, from: f64, to: f64, name: &str) -> Group {
        let (start, end) = (self.at(from, self.y.high), self.at(to, self.y.low));
        let middle = coord! { x: f64::midpoint(start.x, end.x), y: end.y - 5.0 };
        let group = Group::new().add(
            Rectangle::new()
                .set("x", tenth(start.x))
                .set("y", tenth(start.y))
                .set("width", tenth((end.x - start.x).max(1.0)))
                .set("height", tenth(end.y - start.y))
                .set("fill", "#eceff2"),
        );
        if text_width(name, 11.0) > end.x - start.x {
            return group;
        }
        group.add(text(name, middle, 11.0, "middle").set("fill", FAINT_INK))
    }

    fn level(&self, level: &Level) -> Group {
        let Level { value, ref name, below } = *level;
        if !(self.y.low..=self.y.high).contains(&value) {
            return Group::new();
        }
        let (from, to) = (self.at(self.x.low, value), self.at(self.x.high, value));
        let dy = if below { 12.0 } else { -4.0 };
        let words = crate::paint::haloed(name, to + coord! { x: -2.0, y: dy }, 11.0, "end");
        Group::new()
            .add(stroke(path_data(&[from, to], false), INK, 1.0, "5 3"))
            .add(words.set("fill", FAINT_INK))
    }
}

fn rule(from: Coord<f64>, to: Coord<f64>, colour: &'static str, width: f64) -> Line {
    Line::new()
        .set("x1", tenth(from.x))
        .set("y1", tenth(from.y))
        .set("x2", tenth(to.x))
        .set("y2", tenth(to.y))
        .set("stroke", colour)
        .set("stroke-width", width)
}

/// A sample of a line for a table.
pub(crate) fn swatch(line: LineStyle) -> Document {
    let ends = [coord! { x: 1.0, y: 6.0 }, coord! { x: 31.0, y: 6.0 }];
    Document::new()
        .set("viewBox", "0 0 32 12")
        .set("class", "swatch")
        .set("aria-hidden", "true")
        .add(stroke(path_data(&ends, false), line.colour, 3.0, line.dashes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_of_whole_steps_holds_its_values() {
        let axis = Axis::of("fuel, t", 0.0, 683.0, true);
        assert_eq!((axis.low, axis.high), (0.0, 800.0));
        assert_eq!(axis.ticks.last().map(|tick| &*tick.1), Some("800"));
        let none = Axis::of("x", f64::INFINITY, f64::NEG_INFINITY, true);
        assert_eq!((none.low, none.high), (0.0, 1.0));
    }

    #[test]
    fn dates_are_ticked_at_midnight() {
        let axis = Axis::of_dates(
            "UTC",
            "2027-01-07T06:00Z".parse().unwrap(),
            "2027-02-06T00:00Z".parse().unwrap(),
        );
        assert_eq!(axis.ticks.first(), Some(&(18.0 + 96.0, "12 Jan".to_owned())));
        assert!(axis.ticks.len() <= 7);
    }

    #[test]
    fn a_gap_breaks_the_line() {
        let chart = Chart {
            title: "t".to_owned(),
            x: Axis::of("x", 0.0, 3.0, false),
            y: Axis::of("y", 0.0, 1.0, false),
            series: vec![Series {
                points: vec![
                    (0.0, Some(0.0)),
                    (1.0, None),
                    (2.0, Some(1.0)),
                    (3.0, Some(f64::NAN)),
                ],
                line: crate::paint::LINES[0],
                stepped: false,
            }],
            bands: Vec::new(),
            levels: Vec::new(),
            height: 100.0,
        };
        assert_eq!(chart.draw().to_string().matches("<path").count(), 2);
    }
}
