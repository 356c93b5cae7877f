//! Sailing a line through cells: hours and fuel, integrated exactly through space and time.
//!
//! Within a cell and an interval the pace p is linear in time, dt/dx = p(t), so that after a length x
//!
//! ```text
//!   t - t0 = p0 (exp(q x) - 1) / q     with q = dp/dt
//! ```
//!
//! Two crafts on one line therefore never overtake each other: the later one arrives later, whatever
//! the slope of the pace (first in, first out), as long as no cell closes ahead.

use crate::{heading::Heading, world::World};

/// A length within one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    /// Cell of the grid.
    pub(crate) cell: u32,
    /// Length in kilometres.
    pub(crate) km: f64,
}

/// A straight line cut at the sides of the cells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Line {
    pub(crate) pieces: Vec<Piece>,
    pub(crate) heading: Vec<Heading>,
    pub(crate) km: f64,
}

/// Where the power setting changes on a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shift {
    /// Kilometres from the line's start.
    pub(crate) at_km: f64,
    pub(crate) hour: f64,
    pub(crate) fuel_t: f64,
    pub(crate) setting: usize,
}

/// A length of one piece that was sailed within one interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    /// Which piece of the line.
    pub(crate) piece: usize,
    pub(crate) km: f64,
    pub(crate) begin_hour: f64,
    pub(crate) end_hour: f64,
    pub(crate) fuel_t: f64,
}

/// Who is told of a passage as it goes. What it does not want to hear costs nothing.
pub(crate) trait Listener {
    /// The power setting changes, the start included.
    fn shift(&mut self, _: Shift) {}
    /// A length was sailed.
    fn stretch(&mut self, _: Stretch) {}
}

impl Listener for Option<&mut Vec<Shift>> {
    fn shift(&mut self, shift: Shift) {
        if let Some(shifts) = self {
            shifts.push(shift);
        }
    }
}

impl Listener for Vec<Stretch> {
    fn stretch(&mut self, stretch: Stretch) {
        self.push(stretch);
    }
}

/// How a passage went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Passage {
    /// It arrived.
    Arrived {
        /// When.
        hour: f64,
        /// Fuel burnt on the line.
        fuel_t: f64,
    },
    /// A cell was closed, or closed before it was left.
    Blocked {
        /// Which piece.
        piece: usize,
        /// When it opens next; infinite for never.
        opens_hour: f64,
    },
}

/// Pace and burn of one cell, setting and heading over one interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Leg {
    pub(crate) near_pace: f64,
    pub(crate) far_pace: f64,
    pub(crate) near_burn: f64,
    pub(crate) far_burn: f64,
    pub(crate) setting: usize,
}

/// What a line is sailed in: the table itself, or the layers that a world made of it.
pub(crate) trait Medium {
    /// The world.
    fn world(&self) -> &World<'_>;
    /// Pace and burn in a cell over an interval.
    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg;
    /// The padded index of a cell of a line.
    fn padded(&self, cell: u32) -> u32;
}

/// The table: cells of the grid, kilometres, tonnes, the best setting at the very heading.
impl Medium for World<'_> {
    fn world(&self) -> &World<'_> {
        self
    }

    fn padded(&self, cell: u32) -> u32 {
        self.padding.padded(cell) as u32
    }

    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg {
        self.best_leg(cell as usize, interval, heading)
    }
}

/// The layers: padded cells, cell widths, and the cost in the place of the fuel.
pub(crate) struct Layers<'w, 't>(pub(crate) &'w World<'t>);

impl Medium for Layers<'_, '_> {
    fn world(&self) -> &World<'_> {
        self.0
    }

    fn padded(&self, cell: u32) -> u32 {
        cell
    }

    #[inline(always)]
    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg {
        let world = self.0;
        let frames = &world.intervals[interval];
        let (pace, rate): (&[f32], &[f32]) = (&world.pace, &world.rate);
        let read = |values: &[f32], layer: usize| {
            let at = |sector: u16| values[world.place(sector, layer) + cell as usize];
            let first = at(heading.first);
            if heading.share == 0.0 {
                return f64::from(first);
            }
            f64::from(first + heading.share * (at(heading.second) - first))
        };
        let rate = |layer: usize| if rate.is_empty() { 1.0 } else { read(rate, layer) };
        Leg {
            near_pace: read(pace, frames.near_layer),
            far_pace: read(pace, frames.far_layer),
            near_burn: rate(frames.near_layer),
            far_burn: rate(frames.far_layer),
            setting: 0,
        }
    }
}

