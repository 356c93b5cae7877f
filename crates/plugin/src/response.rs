use std::{fmt::Debug, sync::Arc};

use crate::{
    Alternative, Assumption, Control, DisturbanceRequest, Error, ExternalField, KpSeries,
    Provenance,
};

/// Answers what the currents above a place do to the horizontal field when the magnetosphere is as
/// active as a Kp says, per ensemble member.
///
/// YAML slot `pole.disturbance.response`.
pub trait Response: Debug + Send + Sync {
    /// Name and source.
    fn provenance(&self) -> Provenance;

    /// One member's field at the request's hours: what an instrument would read at that instant beyond
    /// the quiet level, not a mean over the hour.
    ///
    /// # Arguments
    ///
    /// `kp` covers the request's hours; `out` has the length of `request.hours`.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] where the response does not reach the places or hours;
    /// [`Error::Cancelled`].
    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        kp: &KpSeries,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error>;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption>;

    /// How it did when it was held to recorded hours, in a sentence; `None` where nobody did so.
    fn verified(&self) -> Option<String> {
        None
    }

    /// Other responses that might as well be believed.
    fn alternatives(&self) -> Vec<Alternative<Arc<dyn Response>>> {
        Vec::new()
    }
}
