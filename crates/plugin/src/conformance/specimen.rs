//! Results of an invented voyage, for tests of what reads results.

use std::collections::BTreeMap;

use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, position};
use geo::coord;
use jiff::Timestamp;

use crate::{
    Approach, Assumption, Attainment, CAUTION, Clock, ClosestApproach, Closure, FirstAttained,
    FuelPlan, LastLegPlan, LayerRecord, LegFuel, LegTravel, MapPicture, MemberOutcome, PoleEllipse,
    PolePicture, PoleSummary, Profile, Provenance, Ranking, Rejected, Report, Risk, RunRecord,
    SCHEMA_VERSION, StayOutcome, TurnBack, TurnBackLimit, Warning, Waypoint,
};

/// An instant of the invented voyage, in hours from its departure on 2027-01-05.
fn at(hour: f64) -> Timestamp {
    // 2027-01-05T00:00Z in seconds of the Unix epoch.
    Clock::new(Timestamp::from_second(1_799_107_200).unwrap_or_default()).instant(hour)
}

fn waypoint(latitude_deg: f64, hour: f64, speed_kn: f64, fuel_used_t: f64) -> Waypoint {
    Waypoint {
        latitude_deg,
        longitude_deg: 140.0,
        time: at(hour),
        speed_kn,
        fuel_used_t,
        course_deg: 180.0,
    }
}

/// A stay of four members, of which three attain.
fn stay() -> StayOutcome {
    let member = |closest_km, attained_after_h| MemberOutcome { closest_km, attained_after_h };
    StayOutcome {
        served_h: 24.0,
        within_h: 5.5,
        closest_km: ClosestApproach {
            least: 0.5,
            tenth: 0.5,
            quarter: 0.5,
            half: 1.0,
            three_quarters: 1.5,
            nine_tenths: 6.0,
            most: 6.0,
            mean: 2.25,
            worst_tenth: 6.0,
        },
        first_attained_d: FirstAttained {
            tenth: Some(0.125),
            quarter: Some(0.125),
            half: Some(0.25),
            three_quarters: Some(0.75),
            nine_tenths: None,
        },
        members: vec![
            member(1.0, Some(6.0)),
            member(0.5, Some(3.0)),
            member(6.0, None),
            member(1.5, Some(18.0)),
        ],
    }
}

/// An approach of an invented voyage: two days out, a day on station, two days home.
#[must_use]
pub fn approach() -> Approach {
    Approach {
        rank: 1,
        group: 1,
        id: "haven-20270105-a".to_owned(),
        from: "Haven".to_owned(),
        home_to: "Haven".to_owned(),
        craft: "RV Specimen".to_owned(),
        sought: "earliest".to_owned(),
        trade: String::new(),
        depart: at(0.0),
        arrive: at(48.0),
        leave: at(72.0),
        pilotage: None,
        back: at(120.0),
        distance_km: 890.0,
        duration_h: 48.0,
        on_station: "keeps to the mean pole".to_owned(),
        fuel_t: FuelPlan {
            out: 60.0,
            station: 5.0,
            home: 60.0,
            reserve: 40.0,
            capacity: 300.0,
            margin: 135.0,
            margin_if_beset: 127.0,
        },
        attainment: Attainment {
            probability: 0.62,
            low: 0.52,
            high: 0.71,
            within_km: 2.0,
            median_closest_km: 1.4,
            if_holding: 0.58,
            if_clairvoyant: 0.93,
        },
        stay: stay(),
        risk: Risk { minimum_rio: Some(4.0), hours_elevated: 0.5, ..Risk::default() },
        turn_back: Some(TurnBack {
            limit: Some(TurnBackLimit::Fuel),
            time: at(72.0),
            latitude_deg: -64.0,
            longitude_deg: 140.0,
        }),
        turning: None,
        warnings: vec![Warning {
            text: "H under 6000 nT".to_owned(),
            latitude_deg: -63.0,
            longitude_deg: 140.0,
            time: at(40.0),
            distance_km: 180.0,
        }],
        lower_bound_h: Some(47.0),
        lower_bound_t: Some(55.0),
        gap_percent: Some(2.1),
        home_bound: None,
        on_front: true,
        first_probability: Some(0.9),
        tied_with_previous: false,
        criteria: BTreeMap::from([("attainment".to_owned(), 0.62)]),
        waypoints: vec![
            waypoint(-56.0, 0.0, 10.0, 0.0),
            waypoint(-60.0, 24.0, 10.0, 30.0),
            waypoint(-64.0, 48.0, 0.0, 60.0),
        ],
        home: vec![waypoint(-64.0, 72.0, 10.0, 0.0), waypoint(-56.0, 120.0, 0.0, 60.0)],
        last_leg: None,
    }
}

/// An invented last leg by given ways, its berth at the end of the voyage's way out.
#[must_use]
pub fn last_leg(travel: LegTravel, out: Vec<Waypoint>, home: Vec<Waypoint>) -> LastLegPlan {
    LastLegPlan {
        by: "an invented party".to_owned(),
        travel,
        landing_latitude_deg: -64.0,
        landing_longitude_deg: 140.0,
        ship_arrives: at(48.0),
        ship_leaves: at(72.0),
        short_km: 50.0,
        out_h: 5.0,
        home_h: 5.0,
        out,
        home,
        fuel_t: LegFuel {
            capacity: 0.8,
            out: 0.2,
            stay: 0.05,
            home: 0.2,
            reserve: 0.2,
            margin: 0.15,
        },
        radius_km: 60.0,
        no_return_h: 6.0,
        out_bound: None,
        home_bound: None,
        sorties: None,
        depots: Vec::new(),
    }
}

