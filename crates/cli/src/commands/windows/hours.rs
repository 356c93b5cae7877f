//! The hours of the day as a picture: a bar for each, with what the models leave open.

use svg::{
    Node,
    node::element::{Group, Rectangle},
};

use super::{
    HourOfDay, TOPS, Told,
    strip::{INK, LEFT, rectangle, rule, text},
};

const BAR_STEP: f64 = 16.0;
const BAR_WIDTH: f64 = 12.0;
const HEIGHT: f64 = 120.0;
/// Below the axis: two lines of hours.
const BELOW: f64 = 48.0;

/// Height of the picture with its axes.
pub(super) const ROOM: f64 = HEIGHT + BELOW + 34.0;

/// Where the scale ends: one that holds the greatest chance with what is left open.
pub(super) fn top(told: &Told) -> f64 {
    let greatest = told.hours_of_day.iter().map(|one| one.high).fold(0.0, f64::max);
    TOPS.into_iter().find(|top| greatest <= *top).unwrap_or(1.0)
}

/// Draws the hours with their upper edge at `top`; the scale ends at `scale_top`.
pub(super) fn hours_of_day(hours: &[HourOfDay], scale_top: f64, top: f64) -> Group {
    let foot = top + HEIGHT;
    let height = |chance: f64| (chance / scale_top).clamp(0.0, 1.0) * HEIGHT;
    let mut group = Group::new();
    for share in [0.0, 0.5, 1.0] {
        let y = foot - share * HEIGHT;
        group.append(rule([LEFT - 5.0, y], [LEFT + 24.0 * BAR_STEP, y]));
        let percent = 100.0 * share * scale_top;
        group.append(text(&format!("{percent} %"), LEFT - 8.0, y + 4.5, "end"));
    }
    for one in hours {
        let x = LEFT + f64::from(one.hour_utc) * BAR_STEP + 2.0;
        let (low, high) = (height(one.low), height(one.high));
        group.append(
            rectangle(x, foot - height(one.chance), BAR_WIDTH, height(one.chance))
                .set("fill", "#368aa3"),
        );
        let whisker: Rectangle =
            rectangle(x + 0.5 * BAR_WIDTH - 1.0, foot - high, 2.0, high - low).set("fill", INK);
        group.append(whisker);
        if one.hour_utc % 3 == 0 {
            let middle = x + 0.5 * BAR_WIDTH;
            group.append(text(&format!("{:02}", one.hour_utc), middle, foot + 17.0, "middle"));
            let minutes = (one.local_solar_h * 60.0).round() as u32 % 1440;
            let local = format!("{:02}:{:02}", minutes / 60, minutes % 60);
            group.append(text(&local, middle, foot + 34.0, "middle"));
        }
    }
    let end = LEFT + 24.0 * BAR_STEP + 4.0;
    group.append(text("UTC", end, foot + 17.0, "start"));
    group.append(text("solar", end, foot + 34.0, "start"));
    group.append(text(
        "each hour of the day over the window; lines: draws, other models",
        LEFT - 30.0,
        foot + BELOW + 6.0,
        "start",
    ));
    group
}
