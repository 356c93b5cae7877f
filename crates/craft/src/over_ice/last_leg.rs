//! The kind `over_ice_party`: a last leg over the ice, with depots.

use dipward_plugin::{
    Assumption, BuildContext, Craft, DepotFuel, Fault, Faults, LandingRule, LastLeg, LastLegPoint,
    March, MarchFuel, Means, OverIceParty, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    Depot, PartyFuel, TrackedPartySpec, TraverseBurn, TraverseFailure, Vehicles, party::tonnes,
};

/// A tracked party that the ship sets on the ice goes the last leg. Kind `over_ice_party`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OverIcePartySpec {
    /// The party, with the keys of the craft `tracked_party`.
    pub party: TrackedPartySpec,
    /// Depots of fuel, in the order of the way out.
    #[serde(default)]
    pub depots: Vec<DepotKeys>,
    /// Fuel set aside for moving about at the pole, litres.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub chase_fuel_l: f64,
    /// How far beyond the mean pole the march must reach, for the pole's wander, km.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub allowance_km: f64,
    /// Shares of the reach within which the ship looks for a landing: one approach each.
    #[serde(default = "default_shares")]
    #[schemars(length(min = 1, max = 8), inner(range(min = 0.05, max = 1.0)))]
    pub reach_shares: Vec<f64>,
}

/// A depot of fuel, drawn on the way home.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepotKeys {
    /// Kilometres of way from the landing. A depot beyond the pole is not laid.
    #[schemars(range(min = 0.0, max = 10_000.0))]
    pub at_km: f64,
    /// Litres.
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub fuel_l: f64,
    /// Whether it lies there already; else the party lays it on its way out, out of its own fuel.
    #[serde(default)]
    pub laid_beforehand: bool,
}

fn default_shares() -> Vec<f64> {
    vec![1.0, 0.5]
}

impl Spec for OverIcePartySpec {
    type Point = LastLegPoint;
    const KIND: &'static str = "over_ice_party";
    const SUMMARY: &'static str =
        "a tracked party from the ship over the ice and back, with depots laid and drawn";
    const EXAMPLE: &'static str = "\
kind: over_ice_party
party:
  name: an invented party of two light snow vehicles
  vehicles: {speed_km_h: 12, heaviest_t: 6, payload_t: 4, empty_l_per_km: 2.4, per_tonne_l_per_km: 0.15, idle_l_per_h: 1.5}
  fuel: {capacity_l: 1500, reserve_fraction: 0.3}
  bearing: {convention: {gold: {a_kg_per_cm2: 4}}}
  travel_hours_per_day: 10
depots: [{at_km: 40, fuel_l: 150}]
chase_fuel_l: 100
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn LastLeg>, Faults> {
        let mut faults = Faults::default();
        if self.depots.windows(2).any(|pair| pair[1].at_km < pair[0].at_km) {
            faults.push(
                Fault::at("/depots", "the depots are not in the order of the way out")
                    .help("sort them by `at_km`"),
            );
        }
        match self.party.clone().build(context) {
            Ok(craft) => faults.into_result(Box::new(OverIceLeg { craft, spec: self }) as _),
            Err(of_party) => {
                faults.extend(of_party.within("/party"));
                Err(faults)
            }
        }
    }
}

#[derive(Debug)]
struct OverIceLeg {
    craft: Box<dyn Craft>,
    spec: OverIcePartySpec,
}

impl OverIceLeg {
    fn tonnes(&self, litres: f64) -> f64 {
        tonnes(litres, &self.spec.party.fuel)
    }

    /// The burn on a march: what is burnt at rest is spread over its kilometres.
    fn burn(&self, march: &March) -> Result<TraverseBurn, String> {
        let TrackedPartySpec { vehicles, fuel, travel_hours_per_day, .. } = &self.spec.party;
        let Vehicles { empty_l_per_km, per_tonne_l_per_km, payload_t, idle_l_per_h, .. } =
            *vehicles;
        let PartyFuel { density_kg_per_l, .. } = *fuel;
        let rest_h = (march.out.hours + march.home.hours) * (1.0 - travel_hours_per_day / 24.0);
        let way_km = march.out.distance_km + march.home.distance_km;
        let idle_l_per_km = if way_km > 0.0 { idle_l_per_h * rest_h / way_km } else { 0.0 };
        TraverseBurn::new(
            empty_l_per_km + idle_l_per_km,
            per_tonne_l_per_km,
            payload_t,
            density_kg_per_l,
        )
        .map_err(|error| error.to_string())
    }
}

