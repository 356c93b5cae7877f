//! An invented result for the tests: ship, ports' calls, dates, ice, coast and chances are made up, the
//! numbers only hang together as those of a real run would.

// Each test binary uses a part of it.
#![allow(dead_code)]

use std::collections::BTreeMap;

use dipward_geodesy::{
    Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, direct, distance_km, inverse,
    position,
};
use dipward_plugin::*;
use geo::{Coord, LineString, MultiPolygon, Polygon};
use jiff::Timestamp;

pub(crate) fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn later(time: Timestamp, hours: f64) -> Timestamp {
    Clock::new(time).instant(hours)
}

const POLE: (f64, f64) = (-63.75, 134.95);

/// A southern voyage with six approaches, five of them by different ways or days.
pub(crate) fn report() -> Report {
    let hobart = ("Hobart", position(-42.88, 147.33));
    let bluff = ("Bluff", position(-46.60, 168.34));
    let east = &[(-52.0, 148.5), (-60.5, 143.5), (-62.8, 138.2)][..];
    let west = &[(-51.0, 141.0), (-59.0, 133.0), (-62.6, 132.0)][..];
    let far = &[(-54.0, 160.0), (-61.8, 147.0), (-63.0, 139.0)][..];
    let rows = [
        (hobart, "2027-01-14T06:00Z", east, "earliest", 0.82, 0.0),
        (hobart, "2027-01-14T06:00Z", west, "least fuel", 0.80, 9.0),
        (hobart, "2027-01-21T06:00Z", east, "earliest", 0.79, 3.0),
        (bluff, "2027-01-12T18:00Z", far, "earliest", 0.71, 14.0),
        (hobart, "2027-01-07T06:00Z", west, "earliest", 0.64, 22.0),
        (bluff, "2027-01-19T18:00Z", far, "least fuel", 0.52, 31.0),
    ];
    let mut approaches = Vec::new();
    let mut profiles = BTreeMap::new();
    let mut attainment_on_station = BTreeMap::new();
    for (index, (port, depart, via, sought, chance, elevated_h)) in rows.into_iter().enumerate() {
        let (approach, profile) =
            approach(index, port, at(depart), via, sought, chance, elevated_h);
        let curve = (0..=48)
            .map(|hour| {
                let share = 1.0 - (-f64::from(hour) / 11.0).exp();
                (later(approach.arrive, f64::from(hour)), chance * share)
            })
            .collect();
        attainment_on_station.insert(approach.id.clone(), curve);
        profiles.insert(approach.id.clone(), profile);
        approaches.push(approach);
    }
    Report {
        ranking: ranking(approaches),
        profiles,
        attainment_on_station,
        pole: pole(),
        map: map(vec![(hobart.0.to_owned(), hobart.1), (bluff.0.to_owned(), bluff.1)]),
        layers: layers(),
        resolved_scenario: "title: Invented voyage\nseed: 7\n".to_owned(),
        run: RunRecord {
            dipward_version: "0.1.0".to_owned(),
            seed: 7,
            inputs_sha256: BTreeMap::from([
                ("scenario.yaml".to_owned(), "ab".repeat(32)),
                ("ice/2027-01-10.geojson".to_owned(), "0c".repeat(32)),
            ]),
            timings_s: vec![("chart".to_owned(), 1.25), ("search".to_owned(), 6.5)],
            counts: BTreeMap::from([("cells".to_owned(), 120_000), ("members".to_owned(), 400)]),
        },
        notes: vec![
            "Ship, people, dates and ice are invented; coast and field are real.".to_owned(),
        ],
    }
}

/// The same with nothing feasible and the least that a report can have.
pub(crate) fn empty_report() -> Report {
    let full = report();
    Report {
        ranking: Ranking { approaches: Vec::new(), assumptions: Vec::new(), ..full.ranking },
        profiles: BTreeMap::new(),
        attainment_on_station: BTreeMap::new(),
        pole: PolePicture::default(),
        map: MapPicture {
            outlines: Vec::new(),
            ice_concentration: Vec::new(),
            closed: Vec::new(),
            elevated: Vec::new(),
            places: Vec::new(),
            ..full.map
        },
        layers: Vec::new(),
        resolved_scenario: String::new(),
        run: RunRecord::default(),
        notes: Vec::new(),
    }
}

