//! The moves from a cell to others: 8, 16 or 32 headings, and the cells that each move crosses.
//!
//! ```text
//!                    moves of one octant, from the centre of a cell
//!   (3,1) . . . . . *        (1,0) straight        8 headings with (1,1)
//!   (3,2)           *        (2,1) knight         16 headings
//!   (2,1)       *            (3,1) (3,2)          32 headings
//!   (1,1)    *
//!         o  *  (1,0)
//! ```
//!
//! A move goes straight from centre to centre. The share of its length in each cell that it crosses
//! is exact, and where it touches the corner of a cell, that cell must be open as well: no corner is
//! cut.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

/// Rim of closed cells about the padded grid: as far as the longest move reaches.
pub(crate) const REACH: usize = 3;
/// Side of the square of cells that the moves can touch.
pub(crate) const SIDE: usize = 2 * REACH + 1;

/// How many headings a search tells apart. Written as the number.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub enum Headings {
    /// 8: routes in the open up to 8.24 % too long before they are smoothed.
    Eight,
    /// 16: up to 2.75 %.
    Sixteen,
    /// 32: up to 1.31 %.
    #[default]
    ThirtyTwo,
}

impl TryFrom<u8> for Headings {
    type Error = String;

    fn try_from(count: u8) -> Result<Self, String> {
        match count {
            8 => Ok(Self::Eight),
            16 => Ok(Self::Sixteen),
            32 => Ok(Self::ThirtyTwo),
            _ => Err(format!("{count} headings: must be 8, 16 or 32")),
        }
    }
}

impl From<Headings> for u8 {
    fn from(headings: Headings) -> Self {
        match headings {
            Headings::Eight => 8,
            Headings::Sixteen => 16,
            Headings::ThirtyTwo => 32,
        }
    }
}

impl JsonSchema for Headings {
    fn schema_name() -> Cow<'static, str> {
        "Headings".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "How many headings the grid tells apart.",
            "enum": [8, 16, 32],
        })
    }
}

impl Headings {
    /// The number of moves.
    #[must_use]
    pub const fn count(self) -> usize {
        match self {
            Self::Eight => 8,
            Self::Sixteen => 16,
            Self::ThirtyTwo => 32,
        }
    }

    /// The most that a route of these headings is longer in open water than the straight line:
    /// 1 / cos of half the widest sector. 1.0824, 1.0275 and 1.0131, as published by N. Rivera,
    /// C. Hernandez, N. Hormazabal and J. Baier, The 2^k neighborhoods for grid path planning,
    /// Journal of Artificial Intelligence Research 67 (2020).
    #[must_use]
    pub fn elongation(self) -> f64 {
        let half_sector: f64 = match self {
            Self::Eight => std::f64::consts::FRAC_PI_8,
            Self::Sixteen => 0.5_f64.atan() / 2.0,
            Self::ThirtyTwo => (1.0_f64 / 3.0).atan() / 2.0,
        };
        half_sector.cos().recip()
    }
}

/// One move.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Move {
    /// Columns to the right.
    pub(crate) dcolumn: i32,
    /// Rows up.
    pub(crate) drow: i32,
    /// Place of each crossed cell in the window, and the length in it in cell widths, in order.
    pub(crate) pieces: [(u8, f32); 6],
    /// How many of `pieces` count.
    pub(crate) count: u8,
    /// Window places that are touched at a corner; the move's own start where there are none.
    pub(crate) corners: [u8; 2],
}

impl Move {
    /// The pieces that count.
    pub(crate) fn pieces(&self) -> &[(u8, f32)] {
        &self.pieces[..self.count as usize]
    }
}

/// Columns and rows from the middle of the window to one of its places.
pub(crate) const fn offset_of(place: u8) -> (i32, i32) {
    let place = place as i32;
    (place % SIDE as i32 - REACH as i32, place / SIDE as i32 - REACH as i32)
}

const fn place(dcolumn: i32, drow: i32) -> u8 {
    ((drow + REACH as i32) * SIDE as i32 + dcolumn + REACH as i32) as u8
}

/// A move of the first octant: crossed cells with their share of the length, corners, length.
struct Pattern {
    cells: [(i32, i32, f64); 6],
    count: u8,
    corners: [(i32, i32); 2],
    to: (i32, i32),
    length: f64,
}

const SQRT_2: f64 = std::f64::consts::SQRT_2;
const SQRT_5: f64 = 2.236_067_977_499_79;
const SQRT_10: f64 = 3.162_277_660_168_379_5;
const SQRT_13: f64 = 3.605_551_275_463_989;

