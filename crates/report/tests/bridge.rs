//! What a bridge receives: rhumb lines between the points of a GPX file keep to the planned track.

#![allow(clippy::unwrap_used, reason = "what a test calls may fail as the test does")]

mod sample;

use dipward_geodesy::{KM_PER_NAUTICAL_MILE, Position, distance_km, interpolate, position};
use dipward_plugin::{BuildContext, Clock, Profile, Report, Spec, Waypoint, Writer};
use dipward_report::{GpxRoutes, GpxSpec};
use jiff::{SignedDuration, Timestamp};

const LIMIT_NM: f64 = 0.5;

/// Hours into the way at which the craft has come so far: 12 kn, and from `slow_km` on 3 kn.
fn hours(km: f64, slow_km: f64) -> f64 {
    let nm = |km: f64| km / KM_PER_NAUTICAL_MILE;
    nm(km.min(slow_km)) / 12.0 + nm((km - slow_km).max(0.0)) / 3.0
}

fn later(time: Timestamp, hours: f64) -> Timestamp {
    time.checked_add(SignedDuration::from_millis((hours * 3_600_000.0) as i64)).unwrap()
}

/// A report whose first approach goes along places, with the samples of its passage. A place given twice is
/// a wait of six hours.
fn along(places: &[Position], slow_km: f64) -> (Report, f64) {
    let mut report = sample::report();
    let approach = &mut report.ranking.approaches[0];
    let depart = approach.depart;
    let mut profile = Profile::default();
    let mut way: Vec<Waypoint> = Vec::new();
    let (mut km, mut waited_h) = (0.0, 0.0);
    let mut note = |km: f64, hour: f64| {
        profile.hour.push(hour);
        profile.distance_km.push(km);
        profile.fuel_used_t.push(hour * 0.5);
    };
    for (index, place) in places.iter().enumerate() {
        if let Some(before) = index.checked_sub(1).map(|before| places[before]) {
            let leg_km = distance_km(before, *place);
            if before == *place {
                waited_h += 6.0;
            }
            let parts = (leg_km / 10.0).ceil() as u32;
            for part in 1..parts {
                let run_km = km + leg_km * f64::from(part) / f64::from(parts);
                note(run_km, hours(run_km, slow_km) + waited_h);
            }
            km += leg_km;
        }
        let hour = hours(km, slow_km) + waited_h;
        note(km, hour);
        way.push(Waypoint {
            latitude_deg: place.y(),
            longitude_deg: place.x(),
            time: later(depart, hour),
            speed_kn: 9.0,
            fuel_used_t: hour * 0.5,
            course_deg: 180.0,
        });
    }
    approach.waypoints = way;
    let id = approach.id.clone();
    report.profiles.insert(id, profile);
    (report, km)
}

fn out_of(report: &Report, limit_nm: f64) -> Vec<gpx::Waypoint> {
    let clock = Clock::new(sample::at("2027-01-07T00:00Z"));
    let context = BuildContext::new(
        std::path::Path::new("."),
        dipward_geodesy::Hemisphere::South,
        clock,
        720.0,
    );
    let spec: GpxSpec =
        serde_json::from_value(serde_json::json!({ "cross_track_nm": limit_nm })).unwrap();
    let files = spec.build(&context).unwrap().files(report).unwrap();
    let read = gpx::read(&*files[0].bytes).unwrap();
    read.routes[0].points.clone()
}

fn seconds(point: &gpx::Waypoint) -> i64 {
    time::OffsetDateTime::from(point.time.unwrap()).unix_timestamp()
}

/// Isometric latitude on WGS84, by the textbook's formula.
fn isometric(latitude_deg: f64) -> f64 {
    let e = (298.257_223_563_f64.recip() * (2.0 - 298.257_223_563_f64.recip())).sqrt();
    let sine = latitude_deg.to_radians().sin();
    sine.atanh() - e * (e * sine).atanh()
}

/// Points on the rhumb line between two places.
fn on_rhumb_line(a: Position, b: Position) -> impl Iterator<Item = Position> {
    let east = (b.x() - a.x() + 540.0).rem_euclid(360.0) - 180.0;
    (1..30).map(move |step| {
        let share = f64::from(step) / 30.0;
        let latitude_deg = a.y() + share * (b.y() - a.y());
        let whole = isometric(b.y()) - isometric(a.y());
        let part = if whole.abs() < 1e-7 {
            share
        } else {
            (isometric(latitude_deg) - isometric(a.y())) / whole
        };
        position(latitude_deg, a.x() + part * east)
    })
}

/// How far a point lies off a geodesic.
fn off_track_km(track: &[Position], at: Position) -> f64 {
    let legs = track.windows(2).filter(|leg| leg[0] != leg[1]);
    let to_leg = legs.map(|leg| {
        let km = |share: f64| distance_km(interpolate(leg[0], leg[1], share), at);
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let third = (high - low) / 3.0;
            if km(low + third) < km(high - third) { high -= third } else { low += third }
        }
        km(0.5 * (low + high))
    });
    to_leg.fold(f64::INFINITY, f64::min)
}