impl LastLeg for OverIceLeg {
    fn name(&self) -> String {
        self.craft.name()
    }

    fn provenance(&self) -> Provenance {
        self.craft.provenance()
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let craft = self.craft.assumptions().into_iter();
        let mut all: Vec<Assumption> =
            craft.map(|said| Assumption::new("last_leg", said.text)).collect();
        all.push(Assumption::new(
            "last_leg",
            "the fuel of the march itself is followed as the load falls, whatever the burn above is \
             reckoned for; what is burnt at rest is spread evenly over the way",
        ));
        all
    }

    fn landing(&self) -> LandingRule {
        LandingRule { allowance_km: self.spec.allowance_km, shares: self.spec.reach_shares.clone() }
    }

    fn means(&self) -> Means<'_> {
        Means::OverIce(self)
    }
}

impl OverIceParty for OverIceLeg {
    fn craft(&self) -> &dyn Craft {
        self.craft.as_ref()
    }

    fn chase_t(&self) -> f64 {
        self.tonnes(self.spec.chase_fuel_l)
    }

    fn march(&self, march: &March) -> Result<MarchFuel, String> {
        let burn = self.burn(march)?;
        let stores = self.craft.stores();
        let (out_km, home_km) = (march.out.distance_km, march.home.distance_km);
        let depots: Vec<&DepotKeys> =
            self.spec.depots.iter().filter(|depot| depot.at_km <= out_km.min(home_km)).collect();
        let laid = |depot: &DepotKeys| {
            if depot.laid_beforehand { 0.0 } else { self.tonnes(depot.fuel_l) }
        };
        let stay_t = stores.hold_t_per_h * march.stay_h + self.chase_t();
        let out = depots.iter().map(|depot| Depot { at_km: depot.at_km, draw_t: -laid(depot) });
        let home = depots.iter().rev().map(|depot| Depot {
            at_km: out_km + home_km - depot.at_km,
            draw_t: self.tonnes(depot.fuel_l),
        });
        let pole = Depot { at_km: out_km, draw_t: -stay_t };
        let stops: Vec<Depot> = out.chain([pole]).chain(home).collect();
        let tank = (stores.capacity_t, stores.capacity_t, stores.reserve_t);
        let arrivals = burn
            .follow(out_km + home_km, tank, &stops)
            .map_err(|failure| in_words(failure, out_km))?;

        // Arrivals stand in the order of the stops, the return last.
        let at_pole_t = arrivals.get(depots.len()).copied().unwrap_or(0.0);
        let left_t = arrivals.last().copied().unwrap_or(0.0);
        let mut told: Vec<DepotFuel> = depots
            .iter()
            .zip(arrivals.iter().rev().skip(1))
            .map(|(depot, arrive_t)| DepotFuel {
                at_km: depot.at_km,
                laid_t: laid(depot),
                // What the tank does not take stays there.
                drawn_t: self.tonnes(depot.fuel_l).min(stores.capacity_t - arrive_t),
            })
            .collect();
        told.sort_by(|a, b| a.at_km.total_cmp(&b.at_km));
        let laid_t: f64 = told.iter().map(|depot| depot.laid_t).sum();
        let drawn_t: f64 = told.iter().map(|depot| depot.drawn_t).sum();
        Ok(MarchFuel {
            capacity_t: stores.capacity_t,
            out_t: stores.capacity_t - laid_t - at_pole_t,
            stay_t,
            home_t: at_pole_t - stay_t + drawn_t - left_t,
            reserve_t: stores.reserve_t,
            depots: told,
        })
    }
}

