//! The field and its gradient from Gauss coefficients, at many sites.
//!
//! The potential is split by order, with the part that is singular in spherical coordinates kept as
//! a polynomial in Cartesian ones. The axes are turned about the Earth's axis so that the site lies
//! in the plane of x and z: its direction from the centre is (s, 0, u), and y is east. With lengths
//! counted in units of the site's radius r,
//!
//! ```text
//!   V / a = sum over m of Re[(x + iy)^m F_m(z, r)],
//!   F_m(z, r) = sum over n of (g - ih) e^(im lon) (a/r)^(n+1) Q_nm(z / r) r^-(n+m+1),
//!   P_nm = sin^m Q_nm
//! ```
//!
//! so that nothing is divided by the distance from the axis, and the geographic poles are places
//! like any other. Q_nm runs by the usual recursion in n at fixed m, which is stable; its derivative
//! is the next column, Q_nm' = c_nm Q_n,m+1, so that the columns are made from the highest order
//! down and each is used three times. Each F_m is a sum of homogeneous functions of degree -(n+m+1):
//! Euler's relation gives the derivatives by r from those by z, and Laplace's equation for the
//! single order,
//!
//! ```text
//!   F_zz + 2 (z/r) F_zr + F_rr + (2m + 2)/r F_r = 0,
//! ```
//!
//! saves one sum of six. What is left is five sums an order for g and five for h.
//!
//! Sites go through in lanes, so that the compiler can use vector registers; a lane's result does
//! not depend on its neighbours.
//!
//! Sources: the column recursion, S. A. Holmes and W. E. Featherstone, J. Geodesy 76, 279 (2002);
//! the split of the sectorial part, S. Pines, AIAA J. 11, 1508 (1973). The arrangement is our own.

use dipward_plugin::{Error, FieldSample, FieldVector, Site};

use crate::{
    ellipsoid_frame::{Meridian, check_lengths, check_site},
    lanes::{LANES, Lanes},
    series::index,
};

/// Reference radius of Gauss coefficients, km.
pub(crate) const REFERENCE_RADIUS_KM: f64 = 6371.2;

/// What one degree and order contributes.
#[derive(Debug, Clone, Copy)]
struct Term {
    /// Q_nm = `ahead` u Q_n-1,m - `behind` Q_n-2,m.
    ahead: f64,
    behind: f64,
    /// g and h; then times c_nm, for the first derivative by z; then for the second.
    value: [f64; 2],
    first: [f64; 2],
    second: [f64; 2],
}

/// A model's coefficients at one epoch, ready for synthesis.
#[derive(Debug, Clone)]
pub struct Snapshot {
    degree: usize,
    /// By order from the largest down, and within it by degree upward.
    terms: Vec<Term>,
    /// Q_mm by order.
    sectorial: Vec<f64>,
}

impl Snapshot {
    /// Prepares coefficients in the order of [`index`], which must hold `degree` in full.
    pub(crate) fn new(degree: usize, coefficients: &[[f64; 2]]) -> Self {
        let mut terms = Vec::with_capacity(index(degree, degree) + 1);
        for m in (0..=degree).rev() {
            for n in m..=degree {
                let (nf, mf) = (n as f64, m as f64);
                let root = (nf * nf - mf * mf).sqrt();
                let (ahead, behind) = if n == m {
                    (0.0, 0.0)
                } else {
                    let before = (nf - 1.0) * (nf - 1.0) - mf * mf;
                    ((2.0 * nf - 1.0) / root, before.max(0.0).sqrt() / root)
                };
                let value = coefficients.get(index(n, m)).copied().unwrap_or_default();
                let first = value.map(|part| part * derivative_factor(n, m));
                let second = first.map(|part| part * derivative_factor(n, m + 1));
                terms.push(Term { ahead, behind, value, first, second });
            }
        }
        let mut sectorial = vec![1.0; degree + 1];
        for m in 2..=degree {
            let mf = m as f64;
            sectorial[m] = sectorial[m - 1] * ((2.0 * mf - 1.0) / (2.0 * mf)).sqrt();
        }
        Self { degree, terms, sectorial }
    }

    /// The largest degree.
    #[must_use]
    pub const fn degree(&self) -> usize {
        self.degree
    }

