//! What every disturbance by Kp does once its Kp is drawn.

use std::fmt::Debug;

use dipward_plugin::{
    Assumption, Control, Disturbance, DisturbanceRequest, Error, ExternalField, Provenance,
};

use crate::{
    PolarCapAmplitude,
    activity::{Activity, Slots},
    streams::{Draw, stream},
};

/// Where a disturbance has its Kp from.
pub(crate) trait KpSource: Debug + Send + Sync {
    fn provenance(&self) -> Provenance;

    /// What is taken for granted of Kp.
    fn told(&self) -> String;

    /// How strong the disturbance is for a Kp.
    fn amplitude(&self) -> &PolarCapAmplitude;

    /// Kp over the slots of a request, for a member.
    fn draw(
        &self,
        request: &DisturbanceRequest<'_>,
        slots: Slots,
        member: u32,
    ) -> Result<Activity, Error>;
}

/// A disturbance by the Kp of a source.
#[derive(Debug)]
pub(crate) struct ByKp<S>(pub(crate) S);

impl<S: KpSource> Disturbance for ByKp<S> {
    fn provenance(&self) -> Provenance {
        self.0.provenance()
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        control.check()?;
        let slots = Slots::covering(request.clock, request.hours)?;
        let activity = self.0.draw(request, slots, member)?;
        let mut rng = stream(request.seed, member, Draw::Residual);
        self.0.amplitude().fill(request, &activity, &mut rng, out);
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        std::iter::once(self.0.told())
            .chain(self.0.amplitude().told())
            .map(|text| Assumption::new("pole.disturbance", text))
            .collect()
    }
}
