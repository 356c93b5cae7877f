//! The quiet level of a station, and what the field is beyond it.
//!
//! The level runs straight from winter to winter between the medians of north and east over the hours
//! of Kp up to 1+ of each local winter (May to August in the south, November to February in the north),
//! when the currents over a polar cap are weakest. Each median stands at the mean instant of its hours.
//! A winter with fewer than 50 such hours gives none. Before the first winter and after the last the
//! line is carried on for a year and a half; what lies farther out has no level and counts as missing.
//!
//! A step of more than 1000 nT from one winter to the next is a move of the instruments or a slip, not
//! the Earth: the line is cut there, and the hours in between count as missing.
//!
//! A record with one winter or none has one level: the median over the quiet hours of that winter, else
//! over those of its local nights (22 to 04 h), else over all its quiet hours. It holds for a year and a
//! half about them.

use std::collections::BTreeMap;

use dipward_geodesy::Hemisphere;
use jiff::tz::Offset;

use super::{
    StationFileError,
    joined::Joined,
    rows::{Row, instant_of},
};
use crate::{Kp, KpHistory};

/// Kp up to 1+ is quiet.
const QUIET_THIRDS: u8 = 4;
/// A winter with fewer quiet hours gives no median.
const FEWEST_WINTER_H: f64 = 50.0;
/// The same of a record's local nights: three nights' worth.
const FEWEST_NIGHT_H: f64 = 18.0;
/// The same of all its hours.
const FEWEST_H: f64 = 6.0;
/// A year and a half, minutes.
const CARRIED_MIN: f64 = 1.5 * 365.25 * 1440.0;
/// Secular variation is below 200 nT a year wherever there was an observatory (from memory).
const JUMP_NT: f64 = 1000.0;
/// A wider gap between winters is told.
const WIDE_MIN: f64 = 3.5 * 365.25 * 1440.0;

/// A quiet median.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    /// Mean instant of its hours, minutes from 1970.
    minute: f64,
    nt: [f64; 2],
    hours: f64,
}

/// Nodes between which the level runs straight, by increasing time; never empty.
#[derive(Debug, Clone, PartialEq)]
struct Piece(Vec<Node>);

/// The field of each interval less its quiet level, and what is to be told.
pub(super) fn perturbation(joined: &Joined) -> Result<(Vec<Row>, Vec<String>), StationFileError> {
    let quiet = QuietHours::of(joined);
    let nodes: Vec<Node> = quiet
        .winters
        .values()
        .filter_map(|rows| quiet.node(rows))
        .filter(|node| node.hours >= FEWEST_WINTER_H)
        .collect();
    let mut remarks = Vec::new();
    let pieces = match nodes.len() {
        0 | 1 => {
            let (node, of) = quiet.one_level(nodes.first().copied())?;
            remarks.push(format!(
                "the record has {} winters of quiet hours, and two make a line: one quiet level stands \
                 for all of it, the median over {:.0} hours of Kp up to 1+ {of}",
                nodes.len(),
                node.hours
            ));
            vec![Piece(vec![node])]
        }
        winters => {
            let skipped = quiet.winters.len() - winters;
            remarks.push(format!(
                "the quiet level runs straight between the medians of {winters} winters, hours of Kp up \
                 to 1+; {skipped} further winters have fewer than {FEWEST_WINTER_H:.0} such hours"
            ));
            pieces(&nodes, &mut remarks)
        }
    };
    let half = joined.cadence_min as f64 / 2.0;
    let (mut rows, mut without) = (Vec::with_capacity(joined.rows.len()), 0_usize);
    for row in &joined.rows {
        match level(&pieces, row.minute as f64 + half) {
            Some(level) => {
                let nt = [0, 1].map(|part| (f64::from(row.nt[part]) - level[part]) as f32);
                rows.push(Row { minute: row.minute, nt });
            }
            None => without += 1,
        }
    }
    if without > 0 {
        remarks.push(format!(
            "{without} intervals are left out: they lie in a step of the level, or more than a year and \
             a half from the nearest quiet hours"
        ));
    }
    Ok((rows, remarks))
}

/// Cuts the line where it steps, and tells of steps and wide gaps.
fn pieces(nodes: &[Node], remarks: &mut Vec<String>) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    for &node in nodes {
        let day = |node: &Node| Offset::UTC.to_datetime(instant_of(node.minute as i64)).date();
        let Some(piece) = pieces.last_mut() else {
            pieces.push(Piece(vec![node]));
            continue;
        };
        let Some(before) = piece.0.last().copied() else { continue };
        let step_nt = (node.nt[0] - before.nt[0]).hypot(node.nt[1] - before.nt[1]);
        let (from, to) = (day(&before), day(&node));
        if step_nt > JUMP_NT {
            remarks.push(format!(
                "the quiet level steps by {step_nt:.0} nT between {from} and {to}, as when instruments \
                 are moved: what lies between is left out"
            ));
            pieces.push(Piece(vec![node]));
            continue;
        }
        if node.minute - before.minute > WIDE_MIN {
            remarks.push(format!(
                "no winter between {from} and {to} has enough quiet hours: the level runs straight over \
                 the gap"
            ));
        }
        piece.0.push(node);
    }
    pieces
}

