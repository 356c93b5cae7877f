//! The files that other programs read: their keys, their schemas, and that they can be read back.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use std::{collections::BTreeSet, path::Path};

use dipward_geodesy::{Hemisphere, distance_km, position};
use dipward_plugin::{
    BuildContext, Clock, Error, OutputFile, Ranking, Report, Spec, TurnBackLimit, Warning, Writer,
    WriterPoint,
    conformance::{check_example, check_writer},
};
use dipward_report::*;
use geojson::{FeatureCollection, GeometryValue};
use serde_json::Value;

fn only(writer: &dyn Writer, report: &Report) -> String {
    let mut files = writer.files(report).unwrap();
    assert_eq!(files.len(), 1);
    String::from_utf8(files.pop().unwrap().bytes).unwrap()
}

fn keys(value: &Value) -> BTreeSet<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

fn has(value: &Value, wanted: &[&str]) {
    let missing: Vec<_> = wanted.iter().filter(|key| !keys(value).contains(**key)).collect();
    assert!(missing.is_empty(), "missing {missing:?}");
}

#[test]
fn ranking_json_has_the_keys_that_readers_rely_on() {
    let text = only(&RankingJson, &sample::report());
    let ranking: Value = serde_json::from_str(&text).unwrap();
    has(
        &ranking,
        &[
            "schema_version",
            "dipward_version",
            "scenario",
            "seed",
            "caution",
            "assumptions",
            "pole",
            "approaches",
            "rejected",
        ],
    );
    has(
        &ranking["pole"],
        &[
            "hemisphere",
            "model",
            "epoch",
            "latitude_deg",
            "longitude_deg",
            "drift_km_per_year",
            "drift_bearing_deg",
        ],
    );
    let approach = &ranking["approaches"][0];
    has(
        approach,
        &[
            "rank",
            "id",
            "from",
            "craft",
            "depart",
            "arrive",
            "distance_km",
            "duration_h",
            "fuel_t",
            "attainment",
            "risk",
            "turn_back",
            "lower_bound_h",
            "gap_percent",
            "on_front",
            "criteria",
            "waypoints",
            "home",
        ],
    );
    has(&approach["fuel_t"], &["out", "station", "home", "reserve", "capacity", "margin"]);
    has(&approach["attainment"], &["probability", "low", "high", "within_km", "median_closest_km"]);
    has(&approach["risk"], &["minimum_rio", "hours_elevated"]);
    has(&approach["turn_back"], &["limit", "time", "latitude_deg", "longitude_deg"]);
    for part in ["waypoints", "home"] {
        has(
            &approach[part][0],
            &["latitude_deg", "longitude_deg", "time", "speed_kn", "fuel_used_t", "course_deg"],
        );
    }
    has(&ranking["rejected"][0], &["from", "depart", "reason"]);
    assert_eq!(ranking["pole"]["hemisphere"], "south");
    // RFC 3339, in UTC.
    assert_eq!(approach["depart"], "2027-01-14T06:00:00Z");
    let read: Ranking = serde_json::from_str(&text).unwrap();
    assert_eq!(read, sample::report().ranking);
}

#[test]
fn run_json_alone_holds_the_timings() {
    let report = sample::report();
    let mut later = report.clone();
    later.run.timings_s = vec![("chart".to_owned(), 99.0)];
    let run: Value = serde_json::from_str(&only(&RunJson, &report)).unwrap();
    has(&run, &["dipward_version", "seed", "inputs_sha256", "timings_s", "counts"]);
    assert_ne!(RunJson.files(&report), RunJson.files(&later));
    let others: [&dyn Writer; 6] = [
        &RankingJson,
        &RoutesGeoJson,
        &GpxRoutes::default(),
        &MapSvg::default(),
        &ReportHtml::default(),
        &ResolvedScenario,
    ];
    for writer in others {
        assert_eq!(writer.files(&report), writer.files(&later), "{writer:?}");
    }
}

