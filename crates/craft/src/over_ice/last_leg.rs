//! The kind `over_ice_party`: a last leg over the ice, with depots.

use dipward_plugin::{
    Assumption, BuildContext, Craft, DepotFuel, DepotPass, DepotRule, Fault, Faults, LandingRule,
    LastLeg, LastLegPoint, March, MarchFuel, Means, OverIceParty, Provenance, Spec, Stretch,
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
    /// How the ice drifts that the depots lie on; where it is not stated they lie still, and the plan says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ice_drift: Option<IceDrift>,
    /// How near the way home must pass a depot for it to be found and drawn, km: stated, not measured.
    #[serde(default = "default_found")]
    #[schemars(range(min = 0.0, max = 50.0))]
    pub found_within_km: f64,
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

/// A steady drift of the ice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IceDrift {
    /// Kilometres in 24 hours.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub km_per_day: f64,
    /// Where to, a true course in degrees.
    #[schemars(range(min = 0.0, max = 360.0))]
    pub toward_deg: f64,
}

fn default_found() -> f64 {
    0.5
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

    /// How far a stretch would be on hard, level snow for the hours that the vehicles move: they burn by the
    /// hour under way, so that slow ground costs more a kilometre, as in the craft `tracked_party`.
    fn hard_km(&self, stretch: &Stretch) -> f64 {
        let TrackedPartySpec { vehicles, travel_hours_per_day, .. } = &self.spec.party;
        (stretch.hours - stretch.waited_h) * travel_hours_per_day / 24.0 * vehicles.speed_km_h
    }

    /// The burn on a march for each kilometre on hard, level snow: what is burnt at rest and waiting is spread
    /// over them.
    fn burn(&self, march: &March) -> Result<TraverseBurn, String> {
        let TrackedPartySpec { vehicles, fuel, .. } = &self.spec.party;
        let Vehicles {
            empty_l_per_km,
            per_tonne_l_per_km,
            payload_t,
            idle_l_per_h,
            speed_km_h,
            ..
        } = *vehicles;
        let PartyFuel { density_kg_per_l, .. } = *fuel;
        let way_km = self.hard_km(&march.out) + self.hard_km(&march.home);
        let rest_h = march.out.hours + march.home.hours - way_km / speed_km_h;
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
        if !self.spec.depots.is_empty() {
            let drift = match self.spec.ice_drift {
                Some(IceDrift { km_per_day, toward_deg }) => format!(
                    "the depots drift with the ice, {km_per_day} km a day toward {toward_deg} degrees: \
                     stated, not measured"
                ),
                None => {
                    "how the ice under the depots drifts is not stated: they are taken to lie still"
                        .to_owned()
                }
            };
            let drawn = format!(
                "{drift}; a depot is drawn where the way home passes within {} km of it, and the party goes \
                 by way of its depots where it does not come home without them",
                self.spec.found_within_km
            );
            all.push(Assumption::new("last_leg", drawn));
        }
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

    fn depots(&self) -> DepotRule {
        let drift = self.spec.ice_drift.unwrap_or(IceDrift { km_per_day: 0.0, toward_deg: 0.0 });
        DepotRule {
            at_km: self.spec.depots.iter().map(|depot| depot.at_km).collect(),
            drift_km_per_h: drift.km_per_day / 24.0,
            drift_toward_deg: drift.toward_deg,
            found_within_km: self.spec.found_within_km,
        }
    }

    fn march(&self, march: &March) -> Result<MarchFuel, String> {
        let burn = self.burn(march)?;
        let stores = self.craft.stores();
        let out_km = self.hard_km(&march.out);
        let way_km = out_km + self.hard_km(&march.home);
        let depots: Vec<(&DepotKeys, &Stretch, &DepotPass)> = self
            .spec
            .depots
            .iter()
            .zip(&march.passes)
            .filter_map(|(depot, pass)| Some((depot, pass.out.as_ref()?, pass)))
            .collect();
        let laid = |depot: &DepotKeys| {
            if depot.laid_beforehand { 0.0 } else { self.tonnes(depot.fuel_l) }
        };
        let stay_t = stores.hold_t_per_h * march.stay_h + self.chase_t();
        let out = depots
            .iter()
            .map(|(depot, out, _)| Depot { at_km: self.hard_km(out), draw_t: -laid(depot) });
        let mut drawn: Vec<(usize, Depot)> = depots
            .iter()
            .enumerate()
            .filter_map(|(number, (depot, _, pass))| {
                let at_km = out_km + self.hard_km(pass.home.as_ref()?);
                Some((number, Depot { at_km, draw_t: self.tonnes(depot.fuel_l) }))
            })
            .collect();
        drawn.sort_by(|(_, a), (_, b)| a.at_km.total_cmp(&b.at_km));
        let pole = Depot { at_km: out_km, draw_t: -stay_t };
        let stops: Vec<Depot> =
            out.chain([pole]).chain(drawn.iter().map(|(_, depot)| *depot)).collect();
        let tank = (stores.capacity_t, stores.capacity_t, stores.reserve_t);
        let arrivals = burn
            .follow(way_km, tank, &stops)
            .map_err(|failure| self.in_words(failure, march, &depots))?;

        // Arrivals stand in the order of the stops, the return last.
        let at_pole_t = arrivals.get(depots.len()).copied().unwrap_or(0.0);
        let left_t = arrivals.last().copied().unwrap_or(0.0);
        let mut told: Vec<DepotFuel> = depots
            .iter()
            .map(|(depot, _, pass)| DepotFuel {
                at_km: depot.at_km,
                laid_t: laid(depot),
                drawn_t: 0.0,
                off_way_km: pass.home.is_none().then_some(pass.off_way_km),
            })
            .collect();
        for ((number, depot), arrive_t) in drawn.iter().zip(arrivals.iter().skip(depots.len() + 1))
        {
            if let Some(told) = told.get_mut(*number) {
                // What the tank does not take stays there.
                told.drawn_t = depot.draw_t.min(stores.capacity_t - arrive_t);
            }
        }
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

impl OverIceLeg {
    /// A failure told in kilometres of the march.
    fn in_words(
        &self,
        failure: TraverseFailure,
        march: &March,
        depots: &[(&DepotKeys, &Stretch, &DepotPass)],
    ) -> String {
        let (out_km, home_km) = (self.hard_km(&march.out), self.hard_km(&march.home));
        let share = |km: f64, of_km: f64| if of_km > 0.0 { km / of_km } else { 0.0 };
        let missed: Vec<String> = depots
            .iter()
            .filter(|(_, _, pass)| pass.home.is_none())
            .map(|(depot, _, pass)| {
                format!(
                    "; the depot at {:.0} km lies {:.1} km off it",
                    depot.at_km, pass.off_way_km
                )
            })
            .collect();
        match failure {
            TraverseFailure::Dry { at_km } if at_km < out_km => format!(
                "the fuel is down to the reserve {:.0} km out of {:.0} km to the pole",
                share(at_km, out_km) * march.out.distance_km,
                march.out.distance_km
            ),
            TraverseFailure::Dry { at_km } => format!(
                "the fuel is down to the reserve on the way home, {:.0} km of {:.0} km from the pole{}",
                share(at_km - out_km, home_km) * march.home.distance_km,
                march.home.distance_km,
                missed.concat()
            ),
            TraverseFailure::Overdrawn { at_km } if at_km < out_km => format!(
                "the depot at {:.0} km takes more fuel than there is to spare",
                share(at_km, out_km) * march.out.distance_km
            ),
            TraverseFailure::Overdrawn { .. } => {
                "the stay at the pole takes more fuel than there is to spare".to_owned()
            }
            TraverseFailure::Unordered => "the march is no way".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::Hemisphere;
    use dipward_plugin::{
        CellBatch, Clock, Closure, Quantity, Travel,
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
                "bearing": {"convention": {"gold": {"a_kg_per_cm2": 4}}, "melt": {"season": "cold"}},
                "travel_hours_per_day": 12,
            },
            "depots": depots,
        }))
        .unwrap();
        spec.build(&context()).unwrap()
    }

    fn march(leg: &dyn LastLeg, distance_km: f64, stay_h: f64) -> Result<MarchFuel, String> {
        let Means::OverIce(party) = leg.means() else { unreachable!("it goes over the ice") };
        // 12 km/h on hard snow for half the day.
        let stretch = Stretch { distance_km, hours: distance_km / 6.0, waited_h: 0.0 };
        party.march(&March::there_and_back(stretch, stay_h, &party.depots()))
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
        // A sixth of an hour a kilometre, half of it at rest, 1.5 l/h idle.
        let c = (2.4 + 0.15 * 4.0 + 1.5 / 12.0) * 0.8e-3;
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
    /// On sea ice at half the speed of hard snow the last leg burns by the kilometre what the craft burns at
    /// the load with which it sets out: by the hour under way, twice as much as on hard snow.
    #[test]
    fn craft_and_last_leg_burn_by_one_law() {
        let leg = leg(json!([]));
        let Means::OverIce(party) = leg.means() else { unreachable!("it goes over the ice") };
        let columns = [
            (Quantity::LAND, [0.0_f32]),
            (Quantity::ICE_CONCENTRATION, [1.0]),
            (Quantity::ICE_THICKNESS, [3.0]),
        ];
        let columns: Vec<(Quantity, &[f32])> =
            columns.iter().map(|(quantity, values)| (*quantity, values.as_slice())).collect();
        let mut travel = [Travel::closed(Closure::Open, 0.0)];
        let cells = CellBatch { len: 1, columns: &columns };
        party.craft().travel(&cells, 0, 0, &mut travel).unwrap();
        let pace_h_per_km = f64::from(travel[0].pace_h_per_km);
        let craft_t_per_km = f64::from(travel[0].burn_t_per_h) * pace_h_per_km;
        let litres_per_km = (2.4 + 0.15 * (4.0 + 0.8)) / 0.5 + 1.5 * 0.5 * pace_h_per_km;
        assert!((craft_t_per_km / (litres_per_km * 0.8e-3) - 1.0).abs() < 1e-6);
        // So short a way that the load hardly falls.
        let way = Stretch { distance_km: 0.01, hours: 0.01 * pace_h_per_km, waited_h: 0.0 };
        let fuel = party.march(&March::there_and_back(way, 0.0, &party.depots())).unwrap();
        assert!((fuel.out_t / 0.01 / craft_t_per_km - 1.0).abs() < 1e-4, "{fuel:?}");
    }

    /// Waiting burns what rest burns, not what moving burns.
    #[test]
    fn waits_burn_what_rest_burns() {
        let leg = leg(json!([]));
        let Means::OverIce(party) = leg.means() else { unreachable!("it goes over the ice") };
        let way = |hours, waited_h| Stretch { distance_km: 30.0, hours, waited_h };
        let burnt_t = |way| {
            let fuel = party.march(&March::there_and_back(way, 0.0, &party.depots())).unwrap();
            fuel.out_t + fuel.home_t
        };
        let more_t = burnt_t(way(15.0, 10.0)) - burnt_t(way(5.0, 0.0));
        // Two waits of ten hours; what is spread over the way weighs a little less there.
        assert!((more_t / (20.0 * 1.5 * 0.8e-3) - 1.0).abs() < 0.01, "{more_t}");
    }

    /// What the way home does not pass is not in the tank.
    #[test]
    fn a_depot_off_the_way_home_is_not_drawn() {
        let leg = leg(json!([{"at_km": 40, "fuel_l": 150}]));
        let Means::OverIce(party) = leg.means() else { unreachable!("it goes over the ice") };
        let stretch =
            |distance_km: f64| Stretch { distance_km, hours: distance_km / 6.0, waited_h: 0.0 };
        let on_way = March::there_and_back(stretch(100.0), 0.0, &party.depots());
        assert!((party.march(&on_way).unwrap().depots[0].drawn_t - 0.12).abs() < 1e-12);
        let mut off_way = on_way.clone();
        off_way.passes[0] = DepotPass { home: None, off_way_km: 11.8, ..on_way.passes[0] };
        let told = party.march(&off_way).unwrap_err();
        assert!(told.contains("the depot at 40 km lies 11.8 km off it"), "{told}");
        let mut near = March::there_and_back(stretch(60.0), 0.0, &party.depots());
        near.passes[0] = DepotPass { home: None, off_way_km: 11.8, ..near.passes[0] };
        let fuel = party.march(&near).unwrap();
        assert_eq!((fuel.depots[0].drawn_t, fuel.depots[0].off_way_km), (0.0, Some(11.8)));
    }
}