fn ranking(approaches: Vec<Approach>) -> Ranking {
    Ranking {
        schema_version: SCHEMA_VERSION,
        dipward_version: "0.1.0".to_owned(),
        scenario: "Invented summer voyage to the south dip pole".to_owned(),
        seed: 7,
        caution: CAUTION.to_owned(),
        assumptions: vec![
            Assumption::new(
                "pole.disturbance",
                "The horizontal disturbance over the pole grows with Kp by 9 nT a third; nobody \
                 measured this for this voyage.",
            ),
            Assumption::new("craft", "Riska's ice resistance holds for this invented hull."),
            Assumption::new(
                "chart.ice",
                "The last ice chart holds until the window ends, 17 days after it was drawn.",
            ),
        ],
        pole: PoleSummary {
            hemisphere: Hemisphere::South,
            model: "IGRF-14, degree 13".to_owned(),
            epoch: at("2027-01-22T00:00Z"),
            latitude_deg: POLE.0,
            longitude_deg: POLE.1,
            drift_km_per_year: 9.4,
            drift_bearing_deg: 312.0,
        },
        why: vec![
            "hobart-20270114T06-a stands before hobart-20270114T06-b by its chance (82 % against \
             80 %) and its hours at elevated risk (0 h against 9 h)."
                .to_owned(),
            "The intervals of the two chances overlap: the ensemble of 400 members does not tell \
             them apart."
                .to_owned(),
        ],
        approaches,
        rejected: vec![
            Rejected {
                from: "Bluff".to_owned(),
                depart: at("2027-01-26T18:00Z"),
                reason: "the goal cannot be reached before the window ends".to_owned(),
            },
            Rejected {
                from: "Hobart".to_owned(),
                depart: at("2027-01-28T06:00Z"),
                reason: "fuel for the way there (412 t) but not for the way home with the reserve"
                    .to_owned(),
            },
        ],
    }
}

#[allow(clippy::too_many_arguments)]
fn approach(
    index: usize,
    port: (&str, Position),
    depart: Timestamp,
    via: &[(f64, f64)],
    sought: &str,
    chance: f64,
    elevated_h: f64,
) -> (Approach, Profile) {
    let pole = position(POLE.0, POLE.1);
    let mut points = vec![port.1];
    points.extend(via.iter().map(|&(latitude, longitude)| position(latitude, longitude)));
    points.push(pole);
    let (out, distance_km, out_h) = sail(&points, depart);
    let arrive = later(depart, out_h);
    let leave = later(arrive, 48.0);
    points.reverse();
    let (home, _, home_h) = sail(&points, leave);
    let back = later(leave, home_h);
    let fuel = |way: &[Waypoint]| way.last().map_or(0.0, |point| point.fuel_used_t);
    let (fuel_out, fuel_home) = (fuel(&out), fuel(&home));
    let letter = char::from(b'a' + (index % 3) as u8);
    let id = format!("{}-{}-{letter}", port.0.to_lowercase(), depart.strftime("%Y%m%dT%H"));
    let profile = profile(&out, &home, out_h, home_h);
    let fuel_t = FuelPlan {
        out: fuel_out,
        station: 19.2,
        home: fuel_home,
        reserve: 120.0,
        capacity: 1100.0,
        margin: 1100.0 - 120.0 - 19.2 - fuel_out - fuel_home,
    };
    let approach = Approach {
        rank: index as u32 + 1,
        id,
        from: port.0.to_owned(),
        home_to: port.0.to_owned(),
        craft: "RV Aster (invented)".to_owned(),
        sought: sought.to_owned(),
        trade: if sought == "earliest" {
            String::new()
        } else {
            "saves 31 t of fuel for 14 h more".to_owned()
        },
        depart,
        arrive,
        leave,
        back,
        distance_km,
        duration_h: out_h,
        fuel_t,
        attainment: Attainment {
            probability: chance,
            low: chance - 0.04,
            high: chance + 0.035,
            within_km: 10.0,
            median_closest_km: 6.2,
        },
        risk: Risk { minimum_rio: Some(4.0 - elevated_h / 3.0), hours_elevated: elevated_h },
        turn_back: TurnBack {
            time: later(leave, 60.0),
            latitude_deg: POLE.0 + 0.6,
            longitude_deg: POLE.1 + 1.0,
        },
        lower_bound_h: out_h * 0.98,
        lower_bound_t: fuel_out * 0.97,
        gap_percent: 2.04,
        on_front: index < 3,
        criteria: BTreeMap::from([
            ("attainment_probability".to_owned(), chance),
            ("fuel_margin_t".to_owned(), fuel_t.margin),
            ("hours_elevated_h".to_owned(), elevated_h),
            ("duration_h".to_owned(), out_h),
        ]),
        waypoints: out,
        home,
    };
    (approach, profile)
}

