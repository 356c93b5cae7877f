//! The search against slow searches that share nothing with it but the table.

#![allow(clippy::unwrap_used, reason = "a failed unwrap in a check is its report")]

mod tables;

use std::{cmp::Ordering, collections::BinaryHeap};

use dipward_plugin::{Control, PaceTable};
use dipward_search::{Face, Field, Headings, World};
use petgraph::{
    algo::{astar, dijkstra},
    visit::EdgeRef,
};
use proptest::prelude::*;
use tables::{at, grid};

/// Moves of a number of headings, found by search: coprime steps within the reach of each.
fn moves(headings: Headings) -> Vec<(i32, i32)> {
    let mut out = Vec::new();
    for x in -3_i32..=3 {
        for y in -3_i32..=3 {
            let (a, b) = (x.abs().max(y.abs()), x.abs().min(y.abs()));
            let kept = match headings {
                Headings::Eight => matches!((a, b), (1, 0 | 1)),
                Headings::Sixteen => matches!((a, b), (1, 0 | 1) | (2, 1)),
                Headings::ThirtyTwo => matches!((a, b), (1, 0 | 1) | (2, 1) | (3, 1 | 2)),
            };
            if kept {
                out.push((x, y));
            }
        }
    }
    out
}

/// The cells that a step crosses, with lengths in cell widths; corners with none.
fn crossed(dx: i32, dy: i32) -> Vec<((i32, i32), f64)> {
    let length = f64::from(dx).hypot(f64::from(dy));
    let mut cuts = vec![0.0, 1.0];
    for (d, count) in [(dx, dx.abs()), (dy, dy.abs())] {
        if d != 0 {
            cuts.extend((0..count).map(|k| (f64::from(k) + 0.5) / f64::from(count)));
        }
    }
    cuts.sort_by(f64::total_cmp);
    let mut out: Vec<((i32, i32), f64)> = Vec::new();
    for pair in cuts.windows(2) {
        let middle = f64::midpoint(pair[0], pair[1]);
        if pair[1] - pair[0] > 1e-9 {
            let cell =
                ((f64::from(dx) * middle).round() as i32, (f64::from(dy) * middle).round() as i32);
            out.push((cell, (pair[1] - pair[0]) * length));
        } else {
            // Two sides at once: a corner. The two cells beside the line touch it.
            let (x, y) = (f64::from(dx) * middle, f64::from(dy) * middle);
            for (sx, sy) in [(-0.25, 0.25), (0.25, -0.25), (0.25, 0.25), (-0.25, -0.25)] {
                let cell = ((x + sx).round() as i32, (y + sy).round() as i32);
                out.push((cell, 0.0));
            }
        }
    }
    out
}

/// A plain world: hours per cell width by cell and frame, and when each cell is open.
struct Plain<'t> {
    table: &'t PaceTable,
    columns: i32,
    rows: i32,
    widths: Vec<f64>,
}

impl<'t> Plain<'t> {
    fn new(table: &'t PaceTable) -> Self {
        let cell_km = table.grid.cell_km();
        let widths = table.grid.scale_table().iter().map(|scale| scale * cell_km).collect();
        let (columns, rows) = (table.grid.columns() as i32, table.grid.rows() as i32);
        Self { table, columns, rows, widths }
    }

    fn frame(&self, frame: usize, cell: usize) -> f64 {
        f64::from(self.table.pace_h_per_km[frame * self.table.grid.len() + cell])
            * self.widths[cell]
    }

    /// Pace, slope and end of the stretch of time that an hour lies in.
    fn pace(&self, cell: usize, hour: f64) -> (f64, f64, f64) {
        let hours = &self.table.hours;
        let after = hours.partition_point(|&frame| frame <= hour);
        if after == 0 {
            return (self.frame(0, cell), 0.0, hours[0]);
        }
        if after == hours.len() {
            return (self.frame(after - 1, cell), 0.0, f64::INFINITY);
        }
        let (a, b) = (self.frame(after - 1, cell), self.frame(after, cell));
        if a.is_infinite() || b.is_infinite() {
            return (f64::INFINITY, 0.0, hours[after]);
        }
        let slope = (b - a) / (hours[after] - hours[after - 1]);
        (a + slope * (hour - hours[after - 1]), slope, hours[after])
    }

    /// Whether a cell is open without a break from one hour to another.
    fn open_throughout(&self, cell: usize, from: f64, to: f64) -> bool {
        let mut hour = from;
        loop {
            let (pace, _, end) = self.pace(cell, hour);
            if pace.is_infinite() {
                return false;
            }
            if end > to {
                return true;
            }
            hour = end;
        }
    }

