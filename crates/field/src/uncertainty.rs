//! How far off a dip pole may be, part by part.

use dipward_geodesy::Hemisphere;
use dipward_plugin::ComponentSigma;
use jiff::{Timestamp, tz::Offset};
use serde::{Deserialize, Serialize};

use crate::{DipPole, Ellipse, Kp, PolarCapAmplitude, kp_season::counts_of_season};

/// The doubt about where a dip pole is, as ellipses that hold the same share each.
///
/// The parts are independent of one another: their covariances add up to the total's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PoleUncertainty {
    /// From carrying the field beyond the model's data, forward or back.
    pub forecast: Ellipse,
    /// From truncation of the core field and from the crust.
    pub crust: Ellipse,
    /// From the currents overhead at this moment. The mean pole is free of it.
    pub disturbance: Ellipse,
    /// All of it together.
    pub total: Ellipse,
}

impl PoleUncertainty {
    /// The ellipses that hold a share of what may be, where these are the one-sigma ellipses; see
    /// [`Ellipse::holding`].
    #[must_use]
    pub fn holding(&self, probability: f64) -> Self {
        Self {
            forecast: self.forecast.holding(probability),
            crust: self.crust.holding(probability),
            disturbance: self.disturbance.holding(probability),
            total: self.total.holding(probability),
        }
    }
}

impl DipPole {
    /// The one-sigma ellipses of the parts of the doubt.
    ///
    /// # Arguments
    ///
    /// * `disturbance_nt`: one sigma of each component of the external horizontal field, as from
    ///   [`PolarCapAmplitude::sigma_nt`]. The ellipses are linear: right to 3 % at 100 nT, too small
    ///   by far in a great storm in the north.
    #[must_use]
    pub fn uncertainty(&self, disturbance_nt: f64) -> PoleUncertainty {
        let disturbance = ComponentSigma::isotropic(disturbance_nt);
        PoleUncertainty {
            forecast: self.ellipse(self.sigma.forecast),
            crust: self.ellipse(self.sigma.crust),
            disturbance: self.ellipse(disturbance),
            total: self.ellipse(self.sigma.total().plus(disturbance)),
        }
    }
}

impl PolarCapAmplitude {
    /// One sigma of each component of the external horizontal field while Kp has a value, over all
    /// hours of the day: the turning part and the random one.
    #[must_use]
    pub fn sigma_nt(&self, kp: Kp, instant: Timestamp, hemisphere: Hemisphere) -> f64 {
        let range_nt = self.range_nt(kp.ap());
        // A turning vector has 1/sqrt(2) of its length in each component.
        let turning = (self.quiet_nt + self.turning_share * range_nt) / 2.0_f64.sqrt();
        self.season(instant, hemisphere) * turning.hypot(self.residual_share * range_nt)
    }

    /// The same where Kp is not known: root mean square over the history of Kp within 45 days of the
    /// same day of the year.
    #[must_use]
    pub fn usual_sigma_nt(&self, instant: Timestamp, hemisphere: Hemisphere) -> f64 {
        let counts = counts_of_season(Offset::UTC.to_datetime(instant).date());
        let (mut squares, mut total) = (0.0, 0.0);
        for (thirds, count) in (0_u8..).zip(*counts) {
            let kp = Kp::from_thirds(thirds).unwrap_or_default();
            squares += count * self.sigma_nt(kp, instant, hemisphere).powi(2);
            total += count;
        }
        (squares / f64::max(total, 1.0)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{dip_pole, igrf14};

    #[test]
    fn parts_add_up_in_squares_and_a_disturbance_moves_the_north_pole_further() {
        let model = igrf14().unwrap();
        let mut distances = Vec::new();
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let pole = dip_pole(&model, hemisphere, 2027.5, 0.0).unwrap();
            let parts = pole.uncertainty(40.0);
            let sum = [parts.forecast, parts.crust, parts.disturbance]
                .iter()
                .map(|part| part.rms_km().powi(2))
                .sum::<f64>();
            assert!((sum.sqrt() - parts.total.rms_km()).abs() < 1e-9);
            let ratio = parts.holding(0.95).crust.semi_major_km / parts.crust.semi_major_km;
            assert!((ratio - 2.447_747).abs() < 1e-6);
            distances.push(parts.disturbance.rms_km());
        }
        // 0.594 and 0.222 km for one nT, from the singular values of the Jacobians.
        assert!((distances[0] / distances[1] - 2.67).abs() < 0.1, "{distances:?}");
    }

    #[test]
    fn the_usual_disturbance_is_that_of_a_moderate_kp_and_larger_in_summer() {
        let amplitude = PolarCapAmplitude::default();
        let at = |day: &str, hemisphere| amplitude.usual_sigma_nt(day.parse().unwrap(), hemisphere);
        let summer = at("2027-06-21T00:00Z", Hemisphere::North);
        let winter = at("2027-06-21T00:00Z", Hemisphere::South);
        assert!((summer / winter - 3.0).abs() < 0.01);
        let kp = |kp| {
            let instant = "2027-06-21T00:00Z".parse().unwrap();
            amplitude.sigma_nt(Kp::nearest(kp), instant, Hemisphere::North)
        };
        assert!(kp(2.0) < summer && summer < kp(5.0), "{} {summer} {}", kp(2.0), kp(5.0));
    }
}
