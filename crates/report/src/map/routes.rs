//! Routes, their numbers and the point of no return.

use dipward_geodesy::position;
use geo::{Coord, coord};
use svg::node::element::{Circle, Group, Path};

use super::{
    labels::{Labels, Weight},
    rings::line_path,
    view::View,
};
use crate::{
    paint::{INK, LineStyle, stroke, tenth, text},
    shown::{Shown, way},
};

/// Width of the best route's line and of the others'.
pub(crate) const WIDTHS: (f64, f64) = (4.0, 2.4);
/// The way home, dark over whatever it lies on.
pub(crate) const HOME: LineStyle = LineStyle { colour: "#1b1f24", dashes: "2 4" };
/// A last leg, in the colour of its approach.
pub(crate) const LEG_WIDTH: f64 = 1.8;
pub(crate) const LEG_DASHES: &str = "1 3";
/// Width of the way home.
pub(crate) const HOME_WIDTH: f64 = 1.6;

/// The lines, the best on top, each with a light rim; the way home of the best only.
pub(crate) fn lines(shown: &[Shown<'_>], view: &View<'_>) -> Group {
    let mut group = Group::new();
    for (index, route) in drawn(shown).rev() {
        let data = line_path(route.out.iter().map(|point| view.pixel(*point)).collect());
        let width = if index == 0 { WIDTHS.0 } else { WIDTHS.1 };
        group = group
            .add(stroke(data.clone(), "#ffffff", width + 2.4, "none").set("stroke-opacity", 0.9))
            .add(stroke(data, route.line.colour, width, route.line.dashes));
        if let Some(leg) = &route.approach.last_leg {
            let on = way(&leg.out, view.grid());
            if on.len() > 1 {
                let data = line_path(on.iter().map(|point| view.pixel(*point)).collect());
                group = group.add(stroke(data, route.line.colour, LEG_WIDTH, LEG_DASHES));
            }
        }
    }
    if let Some(best) = shown.first() {
        let home = way(&best.approach.home, view.grid());
        if home.len() > 1 {
            let data = line_path(home.iter().map(|point| view.pixel(*point)).collect());
            group = group
                .add(
                    stroke(data.clone(), "#ffffff", HOME_WIDTH + 1.4, "none")
                        .set("stroke-opacity", 0.6),
                )
                .add(stroke(data, HOME.colour, HOME_WIDTH, HOME.dashes));
        }
    }
    group
}

/// A number on each line where it is farthest from the other lines, and the best approach's point of
/// no return.
pub(crate) fn marks(shown: &[Shown<'_>], view: &View<'_>, labels: &mut Labels) -> Group {
    let paths: Vec<Vec<Coord<f64>>> = drawn(shown)
        .map(|(_, route)| route.out.iter().map(|point| view.pixel(*point)).collect())
        .collect();
    for path in &paths {
        labels.avoid(path);
    }
    let mut group = Group::new();
    let mut badges: Vec<Coord<f64>> = Vec::new();
    for (index, (_, route)) in drawn(shown).enumerate() {
        let others = paths.iter().enumerate().filter(|(other, _)| *other != index);
        let others: Vec<Coord<f64>> =
            others.flat_map(|(_, path)| path).chain(&badges).copied().collect();
        let Some(at) = paths.get(index).and_then(|path| loneliest(path, &others, view)) else {
            continue;
        };
        badges.push(at);
        labels.keep_off(at, 9.0);
        let number = route.approach.rank.to_string();
        group = group
            .add(
                Circle::new()
                    .set("cx", tenth(at.x))
                    .set("cy", tenth(at.y))
                    .set("r", 8.5)
                    .set("fill", "#ffffff")
                    .set("stroke", route.line.colour)
                    .set("stroke-width", 2),
            )
            .add(
                text(&number, at + coord! { x: 0.0, y: 4.0 }, 11.0, "middle")
                    .set("font-weight", "bold"),
            );
    }
    if let Some(turn) = shown.first().and_then(|best| best.approach.turn_back.as_ref()) {
        let at = view.place(position(turn.latitude_deg, turn.longitude_deg));
        if let Some(at) = at.filter(|at| view.shows(*at)) {
            labels.keep_off(at, 6.0);
            group = group.add(diamond(at));
            let word = turn.limit.map_or_else(
                || "turn-back".to_owned(),
                |limit| format!("turn-back ({})", limit.name()),
            );
            if let Some(word) = labels.beside(&word, at, 9.0, 12.0, Weight::Note) {
                group = group.add(word);
            }
        }
    }
    group
}

/// The mark of the point of no return.
pub(crate) fn diamond(at: Coord<f64>) -> Path {
    let (x, y) = (tenth(at.x), tenth(at.y - 6.0));
    Path::new()
        .set("d", format!("M{x} {y}l6 6-6 6-6-6z"))
        .set("fill", "#f0e442")
        .set("stroke", INK)
        .set("stroke-width", 1.4)
}

/// The approaches whose line is on the map, with their places among those shown.
fn drawn<'a, 'b>(
    shown: &'a [Shown<'b>],
) -> impl DoubleEndedIterator<Item = (usize, &'a Shown<'b>)> + 'a {
    shown.iter().enumerate().filter(|(_, route)| route.same_way_as.is_none() && route.out.len() > 1)
}

/// The point of a path's middle part that is farthest from all other points.
fn loneliest(path: &[Coord<f64>], others: &[Coord<f64>], view: &View<'_>) -> Option<Coord<f64>> {
    // Near the ends all routes come together.
    let (skip, take) = (path.len() / 5, path.len() - path.len() * 2 / 5);
    let distance = |at: &Coord<f64>| {
        let near = others.iter().map(|other| (at.x - other.x).hypot(at.y - other.y));
        near.fold(f64::INFINITY, f64::min)
    };
    let middle = path.len() as f64 / 2.0;
    path.iter()
        .enumerate()
        .skip(skip)
        .take(take)
        .filter(|(_, at)| view.shows(**at))
        // Alone on the map, a route has its number in its middle.
        .map(|(index, at)| (distance(at).min(60.0), (index as f64 - middle).abs(), *at))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)))
        .map(|(.., at)| at)
}