    fn cell(&self, column: i32, row: i32) -> Option<usize> {
        let inside = (0..self.columns).contains(&column) && (0..self.rows).contains(&row);
        inside.then_some((row * self.columns + column) as usize)
    }

    /// Sails a step in small lengths; gives the arrival, or the cell that is closed and the hour at which
    /// it is met.
    fn sail(&self, cells: &[(usize, f64)], depart: f64) -> Result<f64, (usize, f64)> {
        let mut hour = depart;
        for &(cell, length) in cells {
            let mut left = length;
            loop {
                let (pace, slope, end) = self.pace(cell, hour);
                if pace.is_infinite() {
                    return Err((cell, hour));
                }
                // dt/dx = pace + slope (t - hour).
                let spent =
                    if slope == 0.0 { pace * left } else { pace * (slope * left).exp_m1() / slope };
                if hour + spent <= end {
                    hour += spent;
                    break;
                }
                let sailed = if slope == 0.0 {
                    (end - hour) / pace
                } else {
                    (slope * (end - hour) / pace).ln_1p() / slope
                };
                left -= sailed;
                hour = end;
            }
        }
        Ok(hour)
    }

    /// All arrivals of interest over a step: departing at once, and so that each crossed cell is
    /// entered just as it, or any frame, begins.
    fn arrivals(&self, cells: &[(usize, f64)], hour: f64, until: f64) -> Vec<f64> {
        let mut departures = vec![hour];
        for &frame in &self.table.hours {
            if frame <= hour {
                continue;
            }
            departures.push(frame + 1e-9);
            for piece in 0..=cells.len() {
                // The time spent before a piece, were everything open, is at most this much; the
                // departure is found by bisection on a monotone function.
                let before = &cells[..piece];
                // A departure that is blocked on the way may be too early, for what opens, or too
                // late, for what closes: both are tried, unless it does not open again in time.
                for blocked_is_early in [true, false] {
                    let (mut low, mut high) = (hour, frame);
                    for _ in 0..60 {
                        let middle = f64::midpoint(low, high);
                        let early = match self.sail(before, middle) {
                            Ok(there) => there <= frame,
                            Err((cell, hour)) => {
                                blocked_is_early && self.opens(cell, hour) <= frame
                            }
                        };
                        if early {
                            low = middle;
                        } else {
                            high = middle;
                        }
                    }
                    departures.push(high + 2e-9);
                }
            }
        }
        departures
            .into_iter()
            .filter(|&depart| depart < until)
            .filter_map(|depart| self.sail(cells, depart).ok())
            .collect()
    }

    /// When a cell opens that is closed at an hour.
    fn opens(&self, cell: usize, hour: f64) -> f64 {
        self.first_frame(hour, |frame| self.open_throughout(cell, frame, frame))
    }

    /// When a cell closes that is open at an hour.
    fn closes(&self, cell: usize, hour: f64) -> f64 {
        self.first_frame(hour, |frame| !self.open_throughout(cell, hour, frame))
    }

    /// The first frame after an hour at which something holds.
    fn first_frame(&self, hour: f64, holds: impl Fn(f64) -> bool) -> f64 {
        let mut after = self.table.hours.iter().copied().filter(|&frame| frame > hour);
        after.find(|&frame| holds(frame)).unwrap_or(f64::INFINITY)
    }
}

#[derive(PartialEq)]
struct Arrival(f64, usize, bool);

impl Eq for Arrival {}

