use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::LevelIce;
use crate::Error;

/// How a propeller takes up power.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PropellerKind {
    /// Controllable pitch, or electric or hydraulic drive.
    #[default]
    ControllablePitch,
    /// Fixed pitch on a mechanical drive.
    FixedPitch,
}

/// Bollard pull `Ke (P D)^(2/3)`, with P in kilowatts, D in metres, the pull in kilonewtons.
///
/// # Arguments
///
/// `power_kw` is that of all propellers together.
///
/// # Returns
///
/// Newtons.
///
/// # Errors
///
/// [`Error::OutOfRange`] for other than 1 to 3 propellers, or power or diameter not above zero.
///
/// # Source
///
/// Riska et al. 1997; Juva and Riska 2002. The factors 0.98 and 1.12 for two and three screws were
/// seen in a printed INSROP lecture, as was 0.728 for a single screw, which agrees with fixed pitch
/// (the Finnish-Swedish rules' 2.26); 0.78 for one controllable-pitch screw is from memory, and
/// agrees with those rules' 2.03. Those of two and three fixed-pitch screws are recomputed from the
/// rules' 1.60 and 1.31 by `Ke = (rule factor)^(-2/3) / 0.8`.
pub fn bollard_pull_n(
    kind: PropellerKind,
    propellers: u32,
    power_kw: f64,
    diameter_m: f64,
) -> Result<f64, Error> {
    Error::check("the power, kW", power_kw, f64::MIN_POSITIVE, 1.0e6)?;
    Error::check("the propeller diameter, m", diameter_m, f64::MIN_POSITIVE, 20.0)?;
    let factor = match (kind, propellers) {
        (PropellerKind::ControllablePitch, 1) => 0.78,
        (PropellerKind::ControllablePitch, 2) => 0.98,
        (PropellerKind::ControllablePitch, 3) => 1.12,
        (PropellerKind::FixedPitch, 1) => 0.728,
        (PropellerKind::FixedPitch, 2) => 0.914,
        (PropellerKind::FixedPitch, 3) => 1.044,
        _ => {
            return Err(Error::OutOfRange {
                quantity: "the number of propellers",
                value: f64::from(propellers),
                low: 1.0,
                high: 3.0,
            });
        }
    };
    Ok(1000.0 * factor * (power_kw * diameter_m).powf(2.0 / 3.0))
}

/// What the propellers can do at full power.
///
/// # Example
///
/// How fast 10 MW on one screw push a ship through 70 cm of level ice:
///
/// ```
/// use dipward_craft::{
///     Hull, IceStrength, PropellerKind, Propulsion, ResistanceFormula, bollard_pull_n,
/// };
///
/// let hull = Hull {
///     length_m: 150.0,
///     beam_m: 25.0,
///     draught_m: 9.0,
///     stem_angle_deg: 30.0,
///     waterline_angle_deg: 24.0,
///     parallel_midbody_m: 70.0,
///     bow_length_m: 45.0,
/// };
/// let pull_n = bollard_pull_n(PropellerKind::ControllablePitch, 1, 10_000.0, 5.0)?;
/// let ship = Propulsion::new(pull_n, 16.0 * 1852.0 / 3600.0)?;
/// let ice = ResistanceFormula::Riska.level_ice(&hull, &IceStrength::default(), 0.7);
/// let speed_kn = ship.speed_in_m_s(ice).map(|speed_m_s| speed_m_s * 3600.0 / 1852.0);
/// assert!(speed_kn.is_some_and(|speed_kn| (speed_kn - 3.55).abs() < 0.01));
/// # Ok::<(), dipward_craft::Error>(())
/// ```
///
/// At a fraction p of the power the pull is that at full power times p^(2/3), and the open-water
/// speed that times p^(1/3) (the cube law).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Propulsion {
    bollard_pull_n: f64,
    open_water_speed_m_s: f64,
}

impl Propulsion {
    /// From bollard pull and open-water speed at full power.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] where one is not above zero.
    pub fn new(bollard_pull_n: f64, open_water_speed_m_s: f64) -> Result<Self, Error> {
        Ok(Self {
            bollard_pull_n: Error::check("the bollard pull, N", bollard_pull_n, 1.0, 1.0e8)?,
            open_water_speed_m_s: Error::check(
                "the open-water speed, m/s",
                open_water_speed_m_s,
                0.01,
                100.0,
            )?,
        })
    }

    /// The propellers at a fraction of the power, which is held to 1e-6 to 1.
    #[must_use]
    pub fn at_fraction(&self, fraction: f64) -> Self {
        let root = fraction.clamp(1.0e-6, 1.0).cbrt();
        Self {
            bollard_pull_n: self.bollard_pull_n * root * root,
            open_water_speed_m_s: self.open_water_speed_m_s * root,
        }
    }

