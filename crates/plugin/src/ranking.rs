//! The ranking: what other programs read, field for field the `ranking.json`.

use std::collections::BTreeMap;

use dipward_geodesy::Hemisphere;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::{Assumption, Closure, LastLegPlan, Risk, TurnBack, TurningScan};

/// The version of the ranking's layout. It grows when a reader would have to change.
///
/// | version | what changed |
/// |---|---|
/// | 2 | `group`; a bound that does not exist, and a gap to it, is null, where it was 0 |
pub const SCHEMA_VERSION: u32 = 2;

/// The caution that every result opens with.
pub const CAUTION: &str = "A planning aid, not a navigation system. It does not replace the judgement of the \
master, the ice navigator or the expedition leader. Official charts and notices, the national ice services, \
the Polar Code, the rules of the coastal and the flag state and licensed practice decide. Ice, weather and \
the field itself can differ from every forecast; people have died where such plans were trusted.";

/// All approaches of a scenario, best first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ranking {
    /// [`SCHEMA_VERSION`].
    pub schema_version: u32,
    /// The version of the program.
    pub dipward_version: String,
    /// The scenario's title.
    pub scenario: String,
    /// The seed of all random draws.
    pub seed: u64,
    /// [`CAUTION`].
    pub caution: String,
    /// What the result takes for granted.
    pub assumptions: Vec<Assumption>,
    /// The target.
    pub pole: PoleSummary,
    /// In words: why the first approach stands before the second, and what the order rests on.
    pub why: Vec<String>,
    /// What the first approach's chance is worth should the crust be weaker or stronger than assumed;
    /// nothing where no approach is feasible, and in a ranking of an earlier version.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crust_sensitivity: Option<CrustSensitivity>,
    /// Feasible approaches, best first.
    pub approaches: Vec<Approach>,
    /// What was tried and is not feasible.
    pub rejected: Vec<Rejected>,
}

/// The first approach's chance at half and at twice the sigma of what the model leaves out at the pole,
/// the crust above all ([`crate::FieldSigma::crust`]): much hangs on that size, and it is a judgement.
///
/// The same members with the same currents meet the same stay, so that the chances differ by the crust
/// alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrustSensitivity {
    /// The approach's id.
    pub approach: String,
    /// At half of the assumed size.
    pub half: Option<ChanceOfStay>,
    /// At twice the assumed size.
    pub twice: Option<ChanceOfStay>,
    /// Why the two are not told, where they are not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub untold: Option<String>,
}

/// The chance of a stay, as in [`Attainment`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChanceOfStay {
    /// Share of the ensemble's members that attain.
    pub probability: f64,
    /// Share of the members that attain if the craft only keeps to the mean pole.
    pub if_holding: f64,
}

impl CrustSensitivity {
    /// It in a sentence.
    ///
    /// # Arguments
    ///
    /// The chance of the approach as assumed.
    #[must_use]
    pub fn in_words(&self, assumed: &Attainment) -> String {
        let percent = |share: f64| format!("{:.0} %", share * 100.0);
        match (self.half, self.twice, &self.untold) {
            (Some(half), Some(twice), _) => format!(
                "How strong the crust's field at the pole is, is a judgement: were it half as strong, the \
                 chance of the first approach would be {} instead of {} ({} instead of {} if it only \
                 keeps to the mean pole); were it twice as strong, {} ({}).",
                percent(half.probability),
                percent(assumed.probability),
                percent(half.if_holding),
                percent(assumed.if_holding),
                percent(twice.probability),
                percent(twice.if_holding)
            ),
            (.., Some(why)) => format!(
                "The chance of the first approach at half and at twice the crust's field is not told: {why}."
            ),
            _ => "The chance of the first approach at half and at twice the crust's field is not told."
                .to_owned(),
        }
    }
}

/// The mean dip pole at the middle of the scenario's window.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PoleSummary {
    /// Which pole.
    pub hemisphere: Hemisphere,
    /// The model's name.
    pub model: String,
    /// When, as an instant.
    pub epoch: Timestamp,
    /// Geodetic latitude, WGS84.
    pub latitude_deg: f64,
    /// Longitude, east positive.
    pub longitude_deg: f64,
    /// Speed of the secular drift.
    pub drift_km_per_year: f64,
    /// True bearing of the secular drift.
    pub drift_bearing_deg: f64,
}

