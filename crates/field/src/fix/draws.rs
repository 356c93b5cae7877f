//! Draws from all that may be after the readings.
//!
//! Near the pole what a bearing leaves open is no ellipse: it is a wedge with its tip where H is 0,
//! and the most probable state sits near the tip while most of the probability lies further out. So
//! the doubt is not read off the slopes at the most probable state alone; states are drawn, each as
//! probable as it is by belief and readings, and the poles that they make are counted.
//!
//! Elliptical slices: with p the probability and N the normal distribution that the slopes at the
//! most probable state give, a draw is moved along an ellipse through itself and a fresh draw of N to
//! a point where p / N is above a level drawn from 0 to what it is. Where readings are straight in the
//! state p / N is the same everywhere and every point is taken.
//!
//! Source: Murray, Adams and MacKay, Elliptical slice sampling, Proceedings of Machine Learning
//! Research 9 (2010), 541; with N instead of the belief beforehand as in Nishihara, Murray and Adams,
//! Journal of Machine Learning Research 15 (2014), 2087. Both from memory.

use std::f64::consts::TAU;

use dipward_plugin::FieldVector;
use rand::{Rng, RngExt};
use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
use rand_distr::{Distribution, StandardNormal};

use super::{
    belief::Belief,
    bias::State,
    climb::{Posterior, credit, slopes},
    observation::{Comparison, Site},
    tail::loss,
};

/// States drawn. With them the ellipse of a fix is good to some 4 in 100.
const DRAWS: usize = 1000;
/// Steps from one draw to the next: with one alone the draws are so much like one another that the
/// ellipses of doubtful cases come out too small by some 3 in 100.
const STEPS: usize = 4;
/// Steps that are made at first, until the start is forgotten.
const FORGOTTEN: usize = 100;
/// More attempts than this for one draw mean that rounding leaves no room.
const MOST_ATTEMPTS: usize = 100;

/// Draws states; the same ones for the same readings.
pub(super) fn draw(belief: &Belief, sites: &[Site<'_>], posterior: &Posterior) -> Vec<State> {
    let ratio = Ratio::of(belief, sites, posterior);
    let mut rng = ChaCha8Rng::seed_from_u64(0);
    let mut at = ratio.departure(vec![0.0; posterior.state.0.len()]);
    let mut level = ratio.logarithm(&at, &at, 1.0, 0.0);
    let mut draws = Vec::with_capacity(DRAWS);
    for done in 0..FORGOTTEN + DRAWS * STEPS {
        let fresh = at.parts.iter().map(|_| StandardNormal.sample(&mut rng)).collect();
        let fresh = ratio.departure(posterior.normal_draw(fresh));
        if let Some((cosine, sine, here)) = ratio.slice(&at, &fresh, level, &mut rng) {
            at = at.turned(&fresh, cosine, sine);
            level = here;
        }
        if done >= FORGOTTEN && done % STEPS == 0 {
            draws.push(posterior.state.moved(&at.parts, 1.0));
        }
    }
    draws
}

/// p / N, as a function of how far a state departs from the most probable one.
struct Ratio<'a> {
    sites: &'a [Site<'a>],
    /// The field of the most probable state at each site.
    fields: Vec<FieldVector>,
    elements: Vec<Straight>,
    /// How the belief alone pulls at the most probable state.
    pull: Vec<f64>,
}

/// An element at the most probable state, as N takes it.
struct Straight {
    index: usize,
    one: Comparison,
    credit: f64,
}

/// A departure from the most probable state, and what follows from it in straight lines.
struct Departure {
    parts: Vec<f64>,
    /// The field that it adds at each site.
    added_nt: Vec<[f64; 3]>,
    /// What it adds to each element by its slopes, in sigmas.
    added: Vec<f64>,
    pull: f64,
}

