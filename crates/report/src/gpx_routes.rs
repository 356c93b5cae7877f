//! One GPX 1.1 file a route.

use std::collections::BTreeSet;

use dipward_geodesy::position;
use dipward_plugin::{
    Approach, BuildContext, Error, Fault, Faults, OutputFile, Report, Spec, Waypoint, Writer,
    WriterPoint,
};
use gpx::{Gpx, GpxVersion, Metadata, Route};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{
    figures::{clean, fixed, percent},
    rhumb_legs::{LEAST_APART_NM, Mark, Onward, marks},
};

/// Keys of the kind `gpx`.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GpxSpec {
    /// How far the rhumb line from one point to the next may lie off the planned track, nautical miles: points
    /// are set as densely as that takes.
    #[schemars(range(min = 0.05, max = 10.0))]
    pub cross_track_nm: f64,
}

impl Default for GpxSpec {
    fn default() -> Self {
        // A judgement, from memory: well below what a watch keeps to in open water.
        Self { cross_track_nm: 0.5 }
    }
}

/// Writes each approach as a GPX 1.1 file `routes/<id>.gpx` with three routes: out, on station and
/// home, each point with its time, and the last moment to turn, where a limit was found, as a waypoint. A last leg adds two routes,
/// `leg-out` and `leg-home`, and the landing.
///
/// A plotter joins the points by rhumb lines, while the planned track is one of geodesics. Each leg is cut so
/// that the rhumb lines keep within [`GpxSpec::cross_track_nm`] of it; poleward of 89.9 degrees, where rhumb
/// lines wind round the pole, it is cut each nautical mile or less. A point's comment says which line leads
/// on, its true course (of a geodesic at both ends), its length, speed and the fuel used; its `type` tells a
/// `turning point` of the planner from a `cut`. Times are those of the planned passage, to the second. But for
/// waits, which are one place at two times, no two points of a route are nearer than 0.05 nautical miles.
///
/// Schema: <https://www.topografix.com/GPX/1/1/gpx.xsd>.
#[derive(Debug, Clone, Copy)]
pub struct GpxRoutes {
    cross_track_nm: f64,
}

impl Default for GpxRoutes {
    fn default() -> Self {
        Self { cross_track_nm: GpxSpec::default().cross_track_nm }
    }
}

impl Spec for GpxSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "gpx";
    const SUMMARY: &'static str = "each approach as a GPX 1.1 file, routes/<id>.gpx";
    const EXAMPLE: &'static str = "{kind: gpx, cross_track_nm: 0.5}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        // Also where the schema has not been looked at: cuts without number are no route.
        let cross_track_nm = self.cross_track_nm;
        if !(LEAST_APART_NM..=10.0).contains(&cross_track_nm) {
            let message = format!("{cross_track_nm} nautical miles is no distance to keep within");
            return Err(Fault::at("/cross_track_nm", message).help("give 0.05 to 10").into());
        }
        Ok(Box::new(GpxRoutes { cross_track_nm }))
    }
}

impl Writer for GpxRoutes {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let mut taken = BTreeSet::new();
        report
            .ranking
            .approaches
            .iter()
            .map(|approach| {
                let stem = free_stem(&approach.id, &mut taken);
                let bytes = gpx_of(report, approach, &stem, self.cross_track_nm)?;
                Ok(OutputFile { name: format!("routes/{stem}.gpx"), bytes })
            })
            .collect()
    }
}

/// Letters of a file name; the ids of a plan are shorter, so that their files have their names.
const LONGEST_STEM: usize = 100;

/// A file name that every system takes and that no other approach has.
pub(crate) fn free_stem(id: &str, taken: &mut BTreeSet<String>) -> String {
    let plain: String = id
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '-' })
        .take(LONGEST_STEM)
        .collect();
    let plain = if plain.is_empty() { "route".to_owned() } else { plain };
    let mut stem = plain.clone();
    let mut number = 2;
    // Some systems do not tell upper from lower case.
    while !taken.insert(stem.to_ascii_lowercase()) {
        stem = format!("{plain}-{number}");
        number += 1;
    }
    stem
}

