//! Fuel through time, in stages.
//!
//! A potential of tonnes knows no hour: it lets a route meet everywhere the cheapest ice of all hours, and it
//! forgets what is burnt by lying still. So the voyage is cut into stages, at frames where there are any, and phi
//! grows with the hour: it bounds the fuel with which a route can be at x at t. Within a stage it is the greatest
//! of two,
//!
//! ```text
//!     phi_r(x) + r (t - begin),    |grad phi_r| <= (burn - r) / speed,    phi_r(x) <= phi(x, begin)
//! ```
//!
//! one for a rate r of nothing, and one for the rate that every hour burns: however a route goes on, and waits,
//! it burns r in each hour and what is beyond it on the way. Who is early is held by the first, and who comes late
//! pays for it by the second. The prices need only hold for the hours of the stage.
//!
//! The next stage begins with the greater of the two at the corners. Between them that can be more than phi,
//! by a little that is taken off, where one is the greater at one corner and the other at another.
//!
//! Steepness adds up over the stages: with the same limit in all of them, a route burns no less than phi over the
//! limit, less the excess of each.

use std::{ops::RangeInclusive, sync::Arc};

use dipward_plugin::{Control, Error};
use geo::Coord;

use super::{March, Mesh, Potential, Source, Steepness, Window, mesh_over, prices_of_grid};
use crate::{
    floor::Floor,
    world::{Interval, World},
};

/// Marches of a stage at most, and of what tells where it does not come.
const MARCHES: usize = 10;
const PRUNING: usize = 3;

/// What part of the prices the first march of a stage is made of.
const TRIM: f32 = 0.997;

/// Stages of a voyage: as many as the frames make it, within these. What is lost grows with their number.
const STAGES: RangeInclusive<usize> = 2..=8;

/// A voyage in stages.
pub(crate) struct Stages<'s, 'w, 't> {
    pub(crate) world: &'w World<'t>,
    pub(crate) floor: &'s Floor<'t>,
    /// When the routes in question can be where.
    pub(crate) window: &'s Window,
    /// Where they begin, in cell widths.
    pub(crate) start: Coord<f64>,
    /// Between which hours they are under way.
    pub(crate) hours: (f64, f64),
    /// What they burn at the least from each cell of the grid on.
    pub(crate) on_t: &'s [f64],
    /// What they burn at the most.
    pub(crate) most_t: f64,
    /// How often each cell is halved.
    pub(crate) halvings: u32,
}

/// A stage of a voyage, with the potentials of its rates.
pub(crate) struct Stage<'w, 't> {
    from_hour: f64,
    until_hour: f64,
    rates: Vec<Rate<'w, 't>>,
    /// Steepness in this stage and those before it.
    steepness: Steepness,
}

/// The potential of what is burnt beyond a rate.
struct Rate<'w, 't> {
    t_per_h: f64,
    phi: Potential<'w, 't>,
}

/// What the potentials of a stage are at a place, each with its rate in t/h.
pub(crate) struct Lines(Vec<(f64, f64)>);

impl<'w, 't> Stages<'_, 'w, 't> {
    /// The least that `ends` gives for the ends of routes in any stage.
    pub(crate) fn least(
        &self,
        control: &Control,
        ends: impl Fn(&Stage<'w, 't>) -> f64,
    ) -> Result<f64, Error> {
        let Self { world, floor, window, start, .. } = *self;
        let of_grid = prices_of_grid(world, &floor.tonnes, window);
        let mesh = Arc::new(mesh_over(world, &of_grid, self.halvings));
        let mut source = Source::Place(start);
        let mut steepness = Steepness::NOTHING;
        let mut least = f64::INFINITY;
        for pair in cuts(&world.intervals, self.hours).windows(2) {
            let &[from_hour, until_hour] = pair else { continue };
            let march = |of_grid: &[f32], most: usize| {
                let march = March::new(Arc::clone(&mesh), of_grid, self.most_t, TRIM);
                Potential::best_of(world, march, &source, (self.most_t, most), control, |_| {})
            };
            let during = window.during(from_hour, until_hour.next_down());
            let mut tonnes = prices_of_grid(world, &floor.tonnes, &during);
            let out = march(&tonnes, PRUNING)?;
            self.prune(&mut tonnes, steepness, &out);
            let mut beyond = prices_of_grid(world, &floor.beyond, &during);
            for (beyond, tonnes) in beyond.iter_mut().zip(&tonnes) {
                if *tonnes == f32::INFINITY {
                    *beyond = f32::INFINITY;
                }
            }
            let rates = vec![
                Rate { t_per_h: 0.0, phi: march(&tonnes, MARCHES)? },
                Rate { t_per_h: floor.least_t_per_h, phi: march(&beyond, MARCHES)? },
            ];
            steepness = rates
                .iter()
                .fold(steepness, |most, rate| most.most(&steepness.and(&rate.phi.steepness)));
            let stage = Stage { from_hour, until_hour, rates, steepness };
            least = least.min(ends(&stage));

            let at_end = window.during(until_hour, until_hour);
            let start_cell = mesh.grid_cell_at(start);
            source = Source::Corners(stage.end(&mesh, |cell| {
                // What is closed holds nobody, but for the port.
                let open = tonnes[cell] < f32::INFINITY || Some(cell) == start_cell;
                open && at_end.hours_in(cell).is_some()
            }));
        }
        Ok(least)
    }

    /// Leaves out the cells to where and on from where a route in question would burn too much.
    fn prune(&self, tonnes: &mut [f32], before: Steepness, phi: &Potential<'_, '_>) {
        let most_t = self.most_t * (1.0 + f64::from(f32::EPSILON));
        let steepness = before.and(&phi.steepness);
        for ((price, out_t), on_t) in tonnes.iter_mut().zip(phi.raw_of_cells()).zip(self.on_t) {
            if steepness.bound(out_t) + on_t > most_t {
                *price = f32::INFINITY;
            }
        }
    }
}

