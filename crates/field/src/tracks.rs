//! An ensemble of tracks of the instantaneous dip pole.
//!
//! The mean pole is the main field's own, found at each hour. A member strays from it by a
//! horizontal field b that has three parts: the model's forecast error, drawn once for the member
//! and growing with the model's sigma; the crust and what else the model leaves out, drawn once and
//! constant; and the disturbance. The displacement is solved on the full field, not linearised.

use dipward_geodesy::{Hemisphere, Position, geodesic};
use dipward_plugin::{
    Clock, Control, Disturbance, DisturbanceRequest, Error, ExternalField, FieldSigma, MainField,
};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use crate::{
    dip_pole, dip_pole_near,
    moving_patch::{DisplacementSolver, MeanPath},
    streams::{Draw, stream},
    tangent::TangentPlane,
};

/// What an ensemble is asked for.
#[derive(Debug, Clone, Copy)]
pub struct TrackRequest<'a> {
    /// The scenario's clock.
    pub clock: Clock,
    /// The hours, increasing; at least one.
    pub hours: &'a [f64],
    /// Which pole.
    pub hemisphere: Hemisphere,
    /// How many members, at least one.
    pub members: u32,
    /// The scenario's seed.
    pub seed: u64,
    /// Height above the ellipsoid at which the field is to be vertical.
    pub height_km: f64,
    /// How often the pole is looked at from one of the hours to the next, at least once: 1 is at the
    /// hours alone. Chances of staying near are too high where it is seldom looked.
    pub looks: u32,
}

/// Tracks of the mean pole and of the members' instantaneous poles, hour by hour.
///
/// A member's positions are kept as offsets from the mean pole of the hour, in the plane that
/// touches the ellipsoid there, toward north and east, as two `f32` of km: true lengths near the
/// mean pole and within 0.1 % at 1000 km, resolved to a few cm there. Where a storm leaves no dip
/// pole, or none within [`FARTHEST_KM`](crate::FARTHEST_KM), the offset is not a number and the
/// position `None`.
#[derive(Debug, Clone)]
pub struct PoleTracks {
    clock: Clock,
    hours: Vec<f64>,
    mean: Vec<Position>,
    members: usize,
    /// Looks from one hour to the next.
    looks: usize,
    /// By member, hour and look.
    offsets_km: Vec<[f32; 2]>,
    /// By member and hour: the Kp index in thirds, 255 where the disturbance does not know it.
    kp_thirds: Vec<u8>,
}

const NO_KP: u8 = u8::MAX;
/// Once a minute of an hour.
const MOST_LOOKS: u32 = 60;

/// Makes the ensemble.
///
/// The same request and plug-ins give the same bits on any number of threads.
///
/// # Errors
///
/// [`Error::Outside`] for hours that do not increase, an empty ensemble, or times that the model or
/// the disturbance does not cover; [`Error::Unsolved`] where the model has no such pole;
/// [`Error::Contract`] where the disturbance returns what is not finite; [`Error::Cancelled`].
///
/// # Complexity
///
/// Proportional to members times hours, a few microseconds for each.
pub fn pole_tracks(
    model: &dyn MainField,
    disturbance: &dyn Disturbance,
    request: &TrackRequest<'_>,
    control: &Control,
) -> Result<PoleTracks, Error> {
    pole_tracks_during(model, disturbance, request, |_| true, control)
}

