//! What the bridge must know of along an approach: compass, gyro and permits, which the place alone
//! tells, and what the craft says of its place and hour.

use dipward_craft::RouteMark;
use dipward_geodesy::{Position, distance_km, points_along, position};
use dipward_plugin::{
    Approach, CellBatch, Error, FieldSample, Look, Quantity, Site, Warning, Waypoint,
};
use jiff::Timestamp;

use crate::{scenario::Scenario, world::World};

/// Distance between two looks.
const LOOK_KM: f64 = 10.0;

/// The warnings along an approach, out and home, each with where and when it first holds and for how
/// far in all.
///
/// # Errors
///
/// What the main field, the chart and the craft say.
pub(crate) fn warnings(world: &World<'_>, approach: &Approach) -> Result<Vec<Warning>, Error> {
    let mut warnings: Vec<Warning> = Vec::new();
    for way in [&approach.waypoints, &approach.home] {
        let looks = looks(way, LOOK_KM);
        let marks = marks(world.scenario, &looks)?;
        let craft = CraftWords::new(world);
        let mut going = Going::STILL;
        for (index, (&(place, at), mark)) in looks.iter().zip(marks).enumerate() {
            let next = looks.get(index + 1);
            let km = next.map_or(0.0, |(next, _)| distance_km(place, *next));
            // At the last look the craft goes as it came.
            going = next.map_or(going, |next| Going::between(world, (place, at), *next));
            let mut texts = mark.warnings();
            texts.extend(craft.at(place, at, going)?);
            for text in texts {
                tell(&mut warnings, text, (place, at), km);
            }
        }
    }
    Ok(warnings)
}

/// Tells a warning at its first place and hour, and adds up for how far it holds.
pub(crate) fn tell(
    warnings: &mut Vec<Warning>,
    text: String,
    (place, time): (Position, Timestamp),
    km: f64,
) {
    match warnings.iter_mut().find(|own| own.text == text) {
        Some(own) => own.distance_km += km,
        None => warnings.push(Warning {
            text,
            latitude_deg: place.y(),
            longitude_deg: place.x(),
            time,
            distance_km: km,
        }),
    }
}

/// Speed and course between two looks.
#[derive(Debug, Clone, Copy)]
struct Going {
    speed_kn: f64,
    grid_course_deg: f64,
}

impl Going {
    const STILL: Self = Self { speed_kn: 0.0, grid_course_deg: f64::NAN };

    fn between(world: &World<'_>, from: (Position, Timestamp), to: (Position, Timestamp)) -> Self {
        let hours = (to.1.as_millisecond() - from.1.as_millisecond()) as f64 / 3.6e6;
        let km = distance_km(from.0, to.0);
        if hours <= 0.0 || km <= 0.0 {
            return Self::STILL;
        }
        let way = world.table.grid.coord(to.0) - world.table.grid.coord(from.0);
        Self {
            speed_kn: km / hours / 1.852,
            grid_course_deg: way.x.atan2(way.y).to_degrees().rem_euclid(360.0),
        }
    }
}

/// The craft's own words along the way, and what of the chart it wants for them.
struct CraftWords<'a> {
    world: &'a World<'a>,
    quantities: Vec<Quantity>,
}

impl<'a> CraftWords<'a> {
    fn new(world: &'a World<'a>) -> Self {
        let craft = world.scenario.craft.object.as_ref();
        let mut quantities = Vec::new();
        for read in craft.reads().into_iter().chain(craft.caution_reads()) {
            if world.chart.quantities().contains(&read) && !quantities.contains(&read) {
                quantities.push(read);
            }
        }
        Self { world, quantities }
    }

    fn at(&self, place: Position, time: Timestamp, going: Going) -> Result<Vec<String>, Error> {
        let World { scenario, chart, .. } = self.world;
        let hour = scenario.clock.hour(time);
        let values: Vec<[f32; 1]> = self
            .quantities
            .iter()
            .map(|&quantity| Ok([chart.sample(hour, quantity, place)?]))
            .collect::<Result<_, Error>>()?;
        let columns: Vec<(Quantity, &[f32])> = self
            .quantities
            .iter()
            .zip(&values)
            .map(|(&quantity, value)| (quantity, value.as_slice()))
            .collect();
        Ok(scenario.craft.object.cautions(&Look {
            latitude_deg: place.y(),
            longitude_deg: place.x(),
            time,
            speed_kn: going.speed_kn,
            grid_course_deg: going.grid_course_deg,
            cell: &CellBatch { len: 1, columns: &columns },
        }))
    }
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
    let each = looks.iter().zip(field);
    Ok(each
        .map(|((place, _), sample)| RouteMark::at(*place, sample.vector.horizontal_nt()))
        .collect())
}

#[cfg(test)]
mod tests {
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
}
