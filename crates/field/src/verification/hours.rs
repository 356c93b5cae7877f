//! The scores of hours, all together or of one kind.

use serde::Serialize;

use super::{Region, crps::fair_crps};

/// How an ensemble did over recorded hours.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HourScores {
    /// Recorded hours that are scored, to the nearest whole one where the record is finer.
    pub hours: u64,
    /// Share of the hours whose vector lies in the region that should hold 95 %.
    pub coverage_95: f64,
    /// Share of the hours whose vector lies in the region that should hold 50 %.
    pub coverage_50: f64,
    /// Mean length of the recorded perturbation, nT.
    pub mean_nt: f64,
    /// Mean length of the members' perturbation over the same hours, nT.
    pub forecast_mean_nt: f64,
    /// Mean continuous ranked probability score of the length, nT.
    pub crps_nt: f64,
}

/// Sums over hours.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct HourTally {
    pub(super) intervals: u64,
    in_95: u64,
    in_50: u64,
    length_nt: f64,
    forecast_length_nt: f64,
    crps_nt: f64,
}

impl HourTally {
    /// The scores of one recorded vector.
    pub(super) fn of(recorded_nt: [f64; 2], members_nt: &[[f64; 2]], room: &mut Vec<f64>) -> Self {
        let [half, most] = Region::holding(members_nt, [0.50, 0.95]);
        room.clear();
        room.extend(members_nt.iter().map(|[north, east]| north.hypot(*east)));
        room.sort_unstable_by(f64::total_cmp);
        let length_nt = recorded_nt[0].hypot(recorded_nt[1]);
        Self {
            intervals: 1,
            in_95: u64::from(most.contains(recorded_nt)),
            in_50: u64::from(half.contains(recorded_nt)),
            length_nt,
            forecast_length_nt: room.iter().sum::<f64>() / room.len().max(1) as f64,
            crps_nt: fair_crps(room, length_nt),
        }
    }

    pub(super) fn add(&mut self, other: &Self) {
        self.intervals += other.intervals;
        self.in_95 += other.in_95;
        self.in_50 += other.in_50;
        self.length_nt += other.length_nt;
        self.forecast_length_nt += other.forecast_length_nt;
        self.crps_nt += other.crps_nt;
    }

    /// Means; `None` without an hour.
    pub(super) fn scores(&self, cadence_h: f64) -> Option<HourScores> {
        let count = self.intervals as f64;
        (self.intervals > 0).then(|| HourScores {
            hours: (count * cadence_h).round() as u64,
            coverage_95: self.in_95 as f64 / count,
            coverage_50: self.in_50 as f64 / count,
            mean_nt: self.length_nt / count,
            forecast_mean_nt: self.forecast_length_nt / count,
            crps_nt: self.crps_nt / count,
        })
    }
}

/// Sums over all hours and over those of each kind.
#[derive(Debug, Clone, Default)]
pub(super) struct HourTallies {
    pub(super) all: HourTally,
    pub(super) by_kp: [HourTally; 10],
    pub(super) by_month: [HourTally; 12],
    pub(super) by_hour: [HourTally; 24],
}

impl HourTallies {
    pub(super) fn add(&mut self, other: &Self) {
        self.all.add(&other.all);
        let own = self.by_kp.iter_mut().chain(&mut self.by_month).chain(&mut self.by_hour);
        let its = other.by_kp.iter().chain(&other.by_month).chain(&other.by_hour);
        for (own, its) in own.zip(its) {
            own.add(its);
        }
    }
}
