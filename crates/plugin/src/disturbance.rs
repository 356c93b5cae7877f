use std::{fmt::Debug, sync::Arc};

use dipward_geodesy::{Hemisphere, Position};

use crate::{
    Activity, ActivityRequest, Assumption, Clock, Control, Error, KpSeries, KpSlots, Provenance,
    Response,
};

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

    /// How it did when it was held to recorded hours, in a sentence; `None` where nobody did so.
    fn verified(&self) -> Option<String> {
        None
    }

    /// Other disturbances that might as well be believed: how far chances differ between them is part of
    /// their doubt.
    fn alternatives(&self) -> Vec<Alternative<Box<dyn Disturbance>>> {
        Vec::new()
    }

    /// The hour up to which something is known of single days beyond their season; `None` where nothing
    /// is, and infinite where all of them are stated.
    fn days_known_until_h(&self, _clock: Clock) -> Option<f64> {
        None
    }

    /// The same disturbance at the Kp of another source; `None` where it does not go by Kp.
    fn with_activity(&self, _activity: Arc<dyn Activity>) -> Option<Box<dyn Disturbance>> {
        None
    }
}

/// Something else that might as well be believed.
#[derive(Debug, Clone)]
pub struct Alternative<T> {
    /// In what it differs, in a few words ("Kp of the same phase of the solar cycle").
    pub name: String,
    /// The thing itself.
    pub object: T,
}

/// The disturbance that an activity and a response make.
#[derive(Debug, Clone)]
pub struct DisturbanceByKp {
    /// Where Kp comes from.
    pub activity: Arc<dyn Activity>,
    /// What the currents do at that Kp.
    pub response: Arc<dyn Response>,
}

impl Disturbance for DisturbanceByKp {
    fn provenance(&self) -> Provenance {
        let [kp, field] = [self.activity.provenance(), self.response.provenance()];
        let licence: Vec<String> = [kp.licence, field.licence].into_iter().flatten().collect();
        Provenance {
            name: format!("{}; {}", kp.name, field.name),
            source: format!("{}; {}", kp.source, field.source),
            licence: (!licence.is_empty()).then(|| licence.join("; ")),
        }
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        control.check()?;
        let DisturbanceRequest { clock, hours, seed, .. } = *request;
        let slots = KpSlots::covering(clock, hours)?;
        let values = self.activity.member(&ActivityRequest { clock, slots, seed }, member)?;
        if values.len() != slots.count {
            return Err(Error::Contract {
                kind: self.activity.provenance().name,
                message: format!("gave {} values of Kp for {} slots", values.len(), slots.count),
            });
        }
        self.response.member(request, &KpSeries { slots, values }, member, control, out)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut all = self.activity.assumptions();
        all.extend(self.response.assumptions());
        let verified = self.response.verified();
        let text = verified.unwrap_or_else(|| "nobody held this response to recorded hours".into());
        all.push(Assumption::new("verification of the disturbance", text));
        all
    }

    fn verified(&self) -> Option<String> {
        self.response.verified()
    }

    fn alternatives(&self) -> Vec<Alternative<Box<dyn Disturbance>>> {
        let activities =
            self.activity.alternatives().into_iter().map(|Alternative { name, object }| {
                let other = Self { activity: object, response: Arc::clone(&self.response) };
                Alternative { name, object: Box::new(other) as Box<dyn Disturbance> }
            });
        let responses =
            self.response.alternatives().into_iter().map(|Alternative { name, object }| {
                let other = Self { activity: Arc::clone(&self.activity), response: object };
                Alternative { name, object: Box::new(other) as Box<dyn Disturbance> }
            });
        activities.chain(responses).collect()
    }

    fn days_known_until_h(&self, clock: Clock) -> Option<f64> {
        self.activity.days_known_until_h(clock)
    }

    fn with_activity(&self, activity: Arc<dyn Activity>) -> Option<Box<dyn Disturbance>> {
        Some(Box::new(Self { activity, response: Arc::clone(&self.response) }))
    }
}
