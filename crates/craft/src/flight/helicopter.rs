use std::fmt;

use dipward_geodesy::KM_PER_NAUTICAL_MILE;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{ground_speed, radius_of_action_nm};

/// A helicopter that a ship carries for the last leg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Helicopter {
    /// Cruising airspeed.
    #[schemars(range(min = 30.0, max = 250.0))]
    pub airspeed_kn: f64,
    /// Usable fuel.
    #[schemars(range(min = 10.0, max = 20_000.0))]
    pub fuel_kg: f64,
    /// Burn in cruise.
    #[schemars(range(min = 10.0, max = 5_000.0))]
    pub burn_kg_per_h: f64,
    /// Minutes of burn that must be left on landing. By ICAO Annex 6 (from memory) 20 by sight, 30
    /// by instruments.
    #[serde(default = "default_reserve")]
    #[schemars(range(min = 20.0, max = 240.0))]
    pub reserve_min: f64,
    /// Part of the fuel for the unforeseen; 5 % of the trip by ICAO Annex 6 (from memory), taken of
    /// all usable fuel here.
    #[serde(default = "default_contingency")]
    #[schemars(range(min = 0.0, max = 0.5))]
    pub contingency_fraction: f64,
    /// Minutes at the target with the engine running.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 600.0))]
    pub on_scene_min: f64,
    /// Least visibility.
    #[serde(default = "default_visibility")]
    #[schemars(range(min = 0.5, max = 50.0))]
    pub least_visibility_km: f64,
    /// Least altitude of the sun; -6 is the end of civil twilight.
    #[serde(default = "default_sun")]
    #[schemars(range(min = -18.0, max = 10.0))]
    pub least_sun_deg: f64,
    /// Greatest wind.
    #[serde(default = "default_wind")]
    #[schemars(range(min = 5.0, max = 70.0))]
    pub greatest_wind_kn: f64,
}

fn default_reserve() -> f64 {
    30.0
}

fn default_contingency() -> f64 {
    0.05
}

fn default_visibility() -> f64 {
    5.0
}

fn default_sun() -> f64 {
    -6.0
}

fn default_wind() -> f64 {
    35.0
}

/// Why a helicopter does not fly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum FlightHindrance {
    /// Visibility below the limit, or unknown.
    Visibility,
    /// The sun below the limit, or unknown.
    Darkness,
    /// Wind above the limit, or unknown.
    Wind,
}

impl FlightHindrance {
    /// The hindrance in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Visibility => "visibility below the helicopter's limit, or unknown",
            Self::Darkness => "too dark for the helicopter",
            Self::Wind => "wind above the helicopter's limit, or unknown",
        }
    }
}

impl fmt::Display for FlightHindrance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

impl Helicopter {
    /// Whether the weather lets it fly. What is unknown (not a number) does not.
    ///
    /// # Errors
    ///
    /// The first hindrance.
    pub fn may_fly(
        &self,
        visibility_km: f64,
        sun_altitude_deg: f64,
        wind_kn: f64,
    ) -> Result<(), FlightHindrance> {
        if !(self.least_visibility_km..).contains(&visibility_km) {
            Err(FlightHindrance::Visibility)
        } else if !(self.least_sun_deg..).contains(&sun_altitude_deg) {
            Err(FlightHindrance::Darkness)
        } else if !(0.0..=self.greatest_wind_kn).contains(&wind_kn) {
            Err(FlightHindrance::Wind)
        } else {
            Ok(())
        }
    }

    /// Reserve and contingency: what must be left on landing.
    #[must_use]
    pub fn held_kg(&self) -> f64 {
        self.burn_kg_per_h * self.reserve_min / 60.0 + self.contingency_fraction * self.fuel_kg
    }

    /// Burnt at the target with the engine running.
    #[must_use]
    pub fn on_scene_kg(&self) -> f64 {
        self.burn_kg_per_h * self.on_scene_min / 60.0
    }

    /// How far it may go along a course and come back along it, in one steady wind, with its
    /// reserve, contingency and time on scene. 0 where it may not go at all.
    #[must_use]
    pub fn radius_km(&self, wind_kn: f64, wind_from_deg: f64, course_deg: f64) -> f64 {
        let out = ground_speed(self.airspeed_kn, wind_kn, wind_from_deg, course_deg);
        let home = ground_speed(self.airspeed_kn, wind_kn, wind_from_deg, course_deg + 180.0);
        let held_kg = self.held_kg() + self.on_scene_kg();
        let (Some(out_kn), Some(home_kn)) = (out, home) else {
            return 0.0;
        };
        radius_of_action_nm(
            self.fuel_kg,
            held_kg,
            (self.burn_kg_per_h, out_kn),
            (self.burn_kg_per_h, home_kn),
        )
        .map_or(0.0, |radius_nm| KM_PER_NAUTICAL_MILE * radius_nm)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const MACHINE: Helicopter = Helicopter {
        airspeed_kn: 120.0,
        fuel_kg: 600.0,
        burn_kg_per_h: 200.0,
        reserve_min: 30.0,
        contingency_fraction: 0.05,
        on_scene_min: 15.0,
        least_visibility_km: 5.0,
        least_sun_deg: -6.0,
        greatest_wind_kn: 35.0,
    };

    #[test]
    fn in_still_air_half_of_what_is_left_goes_out() {
        let hours = (600.0 - 100.0 - 30.0 - 50.0) / 200.0;
        assert!((MACHINE.radius_km(0.0, 0.0, 77.0) - 0.5 * hours * 120.0 * 1.852).abs() < 1e-9);
        assert_eq!(MACHINE.radius_km(130.0, 0.0, 0.0), 0.0);
        assert_eq!(Helicopter { on_scene_min: 600.0, ..MACHINE }.radius_km(0.0, 0.0, 0.0), 0.0);
    }

    #[test]
    fn unknown_weather_does_not_fly() {
        assert_eq!(MACHINE.may_fly(10.0, 5.0, 10.0), Ok(()));
        assert_eq!(MACHINE.may_fly(f64::NAN, 5.0, 10.0), Err(FlightHindrance::Visibility));
        assert_eq!(MACHINE.may_fly(10.0, -6.1, 10.0), Err(FlightHindrance::Darkness));
        assert_eq!(MACHINE.may_fly(10.0, 5.0, f64::NAN), Err(FlightHindrance::Wind));
        assert_eq!(MACHINE.may_fly(10.0, 5.0, 36.0), Err(FlightHindrance::Wind));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn any_wind_shortens(wind in 0.0..119.0, from in 0.0..360.0, course in 0.0..360.0) {
            let still = MACHINE.radius_km(0.0, 0.0, course);
            prop_assert!(MACHINE.radius_km(wind, from, course) <= still * (1.0 + 1e-12));
        }
    }
}
