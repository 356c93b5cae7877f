use super::{promise, told_assumptions};
use crate::{Action, Knowledge, Policy};

/// Holds a policy to its contract: an action at every hour whatever is known, offsets that are finite,
/// and nothing kept from one call to the next.
///
/// # Errors
///
/// A sentence that says which promise the policy breaks.
pub fn check_policy(policy: &dyn Policy) -> Result<(), String> {
    promise(!policy.describe().is_empty(), || "the rule has no words for reports".to_owned())?;
    told_assumptions(&policy.assumptions())?;
    let known = knowledge();
    let forward: Vec<Action> = known.iter().map(|known| policy.act(known)).collect();
    let mut backward: Vec<Action> = known.iter().rev().map(|known| policy.act(known)).collect();
    backward.reverse();
    for (known, (action, again)) in known.iter().zip(forward.iter().zip(&backward)) {
        if let Action::MakeFor(offset_km) = action {
            promise(offset_km.iter().all(|km| km.is_finite()), || {
                format!("makes for {offset_km:?} on knowing {known:?}")
            })?;
        }
        promise(action == again, || {
            format!("answers {action:?} and then {again:?} on knowing the same: {known:?}")
        })?;
    }
    Ok(())
}

/// Readings near, far and none, storms and quiet, an hour left and none, free and beset.
fn knowledge() -> Vec<Knowledge> {
    let mut list = Vec::new();
    for reading_km in [None, Some([0.0, 0.0]), Some([3.0, -4.0]), Some([-250.0, 90.0])] {
        for kp_thirds in [None, Some(0), Some(14), Some(27)] {
            for (since_arrival_h, left_h) in [(0.0, 48.0), (47.0, 1.0), (48.0, 0.0)] {
                for reach_km in [0.0, 6.0] {
                    list.push(Knowledge {
                        hour: 200.0 + since_arrival_h,
                        since_arrival_h,
                        left_h,
                        craft_km: [1.0, -2.0],
                        oval_km: [12.0, 5.0],
                        haunt_km: [-8.0, 3.0],
                        reading_km,
                        kp_thirds,
                        reach_km,
                        drift_km: reading_km.map(|_| [0.1, -0.3]),
                    });
                }
            }
        }
    }
    list
}