impl Stage<'_, '_> {
    /// What is known of a place, as far as some cell widths about it.
    pub(crate) fn at_place(&self, place: Coord<f64>, reach: f64) -> Option<Lines> {
        let line = |rate: &Rate<'_, '_>| Some((rate.t_per_h, rate.phi.raw_within(place, reach)?));
        self.rates.iter().map(line).collect::<Option<Vec<_>>>().map(Lines)
    }

    /// What a route burns at the least that ends in this stage and between two hours, at a place of which
    /// so much is known; infinite where the hours are not in the stage.
    pub(crate) fn least_t(&self, known: &Lines, (from_hour, until_hour): (f64, f64)) -> f64 {
        let from_h = from_hour.max(self.from_hour) - self.from_hour;
        let until_h = until_hour.min(self.until_hour) - self.from_hour;
        if from_h > until_h {
            return f64::INFINITY;
        }
        self.steepness.bound(known.least_of_greatest(from_h, until_h))
    }

    /// phi at the corners when the stage ends; infinite where no cell about a corner can hold a route then.
    fn end(&self, mesh: &Mesh, holds: impl Fn(usize) -> bool) -> Vec<f32> {
        let length_h = self.until_hour - self.from_hour;
        let at_end = |rate: &Rate<'_, '_>, corner: usize| {
            f64::from(rate.phi.phi[corner]) - rate.phi.start + rate.t_per_h * length_h
        };
        let greatest: Vec<f32> = (0..mesh.len())
            .map(|corner| {
                let all = self.rates.iter().map(|rate| at_end(rate, corner));
                (all.fold(0.0, f64::max) * (1.0 - 1e-6)) as f32
            })
            .collect();
        let mut end = vec![f32::INFINITY; greatest.len()];
        for (column, row) in mesh.cells() {
            if !holds(mesh.grid_cell(column, row)) {
                continue;
            }
            let about = mesh.corners(column, row);
            // What the greatest, linear between the corners, is more than one that is linear as well.
            let most_over = |linear: &dyn Fn(usize) -> f64| {
                about.iter().map(|&at| f64::from(greatest[at]) - linear(at)).fold(0.0, f64::max)
            };
            let kink = self.rates.iter().map(|rate| {
                // The two ways to halve a cell differ by as much.
                let [a, b, c, d] = about.map(|at| rate.phi.phi[at]);
                most_over(&|at| at_end(rate, at)) + 0.5 * f64::from((a + d - b - c).abs())
            });
            let kink = kink.fold(most_over(&|_| 0.0), f64::min) as f32;
            for at in about {
                end[at] = end[at].min((greatest[at] - kink).max(0.0));
            }
        }
        end
    }
}

impl Lines {
    /// The least between two hours of the greatest of the lines.
    fn least_of_greatest(&self, from_h: f64, until_h: f64) -> f64 {
        let greatest = |hours: f64| {
            self.0.iter().map(|(rate, at)| rate * hours + at).fold(f64::NEG_INFINITY, f64::max)
        };
        let mut least = greatest(from_h).min(greatest(until_h));
        for (number, a) in self.0.iter().enumerate() {
            for b in &self.0[number + 1..] {
                let crossing = (b.1 - a.1) / (a.0 - b.0);
                if crossing > from_h && crossing < until_h {
                    least = least.min(greatest(crossing));
                }
            }
        }
        least
    }
}

/// When the stages between two hours begin, and when the last ends: at frames, and where there are few, half
/// way through the longest.
fn cuts(intervals: &[Interval], (from_hour, until_hour): (f64, f64)) -> Vec<f64> {
    let frames: Vec<f64> = intervals
        .iter()
        .map(|interval| interval.begin_hour)
        .filter(|&hour| hour > from_hour && hour < until_hour)
        .collect();
    let step = frames.len().div_ceil(STAGES.end() - 1).max(1);
    let mut cuts = vec![from_hour];
    cuts.extend(frames.iter().skip(step - 1).step_by(step));
    cuts.push(until_hour);
    while cuts.len() <= *STAGES.start() {
        let lengths = cuts.windows(2).map(|pair| pair[1] - pair[0]);
        let Some((longest, _)) = lengths.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) else {
            break;
        };
        cuts.insert(longest + 1, f64::midpoint(cuts[longest], cuts[longest + 1]));
    }
    cuts
}
