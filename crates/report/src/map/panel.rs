//! The two maps: the whole voyage, and the surroundings of the pole.

use dipward_geodesy::{Position, position};
use dipward_plugin::Report;
use geo::{Coord, Rect, coord};
use svg::node::element::{Circle, ClipPath, Definitions, Group, Path, Rectangle};

use super::{
    graticule, ground,
    labels::{Labels, Weight},
    pole, routes,
    scale::scale_bar,
    view::{View, quarters_to_north_up, turned, turned_rect},
};
use crate::{
    paint::{INK, Piece, haloed, tenth, text},
    shown::Shown,
};

/// The most room that the map of the voyage takes within its margins.
const VOYAGE_MOST: Coord<f64> = coord! { x: 700.0, y: 740.0 };
/// Side of the map about the pole.
const POLE_SIDE: f64 = 284.0;

/// The map of the voyage.
pub(crate) fn voyage(report: &Report, shown: &[Shown<'_>]) -> Piece {
    let grid = &report.map.grid;
    let quarters = quarters(report);
    let window = window_of_voyage(report, shown, quarters);
    let view = View::new(grid, quarters, window, graticule::MARGIN, VOYAGE_MOST);
    let mut labels = Labels::new(view.frame());
    let mut over = Group::new();

    let summary = &report.ranking.pole;
    let mean_pole = position(summary.latitude_deg, summary.longitude_deg);
    if let Some(wide) = report.pole.ellipse_95.filter(|ellipse| pole::is_seen(ellipse, &view)) {
        over = over.add(pole::ellipse_mark(&wide, pole::WIDE_DASHES, &view));
    }
    over = over.add(routes::lines(shown, &view));
    if let Some(at) = view.place(mean_pole) {
        over = over.add(pole::cross(at, 9.0));
        labels.keep_off(at, 9.0);
    }
    let mut words = Group::new();
    for (_, place) in &report.map.places {
        let Some(at) = view.place(*place).filter(|at| view.shows(*at)) else { continue };
        words = words.add(port_mark(at, 3.6));
        labels.keep_off(at, 4.0);
    }
    words = words.add(routes::marks(shown, &view, &mut labels));
    for (name, place) in &report.map.places {
        let Some(at) = view.place(*place).filter(|at| view.shows(*at)) else { continue };
        if let Some(name) = labels.beside(name, at, 9.0, 14.0, Weight::Name) {
            words = words.add(name);
        }
    }
    if let Some(at) = view.place(mean_pole) {
        let name = format!("{} dip pole", summary.hemisphere);
        if let Some(name) = labels.beside(&name, at, 14.0, 14.0, Weight::Name) {
            words = words.add(name);
        }
    }
    if let Some(window) = pole::window(report, quarters) {
        words = words.add(inset_frame(&view, window, quarters));
    }
    let ground = ground::ground(&report.map, &view, "voyage");
    panel(ground, &view, "voyage", over, words, mean_pole, &[])
}

/// The map about the pole, if the plane can hold it.
pub(crate) fn about_pole(report: &Report, shown: &[Shown<'_>]) -> Option<Piece> {
    let quarters = quarters(report);
    let window = pole::window(report, quarters)?;
    let side = coord! { x: POLE_SIDE, y: POLE_SIDE };
    let view = View::new(&report.map.grid, quarters, window, graticule::MARGIN, side);
    let mut labels = Labels::new(view.frame());
    let summary = &report.ranking.pole;
    let mean_pole = position(summary.latitude_deg, summary.longitude_deg);
    let mut over = Group::new().add(routes::lines(shown, &view)).add(pole::marks(report, &view));
    if let Some(at) = view.place(mean_pole) {
        over = over.add(pole::cross(at, 7.0));
        labels.keep_off(at, 8.0);
    }
    let words = pole::words(report, &view, &mut labels);
    let ground = ground::ground(&report.map, &view, "pole");
    Some(panel(ground, &view, "pole", over, words, pole::centre(report), &[]))
}

/// A map within its frame: the ground, the graticule, what lies over it, words, scale and north. The
/// scale keeps off the `marked` places.
pub(super) fn panel(
    ground: Group,
    view: &View<'_>,
    prefix: &str,
    over: Group,
    words: Group,
    true_at: Position,
    marked: &[Position],
) -> Piece {
    let frame = view.frame();
    // The frame's corner is set off by the margin.
    let margin = frame.min();
    let clip = format!("{prefix}-frame");
    let area = || {
        Rectangle::new()
            .set("x", tenth(frame.min().x))
            .set("y", tenth(frame.min().y))
            .set("width", tenth(frame.width()))
            .set("height", tenth(frame.height()))
    };
    let within = Group::new()
        .set("clip-path", format!("url(#{clip})"))
        .add(ground)
        .add(graticule::lines(view))
        .add(over)
        .add(words);
    let mut body = Group::new()
        .add(Definitions::new().add(ClipPath::new().set("id", clip.as_str()).add(area())))
        .add(ground::patterns(prefix))
        .add(within)
        .add(area().set("fill", "none").set("stroke", INK).set("stroke-width", 1))
        .add(graticule::labels(view));
    if let Some(bar) = scale_bar(view, true_at, corner_taken(view, marked)) {
        body = body.add(bar);
    }
    if let Some(arrow) = north_arrow(view) {
        body = body.add(arrow);
    }
    Piece { width: frame.width() + 2.0 * margin.x, height: frame.height() + 2.0 * margin.y, body }
}

/// The mark of a port.
pub(super) fn port_mark(at: Coord<f64>, radius: f64) -> Circle {
    Circle::new()
        .set("cx", tenth(at.x))
        .set("cy", tenth(at.y))
        .set("r", radius)
        .set("fill", "#ffffff")
        .set("stroke", INK)
        .set("stroke-width", radius / 2.0)
}

/// Whether a mark lies where the scale bar would.
fn corner_taken(view: &View<'_>, marked: &[Position]) -> bool {
    let frame = view.frame();
    marked.iter().filter_map(|place| view.place(*place)).any(|at| {
        at.x < frame.min().x + frame.width() * 0.4 && at.y > frame.max().y - 52.0 && view.shows(at)
    })
}

fn quarters(report: &Report) -> u8 {
    quarters_to_north_up(&report.map.grid, report.map.grid.bounds().center())
}

/// What the voyage needs of the turned plane: ports, routes and the pole with a margin, not too narrow,
/// and no more than the grid.
fn window_of_voyage(report: &Report, shown: &[Shown<'_>], quarters: u8) -> Rect<f64> {
    const MARGIN_SHARE: f64 = 0.07;
    const LEAST_MARGIN_M: f64 = 80_000.0;
    /// Width over height, at least and at most.
    const ASPECT: (f64, f64) = (0.72, 1.15);

    let grid = &report.map.grid;
    let whole = turned_rect(grid.bounds(), quarters);
    if shown.is_empty() {
        return whole;
    }
    let pole = &report.ranking.pole;
    let places = report.map.places.iter().map(|(_, place)| *place);
    let places = places.chain([position(pole.latitude_deg, pole.longitude_deg)]);
    let points = shown.iter().flat_map(|route| route.out.iter().copied());
    let points = points
        .chain(places.map(|place| grid.coord(place)))
        .map(|point| turned(point, quarters))
        .filter(|point| point.x.is_finite() && point.y.is_finite());
    let Some(tight) = points.fold(None, |bounds: Option<Rect<f64>>, point| {
        Some(bounds.map_or(Rect::new(point, point), |bounds| {
            let (low, high) = (bounds.min(), bounds.max());
            Rect::new(
                coord! { x: low.x.min(point.x), y: low.y.min(point.y) },
                coord! { x: high.x.max(point.x), y: high.y.max(point.y) },
            )
        }))
    }) else {
        return whole;
    };
    let margin_m = (tight.width().max(tight.height()) * MARGIN_SHARE).max(LEAST_MARGIN_M);
    let mut width = tight.width() + 2.0 * margin_m;
    let mut height = tight.height() + 2.0 * margin_m;
    width = width.max(height * ASPECT.0).min(whole.width());
    height = height.max(width / ASPECT.1).min(whole.height());
    // About the middle of the voyage, pushed back onto the grid where it would leave it.
    let slid = |middle: f64, size: f64, low: f64, high: f64| {
        (middle - size / 2.0).clamp(low, (high - size).max(low))
    };
    let centre = tight.center();
    let corner = coord! {
        x: slid(centre.x, width, whole.min().x, whole.max().x),
        y: slid(centre.y, height, whole.min().y, whole.max().y),
    };
    Rect::new(corner, corner + coord! { x: width, y: height })
}

/// The outline of the other map's window.
fn inset_frame(view: &View<'_>, window: Rect<f64>, quarters: u8) -> Rectangle {
    let corners = [window.min(), window.max()]
        .map(|corner| view.pixel(turned(corner, (4 - quarters % 4) % 4)));
    let area = Rect::new(corners[0], corners[1]);
    Rectangle::new()
        .set("x", tenth(area.min().x))
        .set("y", tenth(area.min().y))
        .set("width", tenth(area.width()))
        .set("height", tenth(area.height()))
        .set("fill", "none")
        .set("stroke", INK)
        .set("stroke-width", 1)
        .set("stroke-dasharray", "1 2")
}

/// An arrow to true north in the upper right corner; none where the geographic pole is on the map or
/// beside it, because north then differs too much from place to place.
fn north_arrow(view: &View<'_>) -> Option<Group> {
    let frame = view.frame();
    let at = coord! { x: frame.max().x - 22.0, y: frame.min().y + 30.0 };
    let place = view.grid().position(view.point_at(at));
    let pole = view.pixel(view.grid().projection().false_origin());
    if view.shows(pole) || place.y().abs() > 89.0 {
        return None;
    }
    let north = view.place(position(place.y() + 0.2, place.x()))?;
    let angle = (north.x - at.x).atan2(at.y - north.y);
    let turn =
        format!("translate({} {}) rotate({})", tenth(at.x), tenth(at.y), tenth(angle.to_degrees()));
    let arrow = Path::new()
        .set("transform", turn)
        .set("d", "M0-16l5 22-5-4-5 4z")
        .set("fill", INK)
        .set("stroke", "#ffffff")
        .set("stroke-width", 1);
    // Below the arrow's tail, upright.
    let letter = at + coord! { x: -angle.sin() * 15.0, y: angle.cos() * 15.0 + 4.0 };
    let letter = haloed("N", letter, 12.0, "middle").set("font-weight", "bold");
    Some(Group::new().add(arrow).add(letter))
}

/// A heading above a piece.
pub(crate) fn headed(content: &str, piece: Piece) -> Piece {
    const HEADING: f64 = 20.0;
    let heading =
        text(content, coord! { x: 0.0, y: 13.0 }, 13.5, "start").set("font-weight", "bold");
    let moved = piece.body.set("transform", format!("translate(0 {HEADING})"));
    Piece {
        width: piece.width,
        height: piece.height + HEADING,
        body: Group::new().add(heading).add(moved),
    }
}
