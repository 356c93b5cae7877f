use crate::Error;

/// Fuel that a party burns as it grows lighter: litres a kilometre rise with the load, and the fuel
/// is part of the load.
///
/// With c the burn without fuel and k what a tonne of it adds, `dF/ds = -(c + k F)`: the fuel to
/// start with grows exponentially with the distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TraverseBurn {
    /// Tonnes a kilometre with the payload and no fuel.
    base_t_per_km: f64,
    /// Tonnes a kilometre for each tonne of fuel carried.
    growth_per_km: f64,
}

impl TraverseBurn {
    /// From litres a kilometre.
    ///
    /// # Arguments
    ///
    /// `empty_l_per_km` without any load, `per_tonne_l_per_km` for each tonne of payload and fuel.
    ///
    /// # Errors
    ///
    /// [`Error::OutOfRange`] for negative numbers, an empty burn of nothing or a density not above
    /// zero.
    pub fn new(
        empty_l_per_km: f64,
        per_tonne_l_per_km: f64,
        payload_t: f64,
        density_kg_per_l: f64,
    ) -> Result<Self, Error> {
        let empty = Error::check("the burn empty, l/km", empty_l_per_km, f64::MIN_POSITIVE, 1.0e3)?;
        let slope = Error::check("the burn for a tonne, l/km", per_tonne_l_per_km, 0.0, 100.0)?;
        let payload_t = Error::check("the payload, t", payload_t, 0.0, 1.0e4)?;
        let density = Error::check("the density, kg/l", density_kg_per_l, 0.1, 2.0)?;
        Ok(Self {
            base_t_per_km: (empty + slope * payload_t) * density / 1000.0,
            growth_per_km: slope * density / 1000.0,
        })
    }

    /// Tonnes a kilometre with fuel aboard.
    #[must_use]
    pub fn burn_t_per_km(&self, fuel_t: f64) -> f64 {
        self.base_t_per_km + self.growth_per_km * fuel_t.max(0.0)
    }

    /// The fuel to start with, for a distance and what must be left after it.
    #[must_use]
    pub fn fuel_needed_t(&self, distance_km: f64, left_t: f64) -> f64 {
        let distance_km = distance_km.max(0.0);
        let growth = (self.growth_per_km * distance_km).exp_m1();
        let base_t = if self.growth_per_km > 0.0 {
            self.base_t_per_km * growth / self.growth_per_km
        } else {
            self.base_t_per_km * distance_km
        };
        left_t * (growth + 1.0) + base_t
    }

    /// How far fuel reaches, with `left_t` left; 0 where there is no more than that.
    #[must_use]
    pub fn range_km(&self, fuel_t: f64, left_t: f64) -> f64 {
        let spent_t = (fuel_t - left_t).max(0.0);
        if self.growth_per_km > 0.0 {
            (self.growth_per_km * spent_t / self.burn_t_per_km(left_t)).ln_1p() / self.growth_per_km
        } else {
            spent_t / self.base_t_per_km
        }
    }
}

/// A place on the way where fuel waits, or is left for the way home.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depot {
    /// Kilometres from the start.
    pub at_km: f64,
    /// Fuel drawn there; negative for fuel laid down.
    pub draw_t: f64,
}

/// Where a traverse fails.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum TraverseFailure {
    /// The fuel is down to what must be left, so many kilometres from the start.
    Dry {
        /// Kilometres from the start.
        at_km: f64,
    },
    /// A depot is to take more fuel than there is to spare.
    Overdrawn {
        /// Kilometres from the start.
        at_km: f64,
    },
    /// Depots out of order, or numbers that are not finite.
    Unordered,
}

impl TraverseBurn {
    /// Follows the fuel along a way with depots.
    ///
    /// # Arguments
    ///
    /// `start_t` is aboard at first, `capacity_t` the most that can be carried (what a depot holds
    /// beyond that stays there), `least_t` must always be left. `depots` stand in the order of the
    /// way.
    ///
    /// # Returns
    ///
    /// Fuel aboard on arrival at each depot and at the end.
    ///
    /// # Errors
    ///
    /// [`TraverseFailure`] at the first place where the plan fails.
    pub fn follow(
        &self,
        distance_km: f64,
        (start_t, capacity_t, least_t): (f64, f64, f64),
        depots: &[Depot],
    ) -> Result<Vec<f64>, TraverseFailure> {
        let end = Depot { at_km: distance_km, draw_t: 0.0 };
        let mut fuel_t = start_t.min(capacity_t);
        let mut here_km = 0.0;
        let mut arrivals = Vec::with_capacity(depots.len() + 1);
        for depot in depots.iter().chain([&end]) {
            let leg_km = depot.at_km - here_km;
            if !leg_km.is_finite() || leg_km < 0.0 || !depot.draw_t.is_finite() || fuel_t.is_nan() {
                return Err(TraverseFailure::Unordered);
            }
            let reach_km = self.range_km(fuel_t, least_t);
            // The margin forgives the rounding of a plan that comes out exactly.
            if reach_km + 1.0e-9 * leg_km < leg_km || fuel_t < least_t {
                return Err(TraverseFailure::Dry { at_km: here_km + reach_km });
            }
            fuel_t = self.fuel_left_t(fuel_t, leg_km).max(least_t);
            arrivals.push(fuel_t);
            here_km = depot.at_km;
            fuel_t = (fuel_t + depot.draw_t).min(capacity_t);
            if fuel_t < least_t {
                return Err(TraverseFailure::Overdrawn { at_km: here_km });
            }
        }
        Ok(arrivals)
    }

