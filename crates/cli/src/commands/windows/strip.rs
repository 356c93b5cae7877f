//! The chances as a picture: the hours of the day first, then days or weeks across and the hours down,
//! the darker the better.

use jiff::{Timestamp, civil::DateTime, tz::Offset};
use svg::{
    Document, Node,
    node::element::{Group, Line, Rectangle, Text, Title},
};

use super::{Chance, Column, Told, by_column, hours, scale_top};

/// Days in a strip. A longer window takes more strips, so that the picture stays narrow and its words
/// can be read on a small screen.
const DAYS_A_STRIP: usize = 21;
const CELL_WIDTH: f64 = 20.0;
const CELL_HEIGHT: f64 = 9.0;
pub(super) const LEFT: f64 = 44.0;
const RIGHT: f64 = 18.0;
const WIDTH: f64 = LEFT + DAYS_A_STRIP as f64 * CELL_WIDTH + RIGHT;
const STRIP_HEIGHT: f64 = 24.0 * CELL_HEIGHT;
/// From one strip to the next: room for the dates.
const STRIP_STEP: f64 = STRIP_HEIGHT + 40.0;
/// Room for the legend, from the words above it to the first strip.
const LEGEND_HEIGHT: f64 = 62.0;
const SIZE: f64 = 13.0;
const LINE: f64 = 18.0;
/// Letters in a line of words over the picture.
const LETTERS: usize = 62;
pub(super) const INK: &str = "#1b1f24";
const STEPS: usize = 10;
/// From sand to navy by way of green: lightness falls all the way, so that the scale reads in grey and
/// to the colour-blind too.
const ANCHORS: [[f64; 3]; 4] =
    [[253.0, 247.0, 228.0], [168.0, 213.0, 180.0], [54.0, 138.0, 163.0], [16.0, 42.0, 82.0]];

/// Draws the picture.
pub(super) fn strip(told: &Told) -> String {
    let Told { within_km, for_h, members, disturbance, .. } = told;
    let title = format!(
        "Chance that the pole stays within {within_km} km of its mean for {for_h} h from that hour on"
    );
    let basis = format!("{disturbance}; {members} members");
    let mut y = 6.0;
    let mut words = Group::new();
    for (sentence, weight) in [(&title, "bold"), (&basis, "normal")] {
        for line in wrapped(sentence) {
            y += LINE;
            words.append(text(&line, 10.0, y, "start").set("font-weight", weight));
        }
    }
    let of_day_top = hours::top(told);
    let hours_y = y + 18.0;
    let y = y + hours::ROOM;
    let columns = by_column(&told.season);
    let picture = Picture::of(&columns, told, y + LEGEND_HEIGHT);
    let height = picture.top + STRIP_STEP * picture.strips() as f64;
    Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", "100%")
        .set("style", format!("max-width:{}px;background:#ffffff", 2.0 * WIDTH))
        .set("role", "img")
        .set("font-family", "system-ui, sans-serif")
        .set("font-size", SIZE)
        .set("fill", INK)
        .add(Title::new(title))
        .add(words)
        .add(hours::hours_of_day(&told.hours_of_day, of_day_top, hours_y))
        .add(legend(picture.scale_top, y))
        .add(picture.cells())
        .add(picture.frames())
        .add(picture.outlines(&told.best, *for_h))
        .to_string()
        + "\n"
}

/// Where things stand.
struct Picture<'a> {
    columns: &'a [Column],
    /// The upper edge of the first strip.
    top: f64,
    /// The chance at the dark end of the scale.
    scale_top: f64,
}

impl<'a> Picture<'a> {
    fn of(columns: &'a [Column], told: &Told, top: f64) -> Self {
        Self { columns, top, scale_top: scale_top(&told.season) }
    }

    fn strips(&self) -> usize {
        self.columns.len().div_ceil(DAYS_A_STRIP)
    }

    /// A rectangle from one hour of a day to another.
    fn span(&self, day: usize, from_h: f64, to_h: f64) -> Rectangle {
        let x = LEFT + (day % DAYS_A_STRIP) as f64 * CELL_WIDTH;
        let y = self.top + (day / DAYS_A_STRIP) as f64 * STRIP_STEP + from_h * CELL_HEIGHT;
        rectangle(x, y, CELL_WIDTH, (to_h - from_h) * CELL_HEIGHT)
    }