impl Departure {
    /// The point of the ellipse through this and another.
    fn turned(&self, other: &Self, cosine: f64, sine: f64) -> Self {
        let mix = |a: &[f64], b: &[f64]| {
            a.iter().zip(b).map(|(a, b)| cosine * a + sine * b).collect::<Vec<f64>>()
        };
        Self {
            parts: mix(&self.parts, &other.parts),
            added_nt: self
                .added_nt
                .iter()
                .zip(&other.added_nt)
                .map(|(a, b)| [0, 1, 2].map(|part| cosine * a[part] + sine * b[part]))
                .collect(),
            added: mix(&self.added, &other.added),
            pull: cosine * self.pull + sine * other.pull,
        }
    }
}

impl<'a> Ratio<'a> {
    fn of(belief: &Belief, sites: &'a [Site<'a>], posterior: &Posterior) -> Self {
        let state = &posterior.state;
        let off: Vec<f64> = state.0.iter().zip(&belief.mean).map(|(a, b)| a - b).collect();
        let elements = sites
            .iter()
            .zip(&posterior.doubt_nt)
            .enumerate()
            .flat_map(|(index, (site, doubt_nt))| {
                site.compare(state, index).map(move |one| Straight {
                    index,
                    credit: credit(&one, *doubt_nt),
                    one,
                })
            })
            .collect();
        Self {
            sites,
            fields: sites.iter().enumerate().map(|(at, site)| site.field(state, at)).collect(),
            elements,
            pull: belief.pull(&off),
        }
    }

    fn departure(&self, parts: Vec<f64>) -> Departure {
        let state = State(parts);
        let sites = self.sites.iter().enumerate();
        let added_nt = sites.map(|(index, site)| site.added_nt(&state, index)).collect();
        let added = self
            .elements
            .iter()
            .map(|straight| {
                let slopes = slopes(&straight.one, straight.index);
                slopes.iter().map(|&(at, a)| a * state.0.get(at).unwrap_or(&0.0)).sum()
            })
            .collect();
        let pull = self.pull.iter().zip(&state.0).map(|(a, b)| a * b).sum();
        Departure { parts: state.0, added_nt, added, pull }
    }

    /// The logarithm of p / N, but for a constant, at a point of the ellipse through two departures.
    fn logarithm(&self, a: &Departure, b: &Departure, cosine: f64, sine: f64) -> f64 {
        let mut sum = -(cosine * a.pull + sine * b.pull);
        for ((straight, a_added), b_added) in self.elements.iter().zip(&a.added).zip(&b.added) {
            let Straight { index, one, credit } = straight;
            let (Some(field), Some(a_nt), Some(b_nt)) =
                (self.fields.get(*index), a.added_nt.get(*index), b.added_nt.get(*index))
            else {
                continue;
            };
            let [north, east, down] = [0, 1, 2].map(|part| cosine * a_nt[part] + sine * b_nt[part]);
            let field = FieldVector {
                north_nt: field.north_nt + north,
                east_nt: field.east_nt + east,
                down_nt: field.down_nt + down,
            };
            let expected = one.element.of(&field);
            let off = one.element.difference(one.measured.value, expected) / one.measured.sigma;
            let straight = cosine * a_added + sine * b_added;
            sum += 0.5 * credit * straight * straight - loss(off);
        }
        sum
    }

    /// A point of the ellipse where p / N is above a level drawn under the present one: the cosine
    /// and sine of its angle, and the logarithm there.
    fn slice(
        &self,
        at: &Departure,
        fresh: &Departure,
        present: f64,
        rng: &mut impl Rng,
    ) -> Option<(f64, f64, f64)> {
        let level = present + rng.random::<f64>().max(f64::MIN_POSITIVE).ln();
        let mut angle = TAU * rng.random::<f64>();
        let (mut low, mut high) = (angle - TAU, angle);
        for _ in 0..MOST_ATTEMPTS {
            let (sine, cosine) = angle.sin_cos();
            let here = self.logarithm(at, fresh, cosine, sine);
            if here > level {
                return Some((cosine, sine, here));
            }
            if angle < 0.0 {
                low = angle;
            } else {
                high = angle;
            }
            angle = low + (high - low) * rng.random::<f64>();
        }
        None
    }
}
