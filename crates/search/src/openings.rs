//! When cells are open, and the states of the search that follow from it.
//!
//! A craft may lie still in a cell for as long as the cell is open, so what matters about an arrival
//! is how early it is within one open span. A cell with one span has one state. A cell that opens
//! more than once has a state for each span, since an early arrival that is caught by the closing is
//! no better than a late one after it (M. Phillips and M. Likhachev, SIPP: safe interval path
//! planning for dynamic environments, ICRA 2011).

use dipward_plugin::PaceTable;
use rayon::prelude::*;

use crate::{padding::Padding, stencil::SIDE, world::Interval};

/// The cell is open at some time.
pub(crate) const EVER: u8 = 1;
/// The cell opens or closes.
pub(crate) const CHANGES: u8 = 2;
/// Some cell that a move from here crosses opens or closes.
pub(crate) const NEAR_CHANGE: u8 = 4;
/// The cell has more than one open span.
pub(crate) const MANY: u8 = 8;

/// A stretch of hours for which a cell is open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) begin_hour: f64,
    pub(crate) end_hour: f64,
}

impl Span {
    const ALWAYS: Self = Self { begin_hour: f64::NEG_INFINITY, end_hour: f64::INFINITY };
}

/// A cell that opens or closes.
#[derive(Debug, Clone, Copy)]
struct Changing {
    cell: u32,
    first_span: u32,
    spans: u32,
    /// State of the second span; the first has the cell's own index.
    first_extra: u32,
}

/// Open spans of all cells.
#[derive(Debug)]
pub(crate) struct Openings {
    /// Flags of each padded cell.
    pub(crate) flags: Vec<u8>,
    /// Which entry of `changing` a padded cell has; empty where no cell changes.
    entry_of: Vec<u32>,
    changing: Vec<Changing>,
    spans: Vec<Span>,
    /// Cells of the states beyond the padded cells.
    extra_cells: Vec<u32>,
}

impl Openings {
    /// Reads the spans off a table. Parallel over the intervals.
    pub(crate) fn new(table: &PaceTable, intervals: &[Interval], padding: Padding) -> Self {
        let open: Vec<Vec<u64>> =
            intervals.par_iter().map(|interval| open_in(table, interval)).collect();
        let is_open =
            |number: usize, cell: usize| open[number][cell / 64] & (1 << (cell % 64)) != 0;

        let mut flags = vec![0_u8; padding.len()];
        let mut changing = Vec::new();
        let mut spans: Vec<Span> = Vec::new();
        let mut extra_cells = Vec::new();
        for word in 0..open.first().map_or(0, Vec::len) {
            let all = open.iter().fold(!0, |all, bits| all & bits[word]);
            let any = open.iter().fold(0, |any, bits| any | bits[word]);
            for bit in 0..64 {
                if any & (1 << bit) == 0 {
                    continue;
                }
                let cell = word * 64 + bit;
                let index = padding.padded(cell as u32);
                flags[index] |= EVER;
                if all & (1 << bit) != 0 {
                    continue;
                }
                flags[index] |= CHANGES;
                let first_span = spans.len();
                for (number, interval) in intervals.iter().enumerate() {
                    if !is_open(number, cell) {
                        continue;
                    }
                    match spans.last_mut() {
                        Some(span)
                            if number > 0
                                && is_open(number - 1, cell)
                                && span.end_hour == interval.begin_hour =>
                        {
                            span.end_hour = interval.end_hour;
                        }
                        _ => spans.push(Span {
                            begin_hour: interval.begin_hour,
                            end_hour: interval.end_hour,
                        }),
                    }
                }
                let count = spans.len() - first_span;
                if count > 1 {
                    flags[index] |= MANY;
                }
                changing.push(Changing {
                    cell: index as u32,
                    first_span: first_span as u32,
                    spans: count as u32,
                    first_extra: (padding.len() + extra_cells.len()) as u32,
                });
                extra_cells.extend(std::iter::repeat_n(index as u32, count.saturating_sub(1)));
            }
        }
        mark_near(&mut flags, padding, &changing);
        let mut entry_of = Vec::new();
        if !changing.is_empty() {
            entry_of.resize(padding.len(), u32::MAX);
            for (number, entry) in changing.iter().enumerate() {
                entry_of[entry.cell as usize] = number as u32;
            }
        }
        Self { flags, entry_of, changing, spans, extra_cells }
    }

    /// Whether any cell opens or closes.
    pub(crate) fn any_changes(&self) -> bool {
        !self.changing.is_empty()
    }

    /// Whether a padded cell is open at some time.
    pub(crate) fn is_ever_open(&self, cell: usize) -> bool {
        self.flags.get(cell).is_some_and(|flag| flag & EVER != 0)
    }