fn check(places: &[Position], slow_km: f64, limit_nm: f64) -> (Vec<gpx::Waypoint>, f64) {
    let (report, length_km) = along(places, slow_km);
    let points = out_of(&report, limit_nm);
    let mut most_nm: f64 = 0.0;
    let mut run_km = 0.0;
    for pair in points.windows(2) {
        let (a, b) = (pair[0].point(), pair[1].point());
        let comment = pair[0].comment.as_deref().unwrap();
        let leg_km = distance_km(a, b);
        run_km += leg_km;
        assert!(seconds(&pair[1]) > seconds(&pair[0]), "{comment}");
        let beyond = [a, b].iter().any(|end| end.y().abs() > 89.9);
        if a == b {
            assert!(comment.starts_with("waits 6.0 h"), "{comment}");
        } else if beyond {
            assert!(comment.starts_with("geodesic, course "), "{comment}");
            assert!(
                comment.contains(" true at its start, ") && leg_km <= KM_PER_NAUTICAL_MILE + 1e-4
            );
            assert!(off_track_km(places, a).max(off_track_km(places, b)) < 0.1);
        } else {
            assert!(comment.starts_with("rhumb line, course "), "{comment}");
            let told: f64 = comment
                .split(" true, ")
                .nth(1)
                .unwrap()
                .split(" nm")
                .next()
                .unwrap()
                .parse()
                .unwrap();
            assert!(told * KM_PER_NAUTICAL_MILE > leg_km - 0.02, "{comment} {leg_km}");
            let off = on_rhumb_line(a, b).map(|at| off_track_km(places, at)).fold(0.0, f64::max);
            most_nm = most_nm.max(off / KM_PER_NAUTICAL_MILE);
        }
    }
    assert!(most_nm <= limit_nm * 1.0001, "{most_nm}");
    assert!((run_km - length_km).abs() < 0.3, "{run_km} {length_km}");
    for (index, one) in points.iter().enumerate() {
        for other in &points[..index] {
            let nm = distance_km(one.point(), other.point()) / KM_PER_NAUTICAL_MILE;
            assert!(nm == 0.0 || nm >= 0.05, "{nm}");
        }
    }
    (points, most_nm)
}

#[test]
fn rhumb_lines_of_a_long_voyage_keep_to_the_planned_track() {
    let places = [position(-43.0, 172.7), position(-64.0, 136.0)];
    let whole_km = distance_km(places[0], places[1]);
    assert!(whole_km > 2000.0);
    let (points, most_nm) = check(&places, 0.6 * whole_km, LIMIT_NM);
    assert!(most_nm > 0.1 && (8..60).contains(&points.len()), "{most_nm} {}", points.len());
    // Each point has the hour at which the craft is there, though the ship slows on the way.
    let mut run_km = 0.0;
    let start = seconds(&points[0]);
    for pair in points.windows(2) {
        run_km += distance_km(pair[0].point(), pair[1].point());
        let told_h = (seconds(&pair[1]) - start) as f64 / 3600.0;
        assert!((told_h - hours(run_km, 0.6 * whole_km)).abs() < 0.3, "{told_h} at {run_km}");
    }
    // The finer the limit, the more points.
    assert!(check(&places, whole_km, 0.05).0.len() > points.len());
}

#[test]
fn a_way_over_the_pole_is_a_geodesic_there() {
    let places = [position(88.0, 0.0), position(88.0, 178.5)];
    assert!(interpolate(places[0], places[1], 0.5).y() > 89.95);
    let (points, _) = check(&places, 1e9, LIMIT_NM);
    let told = |line: &str| {
        points.iter().filter(|point| point.comment.as_deref().unwrap().starts_with(line)).count()
    };
    assert!(told("geodesic") >= 12 && told("rhumb line") >= 2, "{}", told("geodesic"));
    // Courses turn round while the pole is passed.
    assert!(points.iter().any(|point| point.type_.as_deref() == Some("cut")));
}

#[test]
fn waits_stay_and_points_too_near_to_one_another_go() {
    let (here, there) = (position(-60.0, 150.0), position(-64.0, 140.0));
    let beside = position(-60.0003, 150.0);
    for places in [
        vec![position(-58.0, 152.0), here, here, there],
        vec![position(-58.0, 152.0), here, beside, there],
        vec![position(-58.0, 152.0), here, beside, beside, there],
        vec![position(-58.0, 152.0), here, beside],
        vec![here, beside, there],
    ] {
        let waits = places.windows(2).filter(|pair| pair[0] == pair[1]).count();
        let (points, _) = check(&places, 1e9, LIMIT_NM);
        let told = points.windows(2).filter(|pair| pair[0].point() == pair[1].point()).count();
        assert_eq!(told, waits, "{places:?}");
        let ends = [points.first().unwrap(), points.last().unwrap()].map(|end| end.point());
        assert!(distance_km(ends[0], places[0]) < 1e-4);
        assert!(distance_km(ends[1], *places.last().unwrap()) < 1e-4);
    }
}

#[test]
fn the_stated_distance_is_checked() {
    let clock = Clock::new(sample::at("2027-01-07T00:00Z"));
    let context = BuildContext::new(
        std::path::Path::new("."),
        dipward_geodesy::Hemisphere::South,
        clock,
        720.0,
    );
    for (nm, right) in [(0.04, false), (0.05, true), (10.0, true), (11.0, false), (f64::NAN, false)]
    {
        assert_eq!(GpxSpec { cross_track_nm: nm }.build(&context).is_ok(), right, "{nm}");
    }
    assert!(GpxRoutes::default().files(&sample::report()).is_ok());
}