impl World<'_> {
    /// The best setting in a cell over an interval: that of the least cost, the sum of both ends.
    fn best_leg(&self, cell: usize, interval: usize, heading: Heading) -> Leg {
        let mut best = Leg {
            near_pace: f64::INFINITY,
            far_pace: f64::INFINITY,
            near_burn: 0.0,
            far_burn: 0.0,
            setting: 0,
        };
        let mut best_cost = f64::INFINITY;
        for setting in 0..self.table.settings {
            let leg = self.leg_at(setting, cell, interval, heading);
            let cost = self.weight.cost(leg.near_pace, leg.near_pace * leg.near_burn)
                + self.weight.cost(leg.far_pace, leg.far_pace * leg.far_burn);
            if cost < best_cost {
                best = leg;
                best_cost = cost;
            }
        }
        best
    }

    /// A cell over an interval at one setting.
    pub(crate) fn leg_at(
        &self,
        setting: usize,
        cell: usize,
        interval: usize,
        heading: Heading,
    ) -> Leg {
        let table = self.table;
        let frames = &self.intervals[interval];
        let blend = |values: &[f32], first: usize, second: usize| {
            let value = f64::from(values[first]);
            if heading.share == 0.0 {
                return value;
            }
            value + f64::from(heading.share) * (f64::from(values[second]) - value)
        };
        let at = |sector: u16, frame| table.offset(setting, sector.into(), frame) + cell;
        let near = (at(heading.first, frames.near_frame), at(heading.second, frames.near_frame));
        let far = (at(heading.first, frames.far_frame), at(heading.second, frames.far_frame));
        Leg {
            near_pace: blend(&table.pace_h_per_km, near.0, near.1),
            far_pace: blend(&table.pace_h_per_km, far.0, far.1),
            near_burn: blend(&table.burn_t_per_h, near.0, near.1),
            far_burn: blend(&table.burn_t_per_h, far.0, far.1),
            setting,
        }
    }
}

/// Sails pieces in order from an hour on.
///
/// `heading` holds one entry a piece, or is empty where heading does not matter. `shifts` is told
/// where the power setting changes, the start included.
pub(crate) fn sail<M: Medium>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    depart_hour: f64,
    mut shifts: Option<&mut Vec<Shift>>,
) -> Passage {
    sail_told(medium, pieces, heading, depart_hour, &mut shifts)
}

/// The same; `listener` is told of the passage as it goes.
pub(crate) fn sail_told<M: Medium, L: Listener>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    depart_hour: f64,
    listener: &mut L,
) -> Passage {
    let world = medium.world();
    let mut hour = depart_hour;
    let mut fuel_t = 0.0;
    let mut done_km = 0.0;
    let mut interval = world.interval_at(hour);
    let mut setting = usize::MAX;
    for (index, piece) in pieces.iter().enumerate() {
        let heading = heading.get(index).copied().unwrap_or(Heading::ANY);
        let entered_hour = hour;
        let mut left_km = piece.km;
        loop {
            let frames = &world.intervals[interval];
            if hour >= frames.end_hour && interval + 1 < world.intervals.len() {
                interval += 1;
                continue;
            }
            let leg = medium.leg(piece.cell, interval, heading);
            let open = leg.near_pace < f64::INFINITY && leg.far_pace < f64::INFINITY;
            if !open {
                let cell = medium.padded(piece.cell);
                let opens_hour = world.openings.next_opening(cell, entered_hour);
                let opens_hour = opens_hour.unwrap_or(f64::INFINITY);
                return Passage::Blocked { piece: index, opens_hour };
            }
            if leg.setting != setting {
                setting = leg.setting;
                listener.shift(Shift {
                    at_km: done_km + piece.km - left_km,
                    hour,
                    fuel_t,
                    setting,
                });
            }
            if left_km == 0.0 {
                // A corner that is touched takes no time.
                break;
            }
            let fraction = frames.fraction(hour);
            let pace = leg.near_pace + fraction * (leg.far_pace - leg.near_pace);
            let slope = (leg.far_pace - leg.near_pace) * frames.per_length;
            let hours = hours_for(pace, slope, left_km);
            let stays = hour + hours <= frames.end_hour;
            let hours = if stays { hours } else { frames.end_hour - hour };
            let burn = leg.near_burn + fraction * (leg.far_burn - leg.near_burn);
            let burn_slope = (leg.far_burn - leg.near_burn) * frames.per_length;
            let burnt_t = hours * (burn + burn_slope * hours / 2.0);
            fuel_t += burnt_t;
            let begin_hour = hour;
            let before_km = left_km;
            (left_km, hour) = if stays {
                (0.0, hour + hours)
            } else {
                ((left_km - km_in(pace, slope, hours)).max(0.0), frames.end_hour)
            };
            listener.stretch(Stretch {
                piece: index,
                km: before_km - left_km,
                begin_hour,
                end_hour: hour,
                fuel_t: burnt_t,
            });
            if stays {
                break;
            }
        }
        done_km += piece.km;
    }
    Passage::Arrived { hour, fuel_t }
}

