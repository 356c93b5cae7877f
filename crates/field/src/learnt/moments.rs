//! What the field does on average at one place and instant, and how far it strays.

use dipward_plugin::{Error, Kp, MainField, Site};
use jiff::{Timestamp, tz::Offset};

use super::{
    Refit,
    hours::{HourLaw, MagneticHour},
    law::LearntLaw,
};
use crate::{amps::MagneticPlace, kp_season::counts_of_season, plane_matrix::Matrix};

/// Mean and covariance of the disturbance toward north and east, nT and nT^2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldMoments {
    /// The mean, which the daily loop of the pole follows.
    pub mean_nt: [f64; 2],
    /// The covariance about the mean, of hourly means.
    pub covariance_nt2: Matrix,
}

impl FieldMoments {
    /// The root mean square of a component about the quiet level: mean and scatter together.
    #[must_use]
    pub fn sigma_nt(&self) -> f64 {
        let [north, east] = self.mean_nt;
        let trace = self.covariance_nt2[0][0] + self.covariance_nt2[1][1];
        (0.5 * (north * north + east * east + trace)).sqrt()
    }
}

/// The learnt response at one place.
#[derive(Debug, Clone, Copy)]
pub struct LearntResponse {
    latitude_deg: f64,
    longitude_deg: f64,
    place: MagneticPlace,
    law: &'static LearntLaw,
}

/// The variance of Student's t of six degrees of freedom, which the sigmas are scales of.
const TAIL_VARIANCE: f64 = 1.5;

impl LearntResponse {
    /// The response at a place, its magnetic coordinates by IGRF-14 at a year.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a place that is not on Earth; [`Error::Unsolved`] at the poles of the
    /// magnetic coordinates.
    ///
    /// # Example
    ///
    /// ```
    /// use dipward_field::{Kp, learnt::{LearntResponse, Refit}};
    ///
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// let response = LearntResponse::at(-64.0, 135.0, 2027.0, Refit::All)?;
    /// let noon = response.moments(Kp::nearest(2.0), "2027-01-15T02:00Z".parse()?);
    /// let midnight = response.moments(Kp::nearest(2.0), "2027-01-15T14:00Z".parse()?);
    /// assert!(noon.sigma_nt() > 1.5 * midnight.sigma_nt());
    /// # Ok(())
    /// # }
    /// ```
    pub fn at(
        latitude_deg: f64,
        longitude_deg: f64,
        decimal_year: f64,
        refit: Refit,
    ) -> Result<Self, Error> {
        let main = crate::igrf14().map_err(|error| Error::Unsolved(error.to_string()))?;
        let years = main.years();
        let year = decimal_year.clamp(*years.start(), *years.end());
        let site = Site { latitude_deg, longitude_deg, height_km: 0.0 };
        let place = MagneticPlace::of(&main, year, &site)?;
        Ok(Self { latitude_deg, longitude_deg, place, law: LearntLaw::embedded(refit) })
    }

    /// Mean and covariance while Kp has a value.
    #[must_use]
    pub fn moments(&self, kp: Kp, instant: Timestamp) -> FieldMoments {
        self.of_kp(&self.hour(instant), kp.value())
    }

    /// The same where Kp is not known: over the history of Kp within 45 days of the same day of the
    /// year.
    #[must_use]
    pub fn usual_moments(&self, instant: Timestamp) -> FieldMoments {
        let counts = counts_of_season(Offset::UTC.to_datetime(instant).date());
        let hour = self.hour(instant);
        let total = counts.iter().sum::<f64>().max(1.0);
        let parts: Vec<(f64, FieldMoments)> = (0_u8..)
            .zip(counts)
            .map(|(thirds, count)| (count / total, self.of_kp(&hour, f64::from(thirds) / 3.0)))
            .collect();
        let mean_nt = [0, 1]
            .map(|axis| parts.iter().map(|(share, of)| share * of.mean_nt[axis]).sum::<f64>());
        let covariance_nt2 = [0, 1].map(|row| {
            [0, 1].map(|column| {
                let part = |(share, of): &(f64, FieldMoments)| {
                    let off = [row, column].map(|axis: usize| of.mean_nt[axis] - mean_nt[axis]);
                    share * (of.covariance_nt2[row][column] + off[0] * off[1])
                };
                parts.iter().map(part).sum::<f64>()
            })
        });
        FieldMoments { mean_nt, covariance_nt2 }
    }

    fn hour(&self, instant: Timestamp) -> HourLaw {
        let magnetic = MagneticHour {
            latitude_deg: self.place.quasi_dipole_latitude_deg(),
            local_time_h: self.place.local_time_h(instant),
        };
        HourLaw::at(self.law, self.latitude_deg, self.longitude_deg, magnetic, instant)
    }

    fn of_kp(&self, hour: &HourLaw, kp: f64) -> FieldMoments {
        let told = hour.moments(kp);
        let [first, second] = told.sigma_nt;
        let rho = told.correlation;
        // The columns of the scatter's root, turned to north and east.
        let columns = [
            hour.north_east([first, rho * second]),
            hour.north_east([0.0, (1.0 - rho * rho).sqrt() * second]),
        ];
        let of_mean = hour.site.mean_variance(told.mean_nt);
        let covariance_nt2 = [0, 1].map(|row: usize| {
            [0, 1].map(|column: usize| {
                let factor = TAIL_VARIANCE * hour.site.mean_square();
                let scatter = factor * columns.iter().map(|of| of[row] * of[column]).sum::<f64>();
                if row == column { scatter + of_mean } else { scatter }
            })
        });
        FieldMoments { mean_nt: hour.north_east(told.mean_nt), covariance_nt2 }
    }
}
