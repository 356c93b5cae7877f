//! The solar wind that would give a Kp.
//!
//! P. T. Newell, T. Sotirelis, K. Liou and F. J. Rich, J. Geophys. Res. 113, A04218 (2008), predict Kp
//! from the solar wind with a correlation of 0.866 (all figures of this file from memory):
//!
//! ```text
//!   Kp = 0.05 + 2.244e-4 E + 2.844e-6 n^(1/2) v^2,   E = v^(4/3) B^(2/3) sin^(8/3)(clock angle / 2)
//! ```
//!
//! with v in km/s, n in 1/cm^3 and B in nT. Turned around it gives the coupling E for a Kp, once v and
//! n are stated. The regression is meant the other way; what it leaves of Kp is drawn at random.
//!
//! B and the clock angle follow from E and a drawn By. With s and u^(3/2) the sine and cosine of half
//! the clock angle, sin(angle) = 2 s u^(3/2) and B = |By| / sin(angle) give
//!
//! ```text
//!   k = 2^(2/3) E v^(-4/3) |By|^(-2/3) = s^2 / u = (1 - u^3) / u,   so   u^3 + k u - 1 = 0,
//! ```
//!
//! which has one positive root, between 0 and 1.

use dipward_plugin::{DisturbanceRequest, KP_SLOT_H, KpSeries};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::amps::drivers::{Drivers, flow};

/// Newell et al. 2008: the offset, what a unit of E adds, and the factor of n^(1/2) v^2.
const OFFSET_KP: f64 = 0.05;
const KP_PER_COUPLING: f64 = 2.244e-4;
const KP_PER_VISCOUS: f64 = 2.844e-6;

/// Drivers from the activity's Kp, through the relation of Newell et al.
/// (2008) between Kp and the coupling of the solar wind. All of it is an assumption.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct FromKp {
    /// Speed of the solar wind at Kp 0.
    #[schemars(range(min = 200.0, max = 1000.0))]
    pub quiet_wind_km_per_s: f64,
    /// How much faster it is for each unit of Kp.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub wind_rise_km_per_s: f64,
    /// Protons of the solar wind.
    #[schemars(range(min = 0.5, max = 50.0))]
    pub density_per_cm3: f64,
    /// The flux of the Sun at 10.7 cm, solar flux units.
    #[schemars(range(min = 50.0, max = 500.0))]
    pub f10_7: f64,
    /// Sigma of the interplanetary field's dawn-dusk part.
    #[schemars(range(min = 0.0, max = 20.0))]
    pub by_sigma_nt: f64,
    /// Time in which its correlation falls to 1/e.
    #[schemars(range(min = 0.1, max = 500.0))]
    pub by_correlation_h: f64,
    /// The most that the interplanetary field points north, which quiet Kp leaves open.
    #[schemars(range(min = 0.0, max = 20.0))]
    pub most_northward_nt: f64,
    /// Sigma of Kp about the relation, drawn for each three hours.
    #[schemars(range(min = 0.0, max = 3.0))]
    pub scatter_kp: f64,
}

impl Default for FromKp {
    fn default() -> Self {
        Self {
            quiet_wind_km_per_s: 350.0,
            wind_rise_km_per_s: 40.0,
            density_per_cm3: 6.0,
            f10_7: 120.0,
            by_sigma_nt: 3.5,
            by_correlation_h: 8.0,
            most_northward_nt: 3.0,
            // 1.35, the standard deviation of Kp, times the root of 1 - 0.866^2.
            scatter_kp: 0.68,
        }
    }
}

impl FromKp {
    /// The drivers at the request's hours.
    pub(crate) fn drivers(
        &self,
        request: &DisturbanceRequest<'_>,
        activity: &KpSeries,
        rng: &mut impl Rng,
    ) -> Vec<Drivers> {
        let scatter: Vec<f64> = activity
            .values
            .iter()
            .map(|_| {
                let draw: f64 = StandardNormal.sample(rng);
                self.scatter_kp * draw
            })
            .collect();
        let mut by_nt: f64 = 0.0;
        let mut before: Option<f64> = None;
        request
            .hours
            .iter()
            .map(|&hour| {
                let kept = before.map_or(0.0, |before| {
                    (-(hour - before).max(0.0) / self.by_correlation_h).exp()
                });
                before = Some(hour);
                let draw: f64 = StandardNormal.sample(rng);
                by_nt =
                    kept * by_nt + (1.0 - kept * kept).max(0.0).sqrt() * self.by_sigma_nt * draw;
                let (kp, scatter) = straight_between_middles(activity, &scatter, hour);
                self.drivers_of(kp, scatter, by_nt)
            })
            .collect()
    }

    /// The drivers of a Kp that is `scatter` above what the relation gives, with a given By.
    fn drivers_of(&self, kp: f64, scatter: f64, by_nt: f64) -> Drivers {
        let v = self.quiet_wind_km_per_s + self.wind_rise_km_per_s * kp;
        let viscous = KP_PER_VISCOUS * self.density_per_cm3.sqrt() * v * v;
        let coupling = ((kp - scatter - OFFSET_KP - viscous) / KP_PER_COUPLING / 1000.0).max(0.0);
        let bz_nt = bz_of(coupling, v, by_nt).min(self.most_northward_nt);
        Drivers { solar_wind_km_per_s: v, by_nt, bz_nt, f10_7: self.f10_7 }
    }