/// One way to do the voyage: out, on station, home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Approach {
    /// 1 is best; the ranks run on through the groups.
    pub rank: u32,
    /// The group, from 1, of approaches that the data do not tell apart by the scenario's criteria,
    /// indifferences and confidence; 0 in a ranking of an earlier version.
    #[serde(default)]
    pub group: u32,
    /// Stable name: port, departure and a letter for the route.
    pub id: String,
    /// The port of departure.
    pub from: String,
    /// The port of return.
    pub home_to: String,
    /// The craft.
    pub craft: String,
    /// What the route was sought for ("earliest", "least fuel", "alternative").
    pub sought: String,
    /// What it trades against the best route of its departure, in words; empty for the best.
    pub trade: String,
    /// The start of the planned track.
    pub depart: Timestamp,
    /// Reaching the mean pole.
    pub arrive: Timestamp,
    /// Leaving the station: the ship's leaving of the landing where there is a last leg.
    pub leave: Timestamp,
    /// The end of the planned track home.
    pub back: Timestamp,
    /// The miles between the ports and the planned track; nothing in a ranking of an earlier version.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pilotage: Option<Pilotage>,
    /// Length of the outward route, the last leg included.
    pub distance_km: f64,
    /// Duration of the outward route, the last leg included.
    pub duration_h: f64,
    /// What the party does on station.
    pub on_station: String,
    /// Fuel, part by part.
    pub fuel_t: FuelPlan,
    /// Chance of standing on the pole.
    pub attainment: Attainment,
    /// What becomes of the stay over the ensemble; zeros in a ranking of an earlier version.
    #[serde(default)]
    pub stay: StayOutcome,
    /// Risk index over the whole voyage.
    pub risk: Risk,
    /// The last moment to turn for home, and what ends the time for it; null where no limit was found: from the
    /// last instant looked at the craft still comes home within the window.
    #[serde(default)]
    pub turn_back: Option<TurnBack>,
    /// Fuel at each decision, points of no return and critical points; nothing where they were not
    /// looked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turning: Option<TurningScan>,
    /// No outward route of this departure takes fewer hours; where a party goes on from a landing, none to
    /// that landing. Nothing where there is no bound; so is the 0 of a ranking of an earlier version read.
    #[serde(default, deserialize_with = "proved")]
    pub lower_bound_h: Option<f64>,
    /// No such route burns less than this many tonnes; nothing where there is no bound, as for the hours.
    #[serde(default, deserialize_with = "proved")]
    pub lower_bound_t: Option<f64>,
    /// How far the route lies above the bound of what it was sought for: of the fuel where least fuel
    /// was sought, else of the hours. Nothing where that has no bound; in a ranking of an earlier version a 0
    /// then stands there, which says something only beside a bound.
    #[serde(default)]
    pub gap_percent: Option<f64>,
    /// The bound on the way home, by the same measure; nothing in a ranking of an earlier version, and where
    /// the search gives none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub home_bound: Option<WayBound>,
    /// Whether no other approach is at least as good by every criterion and better by one.
    pub on_front: bool,
    /// The share of the drawings of ensemble members in which its plain figures are the best of all by the
    /// scenario's order, with no indifference; equals share a drawing. Nothing where that was not computed.
    #[serde(default)]
    pub first_probability: Option<f64>,
    /// Whether it is of the same group as the approach ranked before it.
    #[serde(default)]
    pub tied_with_previous: bool,
    /// Figures of merit by name.
    pub criteria: BTreeMap<String, f64>,
    /// The way out: of the ship alone where there is a last leg.
    pub waypoints: Vec<Waypoint>,
    /// The way home.
    pub home: Vec<Waypoint>,
    /// The last leg, where the ship does not go to the pole herself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_leg: Option<LastLegPlan>,
    /// What the bridge must know of on the ways out and home.
    #[serde(default)]
    pub warnings: Vec<Warning>,
}

