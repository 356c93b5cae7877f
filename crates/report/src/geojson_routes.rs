//! Routes and the pole as GeoJSON.

use dipward_geodesy::{Position, geodesic, position};
use dipward_plugin::{
    Approach, BuildContext, Error, Faults, OutputFile, PoleEllipse, Report, Spec, WayBound,
    Waypoint, Writer, WriterPoint,
};
use geojson::{Feature, FeatureCollection, Geometry, JsonObject, JsonValue, feature::Id};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::json;

use crate::{
    antimeridian::{LonLat, densified, split_line, split_ring},
    figures::out_bound,
};

/// Keys of the kind `routes_geojson`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RoutesGeoJsonSpec {}

/// Writes the ways out and home, landings and last legs, the last moments to turn, ports and the pole's track, daily oval,
/// clouds and ellipses as `routes.geojson`.
///
/// Lines are cut to pieces of at most 50 km, so that straight pieces in longitude and latitude follow
/// the geodesics, and at the antimeridian. A feature's `role` tells what it is.
///
/// Source: RFC 7946.
#[derive(Debug, Clone, Copy, Default)]
pub struct RoutesGeoJson;

impl Spec for RoutesGeoJsonSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "routes_geojson";
    const SUMMARY: &'static str = "routes, ports and the pole's track and clouds, routes.geojson";
    const EXAMPLE: &'static str = "{kind: routes_geojson}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(RoutesGeoJson))
    }
}

impl Writer for RoutesGeoJson {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        let mut features = Vec::new();
        for approach in &report.ranking.approaches {
            add_approach(approach, &mut features);
        }
        add_pole(report, &mut features);
        for (name, place) in &report.map.places {
            features.extend(feature(
                point_geometry(*place),
                "place",
                properties(json!({ "name": name })),
            ));
        }
        let collection = FeatureCollection {
            bbox: None,
            features,
            foreign_members: Some(properties(json!({
                "caution": report.ranking.caution,
                "dipward_version": report.ranking.dipward_version,
                "scenario": report.ranking.scenario,
            }))),
        };
        let mut bytes = serde_json::to_vec(&collection).map_err(|error| {
            Error::Unsolved(format!("routes.geojson cannot be written: {error}"))
        })?;
        bytes.push(b'\n');
        Ok(vec![OutputFile { name: "routes.geojson".to_owned(), bytes }])
    }
}

/// How far a way lies above its bound; nothing where there is none.
fn gap_percent(bound: Option<WayBound>) -> Option<f64> {
    bound.and_then(|bound| bound.gap_percent)
}

fn add_approach(approach: &Approach, features: &mut Vec<Feature>) {
    let about = |more: JsonValue| {
        let mut all = properties(json!({
            "approach": approach.id,
            "rank": approach.rank,
            "from": approach.from,
            "home_to": approach.home_to,
            "craft": approach.craft,
        }));
        all.extend(properties(more));
        all
    };
    let id = |role: &str| Some(Id::String(format!("{}/{role}", approach.id)));
    let out = feature(
        line_geometry(&positions(&approach.waypoints)),
        "out",
        about(json!({
            "depart": approach.depart,
            "arrive": approach.arrive,
            "distance_km": approach.distance_km,
            "duration_h": approach.duration_h,
            "fuel_t": approach.fuel_t.out,
            "attainment_probability": approach.attainment.probability,
            "minimum_rio": approach.risk.minimum_rio,
            "on_front": approach.on_front,
            "gap_percent": gap_percent(out_bound(approach)),
        })),
    );
    let home = feature(
        line_geometry(&positions(&approach.home)),
        "home",
        about(json!({
            "depart": approach.leave,
            "arrive": approach.back,
            "fuel_t": approach.fuel_t.home,
            "gap_percent": gap_percent(approach.home_bound),
        })),
    );
    let turn_back = approach.turn_back.as_ref().and_then(|turn| {
        let place = point_geometry(position(turn.latitude_deg, turn.longitude_deg));
        let told = json!({ "time": turn.time, "limit": turn.limit, "text": turn.in_words() });
        feature(place, "turn_back", about(told))
    });
    let mut all = vec![(out, "out"), (home, "home"), (turn_back, "turn_back")];
    for (number, warning) in approach.warnings.iter().enumerate() {
        let place = point_geometry(position(warning.latitude_deg, warning.longitude_deg));
        let told = about(json!({
            "text": warning.text,
            "time": warning.time,
            "distance_km": warning.distance_km,
        }));
        let id = id(&format!("warning-{}", number + 1));
        features.extend(feature(place, "warning", told).map(|feature| Feature { id, ..feature }));
    }
    if let Some(leg) = &approach.last_leg {
        let landing = position(leg.landing_latitude_deg, leg.landing_longitude_deg);
        let landing = point_geometry(landing);
        let lies = about(json!({
            "by": leg.by,
            "travel": leg.travel,
            "ship_arrives": leg.ship_arrives,
            "ship_leaves": leg.ship_leaves,
            "short_km": leg.short_km,
            "radius_km": leg.radius_km,
            "no_return_h": leg.no_return_h,
        }));
        all.push((feature(landing, "landing", lies), "landing"));
        for (role, way, hours, fuel_t, bound) in [
            ("leg_out", &leg.out, leg.out_h, leg.fuel_t.out, leg.out_bound),
            ("leg_home", &leg.home, leg.home_h, leg.fuel_t.home, leg.home_bound),
        ] {
            let goes = about(json!({
                "by": leg.by,
                "depart": way.first().map(|point| point.time),
                "arrive": way.last().map(|point| point.time),
                "duration_h": hours,
                "fuel_t": fuel_t,
                "gap_percent": gap_percent(bound),
            }));
            all.push((feature(line_geometry(&positions(way)), role, goes), role));
        }
    }
    for (made, role) in all {
        features.extend(made.map(|feature| Feature { id: id(role), ..feature }));
    }
}

