//! The stay at the pole: does the craft come to stand on the instantaneous pole?

use std::ops::RangeInclusive;

use dipward_field::PoleTracks;
use dipward_plugin::{Knowledge, OffsetKm, Policy};
use rayon::prelude::*;

use crate::{
    pack::PackDrift,
    station_chart::StationChart,
    stay::{Outcome, Stay},
};

/// Nearer to the mean pole than this the craft is back at it.
const BACK_KM: f64 = 1e-6;

/// What counts as standing on the pole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// The pole must come within this distance.
    pub within_km: f64,
    /// And stay for this many hours on end.
    pub for_h: f64,
}

impl Measure {
    /// How many whole hours on end the pole must be within reach: `for_h` hours take
    /// `ceil(for_h) + 1` whole hours, their two ends included; one where `for_h` is 0.
    pub(crate) fn whole_hours(&self) -> usize {
        if self.for_h > 0.0 { self.for_h.ceil() as usize + 1 } else { 1 }
    }

    /// How many whole hours on end the pole has been within reach, after another one.
    ///
    /// # Arguments
    ///
    /// `run` before; whether the pole is `within` reach now, and has `kept` within it since.
    pub(crate) const fn longer(&self, run: usize, within: bool, kept: bool) -> usize {
        match (within, kept) {
            (true, true) => run + 1,
            (true, false) => 1,
            (false, _) => 0,
        }
    }
}

/// Where and how a party waits, the same for all approaches of a scenario.
#[derive(Debug)]
pub struct Station<'a> {
    /// The ensemble.
    pub tracks: &'a PoleTracks,
    /// What counts.
    pub measure: Measure,
    /// What the party does.
    pub policy: &'a dyn Policy,
    /// How far the craft can go in each hour of the window at the mean pole.
    pub reach_km: &'a [f64],
    /// Extra fuel that an hour of moving burns, for each hour of the window.
    pub chase_t_per_h: &'a [f64],
    /// Extra fuel set aside for moving about on station.
    pub chase_fuel_t: f64,
    /// Distance from the craft up to which the party's readings fix the pole.
    pub reading_range_km: f64,
    /// The ensemble's mean offset by hour of universal time.
    pub oval_km: [OffsetKm; 24],
    /// The offset near which the pole is found most often.
    pub haunt_km: OffsetKm,
    /// The chart that the craft moves on; nothing for one that moves on an empty plane at the paces above.
    pub chart: Option<&'a StationChart<'a>>,
    /// The drift of the ice that the craft lies in, where it is known.
    pub pack: Option<&'a PackDrift>,
}