/// The same, with the members' poles sought in some of the hours alone; outside these no member has
/// one. The draws are those of the whole ensemble.
///
/// For an ensemble that is to be compared with another member by member over a short stay.
///
/// # Arguments
///
/// `sought`: whether an index of hours is one of them.
///
/// # Errors
///
/// As [`pole_tracks`].
pub fn pole_tracks_during(
    model: &dyn MainField,
    disturbance: &dyn Disturbance,
    request: &TrackRequest<'_>,
    sought: impl Fn(usize) -> bool + Sync,
    control: &Control,
) -> Result<PoleTracks, Error> {
    let TrackRequest { clock, hours, hemisphere, members, seed, height_km, looks } = *request;
    let increasing = hours.windows(2).all(|pair| pair[0] < pair[1]);
    if hours.is_empty() || !increasing || hours.iter().any(|hour| !hour.is_finite()) {
        return Err(Error::Outside("the hours of pole tracks must be finite and increase".into()));
    }
    if members == 0 {
        return Err(Error::Outside("an ensemble of pole tracks needs at least one member".into()));
    }
    if !(1..=MOST_LOOKS).contains(&looks) {
        return Err(Error::Outside(format!(
            "the pole is looked at 1 to {MOST_LOOKS} times from one hour to the next, not {looks} times"
        )));
    }
    control.begin("pole tracks", u64::from(members));
    let (own_hours, looks) = (hours, looks as usize);
    let hours = &looked_at(own_hours, looks)[..];
    let (mean, steepness_nt_per_km) =
        mean_path(model, &TrackRequest { hours, ..*request }, control)?;
    let first = TangentPlane::at(mean[0], height_km).isotropic();
    let planes = mean.iter().map(|&pole| first.carried_to(pole, height_km)).collect();
    let path =
        MeanPath { model, clock, height_km, hours, poles: &mean, planes, steepness_nt_per_km };
    let solver = DisplacementSolver::new(path, control)?;
    let disturbed = DisturbanceRequest { clock, hours, mean_pole: &mean, hemisphere, seed };
    let doubt: Vec<FieldSigma> =
        hours.iter().map(|&hour| model.sigma(clock.decimal_year(hour), hemisphere)).collect();
    let tracks = (0..members)
        .into_par_iter()
        .map(|member| {
            control.check()?;
            let mut external = vec![ExternalField::default(); hours.len()];
            disturbance.member(&disturbed, member, control, &mut external)?;
            let draws = ModelError::draw(seed, member);
            let track = external
                .iter()
                .zip(&doubt)
                .enumerate()
                .map(|(index, (external, doubt))| {
                    if !sought(index / looks) {
                        return Ok(([f32::NAN; 2], external.kp_thirds.unwrap_or(NO_KP)));
                    }
                    hour_of_member(&solver, index, external, draws.field_nt(doubt), disturbance)
                })
                .collect::<Result<Vec<_>, _>>()?;
            control.advance(1);
            Ok(track)
        })
        .collect::<Result<Vec<_>, Error>>()?;
    let own = |track: &Vec<([f32; 2], u8)>| track.iter().step_by(looks).map(|of| of.1).collect();
    let kp_thirds = tracks.iter().flat_map::<Vec<u8>, _>(own).collect();
    let offsets_km = tracks.into_iter().flatten().map(|(offset_km, _)| offset_km).collect();
    let mean = mean.into_iter().step_by(looks).collect();
    let hours = own_hours.to_vec();
    Ok(PoleTracks { clock, hours, mean, members: members as usize, looks, offsets_km, kp_thirds })
}

/// The hours with those between at which the pole is looked at too.
fn looked_at(hours: &[f64], looks: usize) -> Vec<f64> {
    let between = hours.windows(2).flat_map(|pair| {
        let step = (pair[1] - pair[0]) / looks as f64;
        (0..looks).map(move |look| pair[0] + look as f64 * step)
    });
    between.chain(hours.last().copied()).collect()
}

/// The mean pole at each hour, and the lesser steepness of the field at the first.
fn mean_path(
    model: &dyn MainField,
    request: &TrackRequest<'_>,
    control: &Control,
) -> Result<(Vec<Position>, f64), Error> {
    let TrackRequest { clock, hours, hemisphere, height_km, .. } = *request;
    let mut poles: Vec<Position> = Vec::with_capacity(hours.len());
    let mut steepness = 0.0;
    for &hour in hours {
        let year = clock.decimal_year(hour);
        let pole = match poles.last() {
            None => {
                let pole = dip_pole(model, hemisphere, year, height_km)?;
                steepness = pole.steepness_nt_per_km()[1];
                pole
            }
            Some(&before) => dip_pole_near(model, before, year, height_km)?,
        };
        control.check()?;
        poles.push(pole.position);
    }
    Ok((poles, steepness))
}

/// A member's draw of how the model errs, in units of its sigmas.
struct ModelError {
    forecast: [f64; 2],
    crust: [f64; 2],
}

impl ModelError {
    fn draw(seed: u64, member: u32) -> Self {
        let mut rng: ChaCha8Rng = stream(seed, member, Draw::ModelError);
        let mut pair = || [0, 1].map(|_| StandardNormal.sample(&mut rng));
        Self { forecast: pair(), crust: pair() }
    }

    /// Toward north and east at the first pole.
    fn field_nt(&self, FieldSigma { forecast, crust }: &FieldSigma) -> [f64; 2] {
        [
            self.forecast[0] * forecast.north_nt + self.crust[0] * crust.north_nt,
            self.forecast[1] * forecast.east_nt + self.crust[1] * crust.east_nt,
        ]
    }
}

fn hour_of_member(
    solver: &DisplacementSolver<'_>,
    index: usize,
    external: &ExternalField,
    model_error_nt: [f64; 2],
    disturbance: &dyn Disturbance,
) -> Result<([f32; 2], u8), Error> {
    let ExternalField { north_nt, east_nt, kp_thirds } = *external;
    if !north_nt.is_finite() || !east_nt.is_finite() {
        return Err(Error::Contract {
            kind: disturbance.provenance().name,
            message: format!("returned a field of {north_nt}, {east_nt} nT"),
        });
    }
    let path = solver.path();
    let (pole, plane) = (path.poles[index], path.planes[index]);
    let turn = plane.turn_at(pole);
    let [u, v] = turn.apply([north_nt, east_nt]);
    let added_nt = [u + model_error_nt[0], v + model_error_nt[1]];
    let offset = match solver.solve(index, added_nt)? {
        Some(along) => {
            let own = TangentPlane::at(pole, 0.0).radii_km();
            let [north, east] = turn.undo(along);
            let [radius, _] = plane.radii_km();
            [north * own[0] / radius, east * own[1] / radius].map(|km| km as f32)
        }
        None => [f32::NAN; 2],
    };
    Ok((offset, kp_thirds.unwrap_or(NO_KP)))
}

