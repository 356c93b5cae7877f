//! The kind `helicopter`: a last leg through the air.

use dipward_geodesy::KM_PER_NAUTICAL_MILE;
use dipward_plugin::{
    AirStores, AirWeather, Aircraft, Assumption, BuildContext, Fault, Faults, LandingGround,
    LandingRule, LastLeg, LastLegPoint, Means, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{FlightHindrance, Helicopter, LandsOn, ground_speed};

/// A helicopter that the ship carries flies the last leg. Kind `helicopter`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HelicopterSpec {
    /// Its name.
    #[serde(default = "default_name")]
    #[schemars(length(min = 1))]
    pub name: String,
    /// The machine and its limits.
    pub machine: Helicopter,
    /// What it lands on at the pole.
    #[serde(default)]
    pub lands_on: LandsOn,
    /// Fuel that the ship carries for all its sorties, the tank included.
    #[schemars(range(min = 10.0, max = 1_000_000.0))]
    pub fuel_aboard_kg: f64,
    /// Hours between landing on the ship and the next sortie.
    #[serde(default = "default_turnaround")]
    #[schemars(range(min = 0.0, max = 240.0))]
    pub turnaround_h: f64,
    /// The longest stay on the ice in one sortie, engine stopped, hours.
    #[serde(default = "default_ground")]
    #[schemars(range(min = 0.0, max = 72.0))]
    pub most_ground_h: f64,
    /// How far beyond the mean pole the radius of action must reach, for the pole's wander, km.
    #[serde(default = "default_allowance")]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub allowance_km: f64,
    /// Shares of the radius of action within which the ship looks for a landing: one approach each.
    #[serde(default = "default_shares")]
    #[schemars(length(min = 1, max = 8), inner(range(min = 0.05, max = 1.0)))]
    pub reach_shares: Vec<f64>,
}

fn default_name() -> String {
    "helicopter".to_owned()
}

fn default_turnaround() -> f64 {
    1.0
}

fn default_ground() -> f64 {
    6.0
}

fn default_allowance() -> f64 {
    20.0
}

fn default_shares() -> Vec<f64> {
    vec![1.0, 0.5]
}

impl Spec for HelicopterSpec {
    type Point = LastLegPoint;
    const KIND: &'static str = "helicopter";
    const SUMMARY: &'static str =
        "the ship's helicopter flies out and back within its radius of action, by day and in sight";
    const EXAMPLE: &'static str = "\
kind: helicopter
name: an invented light twin
machine: {airspeed_kn: 120, fuel_kg: 600, burn_kg_per_h: 200, on_scene_min: 15}
fuel_aboard_kg: 4000
turnaround_h: 1
allowance_km: 20
reach_shares: [1, 0.5]
";

    fn build(self, _: &BuildContext) -> Result<Box<dyn LastLeg>, Faults> {
        if self.fuel_aboard_kg < self.machine.fuel_kg {
            let message = "the ship carries less fuel for it than its tank holds";
            return Err(Fault::at("/fuel_aboard_kg", message)
                .help(format!("`machine.fuel_kg` is {}", self.machine.fuel_kg))
                .into());
        }
        if self.machine.held_kg() + self.machine.on_scene_kg() >= self.machine.fuel_kg {
            let message = "reserve, contingency and the time on scene leave no fuel to fly on";
            return Err(Fault::at("/machine/fuel_kg", message)
                .help("carry more fuel or shorten `on_scene_min`")
                .into());
        }
        Ok(Box::new(HelicopterLeg(self)))
    }
}

#[derive(Debug)]
struct HelicopterLeg(HelicopterSpec);