impl Station<'_> {
    /// Follows every member of the ensemble through a stay.
    ///
    /// The party knows the pole's position hourly; between the hours the pole is looked at as often as
    /// the tracks say. At each whole hour the policy is asked, with what the
    /// party knows then, and the craft moves for an hour. It goes nowhere from where the hours and the
    /// fuel for moving about would not bring it back to the mean pole, from which it leaves.
    #[must_use]
    pub fn stay(&self, arrive_hour: f64, leave_hour: f64) -> Stay {
        let (first, end) = self.whole_hours(arrive_hour, leave_hour);
        let members = (0..self.tracks.members()).into_par_iter();
        let lived = members.map(|member| {
            let held = HeldAtMean { tracks: self.tracks, member, chart: self.chart };
            let held = first_attained(first..=end, self.measure, &held).is_some();
            let foreseen = self.could_attain(member, first, end);
            let mut craft = self.arrives(first);
            self.live(member, &(first..=end), &mut craft, end);
            (craft.outcome, (held, foreseen))
        });
        let (outcomes, others): (Vec<Outcome>, Vec<(bool, bool)>) = lived.unzip();
        let held = others.iter().filter(|(held, _)| *held).count();
        let foreseen = others.iter().filter(|(_, foreseen)| *foreseen).count();
        Stay::of(&outcomes, (held, foreseen), first..=end, self.measure.within_km)
    }

    pub(crate) fn whole_hours(&self, arrive_hour: f64, leave_hour: f64) -> (usize, usize) {
        let last = self.tracks.mean_track().len().saturating_sub(1);
        let first = (arrive_hour.max(0.0).ceil() as usize).min(last);
        (first, (leave_hour.max(0.0).floor() as usize).clamp(first, last))
    }

    /// What the party knows at a whole hour of a stay.
    pub(crate) fn knowledge(
        &self,
        member: usize,
        hour: usize,
        stay: RangeInclusive<usize>,
        craft_km: OffsetKm,
        pole_km: Option<OffsetKm>,
        reach_km: f64,
    ) -> Knowledge {
        let first_utc_hour =
            (self.tracks.clock().start().as_second().rem_euclid(86_400) / 3600) as usize;
        let distance_km = pole_km.map_or(f64::INFINITY, |pole| length(less(pole, craft_km)));
        Knowledge {
            hour: hour as f64,
            since_arrival_h: hour.saturating_sub(*stay.start()) as f64,
            left_h: stay.end().saturating_sub(hour) as f64,
            craft_km,
            oval_km: self.oval_km[(first_utc_hour + hour) % 24],
            haunt_km: self.haunt_km,
            reading_km: pole_km.filter(|_| distance_km <= self.reading_range_km),
            kp_thirds: self.tracks.kp_thirds(member, hour),
            reach_km,
            drift_km: self.pack.map(|pack| pack.within_hour(hour)),
        }
    }

    /// Where the ice carries a craft that lies still in it for an hour.
    pub(crate) fn carried(&self, hour: usize, from_km: OffsetKm) -> OffsetKm {
        let drift_km = self.pack.map_or([0.0; 2], |pack| pack.within_hour(hour));
        [from_km[0] + drift_km[0], from_km[1] + drift_km[1]]
    }

    /// Whether the chart lets the craft lie at an offset at a whole hour.
    pub(crate) fn is_open(&self, hour: usize, offset_km: OffsetKm) -> bool {
        self.chart.is_none_or(|chart| chart.is_open(hour, offset_km))
    }

    /// Off to the nearest place that is open an hour later, if the craft gets there in the hour.
    pub(crate) fn off(
        &self,
        craft_km: OffsetKm,
        hour: usize,
        fuel_t: f64,
    ) -> Option<(OffsetKm, f64)> {
        let chart = self.chart?;
        let within_km = chart.reach_km(hour, craft_km);
        let aim_km = chart.nearest_open(hour + 1, craft_km, within_km)?;
        let moved = chart.sail((hour, self.left_h(hour)), craft_km, aim_km, fuel_t);
        chart.is_open(hour + 1, moved.0).then_some(moved)
    }

    /// Where a craft lies that keeps to the mean pole and moves off where the chart closes there, at each
    /// whole hour of a stay.
    ///
    /// # Errors
    ///
    /// The first hour at which the ice outruns it, or the chart closes over it and no open place is within reach.
    pub(crate) fn held(&self, stay: RangeInclusive<usize>) -> Result<Vec<OffsetKm>, usize> {
        let Some(chart) = self.chart else { return Ok(vec![[0.0; 2]; stay.count()]) };
        let mut craft_km = [0.0; 2];
        let mut lies = Vec::new();
        for hour in stay {
            let outrun = self.pack.is_some_and(|pack| pack.left_h(hour) <= 0.0);
            if outrun || !chart.is_open(hour, craft_km) {
                return Err(hour);
            }
            lies.push(craft_km);
            let (back_km, _) =
                chart.sail((hour, self.left_h(hour)), craft_km, [0.0; 2], f64::INFINITY);
            craft_km = if chart.is_open(hour + 1, back_km) {
                back_km
            } else if chart.is_open(hour + 1, craft_km) {
                craft_km
            } else {
                self.off(craft_km, hour, f64::INFINITY).map_or(back_km, |moved| moved.0)
            };
        }
        Ok(lies)
    }

    /// The first whole hour of a stay at which the chart closes over the mean pole.
    pub(crate) fn closes_at(&self, stay: RangeInclusive<usize>) -> Option<usize> {
        stay.into_iter().find(|&hour| !self.is_open(hour, [0.0; 2]))
    }

    /// What is left of an hour when it has made good what the ice carries it.
    pub(crate) fn left_h(&self, hour: usize) -> f64 {
        self.pack.map_or(1.0, |pack| pack.left_h(hour))
    }

    /// How far the craft goes in an hour with the fuel that it has for moving about, and what a km burns.
    pub(crate) fn pace(&self, hour: usize, fuel_t: f64) -> (f64, f64) {
        let reach_km = self.reach_km.get(hour).copied().unwrap_or(0.0);
        let hourly_t = self.chase_t_per_h.get(hour).copied().unwrap_or(0.0);
        if reach_km > 0.0 && hourly_t > 0.0 {
            let t_per_km = hourly_t / reach_km;
            (reach_km.min(fuel_t / t_per_km), t_per_km)
        } else {
            (reach_km, 0.0)
        }
    }

    /// An hour's way toward an aim: where the craft then is, and the fuel that it then has.
    pub(crate) fn sail(
        &self,
        from_km: OffsetKm,
        aim_km: OffsetKm,
        hour: usize,
        fuel_t: f64,
    ) -> (OffsetKm, f64) {
        if let Some(chart) = self.chart {
            return chart.sail((hour, self.left_h(hour)), from_km, aim_km, fuel_t);
        }
        let (reach_km, t_per_km) = self.pace(hour, fuel_t);
        let way = less(aim_km, from_km);
        let way_km = length(way);
        if way_km == 0.0 || reach_km <= 0.0 {
            return (from_km, fuel_t);
        }
        let part = (reach_km / way_km).min(1.0);
        let to_km = [from_km[0] + way[0] * part, from_km[1] + way[1] * part];
        (to_km, (fuel_t - t_per_km * way_km * part).max(0.0))
    }

    /// Whether the hours and the fuel bring the craft back to the mean pole.
    pub(crate) fn leads_back(
        &self,
        from_km: OffsetKm,
        hours: std::ops::Range<usize>,
        mut fuel_t: f64,
    ) -> bool {
        if let Some(chart) = self.chart {
            let mut at_km = from_km;
            for hour in hours {
                if length(at_km) <= BACK_KM {
                    break;
                }
                let before_km = at_km;
                (at_km, fuel_t) = chart.sail((hour, self.left_h(hour)), at_km, [0.0; 2], fuel_t);
                // Without fuel for it no later hour brings it nearer.
                if fuel_t <= 0.0 && at_km == before_km {
                    return false;
                }
            }
            return length(at_km) <= BACK_KM;
        }
        let mut left_km = length(from_km);
        for hour in hours {
            if left_km <= BACK_KM {
                break;
            }
            let (reach_km, t_per_km) = self.pace(hour, fuel_t);
            let gone_km = reach_km.min(left_km);
            left_km -= gone_km;
            fuel_t -= t_per_km * gone_km;
        }
        left_km <= BACK_KM
    }

    /// Whether a party that knew the pole's whole track could have attained: the upper bound of all
    /// policies. It could if the pole is, for the hours wanted, never farther than the way that the
    /// craft can have gone since the arrival. (The pole's own speed and the fuel are not held against
    /// it, so that the bound is not too low.)
    fn could_attain(&self, member: usize, first: usize, end: usize) -> bool {
        let mut gone_km = 0.0;
        let mut run = 0;
        (first..=end).any(|hour| {
            let within_km = gone_km + self.measure.within_km;
            let near =
                self.tracks.offset_km(member, hour).is_some_and(|pole| length(pole) <= within_km);
            run = if near { run + 1 } else { 0 };
            gone_km += match self.chart {
                Some(chart) => chart.most_km(hour),
                None => self.reach_km.get(hour).copied().unwrap_or(0.0),
            } + self.pack.map_or(0.0, |pack| length(pack.within_hour(hour)));
            run >= self.measure.whole_hours()
        })
    }
}

