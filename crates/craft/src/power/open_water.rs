use crate::Error;

/// The Admiralty constant of a ship: `displacement^(2/3) speed^3 / power`, tonnes, knots,
/// kilowatts.
///
/// The cube law overstates what slow steaming saves: hotel load stays, and the exponent wanders
/// between 2.5 and 4 with the Froude number (from memory).
///
/// # Example
///
/// ```
/// use dipward_craft::AdmiraltyConstant;
///
/// let ship = AdmiraltyConstant::of(12_000.0, 14.0, 5_000.0)?;
/// assert!((ship.power_kw(12_000.0, 12.0) - 3148.7).abs() < 0.1);
/// # Ok::<(), dipward_craft::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AdmiraltyConstant(f64);

impl AdmiraltyConstant {
    /// From one known condition.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] where one of the three is not above zero.
    pub fn of(displacement_t: f64, speed_kn: f64, power_kw: f64) -> Result<Self, Error> {
        let displacement_t = Error::check("the displacement, t", displacement_t, 1.0, 1.0e6)?;
        let speed_kn = Error::check("the speed, kn", speed_kn, 0.1, 100.0)?;
        let power_kw = Error::check("the power, kW", power_kw, 1.0, 1.0e6)?;
        Ok(Self(displacement_t.powf(2.0 / 3.0) * speed_kn.powi(3) / power_kw))
    }

    /// The constant.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.0
    }

    /// The power at another displacement and speed.
    #[must_use]
    pub fn power_kw(&self, displacement_t: f64, speed_kn: f64) -> f64 {
        displacement_t.max(0.0).powf(2.0 / 3.0) * speed_kn.powi(3) / self.0
    }
}

/// The speed of least fuel a mile where power is `hotel + k speed^3`: `(hotel / 2k)^(1/3)`, by
/// calculus.
///
/// # Errors
///
/// [`Error::OutOfRange`] for a hotel load that is negative or a coefficient not above zero.
pub fn economical_speed_kn(hotel_kw: f64, coefficient_kw_per_kn3: f64) -> Result<f64, Error> {
    let hotel_kw = Error::check("the hotel load, kW", hotel_kw, 0.0, 1.0e6)?;
    let coefficient =
        Error::check("the coefficient, kW/kn3", coefficient_kw_per_kn3, f64::MIN_POSITIVE, 1.0e6)?;
    Ok((hotel_kw / (2.0 * coefficient)).cbrt())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn no_other_speed_burns_less_a_mile(
            hotel_kw in 1.0..5000.0, k in 0.1..20.0, other_kn in 0.5..30.0,
        ) {
            let per_mile = |speed: f64| (hotel_kw + k * speed.powi(3)) / speed;
            let best = economical_speed_kn(hotel_kw, k).unwrap();
            prop_assert!(per_mile(best) <= per_mile(other_kn) * (1.0 + 1e-12));
        }
    }
}
