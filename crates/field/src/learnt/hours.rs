//! What the law says at one place and hour, as a function of Kp alone.

use dipward_geodesy::Hemisphere;
use jiff::{Timestamp, tz::Offset};

use super::{law::LearntLaw, site::SiteSpread};
use crate::solar_cycle_phase;

/// How many features the mean has, each scatter, and the correlation; the order is that of
/// `data/response/fit_response.py`.
pub(crate) const MEANS: usize = 78;
pub(crate) const SCATTERS: usize = 48;
pub(crate) const CORRELATIONS: usize = 6;

/// Greatest correlation of the two components.
const MOST_CORRELATION: f64 = 0.98;
/// The scatter is at least this large: hourly means are written to 1 nT, and no station's quietest hours
/// scatter by less than twice as much.
const LEAST_SIGMA_NT: f64 = 3.0;
/// The Sun's greatest declination.
const OBLIQUITY_DEG: f64 = 23.44;

/// Where a place stands in the magnetic cap at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MagneticHour {
    /// Quasi-dipole latitude.
    pub(crate) latitude_deg: f64,
    /// Magnetic local time.
    pub(crate) local_time_h: f64,
}

/// The law at one place and hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HourLaw {
    /// The mean toward the Sun and clockwise: what multiplies 1, k and k^2.
    mean: [[f64; 2]; 3],
    /// The sigmas' logarithms: what multiplies 1, k, k^2 and ln(1 + Kp).
    log_sigma: [[f64; 2]; 4],
    /// Of the scatter's components.
    correlation: f64,
    /// Cosine and sine of the Sun's azimuth, clockwise from north.
    sun: [f64; 2],
    hemisphere: Hemisphere,
    /// Cosine and sine of magnetic local time, from noon.
    pub(crate) clock: [f64; 2],
    /// How this place differs from the law.
    pub(crate) site: SiteSpread,
}

/// A mean and the scatter about it in the frame of the Sun, nT; what the site adds is not in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SunMoments {
    pub(crate) mean_nt: [f64; 2],
    pub(crate) sigma_nt: [f64; 2],
    pub(crate) correlation: f64,
}

impl HourLaw {
    /// The law for a geographic place, which stands so in the cap, at an instant.
    pub(crate) fn at(
        law: &LearntLaw,
        latitude_deg: f64,
        longitude_deg: f64,
        magnetic: MagneticHour,
        instant: Timestamp,
    ) -> Self {
        let hemisphere = if latitude_deg < 0.0 { Hemisphere::South } else { Hemisphere::North };
        let utc = Offset::UTC.to_datetime(instant);
        let day = f64::from(utc.day_of_year() - 1);
        let ut_h = instant.as_millisecond().rem_euclid(86_400_000) as f64 / 3_600_000.0;
        let local_h = (ut_h + longitude_deg / 15.0).rem_euclid(24.0);
        let season = std::f64::consts::TAU * (day + 10.0 + ut_h / 24.0) / 365.25;
        let declination = -OBLIQUITY_DEG.to_radians() * season.cos();
        let hour_angle = (15.0 * (local_h - 12.0)).to_radians();
        let latitude = latitude_deg.to_radians();
        let height = latitude.sin() * declination.sin()
            + latitude.cos() * declination.cos() * hour_angle.cos();
        let sunlit = 0.1 * soft_positive(height / 0.1);
        let twilight = (height / 0.15).tanh();
        let tilt = hemisphere.sign() * declination / OBLIQUITY_DEG.to_radians();
        let (cycle_sine, cycle_cosine) =
            (std::f64::consts::TAU * solar_cycle_phase(utc.date())).sin_cos();
        let r = ((90.0 - magnetic.latitude_deg.abs()) / 10.0).min(law.farthest);
        let (sine, cosine) = (15.0 * (magnetic.local_time_h - 12.0)).to_radians().sin_cos();
        let clock = [cosine, sine];
        let [x, y] = [r * cosine, r * sine];
        let square = [1.0, x, y, x * x, x * y, y * y];
        let linear = [1.0, x, y];
        let cycle = [cycle_cosine, cycle_sine];

        let mut mean = [[0.0; 2]; 3];
        let mut features = law.mean.iter();
        let mut add = |power: usize, feature: f64| {
            if let Some(law) = features.next() {
                mean[power][0] += law[0] * feature;
                mean[power][1] += law[1] * feature;
            }
        };
        for place in square {
            for power in 0..3 {
                for light in [1.0, sunlit, twilight] {
                    add(power, place * light);
                }
            }
        }
        for place in linear {
            for power in 0..2 {
                for light in [1.0, sunlit] {
                    for phase in cycle {
                        add(power, place * light * phase);
                    }
                }
            }
        }
        debug_assert!(features.next().is_none(), "every coefficient of the mean is used");

        let mut log_sigma = [[0.0; 2]; 4];
        let mut features = law.log_sigma.iter();
        let mut add = |power: usize, feature: f64| {
            if let Some(law) = features.next() {
                log_sigma[power][0] += law[0] * feature;
                log_sigma[power][1] += law[1] * feature;
            }
        };
        for place in square {
            for power in 0..2 {
                for light in [1.0, twilight] {
                    add(power, place * light);
                }
            }
        }
        for power in 2..4 {
            for light in [1.0, sunlit] {
                add(power, light);
            }
        }
        for place in square {
            for light in [sunlit, tilt] {
                add(0, place * light);
            }
        }
        for power in 0..2 {
            for light in [1.0, sunlit] {
                for phase in cycle {
                    add(power, light * phase);
                }
            }
        }
        debug_assert!(features.next().is_none(), "every coefficient of the scatter is used");

        let correlation: f64 = linear
            .iter()
            .flat_map(|place| [*place, place * twilight])
            .zip(law.correlation)
            .map(|(feature, law)| feature * law)
            .sum();
        let azimuth = match hemisphere {
            Hemisphere::North => 15.0 * local_h,
            // The Sun goes the other way round, and stands to the north at noon.
            Hemisphere::South => 180.0 - 15.0 * local_h,
        };
        let (sine, cosine) = azimuth.to_radians().sin_cos();
        Self {
            mean,
            log_sigma,
            correlation: MOST_CORRELATION * correlation.tanh(),
            sun: [cosine, sine],
            hemisphere,
            clock,
            site: SiteSpread::at(law, latitude_deg, longitude_deg),
        }
    }