#[test]
fn geojson_is_read_back_and_keeps_to_rfc_7946() {
    for report in [sample::report(), sample::north_report()] {
        let text = only(&RoutesGeoJson, &report);
        let collection: FeatureCollection = text.parse().unwrap();
        let mut roles = BTreeSet::new();
        for feature in &collection.features {
            let properties = feature.properties.as_ref().unwrap();
            roles.insert(properties["role"].as_str().unwrap().to_owned());
            let geometry = &feature.geometry.as_ref().unwrap().value;
            for line in lines_of(geometry) {
                for place in line {
                    assert!(place[0].abs() <= 180.0 && place[1].abs() <= 90.0);
                }
                for pair in line.windows(2) {
                    // Section 3.1.9: no line over the antimeridian.
                    assert!((pair[1][0] - pair[0][0]).abs() <= 180.0);
                    let ends = [&pair[0], &pair[1]].map(|place| position(place[1], place[0]));
                    let near_pole = ends.iter().any(|end| end.y().abs() > 89.0);
                    assert!(near_pole || distance_km(ends[0], ends[1]) < 51.0);
                }
            }
            for ring in rings_of(geometry) {
                // Section 3.1.6: closed, and anticlockwise on the outside.
                assert!(ring.len() >= 4 && ring.first() == ring.last());
                let area: f64 = ring
                    .windows(2)
                    .map(|pair| (pair[0][0] - pair[1][0]) * (pair[0][1] + pair[1][1]))
                    .sum();
                assert!(area > 0.0);
            }
        }
        let wanted = [
            "home",
            "out",
            "place",
            "pole",
            "pole_cloud",
            "pole_daily_oval",
            "pole_ellipse",
            "pole_mean_track",
            "turn_back",
        ];
        assert_eq!(roles, wanted.map(str::to_owned).into());
        let foreign = collection.foreign_members.unwrap();
        assert_eq!(foreign["caution"], report.ranking.caution);
    }
}

fn lines_of(geometry: &GeometryValue) -> Vec<&Vec<geojson::Position>> {
    match geometry {
        GeometryValue::LineString { coordinates } => vec![coordinates],
        GeometryValue::MultiLineString { coordinates } => coordinates.iter().collect(),
        _ => Vec::new(),
    }
}

fn rings_of(geometry: &GeometryValue) -> Vec<&Vec<geojson::Position>> {
    match geometry {
        GeometryValue::Polygon { coordinates } => coordinates.iter().collect(),
        GeometryValue::MultiPolygon { coordinates } => coordinates.iter().flatten().collect(),
        _ => Vec::new(),
    }
}

#[test]
fn a_route_over_the_date_line_is_cut_there() {
    let text = only(&RoutesGeoJson, &sample::north_report());
    let collection: FeatureCollection = text.parse().unwrap();
    let out = collection
        .features
        .iter()
        .find(|feature| feature.properties.as_ref().unwrap()["role"] == "out")
        .unwrap();
    let Some(GeometryValue::MultiLineString { coordinates }) =
        out.geometry.as_ref().map(|geometry| &geometry.value)
    else {
        panic!("the way out of the northern sample crosses the date line");
    };
    assert_eq!(coordinates.len(), 2);
}

#[test]
fn gpx_is_read_back_with_places_and_times() {
    let report = sample::report();
    let files = GpxRoutes::default().files(&report).unwrap();
    assert_eq!(files.len(), report.ranking.approaches.len());
    for (file, approach) in files.iter().zip(&report.ranking.approaches) {
        assert_eq!(file.name, format!("routes/{}.gpx", approach.id));
        let read = gpx::read(&*file.bytes).unwrap();
        assert_eq!(read.version, gpx::GpxVersion::Gpx11);
        assert_eq!(read.routes.len(), 3);
        assert_eq!(read.waypoints.len(), 1);
        let parts = [&read.routes[0].points, &read.routes[2].points];
        for (points, waypoints) in parts.into_iter().zip([&approach.waypoints, &approach.home]) {
            let turned: Vec<_> = points
                .iter()
                .filter(|point| point.type_.as_deref() == Some("turning point"))
                .collect();
            assert!(points.len() > turned.len());
            assert_eq!(turned.len(), waypoints.len());
            for (point, waypoint) in turned.iter().zip(waypoints) {
                let there = position(waypoint.latitude_deg, waypoint.longitude_deg);
                assert!(distance_km(point.point(), there) < 1e-4);
                let time = time::OffsetDateTime::from(point.time.unwrap());
                assert_eq!(time.unix_timestamp(), waypoint.time.as_second());
            }
        }
        let station = &read.routes[1].points;
        let stays = time::OffsetDateTime::from(station[1].time.unwrap())
            - time::OffsetDateTime::from(station[0].time.unwrap());
        assert_eq!(stays.whole_hours(), 48);
    }
}

