//! A longitude and latitude for each pixel: the curvilinear grids of ocean and ice models.
//!
//! A place lies in the figure of four middles that holds it. On the plane that touches the Earth there, the
//! figure is the image of a unit square under a bilinear map, which Newton's method inverts.
//!
//! Source: the bilinear map of a square to a four-sided figure, as finite elements have it.

use dipward_geodesy::{Position, position};
use rstar::{RTree, primitives::GeomWithData};

type Node = GeomWithData<[f32; 3], u32>;

/// The middles of an image's pixels on the unit sphere.
pub(crate) struct ListedSurface {
    width: usize,
    height: usize,
    /// Row by row; not a number where the file has no position.
    nodes: Vec<[f32; 3]>,
    tree: RTree<Node>,
    /// The cosine of the farthest that a place may be from the nearest middle.
    near: f32,
}

impl std::fmt::Debug for ListedSurface {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "ListedSurface({} by {})", self.width, self.height)
    }
}

/// The most pixels: 8 million, at 60 bytes each.
const MAX_NODES: usize = 1 << 23;

impl ListedSurface {
    /// A surface of positions, row by row.
    ///
    /// # Errors
    ///
    /// When there are too many, or too few to bound a figure, or they do not lie side by side.
    pub(crate) fn new(width: usize, height: usize, positions: &[Position]) -> Result<Self, String> {
        if width.saturating_mul(height) > MAX_NODES {
            return Err(format!(
                "has positions for {width} by {height} pixels, more than {MAX_NODES}"
            ));
        }
        if width < 2 || height < 2 || positions.len() != width * height {
            return Err(format!(
                "has positions for {width} by {height} pixels, which bound nothing"
            ));
        }
        let nodes: Vec<[f32; 3]> =
            positions.iter().map(|at| on_sphere(*at).map(|x| x as f32)).collect();
        let known = || nodes.iter().zip(0u32..).filter(|(node, _)| !node[0].is_nan());
        let tree = RTree::bulk_load(known().map(|(node, at)| Node::new(*node, at)).collect());
        // The middle step between neighbours: a place three of the longest steps away is off the image.
        let mut longest = 0.0_f32;
        let mut steps = Vec::new();
        for row in (0..height).step_by((height / 64).max(1)) {
            for column in (0..width - 1).step_by((width / 64).max(1)) {
                let at = row * width + column;
                if let (Some(a), Some(b)) = (nodes.get(at), nodes.get(at + 1)) {
                    let step = distance(*a, *b);
                    if step.is_finite() {
                        steps.push(step);
                        longest = longest.max(step);
                    }
                }
            }
        }
        steps.sort_by(f32::total_cmp);
        let middle = steps.get(steps.len() / 2).copied().unwrap_or(0.0);
        if !(middle > 0.0 && middle < 0.5) {
            return Err("has positions that do not lie side by side".to_owned());
        }
        Ok(Self { width, height, nodes, tree, near: longest.clamp(middle, 0.5) * 3.0 })
    }

    pub(super) fn coordinates(&self, at: Position) -> [f64; 2] {
        let centre = on_sphere(at);
        let query = centre.map(|x| x as f32);
        if query[0].is_nan() {
            return [f64::NAN; 2];
        }
        let Some(nearest) = self.tree.nearest_neighbor(&query) else { return [f64::NAN; 2] };
        if distance(*nearest.geom(), query) > self.near {
            return [f64::NAN; 2];
        }
        let at = nearest.data as usize;
        let (column, row) = ((at % self.width) as i64, (at / self.width) as i64);
        let plane = Plane::at(centre);
        // The figures about the nearest middle first, then those about them.
        let mut beyond: Option<([f64; 2], f64)> = None;
        for reach in [1i64, 3] {
            for left in column - reach..column + reach {
                for above in row - reach..row + reach {
                    let Some([u, v]) = self.within(&plane, left, above) else { continue };
                    let place = [left as f64 + 0.5 + u, above as f64 + 0.5 + v];
                    let out = |share: f64| (share - 0.5).abs() - 0.5;
                    let off = out(u).max(out(v));
                    if off <= 1e-9 {
                        return place;
                    }
                    // Half a pixel beyond the outermost middles is still their pixel.
                    let edge = |share: f64, first: i64, count: usize| {
                        (share < 0.0 && first == 0) || (share > 1.0 && first + 2 == count as i64)
                    };
                    let at_edge = (out(u) <= 1e-9 || edge(u, left, self.width))
                        && (out(v) <= 1e-9 || edge(v, above, self.height));
                    if at_edge && off <= 0.5 && beyond.is_none_or(|(_, least)| off < least) {
                        beyond = Some((place, off));
                    }
                }
            }
            if let Some((place, _)) = beyond {
                return place;
            }
        }
        [f64::NAN; 2]
    }

    /// Where the plane's middle lies in the figure whose first corner is a column and row, as shares of its
    /// sides.
    fn within(&self, plane: &Plane, left: i64, above: i64) -> Option<[f64; 2]> {
        let corner = |dx: i64, dy: i64| {
            let column = usize::try_from(left + dx).ok().filter(|column| *column < self.width)?;
            let row = usize::try_from(above + dy).ok().filter(|row| *row < self.height)?;
            plane.place(*self.nodes.get(row * self.width + column)?)
        };
        let [a, b, c, d] = [corner(0, 0)?, corner(1, 0)?, corner(0, 1)?, corner(1, 1)?];
        let (mut u, mut v) = (0.5, 0.5);
        for _ in 0..20 {
            let of = |k: usize| {
                let along = (1.0 - v) * (b[k] - a[k]) + v * (d[k] - c[k]);
                let across = (1.0 - u) * (c[k] - a[k]) + u * (d[k] - b[k]);
                let here =
                    (1.0 - v) * ((1.0 - u) * a[k] + u * b[k]) + v * ((1.0 - u) * c[k] + u * d[k]);
                (here, along, across)
            };
            let ((x, xu, xv), (y, yu, yv)) = (of(0), of(1));
            let determinant = xu * yv - xv * yu;
            if determinant == 0.0 || !determinant.is_finite() {
                return None;
            }
            let (du, dv) = ((x * yv - y * xv) / determinant, (y * xu - x * yu) / determinant);
            u -= du;
            v -= dv;
            if du.abs().max(dv.abs()) < 1e-12 {
                break;
            }
        }
        (u.abs() < 10.0 && v.abs() < 10.0).then_some([u, v])
    }

