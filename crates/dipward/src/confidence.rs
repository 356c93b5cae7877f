//! What an ensemble of so many members tells of figures of merit: the figures with the members drawn anew.
//!
//! All approaches meet the same members. The members are drawn anew, with replacement and the same for
//! all approaches, and the figures are computed again: how often one figure is better than another by
//! more than a stated difference says whether the ensemble tells the two apart.

use std::iter::repeat_n;

use dipward_plugin::{Approach, Criterion, Error, MemberOutcome};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::{
    order::compute_figures,
    stay::{attained_after_d, distributions_of, wilson_interval},
};

/// Drawings: a share of nine tenths is known to 1.5 hundredths.
const DRAWS: u64 = 400;
/// Sets these draws apart from those of the pole tracks.
const STREAM: u64 = 0x636f_6e66;

/// What is read off all approaches in each of the drawings of their common members; nothing of
/// approaches without members, and of fewer than two.
///
/// # Arguments
///
/// `read`: reads it off approaches whose figures are those of a drawing.
///
/// # Source
///
/// B. Efron, Bootstrap methods: another look at the jackknife, Annals of Statistics 7 (1979), 1-26.
///
/// # Errors
///
/// As [`crate::rank`].
pub(crate) fn drawings<T: Send>(
    approaches: &[Approach],
    criteria: &[&dyn Criterion],
    seed: u64,
    read: impl Fn(&[Approach]) -> T + Sync,
) -> Result<Vec<T>, Error> {
    let members = approaches.iter().map(|approach| approach.stay.members.len()).min().unwrap_or(0);
    if members == 0 || approaches.len() < 2 {
        return Ok(Vec::new());
    }
    let sorted: Vec<Sorted> =
        approaches.iter().map(|approach| Sorted::of(&approach.stay.members)).collect();
    (0..DRAWS)
        .into_par_iter()
        .map_init(
            || approaches.to_vec(),
            |again, draw| {
                let mut rng = ChaCha8Rng::seed_from_u64(seed ^ STREAM);
                rng.set_stream(draw);
                let mut times = vec![0; members];
                for _ in 0..members {
                    if let Some(slot) = times.get_mut(rng.random_range(0..members)) {
                        *slot += 1;
                    }
                }
                for (approach, own) in again.iter_mut().zip(&sorted) {
                    redraw(approach, own, &times);
                }
                compute_figures(again, criteria)?;
                Ok(read(again))
            },
        )
        .collect()
}

/// Members sorted once, so that no drawing of them must be.
pub(crate) struct Sorted {
    /// Each member's number and outcome, the closest first.
    closest: Vec<(usize, MemberOutcome)>,
    /// Each member's number and the days to its first attainment, the soonest first.
    attained_d: Vec<(usize, f64)>,
}

impl Sorted {
    pub(crate) fn of(members: &[MemberOutcome]) -> Self {
        let mut closest: Vec<_> = members.iter().copied().enumerate().collect();
        closest.sort_by(|(_, a), (_, b)| a.closest_km.total_cmp(&b.closest_km));
        let mut attained_d: Vec<_> = members.iter().map(attained_after_d).enumerate().collect();
        attained_d.sort_by(|(_, a), (_, b)| a.total_cmp(b));
        Self { closest, attained_d }
    }
}

/// Gives an approach each of its members as often as a drawing has it, with all that is computed of them.
pub(crate) fn redraw(approach: &mut Approach, own: &Sorted, times: &[usize]) {
    let often = |member: usize| times.get(member).copied().unwrap_or(0);
    let stay = &mut approach.stay;
    stay.members.clear();
    stay.members
        .extend(own.closest.iter().flat_map(|&(member, outcome)| repeat_n(outcome, often(member))));
    let closest: Vec<f64> = stay.members.iter().map(|one| one.closest_km).collect();
    let attained_d: Vec<f64> =
        own.attained_d.iter().flat_map(|&(member, days)| repeat_n(days, often(member))).collect();
    (stay.closest_km, stay.first_attained_d) = distributions_of(&closest, &attained_d);
    let attained = attained_d.iter().filter(|days| days.is_finite()).count();
    let count = stay.members.len();
    let attainment = &mut approach.attainment;
    attainment.probability = attained as f64 / count.max(1) as f64;
    (attainment.low, attainment.high) = wilson_interval(attained, count);
    attainment.median_closest_km = stay.closest_km.half;
}