impl PartialOrd for Arrival {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Arrival {
    fn cmp(&self, other: &Self) -> Ordering {
        other.0.total_cmp(&self.0).then(other.1.cmp(&self.1))
    }
}

/// Earliest arrivals by enumeration: every label is kept unless an earlier one at the same cell can
/// lie there, open all the while, until the later one comes.
fn enumerate(table: &PaceTable, headings: Headings, start: usize, depart: f64) -> Vec<f64> {
    let plain = Plain::new(table);
    let steps: Vec<_> = moves(headings).into_iter().map(|(x, y)| ((x, y), crossed(x, y))).collect();
    let mut kept: Vec<Vec<f64>> = vec![Vec::new(); table.grid.len()];
    let mut heap = BinaryHeap::from([Arrival(depart, start, true)]);
    let mut labels = 0;
    while let Some(Arrival(hour, cell, at_port)) = heap.pop() {
        let dominated =
            !at_port && kept[cell].iter().any(|&before| plain.open_throughout(cell, before, hour));
        let lies_at_port = cell == start && !at_port;
        if dominated || lies_at_port {
            continue;
        }
        kept[cell].push(hour);
        labels += 1;
        assert!(labels < 100_000);
        let until = if at_port { f64::INFINITY } else { plain.closes(cell, hour) };
        let (column, row) = (cell as i32 % plain.columns, cell as i32 / plain.columns);
        for ((dx, dy), pieces) in &steps {
            let cells: Option<Vec<_>> = pieces
                .iter()
                .map(|&((x, y), length)| Some((plain.cell(column + x, row + y)?, length)))
                .collect();
            let (Some(cells), Some(end)) = (cells, plain.cell(column + dx, row + dy)) else {
                continue;
            };
            for arrival in plain.arrivals(&cells, hour, until) {
                // Open on arrival and not closed the very next moment.
                if plain.open_throughout(end, arrival, arrival) {
                    heap.push(Arrival(arrival, end, false));
                }
            }
        }
    }
    kept.iter().map(|hours| hours.iter().copied().fold(f64::INFINITY, f64::min)).collect()
}

fn headings() -> impl Strategy<Value = Headings> {
    prop_oneof![Just(Headings::Eight), Just(Headings::Sixteen), Just(Headings::ThirtyTwo)]
}

/// Tables of up to 7 by 7 cells, some of them closed.
fn tables(frames: std::ops::Range<usize>) -> impl Strategy<Value = PaceTable> {
    (2..7_u32, 2..7_u32, frames).prop_flat_map(|(columns, rows, frames)| {
        let cells = (columns * rows) as usize;
        let pace = prop_oneof![
            6 => 0.02_f32..0.5,
            1 => Just(f32::INFINITY),
        ];
        (
            prop::collection::vec(pace, cells * frames),
            prop::collection::vec(prop_oneof![3 => 0.05_f64..2.0, 1 => Just(0.0)], frames),
        )
            .prop_map(move |(pace, gaps)| {
                let mut hour = 0.5;
                let hours = gaps
                    .iter()
                    .map(|gap| {
                        hour += gap;
                        hour
                    })
                    .collect();
                PaceTable {
                    grid: grid(columns, rows, 1000.0),
                    hours,
                    settings: 1,
                    sectors: 1,
                    burn_t_per_h: vec![1.0; pace.len()],
                    pace_h_per_km: pace,
                    hold_t_per_h: 0.1,
                }
            })
    })
}

/// petgraph's Dijkstra and A* from a cell on the face of a world, against the field.
fn holds_against_petgraph(table: &PaceTable, headings: Headings, weight: f64, start: u32) {
    let control = Control::default();
    let world = World::new(table, weight, &control).unwrap();
    let position = table.grid.centre(start).unwrap();
    let field = Field::solve(&world, headings, position, 0.0, f64::INFINITY, &control).unwrap();
    let face = Face::new(&world, headings, 0.0);
    let theirs = dijkstra(&face, start, None, |edge| *edge.weight());
    for cell in 0..table.grid.len() as u32 {
        let ours = field.cost_at(&world, cell);
        assert_eq!(ours, theirs.get(&cell).map(|&cost| f64::from(cost)), "cell {cell}");
        let found = astar(&face, start, |at| at == cell, |edge| *edge.weight(), |_| 0.0);
        assert_eq!(ours, found.map(|(cost, _)| f64::from(cost)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn petgraph_agrees_to_the_bit(
        table in tables(1..2),
        headings in headings(),
        weight in prop_oneof![Just(0.0), Just(f64::INFINITY), 0.1_f64..10.0],
        start in 0..4_u32,
    ) {
        holds_against_petgraph(&table, headings, weight, start);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn enumeration_through_time_agrees(
        table in tables(1..6),
        headings in headings(),
        start in 0..4_u32,
        depart in 0.0_f64..4.0,
    ) {
        let control = Control::default();
        let world = World::new(&table, 0.0, &control).unwrap();
        let position = at(
            &table.grid,
            f64::from(start % table.grid.columns()),
            f64::from(start / table.grid.columns()),
        );
        let field =
            Field::solve(&world, headings, position, depart, f64::INFINITY, &control).unwrap();
        let theirs = enumerate(&table, headings, start as usize, depart);
        for (cell, &hour) in theirs.iter().enumerate() {
            let ours = field.hour_at(&world, cell as u32).unwrap_or(f64::INFINITY);
            let same = ours == hour || (ours - hour).abs() < 2e-5 * (1.0 + hour.abs());
            prop_assert!(same, "cell {} ours {} theirs {}", cell, ours, hour);
        }
    }
}
