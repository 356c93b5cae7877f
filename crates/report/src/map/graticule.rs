//! Meridians and parallels with their labels along the frame.

use geo::{Coord, coord};
use svg::node::element::{Circle, Group};

use dipward_geodesy::{normalise_longitude_deg, position};

use super::view::View;
use crate::{
    figures::{latitude, longitude},
    paint::{FAINT_INK, path_data, stroke, tenth, text, text_width},
};

const COLOUR: &str = "#5b6b7b";
const SIZE: f64 = 11.5;
/// Room about a frame for the labels: the widest at a side is as wide as "63.75° S" or "179.5° W".
pub(crate) const MARGIN: Coord<f64> = coord! { x: 62.0, y: 24.0 };
/// Distance between two looks at the frame's sides, picture units.
const LOOK: f64 = 3.0;

/// Steps of the graticule, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Steps {
    latitude_deg: f64,
    longitude_deg: f64,
    lowest_deg: f64,
    highest_deg: f64,
}

fn steps(view: &View<'_>) -> Steps {
    let frame = view.frame();
    let mut lowest_deg = f64::INFINITY;
    let mut highest_deg = f64::NEG_INFINITY;
    for down in 0..=24_u8 {
        for right in 0..=24_u8 {
            let pixel = coord! {
                x: frame.min().x + frame.width() * f64::from(right) / 24.0,
                y: frame.min().y + frame.height() * f64::from(down) / 24.0,
            };
            let latitude_deg = view.grid().position(view.point_at(pixel)).y();
            lowest_deg = lowest_deg.min(latitude_deg);
            highest_deg = highest_deg.max(latitude_deg);
        }
    }
    let span_deg = highest_deg - lowest_deg;
    let latitude_deg = [0.25, 0.5, 1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|step| span_deg / step <= 6.0)
        .unwrap_or(15.0);
    let middle_deg = view.grid().position(view.window().center()).y();
    // Meridians about as far apart as parallels.
    let as_wide_deg = 0.6 * latitude_deg / middle_deg.to_radians().cos().max(1e-3);
    let steps = [0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0];
    let longitude_deg = if lowest_deg.abs().max(highest_deg.abs()) > 88.0 {
        30.0
    } else {
        steps.into_iter().find(|step| *step >= as_wide_deg).unwrap_or(30.0)
    };
    Steps { latitude_deg, longitude_deg, lowest_deg, highest_deg }
}

/// The lines, to be drawn within the frame.
pub(crate) fn lines(view: &View<'_>) -> Group {
    let steps = steps(view);
    let mut group = Group::new().set("opacity", 0.55);
    let origin = view.pixel(view.grid().projection().false_origin());
    // Parallels are circles about the geographic pole, meridians straight lines from it.
    for parallel in multiples(steps.lowest_deg, steps.highest_deg, steps.latitude_deg) {
        let Some(on_it) = view.place(position(parallel, 0.0)) else { continue };
        let radius = (on_it.x - origin.x).hypot(on_it.y - origin.y);
        group = group.add(
            Circle::new()
                .set("cx", tenth(origin.x))
                .set("cy", tenth(origin.y))
                .set("r", tenth(radius))
                .set("fill", "none")
                .set("stroke", COLOUR)
                .set("stroke-width", 0.6),
        );
    }
    let near_deg = steps.lowest_deg - steps.latitude_deg;
    let far_deg = steps.highest_deg + steps.latitude_deg;
    for meridian in multiples(-180.0, 180.0 - steps.longitude_deg, steps.longitude_deg) {
        let ends: Vec<Coord<f64>> = [near_deg, far_deg]
            .into_iter()
            .filter_map(|latitude_deg| {
                view.place(position(latitude_deg.clamp(-90.0, 90.0), meridian))
            })
            .collect();
        group = group.add(stroke(path_data(&ends, false), COLOUR, 0.6, "none"));
    }
    group
}