    /// The field and its gradient at `sites`.
    ///
    /// # Arguments
    ///
    /// `out` has the length of `sites`; batches of four or more are the fastest.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a site that is not finite, not on Earth, deeper than 10 km or higher
    /// than 60,000 km; [`Error::Contract`] where the lengths differ.
    ///
    /// # Complexity
    ///
    /// Proportional to the square of the degree for each site; nothing is allocated by site.
    pub fn sample(&self, sites: &[Site], out: &mut [FieldSample]) -> Result<(), Error> {
        check_lengths(sites, out)?;
        sites.iter().try_for_each(check_site)?;
        let mut orders = vec![Order::default(); self.degree + 1];
        let mut cells = vec![Cell::default(); self.degree + 1];
        for (sites, out) in sites.chunks(LANES).zip(out.chunks_mut(LANES)) {
            // A short last batch repeats its first site in the idle lanes.
            let meridians: [Meridian; LANES] =
                std::array::from_fn(|lane| Meridian::of(sites.get(lane).unwrap_or(&sites[0])));
            let at = Direction::of(&meridians);
            self.fill_orders(&at, &mut orders);
            let derivatives = self.derivatives(&at, &orders, &mut cells);
            for (lane, (sample, meridian)) in out.iter_mut().zip(&meridians).enumerate() {
                *sample = in_local_axes(&derivatives, at.ratio.0[lane], lane, meridian);
            }
        }
        Ok(())
    }

    /// What belongs to the orders at these lanes.
    fn fill_orders(&self, at: &Direction, orders: &mut [Order]) {
        let (mut cosine, mut sine) = (Lanes::all(1.0), Lanes::all(0.0));
        let (mut power, mut below, mut lowest) = (cosine, sine, sine);
        let mut fall = at.ratio;
        for ((order, &sectorial), m) in orders.iter_mut().zip(&self.sectorial).zip(0_u32..) {
            let m = f64::from(m);
            let (first, second) = (m * below, m * (m - 1.0) * lowest);
            *order = Order { cosine, sine, seed: sectorial * fall, power, first, second };
            (cosine, sine) =
                (cosine * at.cos_lon - sine * at.sin_lon, cosine * at.sin_lon + sine * at.cos_lon);
            fall *= at.ratio;
            (lowest, below, power) = (below, power, power * at.s);
        }
    }

    /// First and second derivatives of V / a at each lane, lengths in units of its radius.
    fn derivatives(&self, at: &Direction, orders: &[Order], cells: &mut [Cell]) -> Derivatives {
        let along = at.ratio * at.u;
        let square = at.ratio * at.ratio;
        cells.fill(Cell::default());
        let mut out = Derivatives::default();
        let mut terms = self.terms.as_slice();
        for (m, order) in orders.iter().enumerate().rev() {
            let (column, rest) = terms.split_at(self.degree + 1 - m);
            terms = rest;
            let sums = column_sums(column, &mut cells[m..], order.seed, along, square);
            out.add(m as f64, (self.degree + m) as f64, &sums, order, at);
        }
        out
    }
}

/// c_nm in Q_nm' = c_nm Q_n,m+1, for Schmidt's normalisation.
fn derivative_factor(n: usize, m: usize) -> f64 {
    if m >= n {
        return 0.0;
    }
    let product = (n - m) as f64 * (n + m + 1) as f64;
    if m == 0 { (product / 2.0).sqrt() } else { product.sqrt() }
}

/// Where the lanes are: directions from the Earth's centre in the plane of their meridians,
/// longitudes, and the reference radius over their own.
#[derive(Debug, Clone, Copy)]
struct Direction {
    s: Lanes,
    u: Lanes,
    cos_lon: Lanes,
    sin_lon: Lanes,
    ratio: Lanes,
}

impl Direction {
    fn of(meridians: &[Meridian; LANES]) -> Self {
        Self {
            s: Lanes::of(|l| meridians[l].out_km / meridians[l].radius_km()),
            u: Lanes::of(|l| meridians[l].up_km / meridians[l].radius_km()),
            cos_lon: Lanes::of(|l| meridians[l].cos_lon),
            sin_lon: Lanes::of(|l| meridians[l].sin_lon),
            ratio: Lanes::of(|l| REFERENCE_RADIUS_KM / meridians[l].radius_km()),
        }
    }
}

/// What belongs to one order m whatever the degree.
#[derive(Debug, Clone, Copy, Default)]
struct Order {
    /// Of m times the longitude.
    cosine: Lanes,
    sine: Lanes,
    /// (a/r)^(m+1) Q_mm.
    seed: Lanes,
    /// s^m, and its first and second derivative by s.
    power: Lanes,
    first: Lanes,
    second: Lanes,
}

/// (a/r)^(n+1) Q at one degree and the next two orders.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    next: Lanes,
    after: Lanes,
}

/// The sums over degrees at one order, of g or of h.
#[derive(Debug, Clone, Copy, Default)]
struct ColumnSums {
    /// F_m, and the sum of its partial sums.
    value: Lanes,
    value_run: Lanes,
    /// The first derivative by z, and the sum of its partial sums.
    first: Lanes,
    first_run: Lanes,
    /// The second derivative by z.
    second: Lanes,
}

impl ColumnSums {
    /// Adds one degree. Adding up the partial sums weighs each degree by its distance from the last
    /// one, for an addition where a weight would cost a multiplication too.
    #[inline(always)]
    fn add(&mut self, term: &Term, part: usize, current: Lanes, cell: &Cell) {
        self.value += term.value[part] * current;
        self.value_run += self.value;
        self.first += term.first[part] * cell.next;
        self.first_run += self.first;
        self.second += term.second[part] * cell.after;
    }
}