    /// States: the padded cells, then the further spans of the cells that have many.
    pub(crate) fn states(&self) -> usize {
        self.flags.len() + self.extra_cells.len()
    }

    /// The padded cell of a state.
    #[inline]
    pub(crate) fn cell_of(&self, state: u32) -> u32 {
        let state_index = state as usize;
        if state_index < self.flags.len() {
            state
        } else {
            self.extra_cells.get(state_index - self.flags.len()).copied().unwrap_or(0)
        }
    }

    fn changing(&self, cell: u32) -> Option<&Changing> {
        self.changing.get(*self.entry_of.get(cell as usize)? as usize)
    }

    /// The open spans of a padded cell, in order.
    pub(crate) fn spans(&self, cell: u32) -> &[Span] {
        let flag = self.flags.get(cell as usize).copied().unwrap_or(0);
        if flag & EVER == 0 {
            return &[];
        }
        self.changing(cell).map_or(&[Span::ALWAYS], |entry| {
            let first = entry.first_span as usize;
            &self.spans[first..first + entry.spans as usize]
        })
    }

    /// The state of a padded cell at an hour, or nothing where it is closed then.
    pub(crate) fn state_at(&self, cell: u32, hour: f64) -> Option<u32> {
        let number =
            self.spans(cell).iter().position(|s| s.begin_hour <= hour && hour < s.end_hour)?;
        self.state(cell, number)
    }

    /// The state of one of a padded cell's spans.
    fn state(&self, cell: u32, number: usize) -> Option<u32> {
        if number == 0 {
            return Some(cell);
        }
        self.changing(cell).map(|entry| entry.first_extra + number as u32 - 1)
    }

    /// The states of a padded cell, one an open span, in order; its own index where it has none.
    pub(crate) fn states_of(&self, cell: u32) -> impl Iterator<Item = u32> {
        let further = self.changing(cell).map_or(0..0, |entry| {
            entry.first_extra..entry.first_extra + entry.spans.saturating_sub(1)
        });
        std::iter::once(cell).chain(further)
    }

    /// The hour at which a state ends by its cell closing.
    pub(crate) fn end_hour(&self, state: u32) -> f64 {
        let cell = self.cell_of(state);
        let number = if state == cell {
            0
        } else {
            self.changing(cell).map_or(0, |entry| (state - entry.first_extra) as usize + 1)
        };
        self.spans(cell).get(number).map_or(f64::NEG_INFINITY, |span| span.end_hour)
    }

    /// The first hour at or after this one at which a padded cell is open; infinite for never.
    pub(crate) fn open_from(&self, cell: u32, hour: f64) -> f64 {
        self.spans(cell)
            .iter()
            .find(|span| hour < span.end_hour)
            .map_or(f64::INFINITY, |span| span.begin_hour.max(hour))
    }

    /// The first hour after this one at which a padded cell opens anew.
    pub(crate) fn next_opening(&self, cell: u32, hour: f64) -> Option<f64> {
        self.spans(cell).iter().map(|span| span.begin_hour).find(|&begin| begin > hour)
    }

    pub(crate) fn bytes(&self) -> usize {
        self.flags.len()
            + self.entry_of.len() * size_of::<u32>()
            + self.changing.len() * size_of::<Changing>()
            + self.spans.len() * size_of::<Span>()
            + self.extra_cells.len() * size_of::<u32>()
    }
}

/// One bit a cell of the grid: whether some setting and heading can move there over an interval.
fn open_in(table: &PaceTable, interval: &Interval) -> Vec<u64> {
    let cells = table.grid.len();
    let mut open = vec![0_u64; cells.div_ceil(64)];
    for setting in 0..table.settings {
        for sector in 0..table.sectors {
            let near = table.offset(setting, sector, interval.near_frame);
            let far = table.offset(setting, sector, interval.far_frame);
            let near = &table.pace_h_per_km[near..near + cells];
            let far = &table.pace_h_per_km[far..far + cells];
            for ((word, near), far) in open.iter_mut().zip(near.chunks(64)).zip(far.chunks(64)) {
                if *word == !0 {
                    continue;
                }
                for (bit, (near, far)) in near.iter().zip(far).enumerate() {
                    let both = *near < f32::INFINITY && *far < f32::INFINITY;
                    *word |= u64::from(both) << bit;
                }
            }
        }
    }
    open
}

/// Spreads the flag of a change to every cell whose moves can cross it.
fn mark_near(flags: &mut [u8], padding: Padding, changing: &[Changing]) {
    for entry in changing {
        for place in 0..(SIDE * SIDE) as u8 {
            let near = padding.own(padding.shifted(entry.cell as usize, place));
            flags[near] |= NEAR_CHANGE;
        }
    }
}
