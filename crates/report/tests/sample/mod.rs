//! An invented result for the tests: ship, ports' calls, dates, ice, coast and chances are made up, the
//! numbers only hang together as those of a real run would.

#![allow(dead_code, reason = "each test binary uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a sample that cannot be made is a failed test")]

mod chart;

use std::{collections::BTreeMap, sync::LazyLock};

use dipward_geodesy::{
    Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, direct, inverse, position,
};
use dipward_plugin::*;
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
    // The chart takes a while: a geodesic for each cell.
    static MADE: LazyLock<Report> = LazyLock::new(make);
    MADE.clone()
}

fn make() -> Report {
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
        voyages: BTreeMap::new(),
        attainment_on_station,
        pole: chart::pole(),
        map: chart::map(vec![(hobart.0.to_owned(), hobart.1), (bluff.0.to_owned(), bluff.1)]),
        layers: chart::layers(),
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

/// A northern voyage across the date line and past the geographic pole, in ice all the way.
pub(crate) fn north_report() -> Report {
    let base = report();
    let polar =
        PolarStereographic::variant_b(Hemisphere::North, 70.0, -45.0, Ellipsoid::WGS84).unwrap();
    let port = position(64.5, -165.4);
    let centre = position(86.1, 139.0);
    let sides = [position(60.0, 180.0), position(78.0, 15.0), port, centre];
    let grid = Grid::covering(polar, &sides, 20.0, 200.0).unwrap();
    let shift = |place: &Position| {
        let way = inverse(position(POLE.0, POLE.1), *place);
        direct(centre, way.initial_course_deg, way.distance_km).position
    };
    let ellipse = |ellipse: Option<PoleEllipse>| ellipse.map(|e| PoleEllipse { centre, ..e });
    let points = [port, position(72.0, -175.0), position(80.0, 175.0), centre];
    let mut approaches = base.ranking.approaches;
    approaches.truncate(1);
    for approach in &mut approaches {
        approach.waypoints = sail(&points, approach.depart).0;
        let back: Vec<Position> = points.iter().rev().copied().collect();
        approach.home = sail(&back, approach.leave).0;
        approach.from = "Nome".to_owned();
    }
    let ice = (0..grid.len())
        .map(|cell| {
            let latitude = grid.centre(cell as u32).map_or(f64::NAN, |place| place.y());
            ((latitude - 72.0) / 10.0).clamp(0.0, 1.0) as f32
        })
        .collect();
    Report {
        ranking: Ranking {
            approaches,
            pole: PoleSummary {
                hemisphere: Hemisphere::North,
                latitude_deg: centre.y(),
                longitude_deg: centre.x(),
                ..base.ranking.pole
            },
            ..base.ranking
        },
        pole: PolePicture {
            mean_track: base
                .pole
                .mean_track
                .iter()
                .map(|(at, at_place)| (*at, shift(at_place)))
                .collect(),
            daily_oval: base.pole.daily_oval.iter().map(shift).collect(),
            quiet_oval: base.pole.quiet_oval.iter().map(shift).collect(),
            cloud: base.pole.cloud.iter().map(shift).collect(),
            ellipse_50: ellipse(base.pole.ellipse_50),
            ellipse_95: ellipse(base.pole.ellipse_95.map(|e| PoleEllipse {
                semi_major_km: 480.0,
                semi_minor_km: 450.0,
                ..e
            })),
            ..base.pole
        },
        map: MapPicture {
            grid,
            outlines: Vec::new(),
            ice_concentration: ice,
            closed: Vec::new(),
            elevated: Vec::new(),
            places: vec![("Nome".to_owned(), port)],
            ..base.map
        },
        ..base
    }
}

/// The same with nothing feasible and the least that a report can have.
pub(crate) fn empty_report() -> Report {
    let full = report();
    Report {
        ranking: Ranking {
            approaches: Vec::new(),
            assumptions: Vec::new(),
            crust_sensitivity: None,
            ..full.ranking
        },
        profiles: BTreeMap::new(),
        voyages: BTreeMap::new(),
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
        crust_sensitivity: Some(CrustSensitivity {
            approach: "hobart-20270114T06-a".to_owned(),
            half: Some(ChanceOfStay { probability: 0.93, if_holding: 0.74 }),
            twice: Some(ChanceOfStay { probability: 0.61, if_holding: 0.1 }),
            untold: None,
        }),
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
        margin_if_beset: 1100.0 - 120.0 - 19.2 - fuel_out - fuel_home - 24.0,
    };
    let approach = Approach {
        warnings: Vec::new(),
        rank: index as u32 + 1,
        group: index as u32 + 1,
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
        pilotage: None,
        distance_km,
        duration_h: out_h,
        on_station: "follows the pole by its daily oval at 6 kn".to_owned(),
        fuel_t,
        attainment: Attainment {
            probability: chance,
            low: chance - 0.04,
            high: chance + 0.035,
            within_km: 10.0,
            median_closest_km: 6.2,
            if_holding: chance - 0.11,
            if_clairvoyant: chance + 0.06,
        },
        risk: Risk {
            minimum_rio: Some(4.0 - elevated_h / 3.0),
            hours_elevated: elevated_h,
            ..Risk::default()
        },
        stay: stay(),
        turn_back: Some(TurnBack {
            limit: Some(TurnBackLimit::Fuel),
            time: later(leave, 60.0),
            latitude_deg: POLE.0 + 0.6,
            longitude_deg: POLE.1 + 1.0,
        }),
        turning: (index < 2).then(|| turning(depart, arrive, leave, index == 0)),
        lower_bound_h: Some(out_h * 0.98),
        lower_bound_t: Some(fuel_out * 0.97),
        gap_percent: Some(2.04),
        home_bound: (index < 4).then_some(WayBound {
            lower_bound_h: Some(home_h * 0.985),
            lower_bound_t: None,
            gap_percent: Some(1.52),
        }),
        on_front: index < 3,
        first_probability: Some(0.9),
        tied_with_previous: false,
        criteria: BTreeMap::from([
            ("attainment_probability".to_owned(), chance),
            ("fuel_margin_t".to_owned(), fuel_t.margin),
            ("hours_elevated_h".to_owned(), elevated_h),
            ("duration_h".to_owned(), out_h),
        ]),
        waypoints: out,
        home,
        last_leg: None,
    };
    (approach, profile)
}

/// A scan of four decisions; where the ice closes and opens, the way home is lost and won twice.
fn turning(depart: Timestamp, arrive: Timestamp, leave: Timestamp, closes: bool) -> TurningScan {
    let place =
        |share: f64| (-42.88 + share * (POLE.0 + 42.88), 147.33 + share * (POLE.1 - 147.33));
    let midway = later(depart, 60.0);
    let decision = |time, share, fuel_t, home_t: Option<f64>| {
        let (latitude_deg, longitude_deg) = place(share);
        let margin_t = home_t.map(|home_t| fuel_t - home_t - 120.0 - 24.0);
        TurningDecision {
            time,
            latitude_deg,
            longitude_deg,
            fuel_t,
            home_t,
            margin_t,
            beset_days: margin_t.map(|margin_t| (margin_t + 24.0) / 4.8),
            nearest_refuge: (time < leave).then(|| "Hobart".to_owned()),
        }
    };
    let crossing = |hours: f64, share, event| {
        let (latitude_deg, longitude_deg) = place(share);
        TurningCrossing { time: later(depart, hours), latitude_deg, longitude_deg, event }
    };
    let (latitude_deg, longitude_deg) = place(0.5);
    TurningScan {
        under_way_every_h: 60.0,
        on_station_every_h: 24.0,
        beset_days: 5.0,
        decisions: vec![
            decision(depart, 0.0, 1100.0, Some(0.0)),
            decision(midway, 0.5, 1010.0, Some(if closes { 921.5 } else { 80.0 })),
            decision(arrive, 1.0, 900.0, (!closes).then_some(210.0)),
            decision(leave, 1.0, 880.75, Some(212.0)),
        ],
        crossings: if closes {
            vec![
                crossing(56.0, 0.45, TurningEvent::NoReturn),
                crossing(63.0, 0.55, TurningEvent::ReturnAgain),
                crossing(70.0, 0.6, TurningEvent::WayHomeCloses),
                crossing(90.0, 0.8, TurningEvent::WayHomeOpens),
            ]
        } else {
            Vec::new()
        },
        critical_points: vec![CriticalPoint {
            time: later(depart, 58.0),
            latitude_deg,
            longitude_deg,
            behind: "Hobart".to_owned(),
            ahead: "Dumont d'Urville".to_owned(),
        }],
    }
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
        profile.ice_concentration.push((!(0.9..=0.93).contains(&south)).then_some(ice));
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

fn stay() -> StayOutcome {
    StayOutcome {
        served_h: 138.0,
        within_h: 21.5,
        closest_km: ClosestApproach {
            least: 0.3,
            tenth: 1.4,
            quarter: 3.1,
            half: 6.2,
            three_quarters: 9.8,
            nine_tenths: 14.0,
            most: 31.0,
            mean: 7.4,
            worst_tenth: 19.0,
        },
        first_attained_d: FirstAttained {
            tenth: Some(0.4),
            quarter: Some(1.1),
            half: Some(2.6),
            three_quarters: None,
            nine_tenths: None,
        },
        members: Vec::new(),
    }
}
