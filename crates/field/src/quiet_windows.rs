//! When the pole keeps still.

use serde::{Deserialize, Serialize};

use crate::PoleTracks;

/// The chance that from one hour on the instantaneous pole stays near its mean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StayingChance {
    /// The hour that the stay begins at, from the start of the clock.
    pub hour: f64,
    /// The share of the ensemble's members that stay.
    pub chance: f64,
    /// Standard error of that share for the number of members, by Wilson's centre: it is not 0 where
    /// all or none stay.
    pub standard_error: f64,
}

/// For each hour of the tracks, the chance that the instantaneous pole stays within a distance of the
/// mean pole for hours on end.
///
/// The distance is that from the hour's own mean pole, so the doubt about the model counts too.
/// Between the hours of the tracks nothing is looked at.
///
/// # Arguments
///
/// * `within_km`: the distance.
/// * `for_h`: how long, from each hour on; hours from which the tracks do not reach so far are left
///   out.
///
/// # Complexity
///
/// Proportional to members times hours, whatever `for_h` is.
#[must_use]
pub fn staying_chances(tracks: &PoleTracks, within_km: f64, for_h: f64) -> Vec<StayingChance> {
    let hours = tracks.hours();
    let mut staying = vec![0_u32; hours.len()];
    for member in 0..tracks.members() {
        // Backwards, so that the first hour at which the pole strays again is always known.
        let mut strays_at = f64::INFINITY;
        for (index, (&hour, staying)) in hours.iter().zip(&mut staying).enumerate().rev() {
            let near = tracks
                .offset_km(member, index)
                .is_some_and(|[north, east]| north.hypot(east) <= within_km);
            if !near {
                strays_at = hour;
            }
            if hour + for_h < strays_at {
                *staying += 1;
            }
        }
    }
    let last = hours.last().copied().unwrap_or(0.0);
    let members = (tracks.members() as f64).max(1.0);
    hours
        .iter()
        .zip(staying)
        .filter(|(hour, _)| **hour + for_h <= last)
        .map(|(&hour, staying)| {
            let centre = (f64::from(staying) + 2.0) / (members + 4.0);
            StayingChance {
                hour,
                chance: f64::from(staying) / members,
                standard_error: (centre * (1.0 - centre) / (members + 4.0)).sqrt(),
            }
        })
        .collect()
}

/// The best of them, best first, no two with stays that overlap.
#[must_use]
pub fn best_stays(chances: &[StayingChance], for_h: f64, most: usize) -> Vec<StayingChance> {
    let mut order: Vec<&StayingChance> = chances.iter().collect();
    // The sort is stable: of equal chances the earlier comes first.
    order.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let mut best: Vec<StayingChance> = Vec::new();
    for one in order {
        if best.len() >= most {
            break;
        }
        if best.iter().all(|other| (other.hour - one.hour).abs() >= for_h.max(1.0)) {
            best.push(*one);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{BuildContext, Clock, Control, Spec};

    use super::*;
    use crate::{TrackRequest, igrf14, kinds::KpHistorySpec, pole_tracks};

    #[test]
    fn chances_are_those_of_looking_at_every_hour() {
        let clock = Clock::new("2027-06-15T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 96.0);
        let disturbance = KpHistorySpec::default().build(&context).unwrap();
        let hours: Vec<f64> = (0..96).map(f64::from).collect();
        let request = TrackRequest {
            clock,
            hours: &hours,
            hemisphere: Hemisphere::South,
            members: 60,
            seed: 3,
            height_km: 0.0,
        };
        let model = igrf14().unwrap();
        let tracks = pole_tracks(&model, &*disturbance, &request, &Control::default()).unwrap();
        for for_h in [0.0, 2.0, 5.5] {
            let chances = staying_chances(&tracks, 8.0, for_h);
            let length = for_h.floor() as usize;
            assert_eq!(chances.len(), 96 - for_h.ceil() as usize);
            for (start, chance) in chances.iter().enumerate() {
                let stay = (0..60)
                    .filter(|&member| {
                        (start..=start + length).all(|index| {
                            let [north, east] = tracks.offset_km(member, index).unwrap();
                            north.hypot(east) <= 8.0
                        })
                    })
                    .count();
                assert_eq!(chance.chance, stay as f64 / 60.0);
                assert!(chance.standard_error > 0.0);
            }
            let best = best_stays(&chances, for_h, 5);
            assert_eq!(best.len(), 5);
            let top = chances.iter().map(|one| one.chance).fold(0.0, f64::max);
            assert_eq!(best[0].chance, top);
            assert!(best.windows(2).all(|pair| pair[0].chance >= pair[1].chance));
            for (at, one) in best.iter().enumerate() {
                assert!(best[..at].iter().all(|two| (one.hour - two.hour).abs() >= for_h));
            }
        }
        assert!(staying_chances(&tracks, 8.0, 200.0).is_empty());
        let nowhere = staying_chances(&tracks, 0.0, 1.0);
        assert!(nowhere.iter().all(|one| one.chance == 0.0));
    }
}
