//! Geodesics cut at the sides of the cells.

use dipward_geodesy::{Position, direct, inverse};
use geo::Coord;

use crate::{
    heading::Heading,
    openings::{CHANGES, EVER},
    passage::{Line, Piece},
    world::World,
};

/// Longest chord by which a geodesic is followed on the map, in cells. The geodesic leaves the chord
/// by its length squared over eight Earth radii: 130 m on 80 km, when its length is still the geodesic's.
const CHORD_CELLS: f64 = 16.0;
/// And in kilometres, for grids of large cells.
const CHORD_KM: f64 = 80.0;
/// A piece shorter than this share of a cell width is the rounding of a corner.
const SLIVER: f64 = 1e-9;
/// What lies no farther from a corner than this, in cells, is at it.
const AT_CORNER_CELLS: f64 = 1e-6;

impl World<'_> {
    /// The geodesic from `a` to `b`, cut at the sides of the cells; nothing when it leaves the grid.
    ///
    /// Its length is that of the geodesic; the shares of the cells are those of chords on the map that
    /// the geodesic is cut into.
    pub(crate) fn line(&self, a: Position, b: Position) -> Option<Line> {
        let grid = &self.table.grid;
        let geodesic = inverse(a, b);
        let km = geodesic.distance_km;
        let mut line = Line { pieces: Vec::new(), heading: Vec::new(), km };
        let from = self.to_cells(a);
        if km <= 0.0 {
            // No length, but still a place that must be on the grid.
            grid.cell_at(a)?;
            return Some(line);
        }
        let chord_km = (CHORD_CELLS * grid.cell_km()).min(CHORD_KM);
        let chords = (km / chord_km).ceil().max(1.0);
        if !chords.is_finite() {
            return None;
        }
        let mut from = from;
        self.touch(from, &mut line);
        for chord in 1..=chords as u32 {
            let to = if f64::from(chord) >= chords {
                self.to_cells(b)
            } else {
                let run_km = km * f64::from(chord) / chords;
                self.to_cells(direct(a, geodesic.initial_course_deg, run_km).position)
            };
            self.cut(from, to, km / chords, &mut line)?;
            from = to;
            self.touch(from, &mut line);
        }
        Some(line)
    }

    /// Adds a piece without length where a line comes to a corner at which two cells touch across others that are
    /// not always open: no way leads between those while they are closed.
    fn touch(&self, place: Coord<f64>, line: &mut Line) {
        let corner = Coord { x: place.x.floor() + 0.5, y: place.y.floor() + 0.5 };
        let away = place - corner;
        if away.x.abs().max(away.y.abs()) > AT_CORNER_CELLS {
            return;
        }
        let (column, row) = (place.x.floor() as i64, place.y.floor() as i64);
        let (columns, rows) = (self.padding.columns as i64, self.padding.rows as i64);
        let flags = |cell: u32| self.openings.flags[self.padding.padded(cell)];
        let cell = |(right, up): (i64, i64)| {
            let (column, row) = (column + right, row + up);
            let inside = column >= 0 && row >= 0 && column < columns && row < rows;
            inside.then(|| (row * columns + column) as u32)
        };
        for across in [[(0, 0), (1, 1)], [(1, 0), (0, 1)]] {
            let [a, b] = across.map(cell);
            let (Some(a), Some(b)) = (a, b) else { continue };
            // One that opens will do; where none ever does, the line is closed for good.
            let always = |cell| flags(cell) & (EVER | CHANGES) == EVER;
            if always(a) || always(b) {
                continue;
            }
            line.pieces.push(Piece { cell: if flags(a) & EVER == 0 { b } else { a }, km: 0.0 });
            if self.table.sectors > 1 {
                line.heading.push(Heading::ANY);
            }
        }
    }

    /// A position in cell widths from the centre of cell 0.
    pub(crate) fn to_cells(&self, position: Position) -> Coord<f64> {
        let grid = &self.table.grid;
        let origin = grid.origin();
        let coord = grid.coord(position);
        Coord { x: (coord.x - origin.x) / grid.cell_m(), y: (coord.y - origin.y) / grid.cell_m() }
    }

    /// The position some cell widths from the centre of cell 0.
    pub(crate) fn to_position(&self, place: Coord<f64>) -> Position {
        let grid = &self.table.grid;
        let origin = grid.origin();
        grid.position(Coord {
            x: origin.x + place.x * grid.cell_m(),
            y: origin.y + place.y * grid.cell_m(),
        })
    }

    /// Cuts a chord at the sides of the cells (J. Amanatides and A. Woo, A fast voxel traversal
    /// algorithm for ray tracing, Eurographics 1987).
    fn cut(&self, from: Coord<f64>, to: Coord<f64>, km: f64, line: &mut Line) -> Option<()> {
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let heading = self.heading(dx, dy);
        let (columns, rows) = (self.padding.columns as i64, self.padding.rows as i64);
        let mut column = (from.x + 0.5).floor() as i64;
        let mut row = (from.y + 0.5).floor() as i64;
        let end = ((to.x + 0.5).floor() as i64, (to.y + 0.5).floor() as i64);
        // How far along the chord the next side is, as a share of it.
        let next = |place: f64, change: f64, index: i64| {
            if change > 0.0 {
                (index as f64 + 0.5 - place) / change
            } else if change < 0.0 {
                (index as f64 - 0.5 - place) / change
            } else {
                f64::INFINITY
            }
        };
        let mut at = 0.0;
        // Each round passes one side; rounding can add no more than a few.
        let most = (end.0 - column).unsigned_abs() + (end.1 - row).unsigned_abs() + 4;
        for _ in 0..=most {
            if column < 0 || row < 0 || column >= columns || row >= rows {
                return None;
            }
            let (to_x, to_y) = (next(from.x, dx, column), next(from.y, dy, row));
            let leave = to_x.min(to_y).min(1.0);
            let share = leave - at;
            if share > SLIVER {
                let piece = Piece { cell: (row * columns + column) as u32, km: share * km };
                match line.pieces.last_mut() {
                    Some(last) if last.cell == piece.cell && self.table.sectors <= 1 => {
                        last.km += piece.km;
                    }
                    _ => {
                        line.pieces.push(piece);
                        if self.table.sectors > 1 {
                            line.heading.push(heading);
                        }
                    }
                }
                at = leave;
            }
            if leave >= 1.0 {
                return Some(());
            }
            if share <= SLIVER {
                self.touch(Coord { x: from.x + leave * dx, y: from.y + leave * dy }, line);
            }
            if to_x <= to_y {
                column += if dx > 0.0 { 1 } else { -1 };
            } else {
                row += if dy > 0.0 { 1 } else { -1 };
            }
        }
        // What rounding left over belongs to the last cell.
        line.pieces.last_mut().map(|last| last.km += (1.0 - at).max(0.0) * km)
    }
}