const NONE: (i32, i32, f64) = (0, 0, 0.0);
const STRAIGHT: Pattern = Pattern {
    cells: [(0, 0, 0.5), (1, 0, 0.5), NONE, NONE, NONE, NONE],
    count: 2,
    corners: [(0, 0), (0, 0)],
    to: (1, 0),
    length: 1.0,
};
const DIAGONAL: Pattern = Pattern {
    cells: [(0, 0, 0.5), (1, 1, 0.5), NONE, NONE, NONE, NONE],
    count: 2,
    corners: [(1, 0), (0, 1)],
    to: (1, 1),
    length: SQRT_2,
};
const KNIGHT: Pattern = Pattern {
    cells: [(0, 0, 0.25), (1, 0, 0.25), (1, 1, 0.25), (2, 1, 0.25), NONE, NONE],
    count: 4,
    corners: [(0, 0), (0, 0)],
    to: (2, 1),
    length: SQRT_5,
};
const LONG: Pattern = Pattern {
    cells: [(0, 0, 1.0 / 6.0), (1, 0, 1.0 / 3.0), (2, 1, 1.0 / 3.0), (3, 1, 1.0 / 6.0), NONE, NONE],
    count: 4,
    corners: [(1, 1), (2, 0)],
    to: (3, 1),
    length: SQRT_10,
};
const STEEP: Pattern = Pattern {
    cells: [
        (0, 0, 1.0 / 6.0),
        (1, 0, 1.0 / 12.0),
        (1, 1, 0.25),
        (2, 1, 0.25),
        (2, 2, 1.0 / 12.0),
        (3, 2, 1.0 / 6.0),
    ],
    count: 6,
    corners: [(0, 0), (0, 0)],
    to: (3, 2),
    length: SQRT_13,
};

const fn turned(cell: (i32, i32), symmetry: usize) -> (i32, i32) {
    let (mut x, mut y) = cell;
    if symmetry & 1 != 0 {
        (x, y) = (y, x);
    }
    if symmetry & 2 != 0 {
        x = -x;
    }
    if symmetry & 4 != 0 {
        y = -y;
    }
    (x, y)
}

const fn made(pattern: &Pattern, symmetry: usize) -> Move {
    let mut pieces = [(0, 0.0); 6];
    let mut index = 0;
    while index < pattern.count as usize {
        let (x, y, share) = pattern.cells[index];
        let (x, y) = turned((x, y), symmetry);
        pieces[index] = (place(x, y), (share * pattern.length) as f32);
        index += 1;
    }
    let mut corners = [0; 2];
    let mut index = 0;
    while index < 2 {
        let (x, y) = turned(pattern.corners[index], symmetry);
        corners[index] = place(x, y);
        index += 1;
    }
    let (dcolumn, drow) = turned(pattern.to, symmetry);
    Move { dcolumn, drow, pieces, count: pattern.count, corners }
}

/// All 32 moves: 4 straight, 4 diagonal, then eight of each longer kind.
pub(crate) static MOVES: [Move; 32] = MOVES_CONST;

/// [`MOVES`] for what is computed by the compiler.
pub(crate) const MOVES_CONST: [Move; 32] = {
    let mut moves = [made(&STRAIGHT, 0); 32];
    // Straight: +x, +y, -x, -y. Diagonal: the four quadrants.
    let straight = [0, 1, 2, 5];
    let diagonal = [0, 2, 4, 6];
    let mut index = 0;
    while index < 4 {
        moves[index] = made(&STRAIGHT, straight[index]);
        moves[4 + index] = made(&DIAGONAL, diagonal[index]);
        index += 1;
    }
    let mut symmetry = 0;
    while symmetry < 8 {
        moves[8 + symmetry] = made(&KNIGHT, symmetry);
        moves[16 + symmetry] = made(&LONG, symmetry);
        moves[24 + symmetry] = made(&STEEP, symmetry);
        symmetry += 1;
    }
    moves
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moves_are_distinct_and_their_pieces_add_up() {
        let mut ends: Vec<_> = MOVES.iter().map(|m| (m.dcolumn, m.drow)).collect();
        ends.sort_unstable();
        ends.dedup();
        assert_eq!(ends.len(), 32);
        for step in &MOVES {
            let length = f64::from(step.dcolumn).hypot(f64::from(step.drow));
            let sum: f64 = step.pieces().iter().map(|&(_, part)| f64::from(part)).sum();
            assert!((length - sum).abs() < 1e-6);
            let last = step.pieces().last().map(|&(place, _)| offset_of(place));
            assert_eq!(last, Some((step.dcolumn, step.drow)));
        }
    }

    /// Walks each move in ten thousand steps and counts the cells.
    #[test]
    fn pieces_are_what_a_walk_along_the_move_finds() {
        for step in &MOVES {
            let mut shares = [0_u32; SIDE * SIDE];
            for tick in 0..10_000 {
                let at = (f64::from(tick) + 0.5) / 10_000.0;
                let column = (f64::from(step.dcolumn) * at).round() as i32;
                let row = (f64::from(step.drow) * at).round() as i32;
                shares[place(column, row) as usize] += 1;
            }
            let length = f64::from(step.dcolumn).hypot(f64::from(step.drow));
            for &(place, part) in step.pieces() {
                let share = f64::from(shares[place as usize]) / 10_000.0;
                assert!(
                    (share * length - f64::from(part)).abs() < 2e-3,
                    "{step:?} {place} {share}"
                );
                shares[place as usize] = 0;
            }
            assert!(shares.iter().all(|&count| count == 0));
        }
    }

    /// Published: 1.082392, 1.027486, 1.013081 (Rivera et al. 2020).
    #[test]
    fn elongation_is_as_published() {
        for (headings, published) in [
            (Headings::Eight, 1.082_392),
            (Headings::Sixteen, 1.027_486),
            (Headings::ThirtyTwo, 1.013_081),
        ] {
            assert!((headings.elongation() - published).abs() < 1e-6, "{headings:?}");
        }
    }
}
