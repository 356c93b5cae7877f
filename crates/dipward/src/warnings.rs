//! What the bridge must know of along an approach: compass, gyro, bans on fuel.

use dipward_craft::{Bunkers, RouteMark};
use dipward_geodesy::{Position, distance_km, points_along, position};
use dipward_plugin::{Approach, Error, FieldSample, Site, Warning, Waypoint};
use jiff::{Timestamp, tz::Offset};
use serde_json::Value;

use crate::scenario::Scenario;

/// Distance between two looks.
const LOOK_KM: f64 = 10.0;

/// The warnings along an approach, out and home, each with where and when it first holds and for how
/// far in all.
///
/// # Errors
///
/// What the main field says.
pub(crate) fn warnings(scenario: &Scenario, approach: &Approach) -> Result<Vec<Warning>, Error> {
    let mut warnings: Vec<Warning> = Vec::new();
    for way in [&approach.waypoints, &approach.home] {
        let looks = looks(way, LOOK_KM);
        let marks = marks(scenario, &looks)?;
        let ahead = looks.iter().skip(1).map(Some).chain([None]);
        for (((place, at), next), mark) in looks.iter().zip(ahead).zip(marks) {
            let km = next.map_or(0.0, |(next, _)| distance_km(*place, *next));
            for text in mark.warnings() {
                match warnings.iter_mut().find(|own| own.text == text) {
                    Some(own) => own.distance_km += km,
                    None => warnings.push(Warning {
                        text,
                        latitude_deg: place.y(),
                        longitude_deg: place.x(),
                        time: *at,
                        distance_km: km,
                    }),
                }
            }
        }
    }
    Ok(warnings)
}

/// Places and times along a way, no further apart than `look_km`.
pub(crate) fn looks(way: &[Waypoint], look_km: f64) -> Vec<(Position, Timestamp)> {
    let at = |point: &Waypoint| position(point.latitude_deg, point.longitude_deg);
    let mut looks = Vec::new();
    for leg in way.windows(2) {
        let [from, to] = leg else { continue };
        let points = points_along(at(from), at(to), look_km);
        let pieces = points.len().saturating_sub(1).max(1) as i64;
        let whole_ms = to.time.as_millisecond() - from.time.as_millisecond();
        for (index, place) in (0..pieces).zip(points) {
            let after_ms = whole_ms / pieces * index;
            let time = Timestamp::from_millisecond(from.time.as_millisecond() + after_ms);
            looks.push((place, time.unwrap_or(from.time)));
        }
    }
    looks.extend(way.last().map(|last| (at(last), last.time)));
    looks
}

fn marks(scenario: &Scenario, looks: &[(Position, Timestamp)]) -> Result<Vec<RouteMark>, Error> {
    let Some((_, first)) = looks.first() else { return Ok(Vec::new()) };
    let sites: Vec<Site> = looks
        .iter()
        .map(|(place, _)| Site {
            latitude_deg: place.y(),
            longitude_deg: place.x(),
            height_km: 0.0,
        })
        .collect();
    let mut field = vec![FieldSample::default(); sites.len()];
    // The field's intensity changes by some tens of nanotesla a year: one epoch serves a way.
    let year = scenario.clock.decimal_year(scenario.clock.hour(*first));
    scenario.model.object.sample(year, &sites, &mut field)?;
    let bunkers = bunkers(&scenario.craft.resolved);
    let each = looks.iter().zip(field).map(|((place, at), sample)| {
        let day = Offset::UTC.to_datetime(*at).date();
        RouteMark::at(*place, sample.vector.horizontal_nt(), day, bunkers)
    });
    Ok(each.collect())
}

/// The fuel of a craft by its keys, where it has those of a ship.
fn bunkers(craft: &Value) -> Option<Bunkers> {
    let fuel = craft.get("fuel")?;
    let kind = serde_json::from_value(fuel.get("kind")?.clone()).ok()?;
    let protected_tanks = fuel.get("protected_tanks").and_then(Value::as_bool).unwrap_or(false);
    Some(Bunkers { kind, protected_tanks })
}

#[cfg(test)]
mod tests {
    use dipward_craft::FuelKind;
    use serde_json::json;

    use super::*;

    fn waypoint(latitude_deg: f64, longitude_deg: f64, time: &str) -> Waypoint {
        Waypoint {
            latitude_deg,
            longitude_deg,
            time: time.parse().unwrap(),
            speed_kn: 10.0,
            fuel_used_t: 0.0,
            course_deg: 180.0,
        }
    }

    #[test]
    fn looks_are_close_and_keep_the_time() {
        let way = [
            waypoint(-50.0, 140.0, "2027-01-01T00:00Z"),
            waypoint(-52.0, 140.0, "2027-01-01T12:00Z"),
            waypoint(-52.0, 140.0, "2027-01-01T18:00Z"),
        ];
        let looks = looks(&way, LOOK_KM);
        assert!(looks.windows(2).all(|pair| distance_km(pair[0].0, pair[1].0) <= LOOK_KM + 1e-6));
        assert!(looks.windows(2).all(|pair| pair[0].1 <= pair[1].1));
        let (middle, at) = looks.iter().find(|(place, _)| place.y() < -50.999).unwrap();
        let hours = (at.as_millisecond() - way[0].time.as_millisecond()) as f64 / 3.6e6;
        assert!((hours - 12.0 * (-50.0 - middle.y()) / 2.0).abs() < 0.02, "{hours}");
        assert_eq!(looks.last().unwrap().1, way[2].time);
        assert!(super::looks(&[], LOOK_KM).is_empty());
    }

    #[test]
    fn fuel_is_that_of_a_ship_or_not_known() {
        let heavy = json!({"fuel": {"kind": "heavy_fuel_oil", "protected_tanks": true}});
        let found = bunkers(&heavy).unwrap();
        assert_eq!((found.kind, found.protected_tanks), (FuelKind::HeavyFuelOil, true));
        for other in [json!({}), json!({"fuel": {"kind": "coal"}}), json!({"fuel": 3})] {
            assert_eq!(bunkers(&other), None);
        }
    }
}