    /// Mean and scatter at a Kp.
    pub(crate) fn moments(&self, kp: f64) -> SunMoments {
        let k = kp / 3.0;
        let powers = [1.0, k, k * k, kp.ln_1p()];
        let sum = |parts: &[[f64; 2]], axis: usize| -> f64 {
            parts.iter().zip(powers).map(|(part, power)| part[axis] * power).sum()
        };
        SunMoments {
            mean_nt: [0, 1].map(|axis| sum(&self.mean, axis)),
            sigma_nt: [0, 1].map(|axis| sum(&self.log_sigma, axis).exp().max(LEAST_SIGMA_NT)),
            correlation: self.correlation,
        }
    }

    /// A vector of the Sun's frame toward north and east.
    pub(crate) fn north_east(&self, [toward, clockwise]: [f64; 2]) -> [f64; 2] {
        let [cosine, sine] = self.sun;
        let toward = toward * self.mirror();
        [toward * cosine - clockwise * sine, toward * sine + clockwise * cosine]
    }

    /// A vector toward north and east in the Sun's frame.
    pub(crate) fn of_north_east(&self, [north, east]: [f64; 2]) -> [f64; 2] {
        let [cosine, sine] = self.sun;
        [(north * cosine + east * sine) * self.mirror(), east * cosine - north * sine]
    }

    fn mirror(&self) -> f64 {
        self.hemisphere.sign()
    }
}

/// ln(1 + e^x): 0 far below zero, x far above, smooth between.
fn soft_positive(x: f64) -> f64 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::learnt::Refit;

    fn hour(latitude_deg: f64, longitude_deg: f64, instant: &str) -> HourLaw {
        let magnetic = MagneticHour { latitude_deg: -80.0, local_time_h: 13.0 };
        let law = LearntLaw::embedded(Refit::All);
        HourLaw::at(law, latitude_deg, longitude_deg, magnetic, instant.parse().unwrap())
    }

    proptest! {
        /// The two ways between the frames undo each other and keep lengths.
        #[test]
        fn frames_turn_back(
            latitude_deg in -89.0..89.0_f64,
            longitude_deg in -180.0..180.0_f64,
            north in -500.0..500.0_f64,
            east in -500.0..500.0_f64,
        ) {
            let law = hour(latitude_deg, longitude_deg, "2027-01-15T07:20Z");
            let turned = law.of_north_east([north, east]);
            let back = law.north_east(turned);
            prop_assert!((back[0] - north).hypot(back[1] - east) < 1e-9);
            prop_assert!((turned[0].hypot(turned[1]) - north.hypot(east)).abs() < 1e-9);
        }

        /// The scatter is never nothing, at no Kp, place or hour.
        #[test]
        fn scatter_is_never_nothing(
            latitude_deg in 60.0..90.0_f64,
            magnetic_deg in 60.0..90.0_f64,
            local_time_h in 0.0..24.0_f64,
            day in 0..365_i64,
            ut_h in 0..24_i64,
            kp in 0.0..9.0_f64,
        ) {
            let start: Timestamp = "2027-01-01T00:00Z".parse().unwrap();
            let instant = start + jiff::SignedDuration::from_hours(24 * day + ut_h);
            let magnetic = MagneticHour { latitude_deg: magnetic_deg, local_time_h };
            for refit in Refit::EACH {
                let law = LearntLaw::embedded(refit);
                for sign in [-1.0, 1.0] {
                    let hour = HourLaw::at(law, sign * latitude_deg, 30.0, magnetic, instant);
                    let told = hour.moments(kp);
                    prop_assert!(told.sigma_nt.iter().all(|nt| (3.0..3000.0).contains(nt)), "{refit:?} {told:?}");
                    prop_assert!(told.mean_nt.iter().all(|nt| nt.abs() < 2000.0), "{refit:?} {told:?}");
                    prop_assert!(told.correlation.abs() < 0.99);
                }
            }
        }
    }
}