    /// The fuel left after a distance; the inverse of [`TraverseBurn::fuel_needed_t`].
    #[must_use]
    pub fn fuel_left_t(&self, fuel_t: f64, distance_km: f64) -> f64 {
        let decay = (-self.growth_per_km * distance_km).exp_m1();
        let base_t = if self.growth_per_km > 0.0 {
            self.base_t_per_km * decay / self.growth_per_km
        } else {
            -self.base_t_per_km * distance_km
        };
        fuel_t * (decay + 1.0) + base_t
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn range_and_need_are_inverse(
            empty in 0.5..6.0, slope in 0.0..0.2, payload in 0.0..50.0, fuel in 1.0..60.0,
        ) {
            let party = TraverseBurn::new(empty, slope, payload, 0.8).unwrap();
            let range_km = party.range_km(fuel, 0.5);
            prop_assert!((party.fuel_needed_t(range_km, 0.5) - fuel).abs() < 1e-9 * fuel);
            prop_assert!((party.fuel_left_t(fuel, range_km) - 0.5).abs() < 1e-9 * fuel);
        }

        /// The closed form against small steps.
        #[test]
        fn the_exponential_is_the_sum_of_small_steps(
            empty in 0.5..6.0, slope in 0.0..0.2, payload in 0.0..50.0, distance in 1.0..1000.0,
        ) {
            let party = TraverseBurn::new(empty, slope, payload, 0.8).unwrap();
            let mut fuel_t = party.fuel_needed_t(distance, 2.0);
            let step_km = distance / 2000.0;
            for _ in 0..2000 {
                let middle_t = fuel_t - 0.5 * step_km * party.burn_t_per_km(fuel_t);
                fuel_t -= step_km * party.burn_t_per_km(middle_t);
            }
            prop_assert!((fuel_t - 2.0).abs() < 1e-4);
        }
    }

    #[test]
    fn depots_carry_a_party_further() {
        let party = TraverseBurn::new(2.0, 0.1, 10.0, 0.8).unwrap();
        let tank = (4.0, 4.0, 0.5);
        let reach_km = party.range_km(4.0, 0.5);
        assert_eq!(party.follow(reach_km, tank, &[]).unwrap().len(), 1);
        let beyond = party.follow(1.5 * reach_km, tank, &[]).unwrap_err();
        assert_eq!(beyond, TraverseFailure::Dry { at_km: reach_km });
        let depot = Depot { at_km: 0.6 * reach_km, draw_t: 9.0 };
        let arrivals = party.follow(1.5 * reach_km, tank, &[depot]).unwrap();
        // The tank was filled there, not beyond.
        assert!((arrivals[1] - party.fuel_left_t(4.0, 0.9 * reach_km)).abs() < 1e-12);
        let laid = Depot { at_km: 0.6 * reach_km, draw_t: -9.0 };
        assert_eq!(
            party.follow(reach_km, tank, &[laid]).unwrap_err(),
            TraverseFailure::Overdrawn { at_km: 0.6 * reach_km }
        );
        let backwards = [depot, Depot { at_km: 0.0, draw_t: 1.0 }];
        assert_eq!(
            party.follow(reach_km, tank, &backwards).unwrap_err(),
            TraverseFailure::Unordered
        );
        assert!(party.follow(f64::NAN, tank, &[]).is_err());
        assert!(party.follow(1.0, (0.4, 4.0, 0.5), &[]).is_err());
    }

    #[test]
    fn light_fuel_is_the_limit() {
        let party = TraverseBurn::new(2.0, 0.0, 10.0, 0.8).unwrap();
        assert!((party.fuel_needed_t(100.0, 1.0) - 1.16).abs() < 1e-12);
        assert!((party.range_km(1.16, 1.0) - 100.0).abs() < 1e-9);
        assert_eq!(party.range_km(0.5, 1.0), 0.0);
        assert!(TraverseBurn::new(0.0, 0.0, 10.0, 0.8).is_err());
        assert!(TraverseBurn::new(1.0, f64::NAN, 10.0, 0.8).is_err());
    }
}
