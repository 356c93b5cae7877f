//! Chances that the pole stays near, held against what it did.

use serde::Serialize;

use super::intervals::Interval;
use crate::plane_matrix::{Matrix, solve};

/// Edges of the bins of a reliability diagram; a chance on an edge belongs to the bin above.
const EDGES: [f64; 8] = [0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0];
/// A forecast from this on is one that a party would trust its way home to.
const HIGH_FORECAST: f64 = 0.985;

/// How the chance that the pole stays within a distance of its mean for hours on end was told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventScores {
    /// The distance, km.
    pub within_km: f64,
    /// The hours on end.
    pub for_h: f64,
    /// From how many recorded intervals on the event is looked for; those without a gap until its end.
    pub starts: u64,
    /// Mean chance told; NaN, in JSON null, without a start.
    pub forecast: f64,
    /// Share of the starts from which it happened; NaN without a start.
    pub observed: f64,
    /// Mean of (chance - happened)²; NaN without a start.
    pub brier: f64,
    /// 1 less the Brier score over that of always telling `observed`; `None` where it always happened,
    /// or never.
    pub skill: Option<f64>,
    /// Mean over the starts of |mean chance told - share that happened| of their bin; NaN without a start.
    pub calibration_error: f64,
    /// The reliability diagram.
    pub bins: Vec<EventBin>,
    /// What became of the highest forecasts.
    pub high: HighForecasts,
}

/// The starts whose chance lies between two numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EventBin {
    /// The least chance.
    pub from: f64,
    /// The chance that the next bin begins with; 1 belongs to the last.
    pub to: f64,
    /// How many starts.
    pub starts: u64,
    /// Their mean chance; `None` without a start.
    pub forecast: Option<f64>,
    /// The share of them from which it happened; `None` without a start.
    pub observed: Option<f64>,
}

/// The starts with a high chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HighForecasts {
    /// The least chance.
    pub forecast_at_least: f64,
    /// How many starts.
    pub starts: u64,
    /// Their mean chance; `None` without a start.
    pub forecast: Option<f64>,
    /// The share of them from which it happened; `None` without a start.
    pub observed: Option<f64>,
}

/// Sums over starts.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct StartTally {
    starts: u64,
    forecast: f64,
    happened: u64,
}

impl StartTally {
    fn add(&mut self, other: &Self) {
        self.starts += other.starts;
        self.forecast += other.forecast;
        self.happened += other.happened;
    }

    fn means(&self) -> Option<(f64, f64)> {
        let count = self.starts as f64;
        (self.starts > 0).then(|| (self.forecast / count, self.happened as f64 / count))
    }
}

/// Sums over the starts of one event.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct EventTally {
    bins: [StartTally; EDGES.len() - 1],
    high: StartTally,
    squares: f64,
}

impl EventTally {
    pub(super) fn add_start(&mut self, forecast: f64, happened: bool) {
        let one = StartTally { starts: 1, forecast, happened: u64::from(happened) };
        let bin = EDGES.partition_point(|edge| *edge <= forecast).clamp(1, self.bins.len()) - 1;
        self.bins[bin].add(&one);
        if forecast >= HIGH_FORECAST {
            self.high.add(&one);
        }
        self.squares += (forecast - f64::from(u8::from(happened))).powi(2);
    }

    pub(super) fn add(&mut self, other: &Self) {
        for (own, its) in self.bins.iter_mut().zip(&other.bins) {
            own.add(its);
        }
        self.high.add(&other.high);
        self.squares += other.squares;
    }

    pub(super) fn scores(&self, event: &Event) -> EventScores {
        let mut all = StartTally::default();
        for bin in &self.bins {
            all.add(bin);
        }
        let count = all.starts as f64;
        let (forecast, observed) = all.means().unwrap_or((f64::NAN, f64::NAN));
        let brier = if all.starts > 0 { self.squares / count } else { f64::NAN };
        let uncertainty = observed * (1.0 - observed);
        let bin_errors = self.bins.iter().filter_map(|bin| {
            bin.means().map(|(told, was)| bin.starts as f64 / count * (told - was).abs())
        });
        let edges = EDGES.iter().zip(EDGES.iter().skip(1));
        EventScores {
            within_km: event.within_km,
            for_h: event.for_h,
            starts: all.starts,
            forecast,
            observed,
            brier,
            skill: (uncertainty > 0.0).then(|| 1.0 - brier / uncertainty),
            calibration_error: if all.starts > 0 { bin_errors.sum() } else { f64::NAN },
            bins: edges
                .zip(&self.bins)
                .map(|((from, to), bin)| EventBin {
                    from: *from,
                    to: *to,
                    starts: bin.starts,
                    forecast: bin.means().map(|(told, _)| told),
                    observed: bin.means().map(|(_, was)| was),
                })
                .collect(),
            high: HighForecasts {
                forecast_at_least: HIGH_FORECAST,
                starts: self.high.starts,
                forecast: self.high.means().map(|(told, _)| told),
                observed: self.high.means().map(|(_, was)| was),
            },
        }
    }
}

/// That the pole stays within a distance of its mean for some time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Event {
    pub(super) within_km: f64,
    pub(super) for_h: f64,
    /// Successive values that must all lie within.
    pub(super) values: usize,
}

