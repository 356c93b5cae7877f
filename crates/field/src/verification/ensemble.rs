//! The model's field over recorded intervals, averaged as the record is.

use dipward_geodesy::{Hemisphere, Position};
use dipward_plugin::{Clock, Control, Disturbance, DisturbanceRequest, Error, ExternalField};
use rayon::prelude::*;

use super::intervals::Interval;

/// The field is asked for at instants so far apart, at most, and averaged over an interval.
const INSTANT_EVERY_H: f64 = 0.25;

/// What members are drawn of.
#[derive(Debug, Clone, Copy)]
pub(super) struct Draw<'a> {
    pub(super) disturbance: &'a dyn Disturbance,
    pub(super) place: Position,
    pub(super) hemisphere: Hemisphere,
    /// The instant of the first interval.
    pub(super) clock: Clock,
    pub(super) cadence_h: f64,
    pub(super) members: u32,
    pub(super) seed: u64,
}

impl Draw<'_> {
    /// Each member's mean field over each of the intervals, nT.
    pub(super) fn members(
        &self,
        intervals: &[Interval],
        control: &Control,
    ) -> Result<Vec<Vec<[f32; 2]>>, Error> {
        let first = intervals.first().map_or(0, |interval| interval.index);
        let instants = self.instants_an_interval();
        let hours: Vec<f64> = intervals
            .iter()
            .flat_map(|interval| {
                let start = (interval.index - first) as f64;
                (0..instants).map(move |instant| {
                    let within = (instant as f64 + 0.5) / instants as f64;
                    (start + within) * self.cadence_h
                })
            })
            .collect();
        let mean_pole = vec![self.place; hours.len()];
        let request = DisturbanceRequest {
            clock: self.clock,
            hours: &hours,
            mean_pole: &mean_pole,
            hemisphere: self.hemisphere,
            seed: self.seed,
        };
        (0..self.members)
            .into_par_iter()
            .map(|member| {
                control.check()?;
                let mut field = vec![ExternalField::default(); hours.len()];
                self.disturbance.member(&request, member, control, &mut field)?;
                let means: Vec<[f32; 2]> = field
                    .chunks_exact(instants)
                    .map(|field| {
                        let mean = |part: fn(&ExternalField) -> f64| {
                            (field.iter().map(part).sum::<f64>() / instants as f64) as f32
                        };
                        [mean(|field| field.north_nt), mean(|field| field.east_nt)]
                    })
                    .collect();
                if let Some([north, east]) =
                    means.iter().find(|mean| !mean.iter().all(|part| part.is_finite()))
                {
                    return Err(Error::Contract {
                        kind: self.disturbance.provenance().name,
                        message: format!("returned a field of {north}, {east} nT"),
                    });
                }
                control.advance(1);
                Ok(means)
            })
            .collect()
    }

    fn instants_an_interval(&self) -> usize {
        (self.cadence_h / INSTANT_EVERY_H - 1e-6).ceil().max(1.0) as usize
    }
}