/// What no way does better that begins where and when a way does and ends where it may, next to that way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WayBound {
    /// No such way takes fewer hours; nothing where hours are not bounded, for which a ranking of an earlier
    /// version has 0.
    #[serde(default, deserialize_with = "proved")]
    pub lower_bound_h: Option<f64>,
    /// No such way burns less than this many tonnes; nothing where fuel is not bounded, as for the hours.
    #[serde(default, deserialize_with = "proved")]
    pub lower_bound_t: Option<f64>,
    /// How far the way lies above the bound of what it was sought for: of the fuel where least fuel was
    /// sought, else of the hours. Nothing where that has no bound.
    #[serde(default)]
    pub gap_percent: Option<f64>,
}

/// A bound of more than 0: every way takes as much as nothing.
fn proved<'de, D: serde::Deserializer<'de>>(reader: D) -> Result<Option<f64>, D::Error> {
    Ok(Option::<f64>::deserialize(reader)?.filter(|bound| *bound > 0.0))
}

/// A warning that holds along a part of an approach, such as a compass that cannot be relied on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Warning {
    /// What, in words.
    pub text: String,
    /// Geodetic latitude, WGS84, of where it first holds.
    pub latitude_deg: f64,
    /// Longitude, east positive, of where it first holds.
    pub longitude_deg: f64,
    /// When it first holds.
    pub time: Timestamp,
    /// For how far it holds in all, out and home.
    pub distance_km: f64,
}

/// The miles between the ports and the ends of the planned track, which the chart closes to the craft: told with
/// an allowance of hours at the speed that the scenario states, beyond the hours and the fuel of the track.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pilotage {
    /// From the port of departure to the start of the track.
    pub out_km: f64,
    /// Hours for that.
    pub out_h: f64,
    /// From the end of the track to the port of return.
    pub home_km: f64,
    /// Hours for that.
    pub home_h: f64,
    /// Leaving the port: before the start of the track.
    pub port_depart: Timestamp,
    /// Back in port: after the end of the track.
    pub port_back: Timestamp,
}

/// Fuel of an approach, tonnes: the ship's own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FuelPlan {
    /// Burnt on the way out.
    pub out: f64,
    /// Burnt on station.
    pub station: f64,
    /// Burnt on the way home.
    pub home: f64,
    /// To be left on return.
    pub reserve: f64,
    /// Usable when leaving.
    pub capacity: f64,
    /// Capacity less all of the above.
    pub margin: f64,
    /// What is left of the margin if the craft is beset for the days that the scenario states.
    #[serde(default)]
    pub margin_if_beset: f64,
}

/// The chance that the instantaneous pole comes within reach while the craft is on station.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Attainment {
    /// Share of the ensemble's members that attain.
    pub probability: f64,
    /// Lower end of the 95 % interval, from the number of members and from how far the chance moves with
    /// other models of the disturbance.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// The distance that counts.
    pub within_km: f64,
    /// Median over the members of the closest approach.
    pub median_closest_km: f64,
    /// Share of the members that attain if the craft only keeps to the mean pole.
    pub if_holding: f64,
    /// Share of the members that a craft could attain that knew the pole's track beforehand: no way
    /// to behave on station does better.
    pub if_clairvoyant: f64,
}

/// What becomes of a stay over the members of the ensemble.
///
/// All approaches of a scenario meet the same members in the same order, so that they can be compared
/// member by member.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct StayOutcome {
    /// Hours on station until the policy leaves, the mean over the members.
    pub served_h: f64,
    /// Of these, hours with the pole within the distance that counts, the mean over the members.
    pub within_h: f64,
    /// How the closest approach is distributed.
    pub closest_km: ClosestApproach,
    /// When the pole is first attained, counted from when the ship's way out ends, at the pole or at a landing.
    pub first_attained_d: FirstAttained,
    /// Each member's own outcome; not written to files.
    #[serde(skip)]
    pub members: Vec<MemberOutcome>,
}

/// The closest approach of the craft to the pole, over the members of the ensemble, km. A quantile is
/// the smallest figure that at least so many members do not exceed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct ClosestApproach {
    /// The member that comes closest.
    pub least: f64,
    /// A tenth of the members come as close.
    pub tenth: f64,
    /// A quarter of the members come as close.
    pub quarter: f64,
    /// Half of the members come as close.
    pub half: f64,
    /// Three quarters of the members come as close.
    pub three_quarters: f64,
    /// Nine tenths of the members come as close.
    pub nine_tenths: f64,
    /// The member that stays farthest.
    pub most: f64,
    /// The mean over the members.
    pub mean: f64,
    /// The mean over the worst tenth of the members.
    pub worst_tenth: f64,
}

