//! What the first approach is worth should the crust be weaker or stronger than assumed.

use dipward_field::CrustScaled;
use dipward_plugin::{ChanceOfStay, Control, CrustSensitivity, Error};

use crate::{
    approach::{Lying, Planned},
    station::Station,
    world::{Ensemble, World, tracks_of},
};

/// The chances of an approach's stay at half and at twice the crust's sigma.
///
/// The party acts by the daily oval and the haunt of the ensemble as planned: it does not know the crust
/// better for our doubting it.
///
/// # Errors
///
/// As [`dipward_field::pole_tracks`].
pub(crate) fn crust_sensitivity(
    world: &World<'_>,
    planned: &Planned,
    control: &Control,
) -> Result<CrustSensitivity, Error> {
    let approach = planned.approach.id.clone();
    if let Lying::AtLanding(..) = planned.lying {
        let untold = "a party by a last leg goes to the pole, and its stay is not worked out again";
        return Ok(CrustSensitivity {
            approach,
            half: None,
            twice: None,
            untold: Some(untold.to_owned()),
        });
    }
    let moves = world.moves_on_station();
    let assumed = world.station(&moves);
    let hours = &planned.stay.cumulative;
    let (Some(&(first, _)), Some(&(last, _))) = (hours.first(), hours.last()) else {
        return Err(Error::Unsolved(format!("the stay of {approach} has no hours")));
    };
    // The draws are those of the world's own ensemble; the poles are sought in the hours of the stay alone.
    let stay = [first as usize..=last as usize];
    let chance = |factor: f64| {
        let model = CrustScaled::new(world.scenario.model.object.as_ref(), factor);
        let ensemble = Ensemble { model: &model, ..Ensemble::of(world.scenario) }.during(&stay);
        let tracks = tracks_of(world.scenario, &ensemble, control)?;
        let station = Station { tracks: &tracks, ..assumed };
        let attainment = station.stay(first, last).attainment;
        Ok::<_, Error>(ChanceOfStay {
            probability: attainment.probability,
            if_holding: attainment.if_holding,
        })
    };
    let (half, twice) = (chance(0.5)?, chance(2.0)?);
    Ok(CrustSensitivity { approach, half: Some(half), twice: Some(twice), untold: None })
}