/// The order of elements that <https://www.topografix.com/GPX/1/1/gpx.xsd> prescribes (its types are
/// sequences), for the elements that we write.
#[test]
fn published_gpx_schema_order_is_kept() {
    const ORDER: [(&str, &[&str]); 5] = [
        ("gpx", &["metadata", "wpt", "rte", "trk", "extensions"]),
        (
            "metadata",
            &["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"],
        ),
        ("rte", &["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"]),
        ("wpt", POINT),
        ("rtept", POINT),
    ];
    const POINT: &[&str] = &[
        "ele",
        "time",
        "magvar",
        "geoidheight",
        "name",
        "cmt",
        "desc",
        "src",
        "link",
        "sym",
        "type",
    ];
    for file in GpxRoutes::default().files(&sample::report()).unwrap() {
        // For each open element its name and the place of its last child in the order.
        let mut open: Vec<(String, usize)> = Vec::new();
        for event in xml::EventReader::new(&*file.bytes) {
            match event.unwrap() {
                xml::reader::XmlEvent::StartElement { name, attributes, namespace } => {
                    let name = name.local_name;
                    if let Some((parent, last)) = open.last_mut()
                        && let Some((_, order)) = ORDER.iter().find(|(of, _)| of == parent)
                    {
                        let place = order.iter().position(|child| *child == name);
                        let place = place.unwrap_or_else(|| panic!("{name} within {parent}"));
                        assert!(place >= *last, "{name} comes too late within {parent}");
                        *last = place;
                    }
                    let given: Vec<_> =
                        attributes.iter().map(|given| &*given.name.local_name).collect();
                    match &*name {
                        "gpx" => {
                            assert_eq!(given, ["version", "creator"]);
                            let space = namespace.get("").unwrap();
                            assert_eq!(space, "http://www.topografix.com/GPX/1/1");
                        }
                        "wpt" | "rtept" => assert_eq!(given, ["lat", "lon"]),
                        _ => assert!(given.is_empty()),
                    }
                    open.push((name, 0));
                }
                xml::reader::XmlEvent::EndElement { .. } => drop(open.pop()),
                _ => {}
            }
        }
    }
}

/// Each file says what ends the time for turning home; where no limit was found, it says nothing of a last moment.
#[test]
fn the_limit_of_turning_back_is_told_where_there_is_one() {
    let mut report = sample::report();
    let points = |report: &Report| {
        let collection: FeatureCollection = only(&RoutesGeoJson, report).parse().unwrap();
        let all = collection.features.into_iter().filter_map(|feature| feature.properties);
        let turns = all.filter(|all| all["role"] == "turn_back" && all["rank"] == 1);
        let files = GpxRoutes::default().files(report).unwrap();
        let waypoints = gpx::read(&*files[0].bytes).unwrap().waypoints;
        let described = waypoints.into_iter().filter_map(|point| point.description);
        (turns.collect::<Vec<_>>(), described.collect::<Vec<String>>())
    };
    for (limit, name, words) in [
        (TurnBackLimit::Fuel, "fuel", "the fuel does not suffice"),
        (TurnBackLimit::Window, "window", "ends within the planned window"),
        (TurnBackLimit::Ice, "ice", "the way home is closed"),
    ] {
        report.ranking.approaches[0].turn_back.as_mut().unwrap().limit = Some(limit);
        let (turns, described) = points(&report);
        assert_eq!((turns.len(), &turns[0]["limit"]), (1, &Value::from(name)));
        assert!(described.len() == 1 && described[0].contains(words), "{described:?}");
        let page = only(&ReportHtml::default(), &report);
        assert!(page.contains(words) && page.contains(&format!("turn-back of 1 ({name})")));
    }
    for approach in &mut report.ranking.approaches {
        approach.turn_back = None;
    }
    assert_eq!(points(&report), (Vec::new(), Vec::new()));
    let page = only(&ReportHtml::default(), &report);
    assert!(
        page.contains("no last moment to turn is told")
            && !page.contains("last moment to turn for home")
    );
    assert!(!only(&MapSvg::default(), &report).contains("turn-back"));
}

/// A ranking of an earlier version has a last moment without its limit.
#[test]
fn a_last_moment_without_its_limit_is_read() {
    let mut value: Value = serde_json::from_str(&only(&RankingJson, &sample::report())).unwrap();
    value["approaches"][0]["turn_back"].as_object_mut().unwrap().remove("limit").unwrap();
    value["approaches"][1]["turn_back"] = Value::Null;
    let read: Ranking = serde_json::from_value(value).unwrap();
    assert_eq!(read.approaches[0].turn_back.unwrap().limit, None);
    assert_eq!(read.approaches[1].turn_back, None);
}