fn in_words(failure: TraverseFailure, out_km: f64) -> String {
    match failure {
        TraverseFailure::Dry { at_km } if at_km < out_km => format!(
            "the fuel is down to the reserve {at_km:.0} km out of {out_km:.0} km to the pole"
        ),
        TraverseFailure::Dry { at_km } => format!(
            "the fuel is down to the reserve on the way home, {:.0} km from the pole",
            at_km - out_km
        ),
        TraverseFailure::Overdrawn { at_km } if at_km < out_km => {
            format!("the depot at {at_km:.0} km takes more fuel than there is to spare")
        }
        TraverseFailure::Overdrawn { .. } => {
            "the stay at the pole takes more fuel than there is to spare".to_owned()
        }
        TraverseFailure::Unordered => "the march is no way".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        Clock, Stretch,
        conformance::{check_example, check_last_leg},
    };
    use serde_json::json;

    use super::*;

    fn context() -> BuildContext {
        let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
        BuildContext::new(".", Hemisphere::South, clock, 240.0)
    }

    fn leg(depots: serde_json::Value) -> Box<dyn LastLeg> {
        let spec: OverIcePartySpec = serde_json::from_value(json!({
            "party": {
                "vehicles": {"speed_km_h": 12, "heaviest_t": 6, "payload_t": 4,
                    "empty_l_per_km": 2.4, "per_tonne_l_per_km": 0.15, "idle_l_per_h": 1.5},
                "fuel": {"capacity_l": 1000, "density_kg_per_l": 0.8, "reserve_fraction": 0.25},
                "bearing": {"convention": {"gold": {"a_kg_per_cm2": 4}}},
                "travel_hours_per_day": 12,
            },
            "depots": depots,
        }))
        .unwrap();
        spec.build(&context()).unwrap()
    }

    fn march(leg: &dyn LastLeg, distance_km: f64, stay_h: f64) -> Result<MarchFuel, String> {
        let Means::OverIce(party) = leg.means() else { unreachable!("it goes over the ice") };
        let stretch = Stretch { distance_km, hours: distance_km / 3.0 };
        party.march(&March { out: stretch, stay_h, home: stretch })
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        let built = check_example::<OverIcePartySpec>(&context()).unwrap();
        check_last_leg(built.object.as_ref()).unwrap();
    }

    /// The closed form of dF/ds = -(c + k F): F(s) = (F0 + c/k) exp(-k s) - c/k, with what is laid,
    /// spent and drawn taken off and put on between.
    #[test]
    fn fuel_follows_the_exponential_between_depots() {
        let leg = leg(
            json!([{"at_km": 30, "fuel_l": 100}, {"at_km": 50, "fuel_l": 60, "laid_beforehand": true}]),
        );
        // A third of an hour a kilometre, half of it at rest, 1.5 l/h idle.
        let c = (2.4 + 0.15 * 4.0 + 1.5 / 6.0) * 0.8e-3;
        let k = 0.15 * 0.8e-3;
        let after = |fuel_t: f64, km: f64| (fuel_t + c / k) * (-k * km).exp() - c / k;
        let at_pole_t = after(after(0.8, 30.0) - 0.08, 50.0);
        let stay_t = 10.0 * 1.5 * 0.8e-3;
        let last = after(after(after(at_pole_t - stay_t, 30.0) + 0.048, 20.0) + 0.08, 30.0);
        let fuel = march(leg.as_ref(), 80.0, 10.0).unwrap();
        assert!((fuel.out_t - (0.8 - 0.08 - at_pole_t)).abs() < 1e-12);
        assert!((fuel.stay_t - stay_t).abs() < 1e-12);
        assert!((fuel.home_t - (at_pole_t - stay_t + 0.128 - last)).abs() < 1e-12);
        assert_eq!(fuel.depots.len(), 2);
        assert_eq!((fuel.depots[0].laid_t, fuel.depots[0].drawn_t), (0.08, 0.08));
        assert_eq!((fuel.depots[1].laid_t, fuel.depots[1].drawn_t), (0.0, 0.8 * 0.06));
    }

    /// What lies in a depot is not hauled to the pole and back: the same fuel reaches further.
    #[test]
    fn a_depot_on_the_way_carries_further() {
        let farthest = |leg: &dyn LastLeg| {
            let tenths = 1..4000;
            tenths.take_while(|&tenth| march(leg, f64::from(tenth) / 10.0, 0.0).is_ok()).count()
        };
        let (without, with) = (leg(json!([])), leg(json!([{"at_km": 50, "fuel_l": 100}])));
        assert!(farthest(with.as_ref()) > farthest(without.as_ref()));
        let beforehand = leg(json!([{"at_km": 50, "fuel_l": 100, "laid_beforehand": true}]));
        assert!(farthest(beforehand.as_ref()) > farthest(with.as_ref()) + 100);
        let told = march(without.as_ref(), 300.0, 0.0).unwrap_err();
        assert!(told.contains("down to the reserve"), "{told}");
        let greedy = leg(json!([{"at_km": 10, "fuel_l": 800}]));
        let told = march(greedy.as_ref(), 20.0, 0.0).unwrap_err();
        assert!(told.contains("depot at 10 km"), "{told}");
    }
}
