//! `daylight`: how much of the stay the party can see by.

use dipward_craft::sun_in_sky;
use dipward_plugin::{
    Approach, BuildContext, Clock, Criterion, CriterionPoint, Direction, Faults, LegTravel, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Figure;

/// Criterion `daylight`: the share of the stay with the Sun high enough.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct DaylightSpec {
    /// Altitude of the Sun's centre from which on there is light enough, degrees: -6 is civil twilight,
    /// -0.833 sunrise.
    #[schemars(range(min = -18.0, max = 90.0))]
    pub sun_above_deg: f64,
    /// An approach within this of the best of those left is kept in its group; a share.
    #[schemars(range(min = 0.0))]
    pub indifference: f64,
    /// Worth of a stay all in daylight, where the order is weighted.
    #[schemars(range(min = 0.0))]
    pub weight: f64,
}

impl Default for DaylightSpec {
    fn default() -> Self {
        Self { sun_above_deg: -6.0, indifference: 0.05, weight: 10.0 }
    }
}

impl Spec for DaylightSpec {
    type Point = CriterionPoint;
    const KIND: &'static str = "daylight";
    const SUMMARY: &'static str =
        "share of the stay at the mean pole in daylight, civil twilight included";
    const EXAMPLE: &'static str = "{kind: daylight, sun_above_deg: -0.833}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Criterion>, Faults> {
        let sun_above_deg = self.sun_above_deg;
        Figure {
            name: "daylight".to_owned(),
            unit: "1",
            direction: Direction::Greater,
            indifference: self.indifference,
            weight: self.weight,
            merit: move |approach: &Approach| share_in_daylight(approach, sun_above_deg),
        }
        .build()
    }
}

/// Steps in which a stay is looked at: ten minutes, in which the Sun goes 2.5 degrees at most.
const STEP_H: f64 = 1.0 / 6.0;
/// A longer stay is looked at in longer steps.
const MOST_STEPS: f64 = 10_000.0;

/// The light falls where the work is done: at the pole, not at the berth of a ship that has landed a party,
/// and, of a party that goes over the ice, while it is there. None of a stay without a place.
fn share_in_daylight(approach: &Approach, sun_above_deg: f64) -> f64 {
    let leg = approach.last_leg.as_ref();
    let way_out = leg.map_or(&approach.waypoints, |leg| &leg.out);
    let Some(at) = way_out.last() else { return 0.0 };
    let marches_home = leg.filter(|leg| leg.travel == LegTravel::OverIce);
    let leave = marches_home.and_then(|leg| leg.home.first()).map(|point| point.time);
    let clock = Clock::new(approach.arrive);
    let stay_h = clock.hour(leave.unwrap_or(approach.leave));
    let steps = (stay_h / STEP_H).clamp(1.0, MOST_STEPS) as u32;
    let light = (0..steps).filter(|step| {
        let hour = (f64::from(*step) + 0.5) * stay_h / f64::from(steps);
        let sun = sun_in_sky(clock.instant(hour), at.latitude_deg, at.longitude_deg);
        sun.altitude_deg >= sun_above_deg
    });
    light.count() as f64 / f64::from(steps)
}

#[cfg(test)]
mod tests {
    use dipward_plugin::conformance::specimen;

    use super::*;

    fn share(latitude_deg: f64, from: &str, until: &str, sun_above_deg: f64) -> f64 {
        let mut approach = specimen::approach();
        approach.arrive = from.parse().unwrap();
        approach.leave = until.parse().unwrap();
        for point in &mut approach.waypoints {
            point.latitude_deg = latitude_deg;
            point.longitude_deg = 0.0;
        }
        share_in_daylight(&approach, sun_above_deg)
    }

    /// At 51.477 N on the Greenwich meridian on 20 March 2027 the Sun's upper limb is above the horizon
    /// for 12 h 9 min (from memory: an equinox day near 50 N is some 12 h 10 min long).
    #[test]
    fn published_length_of_the_equinox_day() {
        let found = share(51.477, "2027-03-20T00:00Z", "2027-03-21T00:00Z", -0.833);
        assert!((found * 24.0 - 12.16).abs() < 0.2, "{}", found * 24.0);
    }

    /// The berth lies in the polar night and the pole in daylight, and the other way about.
    #[test]
    fn the_light_of_a_landed_party_is_that_at_the_pole() {
        let (dark, bright) = (86.0, -78.0);
        let [from, turn, until] = [5, 6, 7].map(|day| format!("2027-01-0{day}T00:00Z"));
        let staged = |berth_deg: f64, pole_deg: f64, travel| {
            let mut approach = specimen::approach();
            approach.arrive = from.parse().unwrap();
            approach.leave = until.parse().unwrap();
            for point in &mut approach.waypoints {
                point.latitude_deg = berth_deg;
            }
            let mut point = approach.waypoints[0];
            (point.latitude_deg, point.longitude_deg) = (pole_deg, 0.0);
            point.time = turn.parse().unwrap();
            approach.last_leg = Some(specimen::last_leg(travel, vec![point], vec![point]));
            share_in_daylight(&approach, -6.0)
        };
        for travel in [LegTravel::Air, LegTravel::OverIce] {
            assert_eq!(staged(dark, bright, travel), 1.0);
            assert_eq!(staged(bright, dark, travel), 0.0);
        }
    }

    #[test]
    fn polar_day_is_all_light_and_polar_night_none() {
        assert_eq!(share(-78.0, "2027-01-05T00:00Z", "2027-01-15T00:00Z", -0.833), 1.0);
        assert_eq!(share(86.0, "2027-01-05T00:00Z", "2027-01-15T00:00Z", -6.0), 0.0);
    }
}
