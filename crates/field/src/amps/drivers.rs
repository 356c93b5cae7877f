//! What drives the currents.

use serde::{Deserialize, Serialize};

use crate::amps::coefficients::TERMS;

/// The state of the solar wind and of the Sun's extreme ultraviolet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Drivers {
    /// Speed of the solar wind.
    pub solar_wind_km_per_s: f64,
    /// The interplanetary field toward dusk, in geocentric solar magnetospheric axes.
    pub by_nt: f64,
    /// The interplanetary field toward north, in the same axes.
    pub bz_nt: f64,
    /// The flux of the Sun at 10.7 cm, solar flux units.
    pub f10_7: f64,
}

/// The coupling that a south-pointing field gives, km/s and nT to the coupling's own unit: the
/// solar-wind part of the driver, v^(4/3) B^(2/3) / 1000.
pub(crate) fn flow(solar_wind_km_per_s: f64, transverse_nt: f64) -> f64 {
    solar_wind_km_per_s.abs().powf(4.0 / 3.0) * transverse_nt.powf(2.0 / 3.0) / 1000.0
}

/// How many functions of the drivers the currents are linear in, once the tilt is known.
pub(crate) const FUNCTIONS: usize = 10;

impl Drivers {
    /// The rate at which the magnetosphere's flux opens, in the unit of the coefficients (a
    /// thousandth of that of P. T. Newell et al., J. Geophys. Res. 112, A01206, 2007):
    /// v^(4/3) B^(2/3) sin^(8/3)(clock angle / 2) / 1000, with v in km/s and B in nT.
    #[must_use]
    pub fn coupling(&self) -> f64 {
        let half = 0.5 * self.by_nt.atan2(self.bz_nt);
        self.flow() * half.sin().abs().powf(8.0 / 3.0)
    }

    fn flow(&self) -> f64 {
        flow(self.solar_wind_km_per_s, self.by_nt.hypot(self.bz_nt))
    }

    /// The functions of the drivers that multiply the model's terms without tilt, then F10.7:
    /// `[1, e, t]` times each of `[1, sin c, cos c]`, with c the clock angle, e the coupling and t
    /// its counterpart for northward fields (Laundal et al. 2018, equations 10 to 13).
    pub(crate) fn functions(&self) -> [f64; FUNCTIONS] {
        let clock = self.by_nt.atan2(self.bz_nt);
        let (sine, cosine) = clock.sin_cos();
        let northward = self.flow() * (0.5 * clock).cos().abs().powf(8.0 / 3.0);
        let e = self.coupling();
        let t = northward;
        [1.0, sine, cosine, e, e * sine, e * cosine, t, t * sine, t * cosine, self.f10_7]
    }
}

impl Drivers {
    /// What multiplies each of the nineteen terms of the coefficients.
    pub(crate) fn terms(&self, tilt_deg: f64) -> [f64; TERMS] {
        let functions = self.functions();
        std::array::from_fn(|k| match k {
            0..9 => functions[k],
            9..18 => tilt_deg * functions[k - 9],
            _ => self.f10_7,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coupling_is_whole_to_the_south_and_none_to_the_north() {
        let of = |by_nt, bz_nt| {
            Drivers { solar_wind_km_per_s: 500.0, by_nt, bz_nt, f10_7: 100.0 }.coupling()
        };
        // 500^(4/3) 5^(2/3) / 1000
        assert!((of(0.0, -5.0) - 11.604).abs() < 1e-3);
        assert!(of(0.0, 5.0).abs() < 1e-12);
        assert!((of(5.0, 0.0) - of(-5.0, 0.0)).abs() < 1e-12);
        assert_eq!(of(0.0, 0.0), 0.0);
    }
}