/// Days from the end of the ship's way out to the first attainment, by which a share of the members have attained;
/// nothing where fewer ever do.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct FirstAttained {
    /// A tenth of the members have attained.
    pub tenth: Option<f64>,
    /// A quarter of the members have attained.
    pub quarter: Option<f64>,
    /// Half of the members have attained.
    pub half: Option<f64>,
    /// Three quarters of the members have attained.
    pub three_quarters: Option<f64>,
    /// Nine tenths of the members have attained.
    pub nine_tenths: Option<f64>,
}

/// One member's outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MemberOutcome {
    /// How close the craft and the pole come.
    pub closest_km: f64,
    /// Hours to the first attainment from when the ship's way out ends, at the pole or at a landing, if the
    /// member attains.
    pub attained_after_h: Option<f64>,
}

/// A point of a route.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Waypoint {
    /// Geodetic latitude, WGS84.
    pub latitude_deg: f64,
    /// Longitude, east positive.
    pub longitude_deg: f64,
    /// When.
    pub time: Timestamp,
    /// Mean speed of the leg that leads on from here; 0 at the last.
    pub speed_kn: f64,
    /// Fuel burnt since the route's start.
    pub fuel_used_t: f64,
    /// True initial course of the leg that leads on; at the last point the course of arrival.
    pub course_deg: f64,
}

impl Waypoint {
    /// The waits of a route: where the craft lies and for how many hours, those of half an hour and more.
    pub fn waits(waypoints: &[Self]) -> impl Iterator<Item = (&Self, f64)> {
        waypoints.windows(2).filter_map(|pair| {
            let [here, then] = pair else { return None };
            let stays =
                here.latitude_deg == then.latitude_deg && here.longitude_deg == then.longitude_deg;
            let hours = here.time.until(then.time).ok()?.total(jiff::Unit::Hour).ok()?;
            (stays && hours >= 0.5).then_some((here, hours))
        })
    }
}

/// An approach that is not one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rejected {
    /// The port.
    pub from: String,
    /// The departure.
    pub depart: Timestamp,
    /// Why, in a sentence.
    pub reason: String,
}

/// What a route passes through, sampled densely along it for plots.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// Hours from the departure; home follows out and the station on one axis.
    pub hour: Vec<f64>,
    /// Distance sailed since the departure.
    pub distance_km: Vec<f64>,
    /// Fuel burnt since the departure.
    pub fuel_used_t: Vec<f64>,
    /// Risk index outcome, where it has a meaning.
    pub risk_index: Vec<Option<f64>>,
    /// Sea-ice concentration, 0 to 1, where it is known.
    pub ice_concentration: Vec<Option<f64>>,
    /// Why a sample's cell is closed, for diagnosis; normally all open.
    pub closure: Vec<Closure>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bound_of_0_of_an_earlier_version_is_none() {
        let text = r#"{"lower_bound_h": 12.5, "lower_bound_t": 0.0, "gap_percent": 1.5}"#;
        let read: WayBound = serde_json::from_str(text).unwrap();
        let expected =
            WayBound { lower_bound_h: Some(12.5), lower_bound_t: None, gap_percent: Some(1.5) };
        assert_eq!(read, expected);
        let written = serde_json::to_string(&read).unwrap();
        assert!(written.contains("\"lower_bound_t\":null"), "{written}");
        assert_eq!(serde_json::from_str::<WayBound>(&written).unwrap(), read);
    }

    #[test]
    fn waits_are_pairs_of_points_at_one_place() {
        let at = |latitude_deg: f64, second: i64| Waypoint {
            latitude_deg,
            longitude_deg: 140.0,
            time: Timestamp::constant(second, 0),
            speed_kn: 0.0,
            fuel_used_t: 0.0,
            course_deg: 0.0,
        };
        let way = [at(-60.0, 0), at(-61.0, 3600), at(-61.0, 3600 * 21), at(-62.0, 3600 * 22)];
        let waits: Vec<_> = Waypoint::waits(&way).collect();
        assert_eq!(waits, [(&way[1], 20.0)]);
    }
}