pub(crate) fn length([north, east]: OffsetKm) -> f64 {
    // Offsets are kilometres: nothing overflows, and this is asked thousands of times a stay.
    (north * north + east * east).sqrt()
}

pub(crate) fn less(a: OffsetKm, b: OffsetKm) -> OffsetKm {
    [a[0] - b[0], a[1] - b[1]]
}

/// The offset, on a lattice about the mean pole, within `within_km` of which the ensemble's poles
/// spend most of their hours. Among equals the one nearest to the mean pole.
#[must_use]
pub fn haunt(tracks: &PoleTracks, within_km: f64) -> OffsetKm {
    const STEPS: i32 = 6;
    // Every seventh hour meets all hours of the day and all days of the window.
    let mut poles: Vec<OffsetKm> = Vec::new();
    for hour in (0..tracks.mean_track().len()).step_by(7) {
        poles.extend((0..tracks.members()).filter_map(|member| tracks.offset_km(member, hour)));
    }
    let step_km = within_km / 3.0;
    let mut best = ([0.0; 2], 0);
    let mut lattice: Vec<OffsetKm> = (-STEPS..=STEPS)
        .flat_map(|north| (-STEPS..=STEPS).map(move |east| [north, east]))
        .map(|[north, east]| [f64::from(north) * step_km, f64::from(east) * step_km])
        .collect();
    lattice.sort_by(|a, b| length(*a).total_cmp(&length(*b)));
    for spot in lattice {
        let count = poles.iter().filter(|pole| length(less(**pole, spot)) <= within_km).count();
        if count > best.1 {
            best = (spot, count);
        }
    }
    best.0
}

