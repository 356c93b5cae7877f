use std::fmt::Debug;

use serde::{Deserialize, Serialize};

use crate::{Assumption, Craft, Provenance};

/// Carries a party from where the ship lies to the pole and back. YAML slot `last_leg[]`.
pub trait LastLeg: Debug + Send + Sync {
    /// Its name in reports.
    fn name(&self) -> String;

    /// Name and source of the physics.
    fn provenance(&self) -> Provenance;

    /// What it takes for granted.
    fn assumptions(&self) -> Vec<Assumption>;

    /// Where the ship may land it.
    fn landing(&self) -> LandingRule;

    /// How it goes.
    fn means(&self) -> Means<'_>;
}

/// Which landings are good enough.
#[derive(Debug, Clone, PartialEq)]
pub struct LandingRule {
    /// How far beyond the mean pole the reach must go, for the pole's wander, km.
    pub allowance_km: f64,
    /// Shares of the reach, each of more than 0 and at most 1, within which a landing is sought: one
    /// approach each. A nearer landing costs the ship more and leaves the party more.
    pub shares: Vec<f64>,
}

/// How a last leg goes: that decides what the planner asks of it.
#[derive(Debug, Clone, Copy)]
pub enum Means<'a> {
    /// Straight through the air, in sorties.
    Air(&'a dyn Aircraft),
    /// Over the ice, by its own pace in every cell, once out and home.
    OverIce(&'a dyn OverIceParty),
}

/// The weather at one place and hour, to one who flies. What is not known is not a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirWeather {
    /// Horizontal visibility.
    pub visibility_km: f64,
    /// Altitude of the sun's centre.
    pub sun_altitude_deg: f64,
    /// Speed of the wind.
    pub wind_kn: f64,
    /// Where the wind comes from, in the frame of the courses that are asked for.
    pub wind_from_deg: f64,
}

/// What flies the last leg.
pub trait Aircraft: Debug + Send + Sync {
    /// Whether it flies in a weather.
    ///
    /// # Errors
    ///
    /// Why not, in words.
    fn may_fly(&self, weather: &AirWeather) -> Result<(), &'static str>;

    /// Speed over the ground on a course; nothing where it makes no way. Along a way out and back no
    /// wind makes the mean pace better than that of still air.
    fn ground_speed_km_h(&self, weather: &AirWeather, course_deg: f64) -> Option<f64>;

    /// Fuel and what it must last for.
    fn stores(&self) -> AirStores;
}

/// Fuel of an aircraft and what it must last for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirStores {
    /// Usable fuel of one sortie.
    pub tank_kg: f64,
    /// Fuel that the ship carries for all sorties, the tank included.
    pub aboard_kg: f64,
    /// Burn in flight.
    pub burn_kg_per_h: f64,
    /// Reserve and contingency: what must be left on landing.
    pub held_kg: f64,
    /// Burnt at the target, engines running.
    pub on_scene_kg: f64,
    /// Hours between landing on the ship and the next sortie.
    pub turnaround_h: f64,
    /// The longest stay on the ice in one sortie.
    pub most_ground_h: f64,
}

/// What goes over the ice on the last leg.
pub trait OverIceParty: Debug + Send + Sync {
    /// Its pace, burn and limits.
    fn craft(&self) -> &dyn Craft;

    /// Fuel set aside for moving about at the pole, t.
    fn chase_t(&self) -> f64;

    /// Follows the fuel of a march out, a stay and a march home.
    ///
    /// # Errors
    ///
    /// Why the fuel does not do, in words.
    fn march(&self, march: &March) -> Result<MarchFuel, String>;
}

/// A march: out, stay, home.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct March {
    /// From the landing to the pole.
    pub out: Stretch,
    /// Hours at the pole.
    pub stay_h: f64,
    /// From the pole to the landing.
    pub home: Stretch,
}

/// A part of a march.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Its length.
    pub distance_km: f64,
    /// Its hours, rest included.
    pub hours: f64,
}

/// The fuel of a march that does.
#[derive(Debug, Clone, PartialEq)]
pub struct MarchFuel {
    /// Usable when leaving the ship.
    pub capacity_t: f64,
    /// Burnt on the way out.
    pub out_t: f64,
    /// Burnt at the pole, with what is set aside for moving about.
    pub stay_t: f64,
    /// Burnt on the way home.
    pub home_t: f64,
    /// To be left on return.
    pub reserve_t: f64,
    /// What is laid and drawn on the way.
    pub depots: Vec<DepotFuel>,
}

/// A depot of a march.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DepotFuel {
    /// Kilometres of way from the landing.
    pub at_km: f64,
    /// Laid on the way out, t; 0 where it was laid beforehand.
    pub laid_t: f64,
    /// Drawn on the way home, t.
    pub drawn_t: f64,
}
