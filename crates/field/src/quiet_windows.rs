//! When the pole keeps still.

use serde::{Deserialize, Serialize};

use crate::PoleTracks;

/// The chance that from one hour on the instantaneous pole stays near its mean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StayingChance {
    /// The hour that the stay begins at, from the start of the clock.
    pub hour: f64,
    /// How many days, from that of the hour on, the chance is a mean over, at the same hour of the day.
    pub days: u32,
    /// The share of the ensemble's members that stay.
    pub chance: f64,
    /// Standard error of that share for the number of members, by Wilson's centre: it is not 0 where
    /// all or none stay.
    pub standard_error: f64,
}

/// For each hour of the tracks, the chance that the instantaneous pole stays within a distance of the
/// mean pole for hours on end.
///
/// The distance is that from the hour's own mean pole, so the doubt about the model counts too. The
/// pole is looked at as often as the tracks were asked to ([`TrackRequest::looks`](crate::TrackRequest)).
///
/// # Arguments
///
/// * `within_km`: the distance.
/// * `for_h`: how long, from each hour on; hours from which the tracks do not reach so far are left
///   out.
///
/// # Complexity
///
/// Proportional to members times looks, whatever `for_h` is.
#[must_use]
pub fn staying_chances(tracks: &PoleTracks, within_km: f64, for_h: f64) -> Vec<StayingChance> {
    chances_of(tracks, within_km, for_h, 0..tracks.members())
}