/// Waypoints, length and hours of a way that slows in the south.
fn sail(points: &[Position], start: Timestamp) -> (Vec<Waypoint>, f64, f64) {
    let (mut hour, mut fuel, mut length) = (0.0, 0.0, 0.0);
    let mut way = Vec::new();
    for (index, point) in points.iter().enumerate() {
        let next = points.get(index + 1);
        let speed_kn = if point.y() < -60.0 { 6.0 } else { 12.5 };
        let leg = next.map(|next| inverse(*point, *next));
        way.push(Waypoint {
            latitude_deg: point.y(),
            longitude_deg: point.x(),
            time: later(start, hour),
            speed_kn: if leg.is_some() { speed_kn } else { 0.0 },
            fuel_used_t: fuel,
            course_deg: leg.map_or(180.0, |leg| leg.initial_course_deg),
        });
        if let Some(leg) = leg {
            let leg_h = leg.distance_km / (speed_kn * 1.852);
            hour += leg_h;
            fuel += leg_h * if speed_kn < 10.0 { 2.4 } else { 1.5 };
            length += leg.distance_km;
        }
    }
    (way, length, hour)
}

fn profile(out: &[Waypoint], home: &[Waypoint], out_h: f64, home_h: f64) -> Profile {
    let mut profile = Profile::default();
    let fuel_out = out.last().map_or(0.0, |point| point.fuel_used_t);
    let fuel_home = home.last().map_or(0.0, |point| point.fuel_used_t);
    let mut push = |hour: f64, fuel: f64, south: f64| {
        let ice = ((south - 0.75) * 4.2 + 0.12 * (hour / 3.0).sin()).clamp(0.0, 0.95);
        profile.hour.push(hour);
        profile.distance_km.push(hour * 18.0);
        profile.fuel_used_t.push(fuel);
        profile.risk_index.push((ice > 0.05).then(|| (30.0 - 32.0 * ice).round()));
        profile.ice_concentration.push((south < 0.9 || south > 0.93).then_some(ice));
        profile.closure.push(Closure::Open);
    };
    for step in 0..=80 {
        let share = f64::from(step) / 80.0;
        push(share * out_h, share.powf(1.3) * fuel_out, share);
    }
    for step in 1..=16 {
        let share = f64::from(step) / 16.0;
        push(out_h + share * 48.0, fuel_out + share * 19.2, 0.98);
    }
    for step in 1..=80 {
        let share = f64::from(step) / 80.0;
        push(
            out_h + 48.0 + share * home_h,
            fuel_out + 19.2 + share.powf(0.8) * fuel_home,
            1.0 - share,
        );
    }
    profile
}

fn pole() -> PolePicture {
    let start = at("2027-01-07T00:00Z");
    let mean = |hour: f64| direct(position(POLE.0, POLE.1), 312.0, (hour - 360.0) / 8766.0 * 9.4);
    let centre = position(POLE.0, POLE.1);
    let ellipse = |factor: f64, probability: f64| PoleEllipse {
        centre,
        semi_major_km: 22.0 * factor,
        semi_minor_km: 13.0 * factor,
        bearing_deg: 70.0,
        probability,
    };
    let cloud = (0..300)
        .map(|index| {
            // A sunflower, squeezed: as even as a random cloud is not, but the same each time.
            let index = f64::from(index);
            let radius_km = 36.0 * (-(1.0 - (index + 0.5) / 300.0).ln()).sqrt() * 0.7;
            let turn = index * 2.399_963;
            let (along, across) = (radius_km * turn.cos(), radius_km * 0.6 * turn.sin());
            direct(centre, 70.0 + across.atan2(along).to_degrees(), along.hypot(across)).position
        })
        .collect();
    PolePicture {
        mean_track: (0..=30)
            .map(|step| {
                (later(start, f64::from(step) * 24.0), mean(f64::from(step) * 24.0).position)
            })
            .collect(),
        daily_oval: (0..=24)
            .map(|hour| {
                let (sine, cosine) = (f64::from(hour) * 15.0).to_radians().sin_cos();
                direct(
                    centre,
                    20.0 + (5.0 * sine).atan2(9.0 * cosine).to_degrees(),
                    (5.0 * sine).hypot(9.0 * cosine),
                )
                .position
            })
            .collect(),
        ellipse_50: Some(ellipse(1.177, 0.5)),
        ellipse_95: Some(ellipse(2.448, 0.95)),
        cloud,
        chance_by_day: (0..30)
            .map(|day| {
                let day = f64::from(day);
                (later(start, day * 24.0), 0.55 + 0.25 * (day / 27.0 * std::f64::consts::TAU).sin())
            })
            .collect(),
        within_km: 10.0,
    }
}

