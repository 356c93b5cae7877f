//! Cells of a polygon: by their centres, by any touch, or by the share of their area.

use std::ops::Range;

use dipward_geodesy::Grid;
use geo::Coord;

use super::PlanePolygon;

/// Lines across each row that the area is measured along.
const LINES_PER_ROW: u32 = 8;

/// Calls `visit` with each run of cells whose centres lie in the polygon, in increasing order.
///
/// A centre on an edge belongs to the polygon on its right or above, so that polygons that share
/// edges share no cell and leave none out.
pub(crate) fn cells_by_centre(
    polygon: &PlanePolygon,
    grid: &Grid,
    mut visit: impl FnMut(Range<u32>),
) {
    scan(polygon, grid, 1, |row, spans| {
        for &(from, to) in spans {
            // The first centre at or after `from` and the first at or after `to`.
            let columns = column(from - 0.5, grid)..column(to - 0.5, grid);
            if columns.start < columns.end {
                visit(row * grid.columns() + columns.start..row * grid.columns() + columns.end);
            }
        }
    });
}

/// The cells that the polygon touches at all, as runs in increasing order that do not touch.
pub(crate) fn cells_touched(polygon: &PlanePolygon, grid: &Grid) -> Vec<Range<u32>> {
    let mut runs: Vec<Range<u32>> = Vec::new();
    cells_by_centre(polygon, grid, |run| runs.push(run));
    for ring in &polygon.rings {
        for edge in ring.windows(2) {
            cells_of_edge(edge[0], edge[1], grid, |cell| runs.push(cell..cell + 1));
        }
    }
    merged(runs)
}

/// Sorts runs and joins those that overlap or follow each other.
pub(crate) fn merged(mut runs: Vec<Range<u32>>) -> Vec<Range<u32>> {
    runs.sort_by_key(|run| (run.start, run.end));
    let mut out: Vec<Range<u32>> = Vec::with_capacity(runs.len());
    for run in runs {
        match out.last_mut() {
            Some(last) if run.start <= last.end => last.end = last.end.max(run.end),
            _ => out.push(run),
        }
    }
    out
}

/// Adds to each cell the share of its area that the polygon covers.
///
/// Exact along each row, by eight lines across it: a share is within some hundredths.
///
/// # Arguments
///
/// `share` has one entry a cell of the grid.
pub(crate) fn add_area_fraction(polygon: &PlanePolygon, grid: &Grid, share: &mut [f32]) {
    let columns = grid.columns() as usize;
    scan(polygon, grid, LINES_PER_ROW, |row, spans| {
        let start = row as usize * columns;
        let Some(cells) = share.get_mut(start..start + columns) else { return };
        for &(from, to) in spans {
            let (from, to) = (from.clamp(0.0, columns as f64), to.clamp(0.0, columns as f64));
            let (first, last) = (from.floor() as usize, (to.ceil() as usize).min(columns));
            for (column, cell) in cells.iter_mut().enumerate().take(last).skip(first) {
                let within = to.min(column as f64 + 1.0) - from.max(column as f64);
                *cell += (within.max(0.0) / f64::from(LINES_PER_ROW)) as f32;
            }
        }
    });
}

/// The first column at or after a place, within the grid.
fn column(place: f64, grid: &Grid) -> u32 {
    place.ceil().clamp(0.0, f64::from(grid.columns())) as u32
}

