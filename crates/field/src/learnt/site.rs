//! How a place differs from what the law says of it: in its scatter and in its mean.
//!
//! Stations differ: currents induced in the ground and the sea below one make its scatter a little larger
//! or smaller than the law says, and the pattern of its mean vector over the day is not quite that of the
//! others. At a station that the law is fitted to, the factor is known and the mean has no such error.
//! Where no station stood both are drawn for each member, as the stations differed when each was left out
//! of the fit in turn:
//!
//! ```text
//!   scatter  x exp(m + s g)                                       g a normal draw
//!   mean     x 1 + e (a p0 + b (p1 cos t + p2 sin t)),  a^2 + b^2 = 1
//!            p0, p1, p2 complex normal draws, of unit variance in each part: they turn the vector and
//!            stretch it; t the magnetic local time
//! ```
//!
//! So the mean's error has one size at all hours, in parts of the mean's length, and one pattern for a
//! member over its whole track.

use dipward_geodesy::{geodesic, position};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

use super::law::LearntLaw;

/// Stations, in the order of the file of coefficients.
const STATIONS: [(f64, f64); SITES] =
    [(-66.665, 140.007), (-77.85, 166.763), (-78.45, 106.867), (74.69, -94.895), (82.5, -62.35)];
pub(super) const SITES: usize = 5;
/// How far a station's factor reaches: to exp(-1/2) of itself. What is induced changes over some hundred
/// kilometres at a coast (from memory; not measured here).
const REACH_KM: f64 = 150.0;
/// Share of the mean's error that goes round with magnetic local time. Of the error at stations left out
/// a vector factor that changes with the season explains 15 % in the mean, one that also goes round once
/// a day 52 %.
const SHARE_TURNING: f64 = 0.7;

/// How a place differs from the law, over the members.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SiteSpread {
    log_mean: f64,
    log_spread: f64,
    /// One sigma of the mean's error along the mean and across it, in parts of the mean's length.
    mean_error: f64,
}

impl SiteSpread {
    pub(crate) fn at(law: &LearntLaw, latitude_deg: f64, longitude_deg: f64) -> Self {
        let place = position(latitude_deg, longitude_deg);
        let fitted =
            STATIONS.into_iter().zip(law.site_log_factor).filter(|(_, log)| log.is_finite());
        let nearest = fitted
            .map(|((latitude_deg, longitude_deg), log)| {
                (geodesic::distance_km(position(latitude_deg, longitude_deg), place), log)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let [mean, spread] = law.new_site;
        let Some((away_km, known)) = nearest else {
            return Self { log_mean: mean, log_spread: spread, mean_error: law.mean_error };
        };
        // A normal quantity that is known at one place and goes with it by this correlation.
        let correlation = (-0.5 * (away_km / REACH_KM).powi(2)).exp();
        let unknown = (1.0 - correlation * correlation).sqrt();
        Self {
            log_mean: mean + correlation * (known - mean),
            log_spread: spread * unknown,
            mean_error: law.mean_error * unknown,
        }
    }

    /// The factor of a member's scatter.
    pub(crate) fn factor(&self, member: &SiteDraw) -> f64 {
        (self.log_mean + self.log_spread * member.scatter).exp()
    }

    /// The mean of its square, by which the members' variance is larger than the law's.
    pub(crate) fn mean_square(&self) -> f64 {
        (2.0 * (self.log_mean + self.log_spread * self.log_spread)).exp()
    }

    /// The variance, in each component, that the mean's error adds to the members.
    pub(crate) fn mean_variance(&self, [u, v]: [f64; 2]) -> f64 {
        self.mean_error * self.mean_error * (u * u + v * v)
    }

    /// A member's mean vector, from the law's, where magnetic local time has this cosine and sine.
    pub(crate) fn mean(&self, [u, v]: [f64; 2], clock: [f64; 2], member: &SiteDraw) -> [f64; 2] {
        let [along, across] = member.pattern(clock).map(|part| self.mean_error * part);
        [u + along * u - across * v, v + along * v + across * u]
    }
}

/// What a member draws of a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SiteDraw {
    scatter: f64,
    /// Along the mean and across it: at all hours, with the cosine and with the sine of magnetic local
    /// time.
    mean: [[f64; 2]; 3],
}

impl SiteDraw {
    pub(crate) fn of(rng: &mut impl Rng) -> Self {
        let mut draw = || StandardNormal.sample(&mut *rng);
        Self { scatter: draw(), mean: [(); 3].map(|()| [draw(), draw()]) }
    }

