use std::thread;

use dipward_geodesy::{Position, position};

use super::{promise, told};
use crate::{BuildContext, Control, Disturbance, DisturbanceRequest, ExternalField};

/// Holds a disturbance to its contract: a field at every hour, finite, that depends on the seed and
/// the member alone, whatever the order of the members and the thread.
///
/// # Arguments
///
/// `context` is what the disturbance was built with: its clock and window are asked for.
///
/// # Errors
///
/// A sentence that says which promise the disturbance breaks.
pub fn check_disturbance(
    disturbance: &dyn Disturbance,
    context: &BuildContext,
) -> Result<(), String> {
    told(&disturbance.provenance(), &disturbance.assumptions())?;
    let last_h = context.window_hours().clamp(0.0, 120.0) as u32;
    let hours: Vec<f64> = (0..=last_h).map(f64::from).collect();
    let latitude_deg = context.hemisphere().sign() * 84.0;
    let mean_pole: Vec<Position> =
        hours.iter().map(|hour| position(latitude_deg, 135.0 + hour * 1e-4)).collect();
    let request = DisturbanceRequest {
        clock: context.clock(),
        hours: &hours,
        mean_pole: &mean_pole,
        hemisphere: context.hemisphere(),
        seed: 7,
    };
    let member = |member: u32| {
        let unwritten = ExternalField { north_nt: f64::NAN, east_nt: f64::NAN, kp_thirds: None };
        let mut out = vec![unwritten; hours.len()];
        disturbance
            .member(&request, member, &Control::default(), &mut out)
            .map(|()| out)
            .map_err(|error| format!("member {member}: {error}"))
    };
    let upward = (0..4).map(member).collect::<Result<Vec<_>, _>>()?;
    for (number, fields) in upward.iter().enumerate() {
        for (hour, field) in hours.iter().zip(fields) {
            let sound = field.north_nt.is_finite()
                && field.east_nt.is_finite()
                && field.kp_thirds.is_none_or(|kp_thirds| kp_thirds <= 27);
            promise(sound, || format!("member {number} at hour {hour} is {field:?}"))?;
        }
    }
    // Each on a thread of its own, the last first.
    let downward = thread::scope(|scope| {
        let member = &member;
        let threads = (0..4).rev().map(|number| scope.spawn(move || member(number)));
        let threads: Vec<_> = threads.collect();
        let each = threads.into_iter().rev().map(|thread| {
            thread.join().unwrap_or_else(|_| Err("a member panics on another thread".to_owned()))
        });
        each.collect::<Result<Vec<_>, _>>()
    })?;
    for (number, (up, down)) in upward.iter().zip(&downward).enumerate() {
        promise(bits(up) == bits(down), || {
            format!("member {number} depends on the order of the members or on the thread")
        })?;
    }
    Ok(())
}

fn bits(fields: &[ExternalField]) -> Vec<(u64, u64, Option<u8>)> {
    fields
        .iter()
        .map(|field| (field.north_nt.to_bits(), field.east_nt.to_bits(), field.kp_thirds))
        .collect()
}