/// The labels, along the outside of the frame.
pub(crate) fn labels(view: &View<'_>) -> Group {
    let steps = steps(view);
    let mut group = Group::new();
    for side in Side::ALL {
        let mut taken_to = f64::NEG_INFINITY;
        let (from, to) = side.ends(view);
        let length = (to.x - from.x).hypot(to.y - from.y);
        let looks = (length / LOOK).ceil().clamp(1.0, 1e4) as u32;
        let mut last: Option<(f64, f64)> = None;
        for look in 0..=looks {
            let along = length * f64::from(look) / f64::from(looks);
            let pixel = from + (to - from) * (f64::from(look) / f64::from(looks));
            let place = view.grid().position(view.point_at(pixel));
            let here = (place.y(), place.x());
            let crossed = last.and_then(|(latitude_deg, longitude_deg)| {
                crossed_multiple(latitude_deg, here.0, steps.latitude_deg)
                    .map(|parallel| latitude(parallel, decimals(steps.latitude_deg)))
                    .or_else(|| {
                        let to = longitude_deg + normalise_longitude_deg(here.1 - longitude_deg);
                        // A jump of nearly half a turn is the geographic pole, not a meridian.
                        if (to - longitude_deg).abs() > 90.0 {
                            return None;
                        }
                        let meridian = crossed_multiple(longitude_deg, to, steps.longitude_deg)?;
                        let meridian = normalise_longitude_deg(meridian);
                        Some(longitude(meridian, decimals(steps.longitude_deg)))
                    })
            });
            last = Some(here);
            let Some(content) = crossed else { continue };
            let half = if side.is_level() { text_width(&content, SIZE) / 2.0 + 3.0 } else { 8.0 };
            if along - half < taken_to || along < half / 2.0 || along > length - half / 2.0 {
                continue;
            }
            taken_to = along + half;
            group = group.add(side.label(&content, pixel));
        }
    }
    group
}

/// A side of the frame.
#[derive(Debug, Clone, Copy)]
enum Side {
    Top,
    Bottom,
    Left,
    Right,
}

impl Side {
    const ALL: [Self; 4] = [Self::Top, Self::Bottom, Self::Left, Self::Right];

    fn is_level(self) -> bool {
        matches!(self, Self::Top | Self::Bottom)
    }

    fn ends(self, view: &View<'_>) -> (Coord<f64>, Coord<f64>) {
        let (low, high) = (view.frame().min(), view.frame().max());
        match self {
            Self::Top => (low, coord! { x: high.x, y: low.y }),
            Self::Bottom => (coord! { x: low.x, y: high.y }, high),
            Self::Left => (low, coord! { x: low.x, y: high.y }),
            Self::Right => (coord! { x: high.x, y: low.y }, high),
        }
    }

    fn label(self, content: &str, at: Coord<f64>) -> svg::node::element::Text {
        let (dx, dy, anchor) = match self {
            Self::Top => (0.0, -6.0, "middle"),
            Self::Bottom => (0.0, 15.0, "middle"),
            Self::Left => (-6.0, 4.0, "end"),
            Self::Right => (6.0, 4.0, "start"),
        };
        text(content, at + coord! { x: dx, y: dy }, SIZE, anchor).set("fill", FAINT_INK)
    }
}

fn decimals(step: f64) -> usize {
    if step < 0.5 { 2 } else { usize::from(step < 1.0) }
}

/// The multiples of a step within a range.
fn multiples(low: f64, high: f64, step: f64) -> impl Iterator<Item = f64> {
    let first = (low / step).ceil();
    let count = ((high / step).floor() - first + 1.0).clamp(0.0, 720.0) as u32;
    (0..count).map(move |index| (first + f64::from(index)) * step)
}

/// The multiple of a step that lies after `from` and not after `to`, whichever way.
fn crossed_multiple(from: f64, to: f64, step: f64) -> Option<f64> {
    let (below_from, below_to) = ((from / step).floor(), (to / step).floor());
    (below_from != below_to).then(|| below_from.max(below_to) * step)
}
