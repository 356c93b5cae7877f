//! How far the chances differ between disturbances that might as well be believed.

use std::collections::BTreeMap;

use dipward_plugin::{Alternative, Approach, Control, Error};
use rayon::prelude::*;

use crate::{
    approach::{Lying, Planned},
    station::Station,
    world::{Ensemble, World, tracks_of},
};

/// Members of the ensembles that are compared, at most.
const MEMBERS: u32 = 100;

/// Widens the interval of each approach's chance by how far the chance moves when the response is fitted
/// without one of its stations, or the activity is drawn otherwise.
///
/// The first members of the ensemble are drawn anew with each, from the same random numbers, and what the
/// chance moves by is their difference. The party acts as planned. Approaches by a last leg keep the
/// interval of the draws alone.
///
/// # Errors
///
/// As [`dipward_field::pole_tracks`].
pub(crate) fn widen_by_models(
    world: &World<'_>,
    planned: &BTreeMap<String, Planned>,
    ranked: &mut [Approach],
    control: &Control,
) -> Result<(), Error> {
    let own = Ensemble::of(world.scenario);
    let members = own.members.min(MEMBERS);
    let moves = world.moves_on_station();
    let assumed = world.station(&moves);
    let lying: Vec<Option<(&Planned, [f64; 2])>> =
        ranked.iter().map(|approach| lies_at_pole(planned.get(&approach.id)?)).collect();
    let stays: Vec<_> = lying
        .iter()
        .flatten()
        .map(|(_, [first, last])| *first as usize..=last.ceil() as usize)
        .collect();
    if stays.is_empty() {
        return Ok(());
    }
    // Least and greatest of what the chance moves by, for each approach.
    let mut moved = vec![[0.0_f64; 2]; ranked.len()];
    for Alternative { object, .. } in own.disturbance.alternatives() {
        let ensemble = Ensemble { disturbance: object.as_ref(), members, ..own.clone() };
        let tracks = tracks_of(world.scenario, &ensemble.during(&stays), control)?;
        let station = Station { tracks: &tracks, ..assumed };
        lying.par_iter().zip(&mut moved).for_each(|(one, moved)| {
            let Some((one, [first, last])) = *one else { return };
            let same = one.stay.outcome.members.iter().take(members as usize);
            let attained = same.filter(|member| member.attained_after_h.is_some()).count();
            let before = attained as f64 / f64::from(members);
            let by = station.stay(first, last).attainment.probability - before;
            *moved = [moved[0].min(by), moved[1].max(by)];
        });
    }
    for (approach, [down, up]) in ranked.iter_mut().zip(moved) {
        approach.attainment.low = (approach.attainment.low + down).max(0.0);
        approach.attainment.high = (approach.attainment.high + up).min(1.0);
    }
    Ok(())
}

/// The first and the last hour of a stay at the pole.
fn lies_at_pole(one: &Planned) -> Option<(&Planned, [f64; 2])> {
    let hours = &one.stay.cumulative;
    match (&one.lying, hours.first(), hours.last()) {
        (Lying::AtPole, Some(&(first, _)), Some(&(last, _))) => Some((one, [first, last])),
        _ => None,
    }
}