    /// The chances.
    fn cells(&self) -> Group {
        let mut group = Group::new().set("shape-rendering", "crispEdges");
        for (place, column) in self.columns.iter().enumerate() {
            let step =
                |chance: f64| ((chance / self.scale_top * STEPS as f64) as usize).min(STEPS - 1);
            let mut hours: Vec<(usize, usize)> =
                column.hours.iter().map(|&(hour, chance)| (hour, step(chance))).collect();
            hours.sort_unstable();
            // Hours of one colour that follow one another are one rectangle.
            for alike in hours.chunk_by(|a, b| a.1 == b.1 && a.0 + 1 == b.0) {
                if let (Some(first), Some(last)) = (alike.first(), alike.last()) {
                    let (from_h, to_h) = (first.0 as f64, last.0 as f64 + 1.0);
                    group.append(self.span(place, from_h, to_h).set("fill", colour(first.1)));
                }
            }
        }
        group
    }

    /// Hours and dates about the strips. An hour without colour is one from which the window
    /// holds no whole stay.
    fn frames(&self) -> Group {
        let mut group = Group::new();
        for strip in 0..self.strips() {
            let days = (self.columns.len() - strip * DAYS_A_STRIP).min(DAYS_A_STRIP);
            let top = self.top + strip as f64 * STRIP_STEP;
            let width = days as f64 * CELL_WIDTH;
            group.append(
                rectangle(LEFT, top, width, STRIP_HEIGHT)
                    .set("fill", "none")
                    .set("stroke", "#8a939c"),
            );
            for hour in [0_u8, 6, 12, 18, 24] {
                let y = top + f64::from(hour) * CELL_HEIGHT;
                group.append(rule([LEFT - 5.0, y], [LEFT, y]));
                group.append(text(&format!("{hour:02}"), LEFT - 8.0, y + 4.5, "end"));
            }
            for day in (0..days).step_by(3) {
                let x = LEFT + (day as f64 + 0.5) * CELL_WIDTH;
                let bottom = top + STRIP_HEIGHT;
                group.append(rule([x, bottom], [x, bottom + 5.0]));
                let date = self.columns.get(strip * DAYS_A_STRIP + day).map(|column| column.first);
                let date =
                    date.map_or_else(String::new, |date| date.strftime("%-d %b").to_string());
                group.append(text(&date, x, bottom + 19.0, "middle"));
            }
        }
        group
    }

    /// Outlines of the best stays, with their ranks; the first is drawn last, over the others.
    fn outlines(&self, best: &[Chance], for_h: f64) -> Group {
        let mut group = Group::new();
        for (rank, one) in best.iter().enumerate().rev() {
            let here = utc(one.from);
            let place = self.columns.iter().position(|column| column.holds(here.date()));
            let Some(first) = place else { continue };
            let mut day = first;
            let mut from_h = hour_of(here);
            // A stay of no length is one hour's cell; one over midnight goes on in the next column.
            let mut left_h = for_h.max(1.0);
            while left_h > 0.0 && day < self.columns.len() {
                let to_h = (from_h + left_h).min(24.0);
                for (colour, width) in [("#ffffff", 4.0), (INK, 2.0)] {
                    group.append(
                        self.span(day, from_h, to_h)
                            .set("fill", "none")
                            .set("stroke", colour)
                            .set("stroke-width", width),
                    );
                }
                left_h -= to_h - from_h;
                // A week's hours go over midnight within their own column.
                let next = self.columns.get(day).is_some_and(|column| column.days == 1);
                (day, from_h) = (day + usize::from(next), 0.0);
            }
            let day = first;
            let x = LEFT + ((day % DAYS_A_STRIP) as f64 + 0.5) * CELL_WIDTH;
            let y = self.top
                + (day / DAYS_A_STRIP) as f64 * STRIP_STEP
                + (hour_of(here) + 0.5) * CELL_HEIGHT;
            group.append(
                text(&(rank + 1).to_string(), x, y.max(self.top + 8.0) + 6.0, "middle")
                    .set("font-weight", "bold")
                    .set("stroke", "#ffffff")
                    .set("stroke-width", 3)
                    .set("paint-order", "stroke"),
            );
        }
        group
    }
}

/// The scale with its unit, and what else there is to know, under the words that end at `y`.
fn legend(scale_top: f64, y: f64) -> Group {
    let width = 22.0;
    let (x, top) = (10.0, y + 12.0);
    let mut group = Group::new();
    for step in 0..STEPS {
        let box_x = x + step as f64 * width;
        group.append(rectangle(box_x, top, width, 12.0).set("fill", colour(step)));
    }
    let length = width * STEPS as f64;
    group.append(rectangle(x, top, length, 12.0).set("fill", "none").set("stroke", "#8a939c"));
    for share in [0.0, 0.5, 1.0] {
        let percent = 100.0 * share * scale_top;
        let anchor = if share == 0.0 { "start" } else { "middle" };
        group.append(text(&format!("{percent} %"), x + share * length, top + 27.0, anchor));
    }
    group.append(text("chance", x + length + 22.0, top + 11.0, "start"));
    let box_x = x + length + 84.0;
    group.append(
        rectangle(box_x, top, 14.0, 12.0)
            .set("fill", "none")
            .set("stroke", INK)
            .set("stroke-width", 2),
    );
    group.append(text("a best stay, by rank", box_x + 20.0, top + 11.0, "start"));
    group.append(text("down: hour of the day, UTC", x + length + 22.0, top + 27.0, "start"));
    group
}

