//! The pole: its mean track, daily oval, clouds and ellipses.

use dipward_geodesy::{Position, distance_km, position};
use dipward_plugin::{PoleEllipse, Report};
use geo::{Coord, Rect, coord};
use svg::node::element::{Circle, Group, Path};

use super::{
    labels::{Labels, Weight},
    rings::line_path,
    view::{View, turned},
};
use crate::{
    figures::{date, nice_at_least, percent},
    geojson_routes::ellipse_ring,
    paint::{INK, haloed, path_data, stroke, tenth},
};

/// Instantaneous positions.
pub(crate) const CLOUD: &str = "#3b0f52";
/// Ellipses about them.
pub(crate) const ELLIPSE: &str = "#7b3294";
/// The daily paths, on ink.
const OVAL: &str = "#e69f00";
/// Width and dashes of the mean of all days.
pub(crate) const MEAN_OVAL: (f64, &str) = (2.0, "none");
/// Width and dashes of the one of quiet hours.
pub(crate) const QUIET_OVAL: (f64, &str) = (1.2, "5 3");
/// Dashes of the wider ellipse.
pub(crate) const WIDE_DASHES: &str = "7 4";
/// A mean track shorter than this is not dated, picture units.
const LEAST_TRACK: f64 = 24.0;
/// Half-widths of the picture about the pole, kilometres.
const HALF_WIDTHS_KM: [f64; 9] = [25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 450.0, 600.0];

/// The middle of all that is drawn of the pole.
pub(crate) fn centre(report: &Report) -> Position {
    let summary = &report.ranking.pole;
    let ellipse = report.pole.ellipse_95.or(report.pole.ellipse_50);
    ellipse.map_or_else(
        || position(summary.latitude_deg, summary.longitude_deg),
        |ellipse| ellipse.centre,
    )
}

/// The window of the turned plane, a square about the pole in which its track, oval and ellipses have
/// room; nothing where the plane cannot hold the pole.
pub(crate) fn window(report: &Report, quarters: u8) -> Option<Rect<f64>> {
    let centre = centre(report);
    let ellipse_km = [report.pole.ellipse_50, report.pole.ellipse_95]
        .into_iter()
        .flatten()
        .map(|ellipse| ellipse.semi_major_km);
    let places = report.pole.mean_track.iter().map(|(_, place)| place);
    let reach_km = places
        .chain(&report.pole.daily_oval)
        .chain(&report.pole.quiet_oval)
        .map(|place| distance_km(centre, *place))
        .chain(ellipse_km)
        .filter(|reach_km| reach_km.is_finite())
        .fold(0.0, f64::max);
    let half_km = HALF_WIDTHS_KM
        .into_iter()
        .find(|half_km| *half_km >= reach_km * 1.3)
        .unwrap_or_else(|| nice_at_least(reach_km * 1.3));
    let grid = &report.map.grid;
    let half_m = half_km * 1000.0 * grid.projection().point_scale(centre);
    let middle = turned(grid.coord(centre), quarters);
    let half = coord! { x: half_m, y: half_m };
    (middle.x.is_finite() && middle.y.is_finite() && half_m.is_finite() && half_m > 0.0)
        .then(|| Rect::new(middle - half, middle + half))
}

/// The pole's clouds, ellipses, oval and track, without words.
pub(crate) fn marks(report: &Report, view: &View<'_>) -> Group {
    let pole = &report.pole;
    let dots: Vec<Coord<f64>> = pole
        .cloud
        .iter()
        .filter_map(|place| view.place(*place))
        .filter(|pixel| view.shows(*pixel))
        .collect();
    let data: String = dots.iter().map(|dot| path_data([dot], false)).collect();
    let mut group = Group::new();
    if !data.is_empty() {
        group = group.add(stroke(data, CLOUD, 2.2, "none").set("stroke-opacity", 0.7));
    }
    for (ellipse, dashes) in [(pole.ellipse_50, "none"), (pole.ellipse_95, WIDE_DASHES)] {
        let Some(ellipse) = ellipse else { continue };
        group = group.add(ellipse_mark(&ellipse, dashes, view));
    }
    for (oval, line) in [(&pole.daily_oval, MEAN_OVAL), (&pole.quiet_oval, QUIET_OVAL)] {
        if oval.len() > 2 {
            group = group.add(oval_mark(closed_path(oval, view), line));
        }
    }
    let track: Vec<Coord<f64>> =
        pole.mean_track.iter().filter_map(|(_, place)| view.place(*place)).collect();
    if track.len() > 1 {
        let data = line_path(track);
        group = group
            .add(stroke(data.clone(), "#ffffff", 4.2, "none"))
            .add(stroke(data, INK, 2.0, "none"));
    }
    group
}