/// The chances by some of the members.
fn chances_of(
    tracks: &PoleTracks,
    within_km: f64,
    for_h: f64,
    members: impl ExactSizeIterator<Item = usize>,
) -> Vec<StayingChance> {
    let hours = tracks.hours();
    let mut staying = vec![0_u32; hours.len()];
    let count = members.len() as f64;
    for member in members {
        // Backwards, so that the first hour at which the pole strays again is always known.
        let mut strays_at = f64::INFINITY;
        for (index, (&hour, staying)) in hours.iter().zip(&mut staying).enumerate().rev() {
            if !tracks.keeps_within(member, index, [[0.0; 2]; 2], within_km)
                && index + 1 < hours.len()
            {
                // Some time after the hour: a stay that ends with the hour itself is not touched.
                strays_at = hour + MOMENT_H;
            }
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
    hours
        .iter()
        .zip(staying)
        .filter(|(hour, _)| **hour + for_h <= last)
        .map(|(&hour, staying)| {
            let centre = (f64::from(staying) + 2.0) / (count + 4.0);
            StayingChance {
                hour,
                days: 1,
                chance: f64::from(staying) / count.max(1.0),
                standard_error: (centre * (1.0 - centre) / (count + 4.0)).sqrt(),
            }
        })
        .collect()
}

/// Days that are told together where nothing is known of single ones.
const SEASON_STEP_DAYS: f64 = 7.0;

/// The chances as far as they are known: each hour's own up to an hour, and from there on the mean over
/// a week of the same hour of the day, for what is known weeks ahead is the hour and the season.
///
/// # Arguments
///
/// * `known_until_h`: the hour up to which something is known of single days, as from
///   [`Disturbance::days_known_until_h`](dipward_plugin::Disturbance::days_known_until_h); `None` where
///   nothing is.
#[must_use]
pub fn chances_by_season(
    chances: &[StayingChance],
    known_until_h: Option<f64>,
) -> Vec<StayingChance> {
    let known_h = known_until_h.unwrap_or(f64::NEG_INFINITY);
    let cut = chances.partition_point(|one| one.hour <= known_h);
    let (known, beyond) = chances.split_at(cut);
    let first_h = beyond.first().map_or(0.0, |one| one.hour);
    let week_of = |one: &StayingChance| ((one.hour - first_h) / (24.0 * SEASON_STEP_DAYS)) as usize;
    let mut told = known.to_vec();
    for week in beyond.chunk_by(|a, b| week_of(a) == week_of(b)) {
        let start_h = week.first().map_or(0.0, |one| one.hour);
        let of_day = |one: &StayingChance| (one.hour - start_h).rem_euclid(24.0);
        for (index, first) in
            week.iter().enumerate().take_while(|(_, one)| one.hour < start_h + 24.0)
        {
            let alike =
                week[index..].iter().filter(|one| (of_day(one) - of_day(first)).abs() < 1e-6);
            let (mut days, mut sum, mut error) = (0_u32, 0.0, 0.0);
            for one in alike {
                (days, sum, error) = (days + 1, sum + one.chance, error + one.standard_error);
            }
            let count = f64::from(days.max(1));
            // As if the days of a member were one: their draws hang together.
            told.push(StayingChance {
                hour: first.hour,
                days,
                chance: sum / count,
                standard_error: error / count,
            });
        }
    }
    told
}

/// The best hours to stay from, best first, no two with stays that overlap.
///
/// The best of many hours is best by luck too. They are chosen by every other member, and what is told
/// of them is the chance by the rest, so that luck in the choice does not show in the chance. Where
/// nothing is known of single days they are hours of the day of a week, as [`chances_by_season`] tells
/// them.
#[must_use]
pub fn best_stays(
    tracks: &PoleTracks,
    within_km: f64,
    for_h: f64,
    known_until_h: Option<f64>,
    most: usize,
) -> Vec<StayingChance> {
    let by = |first: usize| {
        let members = (first..tracks.members()).step_by(2);
        chances_by_season(&chances_of(tracks, within_km, for_h, members), known_until_h)
    };
    let (choosing, telling) = (by(0), by(1));
    let mut order: Vec<(&StayingChance, &StayingChance)> = choosing.iter().zip(&telling).collect();
    // The sort is stable: of equal chances the earlier comes first.
    order.sort_by(|a, b| b.0.chance.total_cmp(&a.0.chance));
    let mut best: Vec<StayingChance> = Vec::new();
    for (_, told) in order {
        if best.len() >= most {
            break;
        }
        if best.iter().all(|other| (other.hour - told.hour).abs() >= for_h.max(1.0)) {
            best.push(*told);
        }
    }
    best
}

/// The chance of staying from one hour of the day on, over days.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HourOfDayChance {
    /// The hour of universal time, 0 to 23.
    pub hour_utc: u8,
    /// The mean chance over the days.
    pub chance: f64,
    /// How many days it is a mean over.
    pub days: u32,
}

/// The mean chance of each hour of universal time. Weeks ahead this is what is known: the hour, not the
/// day. Hours of the day that the tracks do not have are left out.
///
/// # Arguments
///
/// * `chances`: of the tracks, by [`staying_chances`]; those of some days alone tell of these days.
#[must_use]
pub fn chances_by_hour_of_day(
    tracks: &PoleTracks,
    chances: &[StayingChance],
) -> Vec<HourOfDayChance> {
    let mut sums = [(0.0, 0_u32); 24];
    for one in chances {
        let milliseconds = tracks.clock().instant(one.hour).as_millisecond();
        let of_day = milliseconds.div_euclid(3_600_000).rem_euclid(24) as usize;
        let (sum, count) = &mut sums[of_day];
        *sum += one.chance;
        *count += 1;
    }
    (0_u8..)
        .zip(sums)
        .filter(|(_, (_, days))| *days > 0)
        .map(|(hour_utc, (sum, days))| HourOfDayChance {
            hour_utc,
            chance: sum / f64::from(days),
            days,
        })
        .collect()
}

/// Less than any look is apart from an hour.
const MOMENT_H: f64 = 1e-6;

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
            looks: 1,
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
            let best = best_stays(&tracks, 8.0, for_h, Some(f64::INFINITY), 5);
            assert_eq!(best.len(), 5);
            for (at, one) in best.iter().enumerate() {
                assert!(best[..at].iter().all(|two| (one.hour - two.hour).abs() >= for_h));
            }
            let weeks = chances_by_season(&chances, None);
            assert_eq!(weeks.iter().map(|one| one.days as usize).sum::<usize>(), chances.len());
            let halves = chances_by_season(&chances, Some(40.0));
            assert_eq!(halves[..41], chances[..41]);
            assert!(halves[41..].iter().all(|one| one.days >= 1 && one.hour > 40.0));
            let by_hour = chances_by_hour_of_day(&tracks, &chances);
            assert_eq!(by_hour.len(), 24);
            let all: f64 = by_hour.iter().map(|of| of.chance * f64::from(of.days)).sum();
            assert!((all - chances.iter().map(|one| one.chance).sum::<f64>()).abs() < 1e-9);
        }
        assert!(staying_chances(&tracks, 8.0, 200.0).is_empty());
        let nowhere = staying_chances(&tracks, 0.0, 1.0);
        assert!(nowhere.iter().all(|one| one.chance == 0.0));
        // Looked at more often members stay less often. Their scatter is drawn anew, so it takes a distance
        // within which many stay to tell.
        let often = TrackRequest { looks: 6, ..request };
        let often = pole_tracks(&model, &*disturbance, &often, &Control::default()).unwrap();
        let mean = |tracks: &PoleTracks| {
            let chances = staying_chances(tracks, 25.0, 2.0);
            chances.iter().map(|one| one.chance).sum::<f64>() / chances.len() as f64
        };
        assert!(mean(&often) < mean(&tracks), "{} {}", mean(&often), mean(&tracks));
    }

    /// Where all hours are alike, the best of them is best by luck, and is not told as better.
    #[test]
    fn the_best_stays_are_not_told_with_the_luck_of_the_choice() {
        let clock = Clock::new("2027-06-15T00:00Z".parse().unwrap());
        let context = BuildContext::new(".", Hemisphere::South, clock, 480.0);
        let disturbance = KpHistorySpec::default().build(&context).unwrap();
        // The same hour of ten days.
        let hours: Vec<f64> = (0..240).map(f64::from).collect();
        let model = igrf14().unwrap();
        let [mut told, mut usual] = [0.0; 2];
        for seed in 0..8 {
            let request = TrackRequest {
                clock,
                hours: &hours,
                hemisphere: Hemisphere::South,
                members: 40,
                seed,
                height_km: 0.0,
                looks: 1,
            };
            let tracks = pole_tracks(&model, &*disturbance, &request, &Control::default()).unwrap();
            let best = best_stays(&tracks, 6.0, 0.0, Some(f64::INFINITY), 1)[0];
            let of_day: Vec<f64> = staying_chances(&tracks, 6.0, 0.0)
                .iter()
                .filter(|one| (one.hour - best.hour).rem_euclid(24.0) < 0.5)
                .map(|one| one.chance)
                .collect();
            told += best.chance / 8.0;
            usual += of_day.iter().sum::<f64>() / of_day.len() as f64 / 8.0;
        }
        assert!((told - usual).abs() < 0.08, "{told} {usual}");
    }
}
