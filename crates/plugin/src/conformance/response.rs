use super::{check_disturbance, told};
use crate::{
    Activity, ActivityRequest, Assumption, BuildContext, Control, DisturbanceRequest, Error,
    ExternalField, Kp, KpSeries, KpSlots, Provenance, Response,
};

/// Holds an activity to its contract: a Kp for each slot, that depends on the seed and the member
/// alone.
///
/// # Errors
///
/// A sentence that says which promise the activity breaks.
pub fn check_activity(activity: &dyn Activity, context: &BuildContext) -> Result<(), String> {
    told(&activity.provenance(), &activity.assumptions())?;
    let clock = context.clock();
    let hours = [0.0, context.window_hours().clamp(0.0, 240.0)];
    let slots = KpSlots::covering(clock, &hours).map_err(|error| error.to_string())?;
    let request = ActivityRequest { clock, slots, seed: 7 };
    let member = |member| activity.member(&request, member).map_err(|error| error.to_string());
    let upward = (0..4).map(member).collect::<Result<Vec<_>, _>>()?;
    for (number, values) in upward.iter().enumerate() {
        super::promise(values.len() == slots.count, || {
            format!("member {number} has {} values for {} slots", values.len(), slots.count)
        })?;
    }
    let downward = (0..4).rev().map(member).collect::<Result<Vec<_>, _>>()?;
    super::promise(upward.iter().eq(downward.iter().rev()), || {
        "members depend on the order in which they are asked for".to_owned()
    })
}

/// Holds a response to its contract, as [`check_disturbance`] does, at a steady Kp.
///
/// # Errors
///
/// A sentence that says which promise the response breaks.
pub fn check_response(response: &dyn Response, context: &BuildContext) -> Result<(), String> {
    told(&response.provenance(), &response.assumptions())?;
    check_disturbance(&AtKp(response), context)?;
    // No hours, no field.
    let (clock, hemisphere) = (context.clock(), context.hemisphere());
    let slots = KpSlots { start_h: 0.0, count: 0 };
    let kp = KpSeries { slots, values: Vec::new() };
    let request = DisturbanceRequest { clock, hours: &[], mean_pole: &[], hemisphere, seed: 1 };
    response
        .member(&request, &kp, 0, &Control::default(), &mut [])
        .map_err(|error| format!("asked for no hours: {error}"))
}

/// A response at Kp 3o.
#[derive(Debug)]
struct AtKp<'a>(&'a dyn Response);

impl crate::Disturbance for AtKp<'_> {
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
        let slots = KpSlots::covering(request.clock, request.hours)?;
        let kp = KpSeries { slots, values: vec![Kp::nearest(3.0); slots.count] };
        self.0.member(request, &kp, member, control, out)
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.0.assumptions()
    }
}
