//! A way as a bridge receives it: points so near that the rhumb lines between them keep to the track.
//!
//! A plotter joins points by rhumb lines, while the ways of a plan are geodesics: over 2,000 km the two lie
//! more than 100 km apart. Each geodesic is therefore cut by [`rhumb::cut`], and each cut has the hour at which
//! the craft is there by the samples of the passage, which know where its pace changes.

use dipward_geodesy::{
    KM_PER_NAUTICAL_MILE, Position, distance_km, inverse, position,
    rhumb::{self, LegLine},
};
use dipward_plugin::{Profile, Waypoint};
use jiff::{SignedDuration, Timestamp};

use crate::figures::hours_between;

/// No two points are nearer than this, nautical miles, unless the craft waits.
pub(crate) const LEAST_APART_NM: f64 = 0.05;
/// Hours that differ by less are one: 4 s, far less than a craft takes from one sample to the next.
const SAME_HOUR: f64 = 1e-3;
/// Samples are those of a leg where they span its length to within this share.
const SAME_LENGTH: f64 = 0.01;

/// A point of a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Mark {
    pub(crate) position: Position,
    pub(crate) time: Timestamp,
    pub(crate) fuel_used_t: f64,
    /// Whether the planner turns here; else the point is a cut of a leg.
    pub(crate) planned: bool,
    /// What follows; nothing at the end.
    pub(crate) onward: Option<Onward>,
}

/// What leads on from a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Onward {
    /// The craft lies there.
    Wait {
        /// For how long.
        hours: f64,
    },
    /// A line of one true course.
    Rhumb {
        /// Its course.
        course_deg: f64,
        /// Its length.
        distance_nm: f64,
        /// The mean speed.
        speed_kn: f64,
    },
    /// The shortest line, where rhumb lines wind round the pole.
    Geodesic {
        /// The true course at its start.
        initial_deg: f64,
        /// The true course at its end.
        final_deg: f64,
        /// Its length.
        distance_nm: f64,
        /// The mean speed.
        speed_kn: f64,
    },
}

/// A planned point, and how far from it points lie that are left out beside it.
#[derive(Debug, Clone, Copy)]
struct Kept {
    waypoint: Waypoint,
    left_out_km: f64,
}

impl Kept {
    fn position(&self) -> Position {
        position(self.waypoint.latitude_deg, self.waypoint.longitude_deg)
    }

    /// The same point at a later waypoint's time, where that is later by a second: files tell whole ones.
    fn until(&self, later: &Waypoint) -> Option<Self> {
        let Waypoint { latitude_deg, longitude_deg, .. } = self.waypoint;
        let waypoint = Waypoint { latitude_deg, longitude_deg, ..*later };
        (later.time.as_second() > self.waypoint.time.as_second())
            .then_some(Self { waypoint, ..*self })
    }
}

/// The points of a way.
///
/// # Arguments
///
/// * `waypoints`: the planner's own, each of which lies on the Earth.
/// * `samples`: the passage of the approach, with the hour of its departure; the pace of a leg is taken as
///   one where there are none.
/// * `cross_track_nm`: how far a rhumb line may lie off the planned track.
pub(crate) fn marks(
    waypoints: &[Waypoint],
    samples: Option<(&Profile, Timestamp)>,
    cross_track_nm: f64,
) -> Vec<Mark> {
    let kept = apart(waypoints);
    let mut marks: Vec<Mark> = Vec::with_capacity(kept.len());
    let planned = |kept: &Kept| Mark {
        position: kept.position(),
        time: kept.waypoint.time,
        fuel_used_t: kept.waypoint.fuel_used_t,
        planned: true,
        onward: None,
    };
    marks.extend(kept.first().map(planned));
    for pair in kept.windows(2) {
        let &[from, to] = pair else { continue };
        if from.position() == to.position() {
            let hours = hours_between(from.waypoint.time, to.waypoint.time);
            lead_on(&mut marks, Onward::Wait { hours }, planned(&to));
            continue;
        }
        let left_out_km = from.left_out_km.max(to.left_out_km);
        let limit_km = (cross_track_nm * KM_PER_NAUTICAL_MILE - left_out_km).max(0.0);
        let cuts = rhumb::cut(from.position(), to.position(), limit_km);
        let whole_km = distance_km(from.position(), to.position());
        let pace = Pace::of(&from.waypoint, &to.waypoint, whole_km, samples);
        let (mut before, mut run_km, count) = (planned(&from), 0.0, cuts.len());
        for (index, (end, line)) in cuts.into_iter().enumerate() {
            run_km += distance_km(before.position, end);
            let mark = if index + 1 == count {
                planned(&to)
            } else {
                let (time, fuel_used_t) = pace.at(run_km / whole_km);
                Mark { position: end, time, fuel_used_t, planned: false, onward: None }
            };
            lead_on(&mut marks, onward(&before, &mark, line), mark);
            before = mark;
        }
    }
    marks
}

fn lead_on(marks: &mut Vec<Mark>, onward: Onward, next: Mark) {
    if let Some(last) = marks.last_mut() {
        last.onward = Some(onward);
    }
    marks.push(next);
}