    /// What is assumed, in sentences.
    pub(crate) fn told(&self) -> Vec<String> {
        let Self {
            quiet_wind_km_per_s,
            wind_rise_km_per_s,
            density_per_cm3,
            f10_7,
            by_sigma_nt,
            by_correlation_h,
            most_northward_nt,
            scatter_kp,
        } = self;
        vec![
            format!(
                "the coupling of the solar wind follows from Kp by the relation of Newell et al. \
                 (2008, J. Geophys. Res. 113, A04218) turned around, about which Kp scatters with a \
                 sigma of {scatter_kp}"
            ),
            format!(
                "the solar wind blows at {quiet_wind_km_per_s} km/s and {wind_rise_km_per_s} km/s more \
                 for each unit of Kp, with {density_per_cm3} protons per cm3; F10.7 is {f10_7}"
            ),
            format!(
                "By is random with a sigma of {by_sigma_nt} nT and a correlation time of \
                 {by_correlation_h} h, and Bz is what then gives the coupling, at most \
                 {most_northward_nt} nT northward"
            ),
        ]
    }
}

/// Kp by the relation for a state of the solar wind, of six protons per cm3.
pub(crate) fn kp_of(drivers: &Drivers) -> f64 {
    let v = drivers.solar_wind_km_per_s;
    let viscous = KP_PER_VISCOUS * FromKp::default().density_per_cm3.sqrt() * v * v;
    OFFSET_KP + KP_PER_COUPLING * 1000.0 * drivers.coupling() + viscous
}

/// Bz for a coupling in thousands; without bound to the north where the coupling is 0.
fn bz_of(coupling: f64, solar_wind_km_per_s: f64, by_nt: f64) -> f64 {
    if coupling <= 0.0 {
        return f64::INFINITY;
    }
    let k = 2_f64.powf(2.0 / 3.0) * coupling / flow(solar_wind_km_per_s, by_nt.abs());
    // Where By is nothing beside B the field points south.
    if k > 1e4 || k.is_nan() {
        return -(coupling / flow(solar_wind_km_per_s, 1.0)).powf(1.5);
    }
    // Newton from above the root descends to it, the cubic being convex there.
    let mut u = (1.0 / k).min(1.0);
    for _ in 0..12 {
        u -= (u * u * u + k * u - 1.0) / (3.0 * u * u + k);
    }
    // cos of half the clock angle is u^(3/2).
    let half = u.clamp(0.0, 1.0).powf(1.5).acos();
    by_nt.abs() / (2.0 * half).tan()
}

/// Kp and its scatter at an hour, straight from the middle of one slot to the middle of the next.
fn straight_between_middles(activity: &KpSeries, scatter: &[f64], hour: f64) -> (f64, f64) {
    let place = (hour - activity.slots.start_h) / KP_SLOT_H - 0.5;
    let last = scatter.len().saturating_sub(1);
    // A cast of what is negative or no number is 0.
    let slot = (place as usize).min(last);
    let next = (slot + 1).min(last);
    let share = (place - slot as f64).clamp(0.0, 1.0);
    let between = |value: &dyn Fn(usize) -> f64| (1.0 - share) * value(slot) + share * value(next);
    let kp = |slot: usize| activity.values.get(slot).map_or(0.0, |kp| kp.value());
    (between(&kp), between(&|slot| scatter.get(slot).copied().unwrap_or(0.0)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// The relation turned around and the relation itself cancel.
        #[test]
        fn the_drivers_have_the_coupling_that_kp_asks_for(
            kp in 0.0..9.0_f64,
            scatter in -2.0..2.0_f64,
            by_nt in -15.0..15.0_f64,
        ) {
            let from = FromKp { most_northward_nt: 1e9, ..FromKp::default() };
            let drivers = from.drivers_of(kp, scatter, by_nt);
            let v = drivers.solar_wind_km_per_s;
            prop_assert!(!drivers.bz_nt.is_nan());
            let predicted = OFFSET_KP
                + KP_PER_COUPLING * 1000.0 * drivers.coupling()
                + KP_PER_VISCOUS * 6_f64.sqrt() * v * v;
            let wanted = (kp - scatter).max(OFFSET_KP + KP_PER_VISCOUS * 6_f64.sqrt() * v * v);
            prop_assert!((predicted - wanted).abs() < 1e-3, "{predicted} {wanted} {drivers:?}");
        }
    }

    #[test]
    fn quiet_points_north_and_storms_south() {
        let from = FromKp::default();
        assert_eq!(from.drivers_of(0.0, 0.0, 2.0).bz_nt, 3.0);
        assert!(from.drivers_of(6.0, 0.0, 2.0).bz_nt < -3.0);
        assert!(from.drivers_of(6.0, 0.0, 0.0).bz_nt < -3.0);
    }
}