/// The quiet level at a minute; `None` where there is none.
fn level(pieces: &[Piece], minute: f64) -> Option<[f64; 2]> {
    let ends = |piece: &Piece| Some((piece.0.first()?.minute, piece.0.last()?.minute));
    // What lies between two pieces belongs to neither.
    let inside =
        |piece: &&Piece| ends(piece).is_some_and(|(from, to)| from <= minute && minute <= to);
    let (first, last) = (pieces.first()?, pieces.last()?);
    let piece = match pieces.iter().find(inside) {
        Some(piece) => piece,
        None if (0.0..=CARRIED_MIN).contains(&(ends(first)?.0 - minute)) => first,
        None if (0.0..=CARRIED_MIN).contains(&(minute - ends(last)?.1)) => last,
        None => return None,
    };
    let nodes = &piece.0;
    let [only] = nodes.as_slice() else {
        let after = nodes.partition_point(|node| node.minute <= minute).clamp(1, nodes.len() - 1);
        let (early, late) = (nodes.get(after - 1)?, nodes.get(after)?);
        let share = (minute - early.minute) / (late.minute - early.minute);
        return Some([0, 1].map(|part| early.nt[part] + share * (late.nt[part] - early.nt[part])));
    };
    Some(only.nt)
}

/// The quiet intervals of a record.
#[derive(Debug)]
struct QuietHours {
    cadence_h: f64,
    /// By the year in which the winter has its January or July.
    winters: BTreeMap<i16, Vec<Row>>,
    nights: Vec<Row>,
    all: Vec<Row>,
    /// Whether any interval lies within the history of Kp.
    within_history: bool,
}

impl QuietHours {
    fn of(joined: &Joined) -> Self {
        let history = KpHistory::embedded();
        let hemisphere = hemisphere_of(joined.place.y());
        let mut quiet = Self {
            cadence_h: joined.cadence_min as f64 / 60.0,
            winters: BTreeMap::new(),
            nights: Vec::new(),
            all: Vec::new(),
            within_history: false,
        };
        for row in &joined.rows {
            let middle = instant_of(row.minute + joined.cadence_min / 2);
            let Some(kp) = history.at(middle) else { continue };
            quiet.within_history = true;
            if kp > Kp::from_thirds(QUIET_THIRDS).unwrap_or_default() {
                continue;
            }
            let at = Offset::UTC.to_datetime(middle);
            match (hemisphere, at.month()) {
                (Hemisphere::South, 5..=8) | (Hemisphere::North, 1 | 2) => {
                    quiet.winters.entry(at.year()).or_default().push(*row);
                }
                (Hemisphere::North, 11 | 12) => {
                    quiet.winters.entry(at.year() + 1).or_default().push(*row);
                }
                _ => {}
            }
            let local_h =
                f64::from(at.hour()) + f64::from(at.minute()) / 60.0 + joined.place.x() / 15.0;
            // From 22 to 04 h.
            if (local_h + 2.0).rem_euclid(24.0) < 6.0 {
                quiet.nights.push(*row);
            }
            quiet.all.push(*row);
        }
        quiet
    }

    fn node(&self, rows: &[Row]) -> Option<Node> {
        if rows.is_empty() {
            return None;
        }
        let middle_min = 30.0 * self.cadence_h;
        let minutes: f64 = rows.iter().map(|row| row.minute as f64 + middle_min).sum();
        let median = |part: usize| {
            let mut values: Vec<f32> = rows.iter().map(|row| row.nt[part]).collect();
            values.sort_unstable_by(f32::total_cmp);
            let (low, high) = ((values.len() - 1) / 2, values.len() / 2);
            f64::midpoint(f64::from(values[low]), f64::from(values[high]))
        };
        Some(Node {
            minute: minutes / rows.len() as f64,
            nt: [median(0), median(1)],
            hours: rows.len() as f64 * self.cadence_h,
        })
    }

    /// The one level of a record without two winters, and of what it is the median.
    fn one_level(&self, winter: Option<Node>) -> Result<(Node, &'static str), StationFileError> {
        let enough = |rows: &[Row], least: f64| self.node(rows).filter(|node| node.hours >= least);
        if let Some(node) = winter {
            return Ok((node, "of its winter"));
        }
        if let Some(node) = enough(&self.nights, FEWEST_NIGHT_H) {
            return Ok((node, "at night (22 to 04 h local time)"));
        }
        if let Some(node) = enough(&self.all, FEWEST_H) {
            return Ok((node, "at any time of day, for want of nights"));
        }
        let hours = self.all.len() as f64 * self.cadence_h;
        Err(StationFileError::Whole(if self.within_history {
            format!(
                "the record has {hours:.1} hours of Kp up to 1+, and {FEWEST_H} make a quiet level: give \
                 more of it, or give the perturbation as time_utc,north_nt,east_nt"
            )
        } else {
            "no interval lies within the history of Kp (1957-10-01 to 2026-06-30), by which the quiet \
             level is found: give the perturbation as time_utc,north_nt,east_nt"
                .into()
        }))
    }
}

fn hemisphere_of(latitude_deg: f64) -> Hemisphere {
    if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North }
}