impl LastLeg for HelicopterLeg {
    fn name(&self) -> String {
        self.0.name.clone()
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "helicopter".into(),
            source:
                "radius of action: the algebra of fuel, flows and ground speeds; wind triangle: \
                     FAA-H-8083-25, chapter Navigation, from memory; reserves: as each rule says"
                    .into(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let HelicopterSpec { name, machine, most_ground_h, allowance_km, lands_on, .. } = &self.0;
        let by_rule = machine.reserve_min.is_none() || machine.contingency_fraction.is_none();
        let source = if by_rule { machine.fuel_rule.source() } else { "as stated" };
        let ground = if lands_on.floats {
            "it has floats, and lands on water and on any ice".to_owned()
        } else {
            format!(
                "it lands on land, on shelves, and on ice of {} concentration and {} m{}",
                lands_on.least_concentration,
                lands_on.least_thickness_m,
                lands_on.youngest.map_or_else(
                    || ", whatever its age".to_owned(),
                    |_| ", no younger than stated".to_owned()
                )
            )
        };
        [
            format!(
                "{name} flies by sight from {} km of visibility, with the sun from {} degrees, in up to \
                 {} kn of wind, all along the line from the ship to the mean pole, from taking off until it is \
                 back; what is not known does not let it fly",
                machine.least_visibility_km, machine.least_sun_deg, machine.greatest_wind_kn
            ),
            format!(
                "{name} lands with {:.0} min of fuel and {:.0} % of the tank left ({source}); the wind is the \
                 worst of five places along the line",
                machine.held_min(),
                100.0 * machine.held_fraction()
            ),
            format!(
                "{name} stands at the pole for up to {most_ground_h} h, engine running for {:.0} min of it; \
                 {ground}, outside closed zones, and not on what is not known; that it starts again is not \
                 shown",
                machine.on_scene_min
            ),
            format!(
                "the ship lands {name} where its radius of action reaches {allowance_km} km beyond the \
                 mean pole"
            ),
        ]
        .map(|text| Assumption::new("last_leg", text))
        .to_vec()
    }

    fn landing(&self) -> LandingRule {
        LandingRule { allowance_km: self.0.allowance_km, shares: self.0.reach_shares.clone() }
    }

    fn means(&self) -> Means<'_> {
        Means::Air(self)
    }
}

impl Aircraft for HelicopterLeg {
    fn may_fly(&self, weather: &AirWeather) -> Result<(), &'static str> {
        let AirWeather { visibility_km, sun_altitude_deg, wind_kn, .. } = *weather;
        self.0
            .machine
            .may_fly(visibility_km, sun_altitude_deg, wind_kn)
            .map_err(FlightHindrance::words)
    }

    fn may_land(&self, ground: &LandingGround) -> Result<(), &'static str> {
        self.0.lands_on.may_land(ground)
    }

    fn ground_speed_km_h(&self, weather: &AirWeather, course_deg: f64) -> Option<f64> {
        ground_speed(self.0.machine.airspeed_kn, weather.wind_kn, weather.wind_from_deg, course_deg)
            .map(|speed_kn| KM_PER_NAUTICAL_MILE * speed_kn)
    }

    fn stores(&self) -> AirStores {
        let machine = &self.0.machine;
        AirStores {
            tank_kg: machine.fuel_kg,
            aboard_kg: self.0.fuel_aboard_kg,
            burn_kg_per_h: machine.burn_kg_per_h,
            held_kg: machine.held_kg(),
            on_scene_kg: machine.on_scene_kg(),
            turnaround_h: self.0.turnaround_h,
            most_ground_h: self.0.most_ground_h,
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        Clock,
        conformance::{check_example, check_last_leg},
    };

    use super::*;
    use crate::flight::FlightFuelRule;

    fn context() -> BuildContext {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        BuildContext::new(".", Hemisphere::South, clock, 240.0)
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        let built = check_example::<HelicopterSpec>(&context()).unwrap();
        check_last_leg(built.object.as_ref()).unwrap();
    }

    #[test]
    fn fuel_that_does_not_fit_is_told() {
        let spec = |aboard: f64, on_scene: f64| HelicopterSpec {
            name: default_name(),
            machine: Helicopter {
                airspeed_kn: 120.0,
                fuel_kg: 600.0,
                burn_kg_per_h: 200.0,
                fuel_rule: FlightFuelRule::HostileGround,
                reserve_min: None,
                contingency_fraction: Some(0.05),
                on_scene_min: on_scene,
                least_visibility_km: 5.0,
                least_sun_deg: -6.0,
                greatest_wind_kn: 35.0,
            },
            lands_on: LandsOn::default(),
            fuel_aboard_kg: aboard,
            turnaround_h: 1.0,
            most_ground_h: 6.0,
            allowance_km: 20.0,
            reach_shares: vec![1.0],
        };
        assert!(spec(600.0, 15.0).build(&context()).is_ok());
        assert!(spec(599.0, 15.0).build(&context()).is_err());
        assert!(spec(600.0, 141.0).build(&context()).is_err());
    }
}
