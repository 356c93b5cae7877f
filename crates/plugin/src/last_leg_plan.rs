use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::{DepotFuel, WayBound, Waypoint};

/// The last leg of an approach in two stages: the ship lies at a landing, a party goes to the pole and
/// back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LastLegPlan {
    /// What carries the party.
    pub by: String,
    /// How it goes.
    pub travel: LegTravel,
    /// Where the ship lies.
    pub landing_latitude_deg: f64,
    /// Where the ship lies.
    pub landing_longitude_deg: f64,
    /// The ship comes to lie there.
    pub ship_arrives: Timestamp,
    /// The ship sails from there.
    pub ship_leaves: Timestamp,
    /// From the ship to the mean pole, along the geodesic.
    pub short_km: f64,
    /// Hours of the way out.
    pub out_h: f64,
    /// Hours of the way home.
    pub home_h: f64,
    /// The way out to the mean pole, with the fuel burnt since it began, t.
    pub out: Vec<Waypoint>,
    /// The way home, with the fuel burnt since it began, t.
    pub home: Vec<Waypoint>,
    /// The party's own fuel: of one sortie where it flies.
    pub fuel_t: LegFuel,
    /// How far out the leg could go and still come home with its reserve, by the pace and the weather
    /// of this leg.
    pub radius_km: f64,
    /// Hours out after which it could not come home with its reserve.
    pub no_return_h: f64,
    /// The bound on the hours of the way out over the ice; nothing where it flies, for that is straight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub out_bound: Option<WayBound>,
    /// The bound on the hours of the way home over the ice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub home_bound: Option<WayBound>,
    /// Sorties, where it flies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sorties: Option<Sorties>,
    /// Depots, where it goes over the ice.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub depots: Vec<DepotFuel>,
}

/// How a last leg goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LegTravel {
    /// Through the air.
    Air,
    /// Over the ice.
    OverIce,
}

impl LegTravel {
    /// "flies", "goes over the ice".
    #[must_use]
    pub const fn verb(self) -> &'static str {
        match self {
            Self::Air => "flies",
            Self::OverIce => "goes over the ice",
        }
    }
}

/// Fuel of a last leg, tonnes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LegFuel {
    /// Usable when leaving the ship.
    pub capacity: f64,
    /// Burnt on the way out.
    pub out: f64,
    /// Burnt at the pole.
    pub stay: f64,
    /// Burnt on the way home.
    pub home: f64,
    /// To be left on return.
    pub reserve: f64,
    /// Capacity less all of the above.
    pub margin: f64,
}

/// What is flown over the ensemble of pole tracks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sorties {
    /// Sorties flown, the mean over the members.
    pub mean: f64,
    /// Fuel burnt in all sorties, t, the mean over the members.
    pub mean_fuel_t: f64,
    /// The most fuel burnt in all sorties, t.
    pub most_fuel_t: f64,
    /// Fuel that the ship carries for them, t.
    pub aboard_t: f64,
    /// Whole hours of the ship's stay at which the weather lets it fly.
    pub hours_to_fly: u32,
}