fn gpx_of(
    report: &Report,
    approach: &Approach,
    stem: &str,
    cross_track_nm: f64,
) -> Result<Vec<u8>, Error> {
    let ranking = &report.ranking;
    let id = clean(&approach.id);
    let leg = approach.last_leg.as_ref();
    let lies_from = leg.map_or(approach.arrive, |leg| leg.ship_arrives);
    let station: Vec<Waypoint> = match (approach.waypoints.last(), approach.home.first()) {
        (Some(&end), Some(&start)) => vec![
            Waypoint { time: lies_from, speed_kn: 0.0, ..end },
            Waypoint { time: approach.leave, speed_kn: 0.0, ..start },
        ],
        _ => Vec::new(),
    };
    let mut parts: Vec<(u32, &str, &[Waypoint])> = vec![
        (1, "out", &approach.waypoints),
        (2, "station", &station),
        (3, "home", &approach.home),
    ];
    if let Some(leg) = leg {
        parts.extend([(4, "leg-out", leg.out.as_slice()), (5, "leg-home", leg.home.as_slice())]);
    }
    let named = if stem == approach.id {
        String::new()
    } else {
        format!(" The file of the approach {id} is named {stem}.gpx.")
    };
    let mut file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("dipward {}", clean(&ranking.dipward_version))),
        metadata: Some(Metadata {
            name: Some(format!("{id}, rank {}", approach.rank)),
            description: Some(format!(
                "{} {}: from {} to the {} dip pole; chance {}.{named}",
                clean(&ranking.caution),
                clean(&ranking.scenario),
                clean(&approach.from),
                ranking.pole.hemisphere,
                percent(approach.attainment.probability)
            )),
            ..Metadata::default()
        }),
        ..Gpx::default()
    };
    if let Some(turn) = &approach.turn_back {
        let mut turn_back = point_at(turn.latitude_deg, turn.longitude_deg, turn.time)?;
        turn_back.name = Some("turn-back".to_owned());
        turn_back.description =
            Some(format!("The last moment to turn for home: {}.", turn.in_words()));
        file.waypoints.push(turn_back);
    }
    if let Some(leg) = leg {
        let (latitude_deg, longitude_deg) = (leg.landing_latitude_deg, leg.landing_longitude_deg);
        let mut landing = point_at(latitude_deg, longitude_deg, leg.ship_arrives)?;
        landing.name = Some("landing".to_owned());
        landing.description = Some(format!(
            "Here the ship lies while {} {} {} km to the mean pole; radius {} km.",
            clean(&leg.by),
            leg.travel.verb(),
            fixed(leg.short_km, 0),
            fixed(leg.radius_km, 0)
        ));
        file.waypoints.push(landing);
    }
    for warning in &approach.warnings {
        let mut point = point_at(warning.latitude_deg, warning.longitude_deg, warning.time)?;
        point.name = Some("warning".to_owned());
        let for_km = fixed(warning.distance_km, 0);
        point.description = Some(format!("{}; for {for_km} km in all.", clean(&warning.text)));
        file.waypoints.push(point);
    }
    for (number, part, waypoints) in parts {
        if waypoints.is_empty() {
            continue;
        }
        let mut route = Route::new();
        route.name = Some(format!("{id} {part}"));
        route.number = Some(number);
        route.type_ = Some(part.to_owned());
        // A place that is none is told before it is cut.
        for waypoint in waypoints {
            point_at(waypoint.latitude_deg, waypoint.longitude_deg, waypoint.time)?;
        }
        let of_craft = number <= 3;
        let profile = report.profiles.get(&approach.id).filter(|_| of_craft);
        let samples = profile.map(|profile| (profile, approach.depart));
        for (index, mark) in marks(waypoints, samples, cross_track_nm).iter().enumerate() {
            let mut point = point_at(mark.position.y(), mark.position.x(), mark.time)?;
            point.name = Some(format!("{part} {}", index + 1));
            point.comment = Some(match (part, mark.onward) {
                ("station", Some(_)) => "on station from here on".to_owned(),
                ("station", None) => "leaves the station".to_owned(),
                _ => told(mark),
            });
            let kind = if mark.planned { "turning point" } else { "cut" };
            point.type_ = Some(kind.to_owned());
            route.points.push(point);
        }
        file.routes.push(route);
    }
    let mut bytes = Vec::new();
    gpx::write(&file, &mut bytes)
        .map_err(|error| Error::Unsolved(format!("{id} cannot be put into GPX: {error}")))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// What leads on from a point, in words.
fn told(mark: &Mark) -> String {
    let fuel = format!("fuel used {} t", fixed(mark.fuel_used_t, 1));
    match mark.onward {
        None => fuel,
        Some(Onward::Wait { hours }) => format!("waits {} h; {fuel}", fixed(hours, 1)),
        Some(Onward::Rhumb { course_deg, distance_nm, speed_kn }) => format!(
            "rhumb line, course {} true, {} nm; {} kn, {fuel}",
            fixed(course_deg, 1),
            fixed(distance_nm, 2),
            fixed(speed_kn, 1)
        ),
        Some(Onward::Geodesic { initial_deg, final_deg, distance_nm, speed_kn }) => format!(
            "geodesic, course {} true at its start, {} at its end, {} nm; {} kn, {fuel}",
            fixed(initial_deg, 1),
            fixed(final_deg, 1),
            fixed(distance_nm, 2),
            fixed(speed_kn, 1)
        ),
    }
}

fn point_at(
    latitude_deg: f64,
    longitude_deg: f64,
    time: Timestamp,
) -> Result<gpx::Waypoint, Error> {
    // The schema takes latitudes of -90 to 90 and longitudes of -180 to 180, 180 excluded.
    if !(-90.0..=90.0).contains(&latitude_deg) || !longitude_deg.is_finite() {
        return Err(Error::Unsolved(format!(
            "latitude {latitude_deg}, longitude {longitude_deg} is no place on Earth"
        )));
    }
    let seven = |value: f64| (value * 1e7).round() / 1e7;
    let mut point = gpx::Waypoint::new(position(seven(latitude_deg), seven(longitude_deg)));
    let at = time::OffsetDateTime::from_unix_timestamp(time.as_second())
        .map_err(|error| Error::Unsolved(format!("{time} cannot be put into GPX: {error}")))?;
    point.time = Some(at.into());
    Ok(point)
}
