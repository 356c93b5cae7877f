//! The scale bar.

use dipward_geodesy::{Position, direct};
use geo::coord;
use svg::node::element::{Group, Rectangle};

use super::view::View;
use crate::{
    figures::{fixed, latitude, nice_at_least},
    paint::{INK, haloed, tenth, text_width},
};

const SIZE: f64 = 12.0;

/// A bar of a round length near a quarter of the frame's width, true at a place's latitude, with its
/// lower left corner in the frame's; in the lower right one where the left is `taken`.
pub(crate) fn scale_bar(view: &View<'_>, true_at: Position, taken: bool) -> Option<Group> {
    let frame = view.frame();
    // Measured along the parallel and the meridian alike: the projection keeps angles.
    let here = view.place(true_at)?;
    let there = view.place(direct(true_at, 0.0, 1.0).position)?;
    let per_km = (there.x - here.x).hypot(there.y - here.y);
    let length_km = nice_at_least(frame.width() * 0.13 / per_km);
    let length = length_km * per_km;
    if !(length.is_finite() && length > 0.0 && length < frame.width()) {
        return None;
    }
    let content = format!("{} km at {}", fixed(length_km, 0), latitude(true_at.y(), 0));
    let left = if taken {
        frame.max().x - 14.0 - length.max(text_width(&content, SIZE))
    } else {
        frame.min().x + 14.0
    };
    let corner = coord! { x: left, y: frame.max().y - 16.0 };
    let mut group = Group::new().add(
        Rectangle::new()
            .set("x", tenth(corner.x - 2.0))
            .set("y", tenth(corner.y - 2.0))
            .set("width", tenth(length + 4.0))
            .set("height", 9)
            .set("fill", "#ffffff"),
    );
    for (quarter, fill) in [(0.0, INK), (1.0, "#ffffff"), (2.0, INK), (3.0, "#ffffff")] {
        group = group.add(
            Rectangle::new()
                .set("x", tenth(corner.x + length * quarter / 4.0))
                .set("y", tenth(corner.y))
                .set("width", tenth(length / 4.0))
                .set("height", 5)
                .set("fill", fill)
                .set("stroke", INK)
                .set("stroke-width", 0.7),
        );
    }
    Some(group.add(haloed(&content, corner + coord! { x: 0.0, y: -6.0 }, SIZE, "start")))
}