/// Adds the starts in the first `own` of intervals.
///
/// The pole's distance is that of the straight picture, |J^-1 b|, with b the field as it is told toward
/// the station's north and east.
pub(super) fn add_starts(
    tallies: &mut [EventTally],
    events: &[Event],
    jacobian_nt_per_km: Matrix,
    intervals: &[Interval],
    own: usize,
    members_nt: &[&[[f32; 2]]],
) {
    let next = |at: usize| {
        let pair = intervals.get(at).zip(intervals.get(at + 1));
        pair.is_some_and(|(one, next)| next.index == one.index + 1)
    };
    let joined: Vec<bool> = (0..intervals.len()).map(next).collect();
    let runs = |run: &mut [u16], within: &dyn Fn(usize) -> bool| {
        let mut after = 0_u16;
        for (at, run) in run.iter_mut().enumerate().rev() {
            let on = if joined[at] { after } else { 0 };
            *run = if within(at) { on.saturating_add(1) } else { 0 };
            after = *run;
        }
    };
    let distance_km = |vector: [f64; 2]| {
        let km = solve(jacobian_nt_per_km, vector).unwrap_or([f64::INFINITY; 2]);
        km[0].hypot(km[1])
    };
    let mut distances = vec![0.0; intervals.len()];
    let mut run = vec![0_u16; intervals.len()];
    let mut counts = vec![vec![0_u32; own]; events.len()];
    for member in members_nt {
        for (distance, vector) in distances.iter_mut().zip(*member) {
            *distance = distance_km(vector.map(f64::from));
        }
        let mut of_run: Option<f64> = None;
        for (event, counts) in events.iter().zip(&mut counts) {
            if of_run != Some(event.within_km) {
                runs(&mut run, &|at| distances[at] <= event.within_km);
                of_run = Some(event.within_km);
            }
            for (count, run) in counts.iter_mut().zip(&run) {
                *count += u32::from(usize::from(*run) >= event.values);
            }
        }
    }
    let mut recorded = vec![0_u16; intervals.len()];
    runs(&mut recorded, &|_| true);
    for (distance, interval) in distances.iter_mut().zip(intervals) {
        *distance = distance_km(interval.recorded_nt);
    }
    for ((event, counts), tally) in events.iter().zip(&counts).zip(tallies) {
        runs(&mut run, &|at| distances[at] <= event.within_km);
        for (at, count) in counts.iter().enumerate() {
            let whole = usize::from(recorded[at]) >= event.values;
            if intervals[at].scored && whole {
                let forecast = f64::from(*count) / members_nt.len().max(1) as f64;
                tally.add_start(forecast, usize::from(run[at]) >= event.values);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVENT: Event = Event { within_km: 10.0, for_h: 2.0, values: 3 };

    #[test]
    fn brier_skill_and_calibration_are_those_made_by_hand() {
        let mut tally = EventTally::default();
        for (forecast, happened) in
            [(0.0, false), (0.05, false), (0.1, true), (0.5, true), (1.0, true), (0.99, false)]
        {
            tally.add_start(forecast, happened);
        }
        let scores = tally.scores(&EVENT);
        assert_eq!((scores.starts, scores.observed), (6, 0.5));
        assert!((scores.forecast - 2.64 / 6.0).abs() < 1e-12);
        let brier = (0.0025 + 0.81 + 0.25 + 0.0 + 0.9801) / 6.0;
        assert!((scores.brier - brier).abs() < 1e-12);
        assert!((scores.skill.unwrap() - (1.0 - brier / 0.25)).abs() < 1e-12);
        // Bins 0: one of 0; .05 to .2: 0.075 told, 0.5 was; .4 to .6: 0.5 and 1; the last: 0.995 and 0.5.
        let error = (0.0 + 2.0 * 0.425 + 0.5 + 2.0 * 0.495) / 6.0;
        assert!((scores.calibration_error - error).abs() < 1e-12);
        assert_eq!(
            scores.bins.iter().map(|bin| bin.starts).collect::<Vec<_>>(),
            [1, 2, 0, 1, 0, 0, 2]
        );
        assert_eq!(scores.bins[2].forecast, None);
        assert_eq!((scores.high.starts, scores.high.observed), (2, Some(0.5)));
    }

    #[test]
    fn without_a_start_there_is_no_score() {
        let scores = EventTally::default().scores(&EVENT);
        assert!(scores.brier.is_nan() && scores.skill.is_none() && scores.starts == 0);
    }

    fn interval(index: usize, north_nt: f64, scored: bool) -> Interval {
        let recorded_nt = [north_nt, 0.0];
        Interval { index, month: 1, hour: 0, kp: None, scored, recorded_nt }
    }

    #[test]
    fn starts_need_all_their_values_and_events_all_of_them_within() {
        // 5 nT/km: 50 nT are 10 km. Hour 4 is missing.
        let jacobian = [[5.0, 0.0], [0.0, -5.0]];
        let lengths = [(0, 50.0), (1, 0.0), (2, 10.0), (3, 51.0), (5, 1.0), (6, 1.0), (7, 1.0)];
        let intervals: Vec<Interval> =
            lengths.iter().map(|(index, nt)| interval(*index, *nt, true)).collect();
        let still = vec![[0.0_f32; 2]; intervals.len()];
        let mut strays = still.clone();
        strays[2] = [0.0, 60.0];
        let mut tallies = [EventTally::default(), EventTally::default()];
        let single = Event { values: 1, ..EVENT };
        let members: [&[[f32; 2]]; 2] = [&still, &strays];
        add_starts(&mut tallies, &[EVENT, single], jacobian, &intervals, 7, &members);
        // Starts at 0, 1 and 5: the first and the last happened; told 1/2, 1/2 and 1.
        let scores = tallies[0].scores(&EVENT);
        assert_eq!((scores.starts, scores.observed), (3, 2.0 / 3.0));
        assert!((scores.forecast - 2.0 / 3.0).abs() < 1e-12);
        let single = tallies[1].scores(&single);
        assert_eq!((single.starts, single.observed), (7, 6.0 / 7.0));
    }
}
