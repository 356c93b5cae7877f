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
        /// When the cell was entered.
        entered_hour: f64,
        /// When it opens next, if ever.
        opens_hour: Option<f64>,
    },
}

/// Pace and burn of one cell, setting and heading over one interval.
#[derive(Debug, Clone, Copy)]
struct Leg {
    near_pace: f64,
    far_pace: f64,
    near_burn: f64,
    far_burn: f64,
    setting: usize,
}

impl World<'_> {
    /// The best setting in a cell over an interval: that of the least cost, the sum of both ends.
    fn leg(&self, cell: usize, interval: usize, heading: Heading) -> Leg {
        let table = self.table;
        let frames = &self.intervals[interval];
        let mut best = Leg {
            near_pace: f64::INFINITY,
            far_pace: f64::INFINITY,
            near_burn: 0.0,
            far_burn: 0.0,
            setting: 0,
        };
        let mut best_cost = f64::INFINITY;
        let blend = |values: &[f32], first: usize, second: usize| {
            let value = f64::from(values[first]);
            if heading.share == 0.0 {
                return value;
            }
            value + f64::from(heading.share) * (f64::from(values[second]) - value)
        };
        for setting in 0..table.settings {
            let at = |sector: u16, frame| table.offset(setting, sector.into(), frame) + cell;
            let near =
                (at(heading.first, frames.near_frame), at(heading.second, frames.near_frame));
            let far = (at(heading.first, frames.far_frame), at(heading.second, frames.far_frame));
            let leg = Leg {
                near_pace: blend(&table.pace_h_per_km, near.0, near.1),
                far_pace: blend(&table.pace_h_per_km, far.0, far.1),
                near_burn: blend(&table.burn_t_per_h, near.0, near.1),
                far_burn: blend(&table.burn_t_per_h, far.0, far.1),
                setting,
            };
            let cost = self.weight.cost(leg.near_pace, leg.near_pace * leg.near_burn)
                + self.weight.cost(leg.far_pace, leg.far_pace * leg.far_burn);
            if cost < best_cost {
                best = leg;
                best_cost = cost;
            }
        }
        best
    }

    /// Sails a line from an hour on.
    ///
    /// `shifts` is told where the power setting changes, the start included.
    pub(crate) fn sail(
        &self,
        line: &Line,
        depart_hour: f64,
        mut shifts: Option<&mut Vec<Shift>>,
    ) -> Passage {
        let mut hour = depart_hour;
        let mut fuel_t = 0.0;
        let mut done_km = 0.0;
        let mut interval = self.interval_at(hour);
        let mut setting = usize::MAX;
        for (index, piece) in line.pieces.iter().enumerate() {
            let heading = line.heading.get(index).copied().unwrap_or(Heading::ANY);
            let entered_hour = hour;
            let mut left_km = piece.km;
            loop {
                let frames = self.intervals[interval];
                if hour >= frames.end_hour && interval + 1 < self.intervals.len() {
                    interval += 1;
                    continue;
                }
                let leg = self.leg(piece.cell as usize, interval, heading);
                let open = leg.near_pace < f64::INFINITY && leg.far_pace < f64::INFINITY;
                if !open {
                    let cell = self.padding.from_cell(piece.cell) as u32;
                    let opens_hour = self.openings.next_opening(cell, entered_hour);
                    return Passage::Blocked { entered_hour, opens_hour };
                }
                if leg.setting != setting {
                    setting = leg.setting;
                    if let Some(shifts) = shifts.as_deref_mut() {
                        let at_km = done_km + piece.km - left_km;
                        shifts.push(Shift { at_km, hour, fuel_t, setting });
                    }
                }
                let fraction = frames.fraction(hour);
                let pace = leg.near_pace + fraction * (leg.far_pace - leg.near_pace);
                let slope = (leg.far_pace - leg.near_pace) * frames.per_length;
                let hours = hours_for(pace, slope, left_km);
                let stays = hour + hours <= frames.end_hour;
                let hours = if stays { hours } else { frames.end_hour - hour };
                let burn = leg.near_burn + fraction * (leg.far_burn - leg.near_burn);
                let burn_slope = (leg.far_burn - leg.near_burn) * frames.per_length;
                fuel_t += hours * (burn + burn_slope * hours / 2.0);
                if stays {
                    hour += hours;
                    break;
                }
                left_km = (left_km - km_in(pace, slope, hours)).max(0.0);
                hour = frames.end_hour;
            }
            done_km += piece.km;
        }
        Passage::Arrived { hour, fuel_t }
    }

    /// Sails a line at the earliest hour, not before `from_hour` and not waiting past `until_hour`, at
    /// which no cell of it is closed or closes.
    ///
    /// Returns the hour of departure, that of arrival, and the fuel under way.
    pub(crate) fn sail_when_open(
        &self,
        line: &Line,
        from_hour: f64,
        until_hour: f64,
    ) -> Option<(f64, f64, f64)> {
        let mut depart_hour = from_hour;
        // Each round passes an opening or comes closer to it; a line has few.
        for round in 0..MOST_ROUNDS {
            match self.sail(line, depart_hour, None) {
                Passage::Arrived { hour, fuel_t } => return Some((depart_hour, hour, fuel_t)),
                Passage::Blocked { entered_hour, opens_hour } => {
                    let lack = opens_hour? - entered_hour;
                    // The shift comes near the opening from below; the hair takes it past.
                    let hair = HAIR_H * f64::from(1 + round);
                    depart_hour += lack + hair;
                    if depart_hour >= until_hour {
                        return None;
                    }
                }
            }
        }
        None
    }
}

/// Rounds of waiting before a line is given up.
const MOST_ROUNDS: u32 = 64;
/// Far below a second.
const HAIR_H: f64 = 1e-9;

/// Hours for a length at a pace that changes with time.
pub(crate) fn hours_for(pace: f64, slope: f64, km: f64) -> f64 {
    let growth = slope * km;
    if growth.abs() < 1e-6 {
        // The next term is below 1e-13 of the sum.
        return pace * km * (1.0 + growth / 2.0);
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