    /// Pull at rest.
    #[must_use]
    pub fn bollard_pull_n(&self) -> f64 {
        self.bollard_pull_n
    }

    /// Speed in open calm water.
    #[must_use]
    pub fn open_water_speed_m_s(&self) -> f64 {
        self.open_water_speed_m_s
    }

    /// The thrust left over for ice at a speed: `pull (1 - (v/v_ow)/3 - 2 (v/v_ow)^2 / 3)`, Riska
    /// et al. 1997. Falls from the pull at rest to nothing at the open-water speed, negative
    /// beyond.
    #[must_use]
    pub fn net_thrust_n(&self, speed_m_s: f64) -> f64 {
        let x = speed_m_s / self.open_water_speed_m_s;
        self.bollard_pull_n * (1.0 - x / 3.0 - 2.0 * x * x / 3.0)
    }

    /// The speed at which net thrust meets the resistance of ice, or `None` where the ship is
    /// beset.
    ///
    /// Thrust falls and resistance rises with speed, so there is one root at most. As resistance is
    /// linear in speed, it is that of a quadratic, taken in the form that does not cancel.
    #[must_use]
    pub fn speed_in_m_s(&self, ice: LevelIce) -> Option<f64> {
        let pull = self.bollard_pull_n;
        let left = pull - ice.at_rest_n;
        if left.is_nan() || left <= 0.0 {
            return None;
        }
        let slope = pull / 3.0 + ice.per_speed_n_s_per_m * self.open_water_speed_m_s;
        let x = 2.0 * left / (slope + (slope * slope + 8.0 / 3.0 * pull * left).sqrt());
        Some(x * self.open_water_speed_m_s)
    }

    /// The fraction of full power at which net thrust meets a resistance at a speed; above 1 where
    /// full power does not suffice.
    ///
    /// With q the cube root of the fraction and x the speed over the open-water speed at full
    /// power, net thrust at that fraction is `pull (q^2 - x q / 3 - 2 x^2 / 3)`: a quadratic in q.
    #[must_use]
    pub fn fraction_needed(&self, resistance_n: f64, speed_m_s: f64) -> f64 {
        let x = speed_m_s.max(0.0) / self.open_water_speed_m_s;
        let load = resistance_n.max(0.0) / self.bollard_pull_n;
        let root = 0.5 * (x / 3.0 + (x * x / 9.0 + 4.0 * (2.0 * x * x / 3.0 + load)).sqrt());
        root.powi(3)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_speed_is_where_thrust_meets_resistance(
            pull_n in 1.0e4..1.0e7,
            open_m_s in 1.0..20.0,
            part in 0.0..1.0,
            slope in 0.0..1.0e6,
        ) {
            let ship = Propulsion::new(pull_n, open_m_s).unwrap();
            let ice = LevelIce { at_rest_n: pull_n * part, per_speed_n_s_per_m: slope };
            if let Some(speed) = ship.speed_in_m_s(ice) {
                prop_assert!(speed > 0.0 && speed <= open_m_s * (1.0 + 1e-12));
                let gap = ship.net_thrust_n(speed) - ice.at_n(speed);
                prop_assert!(gap.abs() < 1e-9 * pull_n);
            }
        }

        #[test]
        fn the_fraction_needed_gives_the_speed_back(
            fraction in 0.01..1.0, part in 0.0..0.99, slope in 0.0..1.0e5,
        ) {
            let ship = Propulsion::new(1.0e6, 8.0).unwrap();
            let weaker = ship.at_fraction(fraction);
            let ice = LevelIce {
                at_rest_n: weaker.bollard_pull_n() * part,
                per_speed_n_s_per_m: slope,
            };
            let speed = weaker.speed_in_m_s(ice).unwrap();
            let back = ship.fraction_needed(ice.at_n(speed), speed);
            prop_assert!((back - fraction).abs() < 1e-9);
        }

        #[test]
        fn net_thrust_falls_with_speed(a in 0.0..8.0, b in 0.0..8.0) {
            let ship = Propulsion::new(1.0e6, 8.0).unwrap();
            let (slow, fast) = if a < b { (a, b) } else { (b, a) };
            prop_assert!(ship.net_thrust_n(fast) <= ship.net_thrust_n(slow));
        }
    }

    #[test]
    fn in_open_water_power_goes_with_the_cube_of_speed() {
        let ship = Propulsion::new(1.0e6, 8.0).unwrap();
        assert!((ship.fraction_needed(0.0, 4.0) - 0.125).abs() < 1e-15);
        assert!((ship.fraction_needed(0.0, 8.0) - 1.0).abs() < 1e-15);
        assert_eq!(ship.net_thrust_n(0.0), 1.0e6);
        assert!(ship.net_thrust_n(8.0).abs() < 1e-9);
    }
}