fn wiggle(longitude_deg: f64) -> f64 {
    let l = longitude_deg.to_radians();
    0.9 * (7.0 * l).sin() + 0.5 * (19.0 * l + 1.0).sin() + 0.25 * (53.0 * l).cos()
}

fn map(places: Vec<(String, Position)>) -> MapPicture {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let corners = [
        position(-40.5, 147.0),
        position(-44.0, 170.0),
        position(-70.0, 120.0),
        position(-55.0, 120.0),
    ];
    let grid = Grid::covering(polar, &corners, 15.0, 150.0).unwrap();
    let coast = |longitude: f64| -66.3 + wiggle(longitude);
    let cells = grid.len();
    let mut ice = vec![f32::NAN; cells];
    let mut closed = vec![false; cells];
    let mut elevated = vec![false; cells];
    for cell in 0..cells {
        let place = grid.centre(cell as u32).unwrap();
        let (latitude, longitude) = (place.y(), place.x());
        let unknown = (150.0..156.0).contains(&longitude) && latitude < -63.0;
        if latitude < coast(longitude) || unknown {
            continue;
        }
        let edge = -61.5 + 1.4 * (longitude / 9.0).sin() + 0.5 * (longitude / 2.3).cos();
        let polynya = distance_km(place, position(-65.2, 141.0)) / 150.0;
        let depth = (edge - latitude) / 3.2;
        let value = (depth.clamp(0.0, 1.0) * 0.98 * polynya.min(1.0)) as f32;
        ice[cell] = value;
        elevated[cell] = value > 0.88;
        closed[cell] = distance_km(place, position(-58.0, 152.0)) < 110.0;
    }
    let ring = |points: Vec<Position>| {
        let coords: Vec<Coord<f64>> = points.into_iter().map(|point| grid.coord(point)).collect();
        Polygon::new(LineString::new(coords), Vec::new())
    };
    let span = |from: f64, to: f64, steps: u32| {
        (0..=steps).map(move |step| from + (to - from) * f64::from(step) / f64::from(steps))
    };
    let antarctica = ring(
        span(100.0, 190.0, 900)
            .map(|longitude| position(coast(longitude), longitude))
            .chain(span(190.0, 100.0, 60).map(|longitude| position(-75.0, longitude)))
            .collect(),
    );
    let island = |latitude: f64, longitude: f64, radius_km: f64| {
        ring(
            (0..120)
                .map(|step| {
                    let turn = f64::from(step) * 3.0;
                    let size = radius_km * (1.0 + 0.15 * wiggle(turn));
                    direct(position(latitude, longitude), turn, size).position
                })
                .collect(),
        )
    };
    let shelf = ring(
        span(155.0, 164.0, 60)
            .map(|longitude| position(coast(longitude) + 0.9, longitude))
            .chain(
                span(164.0, 155.0, 60).map(|longitude| position(coast(longitude) - 0.2, longitude)),
            )
            .collect(),
    );
    let outline = |quantity, areas| Outline { quantity, areas: MultiPolygon::new(areas) };
    MapPicture {
        outlines: vec![
            outline(
                Quantity::LAND,
                vec![antarctica, island(-42.0, 146.5, 150.0), island(-45.4, 168.8, 200.0)],
            ),
            outline(Quantity::SHELF, vec![shelf]),
        ],
        grid,
        at: at("2027-01-22T00:00Z"),
        ice_concentration: ice,
        closed,
        elevated,
        places,
    }
}

fn layers() -> Vec<LayerRecord> {
    let record = |name: &str, kind: &str, source: &str, coverage, instants, age| LayerRecord {
        name: name.to_owned(),
        kind: kind.to_owned(),
        provenance: Provenance {
            name: name.to_owned(),
            source: source.to_owned(),
            licence: Some("public domain".to_owned()),
        },
        coverage,
        instants,
        age_at_end_h: age,
    };
    let instants = Some((at("2027-01-03T00:00Z"), at("2027-01-20T00:00Z")));
    vec![
        record("ice", "ice_polygons", "invented", 0.93, instants, Some(408.0)),
        record("coast", "coast", "Natural Earth 10 m, poleward of 40°", 1.0, None, None),
        record("depth", "depth", "ETOPO1, thinned", 1.0, None, None),
    ]
}