    pub(super) fn position(&self, [column, row]: [f64; 2]) -> Position {
        let nowhere = position(f64::NAN, f64::NAN);
        let (x, y) = (column - 0.5, row - 0.5);
        if !(x.abs() < 1e9 && y.abs() < 1e9) {
            return nowhere;
        }
        let left = (x.floor().max(0.0) as usize).min(self.width - 2);
        let above = (y.floor().max(0.0) as usize).min(self.height - 2);
        let (u, v) = (x - left as f64, y - above as f64);
        let mut sum = [0.0; 3];
        for (dx, dy, share) in [
            (0, 0, (1.0 - u) * (1.0 - v)),
            (1, 0, u * (1.0 - v)),
            (0, 1, (1.0 - u) * v),
            (1, 1, u * v),
        ] {
            let Some(node) = self.nodes.get((above + dy) * self.width + left + dx) else {
                return nowhere;
            };
            for (sum, own) in sum.iter_mut().zip(node) {
                *sum += share * f64::from(*own);
            }
        }
        let [x, y, z] = sum;
        position(z.atan2(x.hypot(y)).to_degrees(), y.atan2(x).to_degrees())
    }
}

fn on_sphere(at: Position) -> [f64; 3] {
    let (sine, cosine) = at.y().to_radians().sin_cos();
    let (east, ahead) = at.x().to_radians().sin_cos();
    [cosine * ahead, cosine * east, sine]
}

fn distance(a: [f32; 3], b: [f32; 3]) -> f32 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt()
}

/// The plane that touches the sphere at a point, by central projection.
struct Plane {
    centre: [f64; 3],
    axes: [[f64; 3]; 2],
}

impl Plane {
    fn at(centre: [f64; 3]) -> Self {
        // Any direction that is not the centre's own.
        let other = if centre[2].abs() < 0.9 { [0.0, 0.0, 1.0] } else { [1.0, 0.0, 0.0] };
        let first = unit(cross(other, centre));
        Self { centre, axes: [first, cross(centre, first)] }
    }

    fn place(&self, node: [f32; 3]) -> Option<[f64; 2]> {
        let node = node.map(f64::from);
        let depth = dot(node, self.centre);
        // Half-way round the Earth there is no place.
        (depth > 0.1).then(|| self.axes.map(|axis| dot(node, axis) / depth))
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn unit(a: [f64; 3]) -> [f64; 3] {
    let length = dot(a, a).sqrt();
    a.map(|x| x / length)
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Ellipsoid, Hemisphere, PolarStereographic};
    use proptest::prelude::*;

    use super::*;

    /// A square about the pole, turned, whose pixels are 25 km wide.
    fn surface() -> (PolarStereographic, ListedSurface) {
        let polar = PolarStereographic::variant_b(Hemisphere::South, -71.0, 30.0, Ellipsoid::WGS84)
            .unwrap();
        let (width, height) = (60, 50);
        let positions: Vec<Position> = (0..width * height)
            .map(|at| {
                let (column, row) = ((at % width) as f64, (at / width) as f64);
                polar.inverse(geo::coord! { x: -1e6 + 25e3 * column, y: 6e5 - 25e3 * row })
            })
            .collect();
        (polar, ListedSurface::new(width, height, &positions).unwrap())
    }

    proptest! {
        #[test]
        fn places_are_those_of_the_map(column in 0.01..59.99f64, row in 0.01..49.99f64) {
            let (polar, surface) = surface();
            let place = geo::coord! { x: -1e6 + 25e3 * (column - 0.5), y: 6e5 - 25e3 * (row - 0.5) };
            let [x, y] = surface.coordinates(polar.inverse(place));
            // On the touching plane a figure of 25 km is as good as flat.
            prop_assert!((x - column).abs() < 1e-3 && (y - row).abs() < 1e-3, "{x} {y} {column} {row}");
            let back = surface.position([x, y]);
            let off = polar.forward(back) - place;
            prop_assert!(off.x.hypot(off.y) < 30.0);
        }

        #[test]
        fn any_positions_do_not_panic(
            positions in prop::collection::vec((-90.0..90.0f64, -180.0..180.0f64), 12),
            at in (-90.0..90.0f64, -180.0..180.0f64),
        ) {
            let positions: Vec<Position> = positions.iter().map(|p| position(p.0, p.1)).collect();
            if let Ok(surface) = ListedSurface::new(4, 3, &positions) {
                let _ = surface.coordinates(position(at.0, at.1));
            }
        }
    }

    #[test]
    fn outside_is_no_place() {
        let (polar, surface) = surface();
        for (x, y) in [(-1.1e6, 0.0), (0.0, 7e5), (3e6, 3e6)] {
            let [column, row] = surface.coordinates(polar.inverse(geo::coord! { x: x, y: y }));
            assert!(column.is_nan() && row.is_nan(), "{column} {row}");
        }
    }
}
