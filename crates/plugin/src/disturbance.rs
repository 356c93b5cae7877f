use std::fmt::Debug;

use dipward_geodesy::{Hemisphere, Position};

use crate::{Assumption, Clock, Control, Error, Provenance};

/// What an ensemble member of the disturbance is asked for.
#[derive(Debug, Clone, Copy)]
pub struct DisturbanceRequest<'a> {
    /// The scenario's clock.
    pub clock: Clock,
    /// The hours to answer for, increasing.
    pub hours: &'a [f64],
    /// The mean dip pole at each of the hours.
    pub mean_pole: &'a [Position],
    /// Which pole it is.
    pub hemisphere: Hemisphere,
    /// The scenario's seed. A member draws from a stream of this seed and its own number, so that
    /// members can be made in any order and on any thread.
    pub seed: u64,
}

/// The external horizontal field at the dip pole at one hour.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ExternalField {
    /// Toward geodetic north at the mean pole.
    pub north_nt: f64,
    /// Toward east at the mean pole.
    pub east_nt: f64,
    /// The Kp index of the hour in thirds (0 to 27), where the disturbance knows it.
    pub kp_thirds: Option<u8>,
}

/// Answers how the currents above the pole disturb the horizontal field, per ensemble member.
///
/// YAML slot `pole.disturbance`.
pub trait Disturbance: Debug + Send + Sync {
    /// Name and source.
    fn provenance(&self) -> Provenance;

    /// One member's field at the request's hours.
    ///
    /// # Arguments
    ///
    /// `out` has the length of `request.hours`.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] where the drivers do not cover the hours; [`Error::Cancelled`].
    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error>;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption>;
}