    /// Of unit variance at each hour.
    fn pattern(&self, [cosine, sine]: [f64; 2]) -> [f64; 2] {
        let [still, turning] = [1.0 - SHARE_TURNING, SHARE_TURNING].map(f64::sqrt);
        let weights = [still, turning * cosine, turning * sine];
        [0, 1].map(|part: usize| {
            self.mean.iter().zip(weights).map(|(draw, weight)| weight * draw[part]).sum()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        learnt::Refit,
        streams::{Draw, stream},
    };

    fn draws() -> Vec<SiteDraw> {
        (0..20_000).map(|member| SiteDraw::of(&mut stream(1, member, Draw::Site))).collect()
    }

    /// The same draw at all stations fitted to gives their own factor and the law's mean, to the bit.
    #[test]
    fn nothing_is_drawn_at_a_station() {
        let law = LearntLaw::embedded(Refit::All);
        for ((latitude_deg, longitude_deg), log) in STATIONS.into_iter().zip(law.site_log_factor) {
            let there = SiteSpread::at(law, latitude_deg, longitude_deg);
            for draw in &draws()[..20] {
                assert!((there.factor(draw) - log.exp()).abs() < 1e-9, "{there:?}");
                assert_eq!(there.mean([-30.0, 71.0], [0.6, 0.8], draw), [-30.0, 71.0]);
            }
            assert_eq!(there.mean_variance([-30.0, 71.0]), 0.0);
        }
    }

    #[test]
    fn the_factor_is_drawn_far_from_all() {
        let law = LearntLaw::embedded(Refit::All);
        let far = SiteSpread::at(law, 80.0, 180.0);
        // Halfway to nowhere a place is less sure than at the station and surer than far away.
        let between = SiteSpread::at(law, -66.665, 143.0);
        assert!(0.0 < between.log_spread && between.log_spread < far.log_spread);
        assert!(0.0 < between.mean_error && between.mean_error < far.mean_error);
        let squares = draws().iter().map(|draw| far.factor(draw).powi(2)).sum::<f64>() / 20_000.0;
        assert!((squares / far.mean_square() - 1.0).abs() < 0.02, "{squares}");
    }

    /// Far from all stations the members' means lie about the law's with the variance that is told, alike
    /// in both components and at all hours; hours of a member are alike, and opposite ones less so.
    #[test]
    fn the_mean_strays_as_told() {
        let law = LearntLaw::embedded(Refit::All);
        let far = SiteSpread::at(law, 80.0, 180.0);
        let mean = [-30.0, 71.0];
        let told = far.mean_variance(mean);
        let draws = draws();
        let strays = |clock: [f64; 2]| -> Vec<[f64; 2]> {
            let of = |draw| far.mean(mean, clock, draw);
            draws.iter().map(of).map(|[u, v]| [u - mean[0], v - mean[1]]).collect()
        };
        let product = |a: &[[f64; 2]], b: &[[f64; 2]], axes: [usize; 2]| {
            let sum: f64 = a.iter().zip(b).map(|(a, b)| a[axes[0]] * b[axes[1]]).sum();
            sum / (20_000.0 * told)
        };
        let noon = strays([1.0, 0.0]);
        for clock in [[1.0, 0.0], [-0.6, 0.8], [0.0, -1.0]] {
            let at = strays(clock);
            for axis in 0..2 {
                let centre = at.iter().map(|stray| stray[axis]).sum::<f64>() / 20_000.0;
                assert!(centre.abs() < 0.03 * told.sqrt(), "{clock:?} {centre}");
                assert!((product(&at, &at, [axis, axis]) - 1.0).abs() < 0.05, "{clock:?}");
                let alike = 1.0 - SHARE_TURNING + SHARE_TURNING * clock[0];
                assert!((product(&at, &noon, [axis, axis]) - alike).abs() < 0.05, "{clock:?}");
            }
            assert!(product(&at, &at, [0, 1]).abs() < 0.05, "{clock:?}");
        }
    }

    /// A station that was left out is a place like any other.
    #[test]
    fn a_station_left_out_is_unknown() {
        let law = LearntLaw::embedded(Refit::WithoutDrv);
        let there = SiteSpread::at(law, -66.665, 140.007);
        assert!(there.log_spread > 0.9 * law.new_site[1], "{there:?}");
        assert!(there.mean_error > 0.9 * law.mean_error, "{there:?}");
        assert!(law.site_log_factor[0].is_nan());
    }
}