/// The colour of a step of the scale.
fn colour(step: usize) -> String {
    let place = step as f64 / (STEPS - 1) as f64 * (ANCHORS.len() - 1) as f64;
    let at = (place as usize).min(ANCHORS.len() - 2);
    let share = place - at as f64;
    let [red, green, blue] = [0, 1, 2].map(|part| {
        let (from, to) = (ANCHORS[at][part], ANCHORS[at + 1][part]);
        (from + share * (to - from)).round() as u8
    });
    format!("#{red:02x}{green:02x}{blue:02x}")
}

pub(super) fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Rectangle {
    Rectangle::new().set("x", x).set("y", y).set("width", width).set("height", height)
}

pub(super) fn rule([x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) -> Line {
    Line::new().set("x1", x1).set("y1", y1).set("x2", x2).set("y2", y2).set("stroke", "#8a939c")
}

pub(super) fn text(words: &str, x: f64, y: f64, anchor: &str) -> Text {
    Text::new(words).set("x", x).set("y", y).set("text-anchor", anchor)
}

fn utc(instant: Timestamp) -> DateTime {
    Offset::UTC.to_datetime(instant)
}

fn hour_of(here: DateTime) -> f64 {
    f64::from(here.hour()) + f64::from(here.minute()) / 60.0
}

/// Words in lines that fit the picture.
fn wrapped(words: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= LETTERS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use dipward_field::Ellipse;

    use super::*;

    fn told(days: u32, for_h: f64, chance: impl Fn(u32) -> f64) -> Told {
        let start: Timestamp = "2027-01-05T06:00Z".parse().unwrap();
        let one = |hour: u32| Chance {
            from: start + jiff::Span::new().hours(hour),
            days: 1,
            chance: chance(hour),
            standard_error: 0.01,
        };
        Told {
            caution: "",
            version: "",
            within_km: 15.0,
            for_h,
            looks_per_hour: 4,
            members: 20,
            seed: 1,
            disturbance: "Kp & <what>".into(),
            verified: None,
            days_known_until: None,
            mean_pole_95: Ellipse { semi_major_km: 2.0, semi_minor_km: 1.0, bearing_deg: 0.0 },
            hours_of_day: Vec::new(),
            models: Vec::new(),
            best: vec![one(14), one(0)],
            hours: Vec::new(),
            assumptions: Vec::new(),
            season: (0..24 * days).map(one).collect(),
        }
    }

    #[test]
    fn lightness_falls_all_along_the_scale() {
        let lightness = |step| {
            let colour = colour(step);
            let part = |at: usize| f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap());
            0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
        };
        assert!((1..STEPS).all(|step| lightness(step) < lightness(step - 1) - 12.0));
    }

    #[test]
    fn every_hour_has_its_colour_and_a_stay_over_midnight_goes_on_in_the_next_column() {
        let picture = strip(&told(50, 6.0, |hour| f64::from(hour % 11) / 20.0));
        // Of two parts: from 20 UTC, 14 hours after the start, to 2 UTC.
        assert_eq!(picture.matches("stroke-width=\"4\"").count(), 3);
        assert!(picture.contains("Kp &amp; &lt;what&gt;"));
        // Chances up to 50 %: the scale ends there.
        assert!(picture.contains(">\n50 %\n<") && !picture.contains("100 %"), "{picture}");
        for step in 0..STEPS {
            assert!(picture.contains(&colour(step)), "{step}");
        }
        // 51 days, three strips: a date every third day of each.
        assert_eq!(picture.matches(" Jan\n").count() + picture.matches(" Feb\n").count(), 17);
        let height = |days| {
            let picture = strip(&told(days, 0.0, |_| 1.0));
            let from = picture.find("viewBox=\"").unwrap() + 9;
            let text = picture[from..].split(['"', ' ']).nth(3).unwrap().to_owned();
            text.parse::<f64>().unwrap()
        };
        assert_eq!(height(50) - height(5), 2.0 * STRIP_STEP);
    }

    #[test]
    fn a_window_without_any_hour_still_makes_a_picture() {
        let empty = Told { season: Vec::new(), best: Vec::new(), ..told(1, 1.0, |_| 0.0) };
        assert!(strip(&empty).starts_with("<svg"));
        assert_eq!(wrapped("  "), Vec::<String>::new());
    }
}
