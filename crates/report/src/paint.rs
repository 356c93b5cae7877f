//! Marks of a drawing: line styles, text, paths.

use geo::Coord;
use svg::node::element::{Group, Path, Text};

/// Fonts that stand on every system; none is fetched.
pub(crate) const FONTS: &str =
    "system-ui, -apple-system, 'Segoe UI', Roboto, 'DejaVu Sans', Arial, sans-serif";
/// Text and marks.
pub(crate) const INK: &str = "#1b1f24";
/// Text of lesser weight.
pub(crate) const FAINT_INK: &str = "#4c545d";
/// Thin rules and axes.
pub(crate) const RULE: &str = "#b9c0c8";

/// How the line of an approach is drawn, on the map and in the plots alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LineStyle {
    pub(crate) colour: &'static str,
    /// Told apart without colour, too.
    pub(crate) dashes: &'static str,
}

/// Lines of approaches in the order shown. Colours: M. Okabe and K. Ito, Color Universal Design (2008),
/// a set that the colour-blind tell apart.
pub(crate) const LINES: [LineStyle; 5] = [
    LineStyle { colour: "#d55e00", dashes: "none" },
    LineStyle { colour: "#0072b2", dashes: "12 4" },
    LineStyle { colour: "#009e73", dashes: "3 3" },
    LineStyle { colour: "#000000", dashes: "12 3 2 3" },
    LineStyle { colour: "#cc79a7", dashes: "6 3" },
];

/// A part of a picture with its size.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) body: Group,
}

/// A number of a drawing to a tenth, the shortest way.
pub(crate) fn tenth(value: f64) -> String {
    shortest(tenths(value))
}

/// Kept within what no picture reaches, so that differences cannot overflow.
fn tenths(value: f64) -> i64 {
    (value * 10.0).round().clamp(-1e9, 1e9) as i64
}

fn shortest(tenths: i64) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    let (whole, rest) = (tenths.abs() / 10, tenths.abs() % 10);
    match (whole, rest) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, rest) => format!("{sign}.{rest}"),
        (whole, rest) => format!("{sign}{whole}.{rest}"),
    }
}

/// Path data through the points, in steps relative to the last one, which is half as long as in
/// absolute numbers. Steps are taken between rounded points, so that they do not drift.
pub(crate) fn path_data<'a>(
    points: impl IntoIterator<Item = &'a Coord<f64>>,
    closed: bool,
) -> String {
    let mut data = String::new();
    let mut last: Option<(i64, i64)> = None;
    for point in points {
        let here = (tenths(point.x), tenths(point.y));
        match last {
            None => data.push_str(&format!("M{} {}l", shortest(here.0), shortest(here.1))),
            Some(from) if from == here => continue,
            Some(from) => {
                let (dx, dy) = (shortest(here.0 - from.0), shortest(here.1 - from.1));
                let between = if dy.starts_with('-') { "" } else { " " };
                if !data.ends_with('l') && !dx.starts_with('-') {
                    data.push(' ');
                }
                data.push_str(&dx);
                data.push_str(between);
                data.push_str(&dy);
            }
        }
        last = Some(here);
    }
    if data.ends_with('l') {
        // A single place is a dot under a round line cap.
        data.push_str("0 0");
    }
    if closed && !data.is_empty() {
        data.push('z');
    }
    data
}

/// An unfilled line.
pub(crate) fn stroke(data: String, colour: &str, width: f64, dashes: &str) -> Path {
    let path = Path::new()
        .set("d", data)
        .set("fill", "none")
        .set("stroke", colour)
        .set("stroke-width", width)
        .set("stroke-linejoin", "round");
    // A round cap would close the gaps of a dashed line.
    if dashes == "none" {
        path.set("stroke-linecap", "round")
    } else {
        path.set("stroke-dasharray", dashes)
    }
}

/// Text at a place, `anchor` as in SVG ("start", "middle", "end").
pub(crate) fn text(content: &str, at: Coord<f64>, size: f64, anchor: &str) -> Text {
    Text::new(crate::figures::clean(content))
        .set("x", tenth(at.x))
        .set("y", tenth(at.y))
        .set("font-size", size)
        .set("text-anchor", anchor)
        .set("fill", INK)
}

/// Text with a light halo, for use over a map.
pub(crate) fn haloed(content: &str, at: Coord<f64>, size: f64, anchor: &str) -> Text {
    text(content, at, size, anchor)
        .set("stroke", "#ffffff")
        .set("stroke-width", 3)
        .set("stroke-linejoin", "round")
        .set("paint-order", "stroke")
}

/// The width of a text, from the mean width of a letter: fonts differ from system to system.
pub(crate) fn text_width(content: &str, size: f64) -> f64 {
    content.chars().count() as f64 * size * 0.58
}

#[cfg(test)]
mod tests {
    use geo::coord;

    use super::*;

    #[test]
    fn paths_are_short_and_do_not_drift() {
        let points: Vec<_> =
            (0..4).map(|i| coord! { x: f64::from(i) * 0.34, y: 10.0 - f64::from(i) }).collect();
        // 0, .34, .68, 1.02 round to 0, .3, .7, 1.
        assert_eq!(path_data(&points, true), "M0 10l.3-1 .4-1 .3-1z");
        assert_eq!(path_data(&points[..1], false), "M0 10l0 0");
        assert_eq!(path_data(&[], true), "");
        assert_eq!(tenth(-0.04), "0");
        assert_eq!(tenth(-12.34), "-12.3");
    }
}