/// How far the pole is from what waits for it.
trait Nearness {
    /// The distance at a whole hour, km.
    fn distance_km(&self, hour: usize) -> f64;

    /// Whether it keeps within a distance from the hour before to this one.
    fn kept(&self, hour: usize, within_km: f64) -> bool;
}

/// A craft that keeps to the mean pole, while the chart is open there.
struct HeldAtMean<'a> {
    tracks: &'a PoleTracks,
    member: usize,
    chart: Option<&'a StationChart<'a>>,
}

impl Nearness for HeldAtMean<'_> {
    fn distance_km(&self, hour: usize) -> f64 {
        let open = self.chart.is_none_or(|chart| chart.is_open(hour, [0.0; 2]));
        let offset_km = self.tracks.offset_km(self.member, hour).filter(|_| open);
        offset_km.map_or(f64::INFINITY, length)
    }

    fn kept(&self, hour: usize, within_km: f64) -> bool {
        hour > 0 && self.tracks.keeps_within(self.member, hour - 1, [[0.0; 2]; 2], within_km)
    }
}

/// The hour at which the pole has been within reach for long enough, if it ever is.
fn first_attained(
    mut hours: impl Iterator<Item = usize>,
    measure: Measure,
    nearness: &impl Nearness,
) -> Option<usize> {
    let mut run = 0;
    hours.find(|&hour| {
        let within = nearness.distance_km(hour) <= measure.within_km;
        let kept = run > 0 && nearness.kept(hour, measure.within_km);
        run = measure.longer(run, within, kept);
        run >= measure.whole_hours()
    })
}

/// For each whole day of the window, the chance that the pole is attained on that day by a craft at
/// the mean pole.
#[must_use]
pub fn chance_by_day(tracks: &PoleTracks, measure: Measure) -> Vec<(f64, f64)> {
    let hours = tracks.mean_track().len().saturating_sub(1);
    let members = tracks.members();
    (0..hours / 24)
        .map(|day| {
            let attained = (0..members)
                .filter(|&member| {
                    let held = HeldAtMean { tracks, member, chart: None };
                    first_attained(day * 24..=day * 24 + 24, measure, &held).is_some()
                })
                .count();
            (day as f64 * 24.0, attained as f64 / members.max(1) as f64)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_on_end_are_counted_without_gaps() {
        /// Distances at the hours, and the hours before which the pole strayed meanwhile.
        struct Known(&'static [f64], &'static [usize]);
        impl Nearness for Known {
            fn distance_km(&self, hour: usize) -> f64 {
                self.0[hour]
            }
            fn kept(&self, hour: usize, _: f64) -> bool {
                !self.1.contains(&hour)
            }
        }
        let distances = &[9.0, 3.0, 9.0, 3.0, 3.0, 3.0, 9.0];
        let at = |for_h, strayed| {
            first_attained(0..7, Measure { within_km: 5.0, for_h }, &Known(distances, strayed))
        };
        assert_eq!(at(0.0, &[]), Some(1));
        assert_eq!(at(1.0, &[]), Some(4));
        assert_eq!(at(2.0, &[]), Some(5));
        assert_eq!(at(3.0, &[]), None);
        assert_eq!(at(1.0, &[4]), Some(5));
        assert_eq!(at(2.0, &[5]), None);
    }
}