fn ranking() -> Ranking {
    Ranking {
        schema_version: SCHEMA_VERSION,
        dipward_version: env!("CARGO_PKG_VERSION").to_owned(),
        scenario: "An invented voyage <&\"'>".to_owned(),
        seed: 1,
        caution: CAUTION.to_owned(),
        assumptions: vec![Assumption::new("chart", "the ice is invented")],
        pole: PoleSummary {
            hemisphere: Hemisphere::South,
            model: "a specimen".to_owned(),
            epoch: at(60.0),
            latitude_deg: -64.0,
            longitude_deg: 140.0,
            drift_km_per_year: 9.0,
            drift_bearing_deg: 315.0,
        },
        crust_sensitivity: None,
        why: vec!["it is the only one".to_owned()],
        approaches: vec![approach()],
        rejected: vec![Rejected {
            from: "Haven".to_owned(),
            depart: at(24.0),
            reason: "the goal cannot be reached before the window ends".to_owned(),
        }],
    }
}

fn profile() -> Profile {
    Profile {
        hour: vec![0.0, 24.0, 48.0],
        distance_km: vec![0.0, 445.0, 890.0],
        fuel_used_t: vec![0.0, 30.0, 60.0],
        risk_index: vec![None, Some(30.0), Some(4.0)],
        ice_concentration: vec![None, Some(0.0), Some(0.4)],
        closure: vec![Closure::Open; 3],
    }
}

fn pole() -> PolePicture {
    let ellipse = |km: f64, probability| PoleEllipse {
        centre: position(-64.0, 140.0),
        semi_major_km: km,
        semi_minor_km: 0.6 * km,
        bearing_deg: 30.0,
        probability,
    };
    PolePicture {
        mean_track: vec![(at(0.0), position(-64.0, 140.0)), (at(120.0), position(-63.99, 139.98))],
        daily_oval: [(-64.1, 140.0), (-64.0, 140.3), (-63.9, 140.0), (-64.1, 140.0)]
            .map(|(latitude_deg, longitude_deg)| position(latitude_deg, longitude_deg))
            .to_vec(),
        quiet_oval: [(-64.05, 140.0), (-64.0, 140.15), (-63.95, 140.0), (-64.05, 140.0)]
            .map(|(latitude_deg, longitude_deg)| position(latitude_deg, longitude_deg))
            .to_vec(),
        quiet_below_kp: 2.0,
        ellipse_50: Some(ellipse(12.0, 0.5)),
        ellipse_95: Some(ellipse(25.0, 0.95)),
        cloud: vec![position(-64.05, 140.1), position(-63.9, 139.8)],
        chance_by_day: vec![(at(0.0), 0.4), (at(24.0), 0.5)],
        within_km: 2.0,
    }
}

/// A map of 40 by 40 cells of 50 km, or nothing if geodesy refuses it, which it does not.
fn map() -> Option<MapPicture> {
    let polar = PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84);
    let polar = polar.ok()?;
    let middle = polar.forward(position(-60.0, 140.0));
    let origin = coord! { x: middle.x - 1e6, y: middle.y - 1e6 };
    let grid = Grid::new(polar, origin, 50_000.0, 40, 40).ok()?;
    let cells = grid.len();
    Some(MapPicture {
        grid,
        at: at(60.0),
        outlines: Vec::new(),
        ice_concentration: (0..cells).map(|cell| (cell % 11) as f32 / 10.0).collect(),
        closed: (0..cells).map(|cell| cell % 97 == 0).collect(),
        elevated: (0..cells).map(|cell| cell % 89 == 0).collect(),
        places: vec![("Haven".to_owned(), position(-56.0, 140.0))],
    })
}

/// A report of an invented voyage with one approach and one departure without.
#[must_use]
#[expect(clippy::expect_used, reason = "the map's numbers are constants that geodesy takes")]
pub fn report() -> Report {
    let id = approach().id;
    Report {
        ranking: ranking(),
        profiles: BTreeMap::from([(id.clone(), profile())]),
        voyages: BTreeMap::new(),
        attainment_on_station: BTreeMap::from([(id, vec![(at(48.0), 0.1), (at(72.0), 0.62)])]),
        pole: pole(),
        map: map().expect("a map of constant numbers"),
        layers: vec![LayerRecord {
            name: "ice".to_owned(),
            kind: "constant".to_owned(),
            provenance: Provenance {
                name: "a specimen".to_owned(),
                source: "invented".to_owned(),
                licence: None,
            },
            coverage: 1.0,
            instants: Some((at(0.0), at(96.0))),
            age_at_end_h: Some(24.0),
        }],
        resolved_scenario: "title: An invented voyage\n".to_owned(),
        run: RunRecord {
            dipward_version: env!("CARGO_PKG_VERSION").to_owned(),
            seed: 1,
            inputs_sha256: BTreeMap::from([("scenario.yaml".to_owned(), "0".repeat(64))]),
            timings_s: vec![("chart".to_owned(), 0.1)],
            counts: BTreeMap::from([("cells".to_owned(), 1600)]),
        },
        notes: vec!["Everything is invented.".to_owned()],
    }
}
