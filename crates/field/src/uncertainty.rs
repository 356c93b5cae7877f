//! How far off a dip pole may be, part by part.

use dipward_plugin::ComponentSigma;
use serde::{Deserialize, Serialize};

use crate::{DipPole, Ellipse};

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
    ///   [`FieldMoments::sigma_nt`](crate::learnt::FieldMoments::sigma_nt). The ellipses are linear: right to 3 % at 100 nT, too small
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

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;

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
}