/// Runs down one column, and leaves it in `cells` for the columns below.
#[inline(always)]
fn column_sums(
    column: &[Term],
    cells: &mut [Cell],
    seed: Lanes,
    along: Lanes,
    square: Lanes,
) -> [ColumnSums; 2] {
    let (mut g, mut h) = (ColumnSums::default(), ColumnSums::default());
    let mut before = Lanes::default();
    let mut previous = Lanes::default();
    let mut current = seed;
    for (term, cell) in column.iter().zip(cells) {
        // The first term has no past, and its current value is the seed.
        current += term.ahead * (along * previous) - term.behind * (square * before);
        g.add(term, 0, current, cell);
        h.add(term, 1, current, cell);
        *cell = Cell { next: current, after: cell.next };
        before = previous;
        previous = current;
        current = Lanes::default();
    }
    [g, h]
}

/// Derivatives of V / a; x out from the Earth's axis, y east, z north along the axis.
#[derive(Debug, Clone, Copy, Default)]
struct Derivatives {
    x: Lanes,
    y: Lanes,
    z: Lanes,
    xx: Lanes,
    yy: Lanes,
    xy: Lanes,
    xz: Lanes,
    yz: Lanes,
}

impl Derivatives {
    /// Adds one order. `last` is the largest degree plus the order.
    #[inline(always)]
    fn add(&mut self, m: f64, last: f64, sums: &[ColumnSums; 2], order: &Order, at: &Direction) {
        let (s, u) = (at.s, at.u);
        let (cosine, sine) = (order.cosine, order.sine);
        let [g, h] = sums;
        // The real part of (g - ih) e^(im lon), and of i times that.
        let real = |g: Lanes, h: Lanes| cosine * g + sine * h;
        let turned = |g: Lanes, h: Lanes| cosine * h - sine * g;

        // Degree n stands last + 1 - (n + m) times in the run; n + m + 1 is what is wanted.
        let value = real(g.value, h.value);
        let by_z = real(g.first, h.first);
        let by_zz = real(g.second, h.second);
        let first_fall = (last + 3.0) * by_z - real(g.first_run, h.first_run);
        let by_r = real(g.value_run, h.value_run) - (last + 2.0) * value - u * by_z;
        let by_zr = -first_fall - u * by_zz;
        // The derivative by r of F_r / r, which is what the chain rule asks for.
        let by_rr = 2.0 * (u * first_fall) + (2.0 * (u * u) - Lanes::all(1.0)) * by_zz
            - (2.0 * m + 3.0) * by_r;
        let up = by_z + u * by_r;

        let value_east = turned(g.value, h.value);
        let by_z_east = turned(g.first, h.first);
        let by_r_east =
            turned(g.value_run, h.value_run) - (last + 2.0) * value_east - u * by_z_east;
        let up_east = by_z_east + u * by_r_east;

        let Order { power, first, second, .. } = *order;
        let radial = power * by_r;
        self.x += first * value + s * radial;
        self.y += first * value_east;
        self.z += power * up;
        self.xx += second * value + s * (2.0 * (first * by_r) + s * (power * by_rr)) + radial;
        self.yy += radial - second * value;
        self.xy += second * value_east + s * (first * by_r_east);
        self.xz += first * up + s * (power * (by_zr + u * by_rr));
        self.yz += first * up_east;
    }
}

/// Turns one lane's derivatives into a sample in the site's own axes.
fn in_local_axes(all: &Derivatives, ratio: f64, l: usize, meridian: &Meridian) -> FieldSample {
    let (sine, cosine) = (meridian.sin_lat, meridian.cos_lat);
    let scale = -ratio * ratio / REFERENCE_RADIUS_KM;
    let [x, y, z] = [all.x, all.y, all.z].map(|lane| -ratio * lane.0[l]);
    let [xx, yy, xy, xz, yz] =
        [all.xx, all.yy, all.xy, all.xz, all.yz].map(|lane| scale * lane.0[l]);
    // V is harmonic.
    let zz = -xx - yy;
    // North is (-sine, 0, cosine), down is (-cosine, 0, -sine).
    let nn = sine * sine * xx - 2.0 * sine * cosine * xz + cosine * cosine * zz;
    let nd = sine * cosine * (xx - zz) + (sine * sine - cosine * cosine) * xz;
    let ne = cosine * yz - sine * xy;
    let ed = -cosine * xy - sine * yz;
    FieldSample {
        vector: FieldVector {
            north_nt: cosine * z - sine * x,
            east_nt: y,
            down_nt: -cosine * x - sine * z,
        },
        gradient_nt_per_km: [[nn, ne, nd], [ne, yy, ed], [nd, ed, -nn - yy]],
    }
}
