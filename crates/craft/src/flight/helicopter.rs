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
    /// The rule for reserve and contingency, where they are not stated below.
    #[serde(default)]
    pub fuel_rule: FlightFuelRule,
    /// Minutes of burn that must be left on landing; by the rule, where it is not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 20.0, max = 240.0))]
    pub reserve_min: Option<f64>,
    /// Part of the fuel for the unforeseen; by the rule, where it is not stated. The rules take it of the trip;
    /// it is taken of all usable fuel here, which is more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 0.5))]
    pub contingency_fraction: Option<f64>,
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

fn default_visibility() -> f64 {
    5.0
}

fn default_sun() -> f64 {
    -6.0
}

fn default_wind() -> f64 {
    35.0
}

/// Rules for what must be left in the tank.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FlightFuelRule {
    /// By sight, by day and over friendly ground, where one may land anywhere: 20 min of reserve (ICAO Annex 6,
    /// from memory) and 5 % of contingency (seen in Singapore's ANR, regulation 47(4)).
    FriendlyGround,
    /// By sight: 20 min of reserve and 10 % of contingency (both seen in a German rule).
    Sight,
    /// Over hostile ground, as pack ice is: 30 min of reserve (ICAO Annex 6 by instruments, from memory) and
    /// 10 % of contingency (EASA, from memory).
    #[default]
    HostileGround,
}

impl FlightFuelRule {
    /// Minutes of reserve.
    #[must_use]
    pub const fn reserve_min(self) -> f64 {
        match self {
            Self::FriendlyGround | Self::Sight => 20.0,
            Self::HostileGround => 30.0,
        }
    }

    /// Part of the fuel for the unforeseen.
    #[must_use]
    pub const fn contingency_fraction(self) -> f64 {
        match self {
            Self::FriendlyGround => 0.05,
            Self::Sight | Self::HostileGround => 0.10,
        }
    }

    /// Where the rule stands.
    #[must_use]
    pub const fn source(self) -> &'static str {
        match self {
            Self::FriendlyGround => {
                "over friendly ground by day: 20 min by ICAO Annex 6, from memory; 5 % seen in Singapore's \
                 ANR, regulation 47(4)"
            }
            Self::Sight => "by sight: 20 min and 10 %, seen in a German rule",
            Self::HostileGround => {
                "over hostile ground: 30 min by ICAO Annex 6, 10 % by EASA, both from memory"
            }
        }
    }
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

    /// Minutes of reserve, as stated or by the rule.
    #[must_use]
    pub fn held_min(&self) -> f64 {
        self.reserve_min.unwrap_or_else(|| self.fuel_rule.reserve_min())
    }

    /// Part of the fuel for the unforeseen, as stated or by the rule.
    #[must_use]
    pub fn held_fraction(&self) -> f64 {
        self.contingency_fraction.unwrap_or_else(|| self.fuel_rule.contingency_fraction())
    }

    /// Reserve and contingency: what must be left on landing.
    #[must_use]
    pub fn held_kg(&self) -> f64 {
        self.burn_kg_per_h * self.held_min() / 60.0 + self.held_fraction() * self.fuel_kg
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
        fuel_rule: FlightFuelRule::HostileGround,
        reserve_min: None,
        contingency_fraction: Some(0.05),
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

    /// Seen: Singapore's 5 % is for flight by sight over friendly ground by day; a German rule has 20 min and
    /// 10 %; 10 % over hostile ground and 30 min by instruments are from memory.
    #[test]
    fn published_reserves_hold_where_none_is_stated() {
        let held_kg =
            |fuel_rule| Helicopter { fuel_rule, contingency_fraction: None, ..MACHINE }.held_kg();
        assert!((held_kg(FlightFuelRule::FriendlyGround) - (200.0 / 3.0 + 30.0)).abs() < 1e-9);
        assert!((held_kg(FlightFuelRule::Sight) - (200.0 / 3.0 + 60.0)).abs() < 1e-9);
        assert!((held_kg(FlightFuelRule::default()) - (100.0 + 60.0)).abs() < 1e-9);
        let stated = Helicopter { reserve_min: Some(45.0), ..MACHINE };
        assert!((stated.held_kg() - (150.0 + 30.0)).abs() < 1e-9);
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
