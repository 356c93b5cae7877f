//! How much larger the scatter is at one place than at another alike in magnetic latitude.
//!
//! Stations differ: currents induced in the ground and the sea below one make its scatter a little larger
//! or smaller than the law says. At a station that the law is fitted to, the factor is known. Where no
//! station stood it is drawn for each member, as the stations differed when each was left out of the fit
//! in turn; they scattered more, in the mean, than the law of the others said.

use dipward_geodesy::{geodesic, position};

use super::law::LearntLaw;

/// Stations, in the order of the file of coefficients.
const STATIONS: [(f64, f64); SITES] =
    [(-66.665, 140.007), (-77.85, 166.763), (-78.45, 106.867), (74.69, -94.895), (82.5, -62.35)];
pub(super) const SITES: usize = 5;
/// How far a station's factor reaches: to exp(-1/2) of itself. What is induced changes over some hundred
/// kilometres at a coast (from memory; not measured here).
const REACH_KM: f64 = 150.0;

/// The factor of the scatter at a place, log-normal over the members.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SiteFactor {
    log_mean: f64,
    log_spread: f64,
}

impl SiteFactor {
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
            return Self { log_mean: mean, log_spread: spread };
        };
        // A normal quantity that is known at one place and goes with it by this correlation.
        let correlation = (-0.5 * (away_km / REACH_KM).powi(2)).exp();
        Self {
            log_mean: mean + correlation * (known - mean),
            log_spread: spread * (1.0 - correlation * correlation).sqrt(),
        }
    }

    /// The factor of a member, by its draw of a standard normal.
    pub(crate) fn of(&self, draw: f64) -> f64 {
        (self.log_mean + self.log_spread * draw).exp()
    }

    /// The mean of its square, by which the members' variance is larger than the law's.
    pub(crate) fn mean_square(&self) -> f64 {
        (2.0 * (self.log_mean + self.log_spread * self.log_spread)).exp()
    }
}

#[cfg(test)]
mod tests {
    use rand_distr::{Distribution, StandardNormal};

    use super::*;
    use crate::{
        learnt::Refit,
        streams::{Draw, stream},
    };

    #[test]
    fn it_is_known_at_a_station_and_drawn_far_from_all() {
        let law = LearntLaw::embedded(Refit::All);
        for ((latitude_deg, longitude_deg), log) in STATIONS.into_iter().zip(law.site_log_factor) {
            let there = SiteFactor::at(law, latitude_deg, longitude_deg);
            assert!((there.of(2.0) - log.exp()).abs() < 1e-9, "{there:?}");
        }
        let far = SiteFactor::at(law, 80.0, 180.0);
        assert!(far.of(1.0) > 1.05 * far.of(0.0), "{far:?}");
        // Halfway to nowhere the factor is less sure than at the station and surer than far away.
        let between = SiteFactor::at(law, -66.665, 143.0);
        assert!(0.0 < between.log_spread && between.log_spread < far.log_spread);
        let mut rng = stream(1, 0, Draw::Site);
        let squares = (0..20_000).map(|_| far.of(StandardNormal.sample(&mut rng)).powi(2));
        let mean = squares.sum::<f64>() / 20_000.0;
        assert!((mean / far.mean_square() - 1.0).abs() < 0.02, "{mean}");
    }

    /// A station that was left out is a place like any other.
    #[test]
    fn a_station_left_out_is_unknown() {
        let law = LearntLaw::embedded(Refit::WithoutDrv);
        let there = SiteFactor::at(law, -66.665, 140.007);
        assert!(there.log_spread > 0.9 * law.new_site[1], "{there:?}");
        assert!(law.site_log_factor[0].is_nan());
    }
}
