//! Polygons on the grid's map, in units of cells.

use dipward_geodesy::{Grid, PolarStereographic, position};
use geo::{Coord, coord};

use super::FilePolygon;
use crate::crs::MapProjection;

/// A polygon on the grid, filled by the even-odd rule: the outer ring and the holes.
///
/// Coordinates count cells: the cell of column `c` and row `r` is the square from (c, r) to
/// (c + 1, r + 1).
#[derive(Debug, Clone)]
pub(crate) struct PlanePolygon {
    pub(super) rings: Vec<Vec<Coord<f64>>>,
}

/// How far the map's chord may stand off the edge, in cells.
const TOLERANCE_CELLS: f64 = 0.02;

/// No edge is projected in pieces longer than this, so that the middle of a piece tells how bent it
/// is: an arc of half a turn has its middle on the chord's own line.
const PIECE_DEG: f64 = 5.0;

/// The same for edges on a map in metres.
const PIECE_M: f64 = 500_000.0;

/// How far into the other hemisphere a polygon is followed. The opposite pole is infinitely far away
/// on the map, and no grid reaches this far.
const FARTHEST_DEG: f64 = 75.0;

impl PlanePolygon {
    /// Projects a polygon whose edges are straight on the map of its file.
    pub(crate) fn of_file(polygon: &FilePolygon, map: &MapProjection, grid: &Grid) -> Self {
        let projector = Projector { map, grid };
        Self { rings: polygon.iter().map(|ring| projector.ring(ring)).collect() }
    }

    /// Puts a polygon of another polar stereographic map on the grid, its corners joined by straight
    /// lines on the grid's map: for outlines of corners as close as a coast's.
    pub(crate) fn of_map(
        polygon: &geo::Polygon<f64>,
        from: &PolarStereographic,
        grid: &Grid,
    ) -> Self {
        let same_map = from == grid.projection();
        let ring = |line: &geo::LineString<f64>| {
            line.coords()
                .map(|&corner| if same_map { corner } else { grid.coord(from.inverse(corner)) })
                .map(|corner| in_cells(corner, grid))
                .collect()
        };
        let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(ring);
        Self { rings: rings.collect() }
    }

    /// The polygon in the grid's metres, for outlines on the map.
    pub(crate) fn to_metres(&self, grid: &Grid) -> geo::Polygon<f64> {
        let mut rings = self.rings.iter().map(|ring| {
            let origin = grid.bounds().min();
            ring.iter()
                .map(|corner| {
                    coord! {
                        x: origin.x + corner.x * grid.cell_m(),
                        y: origin.y + corner.y * grid.cell_m(),
                    }
                })
                .collect::<geo::LineString<f64>>()
        });
        let exterior = rings.next().unwrap_or_else(|| geo::LineString::new(Vec::new()));
        geo::Polygon::new(exterior, rings.collect())
    }
}

fn in_cells(metres: Coord<f64>, grid: &Grid) -> Coord<f64> {
    let origin = grid.origin();
    coord! {
        x: (metres.x - origin.x) / grid.cell_m() + 0.5,
        y: (metres.y - origin.y) / grid.cell_m() + 0.5,
    }
}

/// From a file's map to the grid.
struct Projector<'a> {
    map: &'a MapProjection,
    grid: &'a Grid,
}

impl Projector<'_> {
    fn ring(&self, ring: &[[f64; 2]]) -> Vec<Coord<f64>> {
        let mut out = Vec::with_capacity(2 * ring.len());
        for edge in ring.windows(2) {
            let (from, to) = (edge[0], edge[1]);
            // Always worked from the same end, so that two neighbours that share an edge get the same
            // corners and leave neither a gap nor an overlap between them.
            let forward = (from[1], from[0]) <= (to[1], to[0]);
            let mut corners = if forward {
                self.edge(from, to)
            } else {
                let mut corners = self.edge(to, from);
                corners.reverse();
                corners
            };
            // The end of one edge is the start of the next.
            corners.pop();
            out.append(&mut corners);
        }
        if let Some(&first) = out.first() {
            out.push(first);
        }
        out
    }

    /// The corners of an edge, both ends included.
    fn edge(&self, from: [f64; 2], to: [f64; 2]) -> Vec<Coord<f64>> {
        let piece = if *self.map == MapProjection::LonLat { PIECE_DEG } else { PIECE_M };
        let extent = (to[0] - from[0]).abs().max((to[1] - from[1]).abs());
        let pieces = (extent / piece).ceil().clamp(1.0, 1000.0) as u32;
        let mut out = vec![self.place(from)];
        let mut start = from;
        for piece in 1..=pieces {
            let share = f64::from(piece) / f64::from(pieces);
            let end = if piece == pieces {
                to
            } else {
                [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share]
            };
            let (a, b) = (self.place(start), self.place(end));
            self.bend((start, a), (end, b), 12, &mut out);
            out.push(b);
            start = end;
        }
        out
    }

    /// Adds corners between two until the chord is close to the edge.
    fn bend(
        &self,
        (from, a): ([f64; 2], Coord<f64>),
        (to, b): ([f64; 2], Coord<f64>),
        depth: u32,
        out: &mut Vec<Coord<f64>>,
    ) {
        let middle = [(from[0] + to[0]) / 2.0, (from[1] + to[1]) / 2.0];
        let on_map = self.place(middle);
        let off = on_map - (a + b) / 2.0;
        if depth == 0 || off.x.hypot(off.y) <= TOLERANCE_CELLS {
            return;
        }
        self.bend((from, a), (middle, on_map), depth - 1, out);
        out.push(on_map);
        self.bend((middle, on_map), (to, b), depth - 1, out);
    }

    fn place(&self, coordinates: [f64; 2]) -> Coord<f64> {
        let at = self.map.position(coordinates);
        let sign = self.grid.projection().hemisphere().sign();
        let latitude_deg = sign * (sign * at.y()).max(-FARTHEST_DEG);
        in_cells(self.grid.coord(position(latitude_deg, at.x())), self.grid)
    }
}