impl PoleTracks {
    /// The clock of its hours.
    #[must_use]
    pub const fn clock(&self) -> Clock {
        self.clock
    }

    /// The hours.
    #[must_use]
    pub fn hours(&self) -> &[f64] {
        &self.hours
    }

    /// The number of members.
    #[must_use]
    pub const fn members(&self) -> usize {
        self.members
    }

    /// The mean pole, hour by hour.
    #[must_use]
    pub fn mean_track(&self) -> &[Position] {
        &self.mean
    }

    /// The mean pole at one of the hours; `None` past the last.
    #[must_use]
    pub fn mean(&self, index: usize) -> Option<Position> {
        self.mean.get(index).copied()
    }

    /// A member's offset from the mean pole toward north and east, km; `None` where there is no
    /// pole, or no such member or hour.
    #[must_use]
    pub fn offset_km(&self, member: usize, index: usize) -> Option<[f64; 2]> {
        if index >= self.hours.len() {
            return None;
        }
        self.look_km(member, index * self.looks)
    }

    /// The offset at a look, counted from the first hour.
    fn look_km(&self, member: usize, look: usize) -> Option<[f64; 2]> {
        let of_member = (self.hours.len().saturating_sub(1)) * self.looks + 1;
        if member >= self.members || look >= of_member {
            return None;
        }
        let [north, east] = *self.offsets_km.get(member * of_member + look)?;
        (!north.is_nan()).then_some([f64::from(north), f64::from(east)])
    }

    /// How often the pole was looked at from one hour to the next.
    #[must_use]
    pub const fn looks(&self) -> usize {
        self.looks
    }

    /// Whether a member's pole keeps within a distance of a craft at every look between one hour and the
    /// next, the two ends left out.
    ///
    /// # Arguments
    ///
    /// * `craft_km`: where the craft is at the hour and at the next one, as offsets from the mean pole
    ///   of the moment; it goes straight from the one to the other.
    #[must_use]
    pub fn keeps_within(
        &self,
        member: usize,
        index: usize,
        craft_km: [[f64; 2]; 2],
        within_km: f64,
    ) -> bool {
        (1..self.looks).all(|look| {
            let share = look as f64 / self.looks as f64;
            let [north, east] = [0, 1].map(|axis: usize| {
                let [from, to] = [craft_km[0][axis], craft_km[1][axis]];
                from + share * (to - from)
            });
            self.look_km(member, index * self.looks + look)
                .is_some_and(|pole| (pole[0] - north).hypot(pole[1] - east) <= within_km)
        })
    }

    /// Where a member's instantaneous pole is at one of the hours; `None` where there is no pole, or
    /// no such member or hour.
    #[must_use]
    pub fn member_position(&self, member: usize, index: usize) -> Option<Position> {
        self.place(index, self.offset_km(member, index)?)
    }

    /// The Kp index of a member's hour in thirds, 0 to 27, where the disturbance knows it.
    #[must_use]
    pub fn kp_thirds(&self, member: usize, index: usize) -> Option<u8> {
        if index >= self.hours.len() {
            return None;
        }
        let kp = *self.kp_thirds.get(member * self.hours.len() + index)?;
        (kp != NO_KP).then_some(kp)
    }

    /// The position at an offset from the mean pole of an hour.
    #[must_use]
    pub fn place(&self, index: usize, offset_km: [f64; 2]) -> Option<Position> {
        let mean = self.mean(index)?;
        // The pole itself comes back to the last bit, which a turn of its normal would not give.
        let moved = offset_km != [0.0; 2];
        Some(if moved { TangentPlane::at(mean, 0.0).position(offset_km) } else { mean })
    }

    /// The mean pole at any hour within the hours of the tracks, along the geodesic between two.
    #[must_use]
    pub fn mean_at(&self, hour: f64) -> Option<Position> {
        self.between(hour, |index| self.mean(index))
    }

    /// A member's pole at any hour within the hours of the tracks, along the geodesic between two;
    /// `None` where there is no pole at either of them.
    #[must_use]
    pub fn member_at(&self, member: usize, hour: f64) -> Option<Position> {
        self.between(hour, |index| self.member_position(member, index))
    }

    fn between(&self, hour: f64, place: impl Fn(usize) -> Option<Position>) -> Option<Position> {
        let after = self.hours.partition_point(|&one| one < hour);
        let late = *self.hours.get(after)?;
        if late == hour {
            return place(after);
        }
        let before = after.checked_sub(1)?;
        let early = *self.hours.get(before)?;
        let share = (hour - early) / (late - early);
        Some(geodesic::interpolate(place(before)?, place(after)?, share))
    }
}