#[test]
fn gpx_names_are_safe_and_distinct() {
    let mut report = sample::report();
    let names = ["../../etc", "A b", "a-B", "", "x/y", "x\\y"];
    for (approach, name) in report.ranking.approaches.iter_mut().zip(names) {
        approach.id = name.to_owned();
    }
    let files: Vec<String> =
        GpxRoutes::default().files(&report).unwrap().into_iter().map(|file| file.name).collect();
    assert_eq!(
        files,
        [
            "routes/------etc.gpx",
            "routes/A-b.gpx",
            "routes/a-B-2.gpx",
            "routes/route.gpx",
            "routes/x-y.gpx",
            "routes/x-y-2.gpx",
        ]
    );
}

#[test]
fn a_place_that_is_none_is_an_error_in_gpx_and_left_out_of_geojson() {
    let mut report = sample::report();
    report.ranking.approaches[0].waypoints[1].latitude_deg = f64::NAN;
    assert!(matches!(GpxRoutes::default().files(&report), Err(Error::Unsolved(_))));
    let collection: FeatureCollection = only(&RoutesGeoJson, &report).parse().unwrap();
    let outs = collection.features.iter().filter(|feature| {
        feature.properties.as_ref().is_some_and(|properties| properties["role"] == "out")
    });
    assert_eq!(outs.count(), report.ranking.approaches.len() - 1);
}

#[test]
fn all_writers_keep_their_contract() {
    fn check<S: Spec<Point = WriterPoint>>() {
        let clock = Clock::new(sample::at("2027-01-07T00:00Z"));
        let context = BuildContext::new(Path::new("."), Hemisphere::South, clock, 720.0);
        let built = check_example::<S>(&context).unwrap();
        check_writer(built.object.as_ref())
            .unwrap_or_else(|broken| panic!("{}: {broken}", S::KIND));
    }
    check::<RankingJsonSpec>();
    check::<RoutesGeoJsonSpec>();
    check::<GpxSpec>();
    check::<MapSvgSpec>();
    check::<ReportHtmlSpec>();
    check::<ResolvedScenarioSpec>();
    check::<RunJsonSpec>();
    check::<VoyageLogSpec>();
}

#[test]
fn the_resolved_scenario_ends_in_a_line_end() {
    let mut report = sample::report();
    report.resolved_scenario = "seed: 7".to_owned();
    let files = ResolvedScenario.files(&report).unwrap();
    let wanted =
        OutputFile { name: "scenario.resolved.yaml".to_owned(), bytes: b"seed: 7\n".to_vec() };
    assert_eq!(files, [wanted]);
}

/// A warning is a point of the routes and a sentence of the page, where and when it first holds.
#[test]
fn warnings_are_points_and_sentences() {
    let mut report = sample::report();
    let first = &mut report.ranking.approaches[0];
    let at = first.waypoints[1];
    first.warnings = vec![Warning {
        text: "H under <6000> nT".to_owned(),
        latitude_deg: at.latitude_deg,
        longitude_deg: at.longitude_deg,
        time: at.time,
        distance_km: 482.4,
    }];
    let id = first.id.clone();

    let collection: FeatureCollection = only(&RoutesGeoJson, &report).parse().unwrap();
    let of_role = |feature: &&geojson::Feature| {
        feature.properties.as_ref().is_some_and(|all| all["role"] == "warning")
    };
    let points: Vec<_> = collection.features.iter().filter(of_role).collect();
    assert_eq!(points.len(), 1);
    let told = points[0].properties.as_ref().unwrap();
    assert_eq!(told["text"], "H under <6000> nT");
    assert_eq!(told["distance_km"], 482.4);
    let Some(GeometryValue::Point { coordinates }) =
        points[0].geometry.as_ref().map(|geometry| &geometry.value)
    else {
        panic!("a warning is a point");
    };
    assert!((coordinates[0] - at.longitude_deg).abs() < 1e-6);
    assert!((coordinates[1] - at.latitude_deg).abs() < 1e-6);

    let files = GpxRoutes::default().files(&report).unwrap();
    let file = files.iter().find(|file| file.name.contains(&id)).unwrap();
    let read = gpx::read(&*file.bytes).unwrap();
    let named =
        |point: &&gpx::Waypoint| point.name.as_deref().is_some_and(|name| name == "warning");
    let point = read.waypoints.iter().find(named).unwrap();
    assert!((point.point().y() - at.latitude_deg).abs() < 1e-6);
    assert!(point.description.as_deref().unwrap().ends_with("for 482 km in all."));

    let page = only(&ReportHtml::default(), &report);
    assert!(page.contains("H under &lt;6000&gt; nT: from ") && page.contains("for 482 km out"));
}