fn onward(from: &Mark, to: &Mark, line: LegLine) -> Onward {
    let hours = hours_between(from.time, to.time);
    let speed_kn = |nm: f64| if hours > 0.0 { nm / hours } else { 0.0 };
    match line {
        LegLine::Rhumb => {
            let line = rhumb::inverse(from.position, to.position);
            let distance_nm = line.distance_km / KM_PER_NAUTICAL_MILE;
            let speed_kn = speed_kn(distance_nm);
            Onward::Rhumb { course_deg: line.course_deg, distance_nm, speed_kn }
        }
        LegLine::Geodesic => {
            let line = inverse(from.position, to.position);
            let distance_nm = line.distance_km / KM_PER_NAUTICAL_MILE;
            Onward::Geodesic {
                initial_deg: line.initial_course_deg,
                final_deg: line.final_course_deg,
                distance_nm,
                speed_kn: speed_kn(distance_nm),
            }
        }
    }
}

/// The planner's points without those that lie too near to one before; both ends stay, and all waits.
fn apart(waypoints: &[Waypoint]) -> Vec<Kept> {
    let mut kept: Vec<Kept> = Vec::with_capacity(waypoints.len());
    for (index, waypoint) in waypoints.iter().enumerate() {
        let mut one = Kept { waypoint: *waypoint, left_out_km: 0.0 };
        let waits =
            index.checked_sub(1).and_then(|index| waypoints.get(index)).is_some_and(|before| {
                (before.latitude_deg, before.longitude_deg)
                    == (waypoint.latitude_deg, waypoint.longitude_deg)
            });
        if let (true, Some(last)) = (waits, kept.last()) {
            kept.extend(last.until(waypoint));
            continue;
        }
        let near_km = |kept: &Kept, one: &Kept| {
            let km = distance_km(kept.position(), one.position());
            (km < LEAST_APART_NM * KM_PER_NAUTICAL_MILE).then_some(km)
        };
        let ends = index + 1 == waypoints.len();
        // The end takes the place of what lies too near before it, unless that is the start or a wait.
        while ends
            && let [.., before, last] = kept.as_slice()
            && before.position() != last.position()
            && let Some(km) = near_km(last, &one)
        {
            one.left_out_km = one.left_out_km.max(km).max(last.left_out_km + km);
            kept.pop();
        }
        match kept.last_mut().and_then(|last| Some((near_km(last, &one)?, last))) {
            None => kept.push(one),
            Some((km, last)) => {
                last.left_out_km = last.left_out_km.max(km);
                let stays = last.until(waypoint);
                kept.extend(stays.filter(|_| ends));
            }
        }
    }
    kept
}

/// When a craft is where on a leg.
struct Pace {
    start: Timestamp,
    hours: f64,
    fuel_t: [f64; 2],
    /// Shares of the leg's length, hours and fuel, from 0 to 1 and never falling.
    shares: Vec<[f64; 3]>,
}

impl Pace {
    fn of(
        from: &Waypoint,
        to: &Waypoint,
        whole_km: f64,
        samples: Option<(&Profile, Timestamp)>,
    ) -> Self {
        let shares = samples.and_then(|(profile, depart)| {
            let during = [from, to].map(|end| hours_between(depart, end.time));
            shares(profile, during, whole_km)
        });
        Self {
            start: from.time,
            hours: hours_between(from.time, to.time),
            fuel_t: [from.fuel_used_t, to.fuel_used_t],
            shares: shares.unwrap_or_else(|| vec![[0.0; 3], [1.0; 3]]),
        }
    }

    /// The instant at a share of the leg's length, and the fuel burnt by then.
    fn at(&self, length: f64) -> (Timestamp, f64) {
        let next = self.shares.iter().position(|share| share[0] >= length);
        let pair = next.and_then(|next| {
            let before = self.shares.get(next.checked_sub(1)?)?;
            Some((*before, *self.shares.get(next)?))
        });
        let [time, fuel] = pair.map_or([length; 2], |(before, after)| {
            let step = after[0] - before[0];
            let part = if step > 0.0 { (length - before[0]) / step } else { 1.0 };
            [1, 2].map(|of: usize| before[of] + part * (after[of] - before[of]))
        });
        let [first_t, last_t] = self.fuel_t;
        let passed = SignedDuration::from_millis((time * self.hours * 3_600_000.0) as i64);
        let at = self.start.checked_add(passed).unwrap_or(self.start);
        (at, first_t + fuel * (last_t - first_t))
    }
}

/// The samples of a leg as shares of what they span; nothing where they do not span its hours and its length,
/// or are not in order.
fn shares(profile: &Profile, [from, to]: [f64; 2], whole_km: f64) -> Option<Vec<[f64; 3]>> {
    let rows = profile.hour.iter().zip(&profile.distance_km).zip(&profile.fuel_used_t);
    let within: Vec<[f64; 3]> = rows
        .map(|((&hour, &km), &fuel_t)| [km, hour, fuel_t])
        .filter(|row| (from - SAME_HOUR..=to + SAME_HOUR).contains(&row[1]))
        .collect();
    let (first, last) = (*within.first()?, *within.last()?);
    let ordered =
        within.windows(2).all(|pair| pair[0][0] <= pair[1][0] && pair[0][1] <= pair[1][1]);
    let spans = (first[1] - from).abs() <= SAME_HOUR
        && (last[1] - to).abs() <= SAME_HOUR
        && (last[0] - first[0] - whole_km).abs() <= SAME_LENGTH * whole_km;
    let share = |row: [f64; 3], of: usize| {
        let span = last[of] - first[of];
        if span > 0.0 { ((row[of] - first[of]) / span).clamp(0.0, 1.0) } else { 0.0 }
    };
    (ordered && spans)
        .then(|| within.iter().map(|&row| [0, 1, 2].map(|of| share(row, of))).collect())
}