/// Calls `visit` with each row and the stretches of the polygon along each of its lines, in order.
///
/// Line `s` of `lines` stands at `(s + 0.5) / lines` of the row.
fn scan(
    polygon: &PlanePolygon,
    grid: &Grid,
    lines: u32,
    mut visit: impl FnMut(u32, &[(f64, f64)]),
) {
    let per_row = f64::from(lines);
    let end = u64::from(grid.rows()) * u64::from(lines);
    // The first line at or after a height, so that an edge crosses the lines from its lower end
    // (included) to its upper end (excluded).
    let line_at = |height: f64| (height * per_row - 0.5).ceil().clamp(0.0, end as f64) as u64;

    let (mut lowest, mut highest) = (end, 0);
    for (a, b) in edges(polygon) {
        lowest = lowest.min(line_at(a.y.min(b.y)));
        highest = highest.max(line_at(a.y.max(b.y)));
    }
    if lowest >= highest {
        return;
    }
    let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); (highest - lowest) as usize];
    for (a, b) in edges(polygon) {
        // From the lower end whichever way the edge runs, so that neighbours agree to the last bit.
        let (low, high) = if a.y <= b.y { (a, b) } else { (b, a) };
        for line in line_at(low.y)..line_at(high.y) {
            let height = (line as f64 + 0.5) / per_row;
            let share = (height - low.y) / (high.y - low.y);
            if let Some(places) = crossings.get_mut((line - lowest) as usize) {
                places.push(low.x + (high.x - low.x) * share);
            }
        }
    }
    let mut spans = Vec::new();
    for (line, mut places) in (lowest..highest).zip(crossings) {
        places.sort_by(f64::total_cmp);
        spans.clear();
        spans.extend(places.chunks_exact(2).map(|pair| (pair[0], pair[1])));
        if !spans.is_empty() {
            visit((line / u64::from(lines)) as u32, &spans);
        }
    }
}

/// The edges that can be crossed: finite ones.
fn edges(polygon: &PlanePolygon) -> impl Iterator<Item = (Coord<f64>, Coord<f64>)> + '_ {
    polygon.rings.iter().flat_map(|ring| ring.windows(2)).filter_map(|edge| {
        let (a, b) = (edge[0], edge[1]);
        let finite = [a.x, a.y, b.x, b.y].iter().all(|value| value.is_finite());
        finite.then_some((a, b))
    })
}

/// Calls `visit` with each cell that a straight line passes through.
fn cells_of_edge(a: Coord<f64>, b: Coord<f64>, grid: &Grid, mut visit: impl FnMut(u32)) {
    let (columns, rows) = (f64::from(grid.columns()), f64::from(grid.rows()));
    // Only the stretch that lies on the grid is walked.
    let Some((from, to)) = clipped(a, b, columns, rows) else { return };
    let run = to - from;
    let mut stops = vec![0.0, 1.0];
    for (start, length) in [(from.x, run.x), (from.y, run.y)] {
        if length == 0.0 {
            continue;
        }
        let (low, high) = (start.min(start + length), start.max(start + length));
        let mut line = low.ceil();
        while line <= high {
            stops.push(((line - start) / length).clamp(0.0, 1.0));
            line += 1.0;
        }
    }
    stops.sort_by(f64::total_cmp);
    for pair in stops.windows(2) {
        // Between two crossings the line is inside one cell, its middle surely.
        let middle = from + run * ((pair[0] + pair[1]) / 2.0);
        let (column, row) = (middle.x.floor(), middle.y.floor());
        if (0.0..columns).contains(&column) && (0.0..rows).contains(&row) {
            visit(row as u32 * grid.columns() + column as u32);
        }
    }
}

/// The part of a line inside the rectangle from the origin to `(width, height)`.
fn clipped(
    a: Coord<f64>,
    b: Coord<f64>,
    width: f64,
    height: f64,
) -> Option<(Coord<f64>, Coord<f64>)> {
    let run = b - a;
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (start, length, end) in [(a.x, run.x, width), (a.y, run.y, height)] {
        if length == 0.0 {
            if !(0.0..=end).contains(&start) {
                return None;
            }
            continue;
        }
        let (low, high) = (-start / length, (end - start) / length);
        enter = enter.max(low.min(high));
        leave = leave.min(low.max(high));
    }
    // False for NaN too.
    (enter <= leave).then(|| (a + run * enter, a + run * leave))
}

#[cfg(test)]
mod tests;
