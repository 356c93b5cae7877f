//! Whether a later start can overtake an earlier one.

use dipward_plugin::PaceTable;

use crate::stencil::MOVES;

/// The steepest fall of the delay on any move of a table, were the pace sampled at its start: hours
/// of delay lost per hour of later departure, negative where delays fall.
///
/// # Why it matters
///
/// Label setting is exact where leaving later never means arriving earlier (first in, first out),
/// that is where this slope is -1 or more (A. Orda and R. Rom, Shortest-path and minimum-delay
/// algorithms in networks with time-dependent edge-length, Journal of the ACM 37(3), 1990). The
/// search of this crate does not sample: it integrates the pace along each move while it changes, and
/// two crafts on one line whose pace at a place and hour is the same for both cannot pass each other.
/// So its answers hold for any slope. A slope below -1 is still a sign that the frames are too far
/// apart, or the cells too large, for the ice they describe; a caller may tell the user.
///
/// # Complexity
///
/// Linear in the entries of the table.
#[must_use]
pub fn steepest_fall(table: &PaceTable) -> f64 {
    let cells = table.grid.len();
    let longest = MOVES
        .iter()
        .map(|step| f64::from(step.dcolumn).hypot(f64::from(step.drow)))
        .fold(0.0, f64::max);
    // True lengths of a cell width, km.
    let widths: Vec<f64> =
        table.grid.scale_table().iter().map(|scale| scale * table.grid.cell_km()).collect();
    let mut least = 0.0_f64;
    for setting in 0..table.settings {
        for sector in 0..table.sectors {
            for (frame, hours) in table.hours.windows(2).enumerate() {
                let &[begin, end] = hours else { continue };
                if end <= begin {
                    // A step: nothing is sailed through it.
                    continue;
                }
                let near = table.offset(setting, sector, frame);
                let far = table.offset(setting, sector, frame + 1);
                let (Some(near), Some(far)) = (
                    table.pace_h_per_km.get(near..near + cells),
                    table.pace_h_per_km.get(far..far + cells),
                ) else {
                    continue;
                };
                for ((near, far), width) in near.iter().zip(far).zip(&widths) {
                    let fall = f64::from(far - near) * width * longest / (end - begin);
                    // What is closed at an end has no slope.
                    if fall.is_finite() {
                        least = least.min(fall);
                    }
                }
            }
        }
    }
    least
}