/// Sails pieces at the earliest hour, not before `from_hour` and not waiting past `until_hour`, at
/// which no cell of them is closed or closes.
///
/// Returns the hour of departure, that of arrival, and the fuel under way.
pub(crate) fn sail_when_open<M: Medium>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    from_hour: f64,
    until_hour: f64,
) -> Option<(f64, f64, f64)> {
    let mut depart_hour = from_hour;
    // Each round passes an opening; a line has few.
    for round in 0..MOST_ROUNDS {
        match sail(medium, pieces, heading, depart_hour, None) {
            Passage::Arrived { hour, fuel_t } => return Some((depart_hour, hour, fuel_t)),
            Passage::Blocked { piece, opens_hour } => {
                let on_time = depart_for(medium, pieces, heading, piece, opens_hour)?;
                // Rounding must not leave it this side of the opening for ever.
                depart_hour = on_time.max(depart_hour) + HAIR_H * f64::from(1 + round);
                if depart_hour >= until_hour {
                    return None;
                }
            }
        }
    }
    None
}

/// The departure that comes to the line's last cell just as it opens, a hair after.
pub(crate) fn depart_for_end<M: Medium>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    opens_hour: f64,
) -> Option<f64> {
    let end = pieces.last()?.cell;
    let piece = pieces.iter().rposition(|piece| piece.cell != end).map_or(0, |before| before + 1);
    Some(depart_for(medium, pieces, heading, piece, opens_hour)? + HAIR_H)
}

/// The departure that comes to a piece at an hour; where a cell before it is closed on the way, the
/// earliest departure after that.
fn depart_for<M: Medium>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    piece: usize,
    hour: f64,
) -> Option<f64> {
    let (mut piece, mut hour) = (piece, hour);
    for _ in 0..MOST_ROUNDS {
        if hour == f64::INFINITY {
            return None;
        }
        match sail_back(medium, pieces, heading, piece, hour) {
            Ok(depart_hour) => return Some(depart_hour),
            Err((earlier, closed_hour)) => {
                let cell = medium.padded(pieces.get(earlier)?.cell);
                piece = earlier;
                hour = medium.world().openings.next_opening(cell, closed_hour)?;
            }
        }
    }
    None
}

/// Sails back in time from the entry into a piece; gives the departure, or the piece that is closed
/// and when.
fn sail_back<M: Medium>(
    medium: &M,
    pieces: &[Piece],
    heading: &[Heading],
    piece: usize,
    hour: f64,
) -> Result<f64, (usize, f64)> {
    let world = medium.world();
    let mut hour = hour;
    let mut interval = world.interval_at(hour);
    for (index, piece) in pieces.iter().enumerate().take(piece).rev() {
        let heading = heading.get(index).copied().unwrap_or(Heading::ANY);
        let mut left_km = piece.km;
        loop {
            let frames = &world.intervals[interval];
            if hour <= frames.begin_hour && interval > 0 {
                interval -= 1;
                continue;
            }
            let leg = medium.leg(piece.cell, interval, heading);
            if !(leg.near_pace < f64::INFINITY && leg.far_pace < f64::INFINITY) {
                // Closed up to this instant, so that the next opening is the one at it or later.
                return Err((index, frames.begin_hour.max(hour - HAIR_H)));
            }
            let pace = leg.near_pace + frames.fraction(hour) * (leg.far_pace - leg.near_pace);
            // Against time the slope has the other sign.
            let slope = -(leg.far_pace - leg.near_pace) * frames.per_length;
            let hours = hours_for(pace, slope, left_km);
            if hour - hours >= frames.begin_hour {
                hour -= hours;
                break;
            }
            let hours = hour - frames.begin_hour;
            left_km = (left_km - km_in(pace, slope, hours)).max(0.0);
            hour = frames.begin_hour;
        }
    }
    Ok(hour)
}

/// Rounds of waiting before a line is given up.
const MOST_ROUNDS: u32 = 64;
/// Far below a second.
const HAIR_H: f64 = 1e-9;

/// Hours for a length at a pace that changes with time.
pub(crate) fn hours_for(pace: f64, slope: f64, km: f64) -> f64 {
    let growth = slope * km;
    if growth.abs() < 0.05 {
        // The next term is below 1e-14 of the sum.
        let terms = [8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0].map(f64::recip);
        return pace * km * terms.iter().fold(1.0, |sum, term| 1.0 + growth * term * sum);
    }
    pace * growth.exp_m1() / slope
}

/// Length in some hours at a pace that changes with time: the inverse of [`hours_for`].
pub(crate) fn km_in(pace: f64, slope: f64, hours: f64) -> f64 {
    let ratio = slope * hours / pace;
    if ratio.abs() < 1e-6 {
        return hours / pace * (1.0 - ratio / 2.0);
    }
    ratio.ln_1p() / slope
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_and_lengths_are_inverse() {
        for slope in [-0.01, -1e-9, 0.0, 1e-7, 0.02] {
            let hours = hours_for(0.1, slope, 3.0);
            assert!((km_in(0.1, slope, hours) - 3.0).abs() < 1e-9, "{slope}");
        }
    }

    /// Ten thousand small steps at the pace of their start.
    #[test]
    fn hours_are_what_small_steps_give() {
        let (pace, slope, km) = (0.08, 0.004, 12.0);
        let mut hours = 0.0;
        for _ in 0..10_000 {
            hours += (pace + slope * hours) * km / 10_000.0;
        }
        assert!((hours_for(pace, slope, km) - hours).abs() < 1e-4 * hours);
    }
}
