//! What an ensemble of pole tracks says as a whole.

use dipward_geodesy::Position;
use serde::{Deserialize, Serialize};

use crate::{Ellipse, PoleTracks};

const HOURS_A_DAY: usize = 24;

/// An ellipse that holds a share of an ensemble.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EnsembleEllipse {
    /// The centre as an offset from the mean pole toward north and east: storms do not push equally
    /// to all sides.
    pub centre_km: [f64; 2],
    /// The ellipse about that centre.
    pub ellipse: Ellipse,
    /// The share of all positions that lie inside, those of members without a pole counting as
    /// outside; less than asked for only where too many have none.
    pub share: f64,
}

impl PoleTracks {
    /// The ellipse that holds a share of the members at one of the hours.
    ///
    /// Its centre and shape are the mean and the covariance of the offsets; its size is such that
    /// the share lies inside. `None` where no member has a pole, or past the last hour.
    #[must_use]
    pub fn ellipse(&self, index: usize, share: f64) -> Option<EnsembleEllipse> {
        let offsets = (0..self.members()).map(|member| self.offset_km(member, index));
        ellipse_of(offsets, share)
    }

    /// The same over all hours, the pole's drift in the window left out.
    #[must_use]
    pub fn ellipse_over_all_hours(&self, share: f64) -> Option<EnsembleEllipse> {
        ellipse_of(self.all_offsets(), share)
    }

    /// Root-mean-square distance of the members from the mean pole at one of the hours; `None`
    /// where no member has a pole.
    #[must_use]
    pub fn rms_km(&self, index: usize) -> Option<f64> {
        let squares = (0..self.members())
            .filter_map(|member| self.offset_km(member, index))
            .map(|[north, east]| north * north + east * east);
        let (count, sum) =
            squares.fold((0_u32, 0.0), |(count, sum), square| (count + 1, sum + square));
        (count > 0).then(|| (sum / f64::from(count)).sqrt())
    }

    /// How many members have no pole at one of the hours.
    #[must_use]
    pub fn without_pole(&self, index: usize) -> usize {
        (0..self.members()).filter(|&member| self.offset_km(member, index).is_none()).count()
    }

    /// The mean daily path: offsets from the mean pole toward north and east, km, for each hour of
    /// universal time from 0 to 23, over all members and days. Hours of the day that the tracks do
    /// not have are left out.
    #[must_use]
    pub fn daily_oval(&self) -> Vec<(u8, [f64; 2])> {
        self.oval_of(|_, _| true)
    }

    /// The daily path of quiet times: that of the hours at which a member's Kp is below the stated one.
    /// Empty where the disturbance knows no Kp.
    ///
    /// Storms push the pole to one side and shift and widen the path of all hours.
    #[must_use]
    pub fn quiet_oval(&self, below_kp: f64) -> Vec<(u8, [f64; 2])> {
        let quiet = |kp_thirds: u8| f64::from(kp_thirds) < 3.0 * below_kp;
        self.oval_of(|member, index| self.kp_thirds(member, index).is_some_and(quiet))
    }

    /// The mean offset for each hour of the day, of those members and hours that are taken.
    fn oval_of(&self, taken: impl Fn(usize, usize) -> bool) -> Vec<(u8, [f64; 2])> {
        let mut sums = [([0.0; 2], 0_u32); HOURS_A_DAY];
        for (index, &hour) in self.hours().iter().enumerate() {
            let milliseconds = self.clock().instant(hour).as_millisecond();
            let of_day = milliseconds.div_euclid(3_600_000).rem_euclid(24) as usize;
            let members = (0..self.members()).filter(|&member| taken(member, index));
            for [north, east] in members.filter_map(|member| self.offset_km(member, index)) {
                let (sum, count) = &mut sums[of_day];
                *sum = [sum[0] + north, sum[1] + east];
                *count += 1;
            }
        }
        (0_u8..)
            .zip(sums)
            .filter(|(_, (_, count))| *count > 0)
            .map(|(hour, (sum, count))| (hour, sum.map(|part| part / f64::from(count))))
            .collect()
    }

    /// A daily path laid about the mean pole at one of the hours.
    #[must_use]
    pub fn oval_at(&self, oval: &[(u8, [f64; 2])], index: usize) -> Vec<Position> {
        oval.iter().filter_map(|&(_, offset_km)| self.place(index, offset_km)).collect()
    }

    fn all_offsets(&self) -> impl Iterator<Item = Option<[f64; 2]>> {
        (0..self.members()).flat_map(move |member| {
            (0..self.hours().len()).map(move |index| self.offset_km(member, index))
        })
    }
}

/// The smallest ellipse of the shape of some offsets that holds a share of them.
pub(crate) fn ellipse_of(
    offsets: impl Iterator<Item = Option<[f64; 2]>>,
    share: f64,
) -> Option<EnsembleEllipse> {
    let mut all = 0_usize;
    let found: Vec<[f64; 2]> = offsets.inspect(|_| all += 1).flatten().collect();
    let count = found.len() as f64;
    if found.is_empty() {
        return None;
    }
    let sum = found.iter().fold([0.0; 2], |sum, at| [sum[0] + at[0], sum[1] + at[1]]);
    let centre_km = sum.map(|part| part / count);
    let off = |at: &[f64; 2]| [at[0] - centre_km[0], at[1] - centre_km[1]];
    let [nn, ne, ee] = found.iter().map(off).fold([0.0; 3], |[nn, ne, ee], [n, e]| {
        [nn + n * n / count, ne + n * e / count, ee + e * e / count]
    });
    let one_sigma = Ellipse::of_covariance([[nn, ne], [ne, ee]]);
    let mut radii: Vec<f64> = found.iter().map(|at| one_sigma.radius_of(off(at))).collect();
    radii.sort_by(f64::total_cmp);
    // The smallest ellipse that holds the share: it passes through the last member inside.
    let wanted = (share.clamp(0.0, 1.0) * all as f64).ceil() as usize;
    let inside = wanted.clamp(1, radii.len());
    let radius = radii.get(inside - 1).copied().unwrap_or(0.0);
    // All members on one line or point: the ellipse is degenerate and its radius says nothing.
    let factor = if radius.is_finite() { radius } else { 1.0 };
    Some(EnsembleEllipse {
        centre_km,
        ellipse: one_sigma.scaled(factor),
        share: inside as f64 / all as f64,
    })
}