/// The line of a daily path, of a width and with dashes.
pub(crate) fn oval_mark(data: String, (width, dashes): (f64, &str)) -> Group {
    Group::new()
        .add(stroke(data.clone(), INK, width + 1.4, "none"))
        .add(stroke(data, OVAL, width, dashes))
}

/// The line of an ellipse.
pub(crate) fn ellipse_mark(ellipse: &PoleEllipse, dashes: &str, view: &View<'_>) -> Group {
    let data = closed_path(&ellipse_ring(ellipse), view);
    Group::new()
        .add(stroke(data.clone(), "#ffffff", 3.6, "none").set("stroke-opacity", 0.7))
        .add(stroke(data, ELLIPSE, 1.8, dashes))
}

/// The pole's mark: a circle with a cross, at the mean pole at mid-window.
pub(crate) fn cross(at: Coord<f64>, size: f64) -> Group {
    let arm = |dx: f64, dy: f64| {
        format!(
            "M{} {}L{} {}",
            tenth(at.x - dx),
            tenth(at.y - dy),
            tenth(at.x + dx),
            tenth(at.y + dy)
        )
    };
    let data = arm(size, 0.0) + &arm(0.0, size);
    Group::new()
        .add(
            Circle::new()
                .set("cx", tenth(at.x))
                .set("cy", tenth(at.y))
                .set("r", tenth(size * 0.65))
                .set("fill", "#ffffff")
                .set("stroke", INK)
                .set("stroke-width", 1.6),
        )
        .add(Path::new().set("d", data).set("stroke", INK).set("stroke-width", 1.6))
}

/// Words at the track's ends and the ellipses.
pub(crate) fn words(report: &Report, view: &View<'_>, labels: &mut Labels) -> Group {
    let pole = &report.pole;
    let mut group = Group::new();
    for ellipse in [pole.ellipse_50, pole.ellipse_95].into_iter().flatten() {
        let word = percent(ellipse.probability);
        let rim: Vec<Coord<f64>> =
            ellipse_ring(&ellipse).iter().filter_map(|place| view.place(*place)).collect();
        labels.avoid(&rim);
        // At the rim's top, where the line is level.
        let top = rim.iter().copied().reduce(|a, b| if b.y < a.y { b } else { a });
        if let Some(top) = top {
            labels.keep_off(top - coord! { x: 0.0, y: 9.0 }, 8.0);
            let at = top - coord! { x: 0.0, y: 4.0 };
            group = group.add(haloed(&word, at, 12.0, "middle").set("fill", ELLIPSE));
        }
    }
    let ends = [pole.mean_track.first(), pole.mean_track.last()].into_iter().flatten();
    let ends: Vec<_> =
        ends.filter_map(|(time, place)| Some((*time, view.place(*place)?))).collect();
    // Two dates on a track of a few picture units would say nothing.
    let long = matches!(&*ends, [(_, a), (_, b)] if (a.x - b.x).hypot(a.y - b.y) > LEAST_TRACK);
    for (time, pixel) in ends.into_iter().filter(|_| long) {
        group = group.add(
            Circle::new()
                .set("cx", tenth(pixel.x))
                .set("cy", tenth(pixel.y))
                .set("r", 3)
                .set("fill", INK)
                .set("stroke", "#ffffff"),
        );
        if let Some(text) = labels.beside(&date(time), pixel, 8.0, 12.0, Weight::Note) {
            group = group.add(text);
        }
    }
    group
}

fn closed_path(ring: &[Position], view: &View<'_>) -> String {
    let ring: Vec<Coord<f64>> = ring.iter().filter_map(|place| view.place(*place)).collect();
    path_data(&ring, true)
}

/// Whether an ellipse is large enough in this view to be told from the pole's mark.
pub(crate) fn is_seen(ellipse: &PoleEllipse, view: &View<'_>) -> bool {
    ellipse.semi_major_km * 1000.0 * view.per_metre() > 9.0
}