fn add_pole(report: &Report, features: &mut Vec<Feature>) {
    let pole = &report.pole;
    let summary = &report.ranking.pole;
    features.extend(feature(
        point_geometry(position(summary.latitude_deg, summary.longitude_deg)),
        "pole",
        properties(json!({
            "hemisphere": summary.hemisphere,
            "model": summary.model,
            "time": summary.epoch,
            "drift_km_per_year": summary.drift_km_per_year,
            "drift_bearing_deg": summary.drift_bearing_deg,
        })),
    ));
    let track: Vec<Position> = pole.mean_track.iter().map(|(_, place)| *place).collect();
    let span = pole.mean_track.first().zip(pole.mean_track.last());
    features.extend(feature(
        line_geometry(&track),
        "pole_mean_track",
        properties(json!({
            "start": span.map(|(first, _)| first.0),
            "end": span.map(|(_, last)| last.0),
        })),
    ));
    features.extend(feature(ring_geometry(&pole.daily_oval), "pole_daily_oval", JsonObject::new()));
    for ellipse in [&pole.ellipse_50, &pole.ellipse_95].into_iter().flatten() {
        features.extend(feature(
            ring_geometry(&ellipse_ring(ellipse)),
            "pole_ellipse",
            properties(json!({
                "probability": ellipse.probability,
                "semi_major_km": ellipse.semi_major_km,
                "semi_minor_km": ellipse.semi_minor_km,
                "bearing_deg": ellipse.bearing_deg,
            })),
        ));
    }
    let cloud: Vec<LonLat> = pole.cloud.iter().filter_map(|place| lon_lat(*place)).collect();
    let geometry = (!cloud.is_empty()).then(|| Geometry::new_multi_point(cloud));
    features.extend(feature(geometry, "pole_cloud", JsonObject::new()));
}

/// The outline of an ellipse, 72 positions, not closed.
pub(crate) fn ellipse_ring(ellipse: &PoleEllipse) -> Vec<Position> {
    (0..72)
        .map(|step| {
            let (sine, cosine) = (f64::from(step) * 5.0).to_radians().sin_cos();
            let along_km = ellipse.semi_major_km * cosine;
            let across_km = ellipse.semi_minor_km * sine;
            let course_deg = ellipse.bearing_deg + across_km.atan2(along_km).to_degrees();
            geodesic::direct(ellipse.centre, course_deg, along_km.hypot(across_km)).position
        })
        .collect()
}

fn positions(waypoints: &[Waypoint]) -> Vec<Position> {
    waypoints
        .iter()
        .map(|waypoint| position(waypoint.latitude_deg, waypoint.longitude_deg))
        .collect()
}

fn feature(geometry: Option<Geometry>, role: &str, mut properties: JsonObject) -> Option<Feature> {
    properties.insert("role".to_owned(), role.into());
    Some(Feature {
        bbox: None,
        geometry: Some(geometry?),
        id: None,
        properties: Some(properties),
        foreign_members: None,
    })
}

fn properties(value: JsonValue) -> JsonObject {
    match value {
        JsonValue::Object(map) => map,
        _ => JsonObject::new(),
    }
}

fn point_geometry(place: Position) -> Option<Geometry> {
    lon_lat(place).map(Geometry::new_point)
}

/// Longitude and latitude to a centimetre; nothing for what is not on Earth.
fn lon_lat(place: Position) -> Option<LonLat> {
    let on_earth = place.x().is_finite() && place.y().abs() <= 90.0;
    on_earth.then(|| rounded([place.x(), place.y()]))
}

fn rounded(point: LonLat) -> LonLat {
    point.map(|value| (value * 1e7).round() / 1e7)
}

fn line_geometry(line: &[Position]) -> Option<Geometry> {
    if line.iter().any(|place| lon_lat(*place).is_none()) {
        return None;
    }
    let mut parts = rounded_parts(split_line(&densified(line)));
    match parts.len() {
        0 => None,
        1 => parts.pop().map(Geometry::new_line_string),
        _ => Some(Geometry::new_multi_line_string(parts)),
    }
}

fn ring_geometry(ring: &[Position]) -> Option<Geometry> {
    if ring.iter().any(|place| lon_lat(*place).is_none()) {
        return None;
    }
    let mut parts = rounded_parts(split_ring(ring));
    match parts.len() {
        0 => None,
        1 => parts.pop().map(|part| Geometry::new_polygon([part])),
        _ => Some(Geometry::new_multi_polygon(parts.into_iter().map(|part| [part]))),
    }
}

fn rounded_parts(parts: Vec<Vec<LonLat>>) -> Vec<Vec<LonLat>> {
    parts.into_iter().map(|part| part.into_iter().map(rounded).collect()).collect()
}
