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

/// What one who flies would land on, at one place and hour. What is not known is not a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandingGround {
    /// More than a half on land.
    pub land: f64,
    /// More than a half on an ice shelf.
    pub shelf: f64,
    /// More than a half in a zone that is closed.
    pub closed: f64,
    /// Total concentration of the sea ice.
    pub ice_concentration: f64,
    /// Its thickness.
    pub ice_thickness_m: f64,
    /// Concentrations by stage, in the order of [`crate::Quantity::ICE_PARTIALS`].
    pub ice_partials: [f64; 11],
}

impl LandingGround {
    /// A place of which nothing is known.
    pub const UNKNOWN: Self = Self {
        land: f64::NAN,
        shelf: f64::NAN,
        closed: f64::NAN,
        ice_concentration: f64::NAN,
        ice_thickness_m: f64::NAN,
        ice_partials: [f64::NAN; 11],
    };
}

/// What flies the last leg.
pub trait Aircraft: Debug + Send + Sync {
    /// Whether it flies in a weather.
    ///
    /// # Errors
    ///
    /// Why not, in words.
    fn may_fly(&self, weather: &AirWeather) -> Result<(), &'static str>;

    /// Whether it lands on a ground and stands there.
    ///
    /// # Errors
    ///
    /// Why not, in words.
    fn may_land(&self, ground: &LandingGround) -> Result<(), &'static str>;

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

    /// Its depots; none by default.
    fn depots(&self) -> DepotRule {
        DepotRule::default()
    }

    /// Follows the fuel of a march out, a stay and a march home.
    ///
    /// # Errors
    ///
    /// Why the fuel does not do, in words.
    fn march(&self, march: &March) -> Result<MarchFuel, String>;
}

/// Where a party's depots lie, and what becomes of them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DepotRule {
    /// Kilometres of way from the landing, in the order of the way out.
    pub at_km: Vec<f64>,
    /// How fast the ice that they lie on drifts, km/h.
    pub drift_km_per_h: f64,
    /// Where to, a true course.
    pub drift_toward_deg: f64,
    /// How near the way home must pass one for it to be found and drawn, km.
    pub found_within_km: f64,
}

/// A march: out, stay, home.
#[derive(Debug, Clone, PartialEq)]
pub struct March {
    /// From the landing to the pole.
    pub out: Stretch,
    /// Hours at the pole.
    pub stay_h: f64,
    /// From the pole to the landing.
    pub home: Stretch,
    /// How the ways pass the depots of [`OverIceParty::depots`], in their order.
    pub passes: Vec<DepotPass>,
}

/// A part of a march.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Stretch {
    /// Its length.
    pub distance_km: f64,
    /// Its hours, rest and waits included.
    pub hours: f64,
    /// Of these, hours that the party waits for the way to open.
    pub waited_h: f64,
}

/// How the ways of a march pass a depot.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct DepotPass {
    /// The way from the landing to it; nothing where it would lie beyond the pole: then it is not laid.
    pub out: Option<Stretch>,
    /// The way from the pole to it, as far as it has drifted; nothing where the way home passes it by.
    pub home: Option<Stretch>,
    /// How far off the way home it lies.
    pub off_way_km: f64,
}

impl Stretch {
    /// A part of it, as if it were the same all along.
    #[must_use]
    pub fn part(self, distance_km: f64) -> Self {
        let share = if self.distance_km > 0.0 { distance_km / self.distance_km } else { 0.0 };
        Self { distance_km, hours: self.hours * share, waited_h: self.waited_h * share }
    }
}

impl March {
    /// A march out and home along one way, on ice that lies still.
    #[must_use]
    pub fn there_and_back(way: Stretch, stay_h: f64, depots: &DepotRule) -> Self {
        let pass = |&at_km: &f64| {
            let on_way = at_km <= way.distance_km;
            DepotPass {
                out: on_way.then(|| way.part(at_km)),
                home: on_way.then(|| way.part(way.distance_km - at_km)),
                off_way_km: 0.0,
            }
        };
        Self { out: way, stay_h, home: way, passes: depots.at_km.iter().map(pass).collect() }
    }

    /// The march if both ways were longer and the depots lay where they lie, as far from the landing.
    #[must_use]
    pub fn longer(&self, times: f64) -> Self {
        let grown = |stretch: Stretch| stretch.part(stretch.distance_km * times);
        let further = |pass: &DepotPass| DepotPass {
            home: pass.home.map(|home| Stretch {
                distance_km: home.distance_km + (times - 1.0) * self.home.distance_km,
                hours: home.hours + (times - 1.0) * self.home.hours,
                waited_h: home.waited_h + (times - 1.0) * self.home.waited_h,
            }),
            ..*pass
        };
        Self {
            out: grown(self.out),
            stay_h: self.stay_h,
            home: grown(self.home),
            passes: self.passes.iter().map(further).collect(),
        }
    }
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
    /// Drawn on the way home, t; 0 where the way home passes it by.
    pub drawn_t: f64,
    /// How far off the way home it lies by then, where it is not drawn for that, km.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_way_km: Option<f64>,
}
