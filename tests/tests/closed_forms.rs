//! Closed forms that the whole program must meet, through the library.

use dipward::{Scenario, plan, registry};
use dipward_geodesy::{distance_km, inverse, position};
use dipward_plugin::{Approach, Control, Document, Report};
use dipward_tests::{BURN_T_PER_H, HOLD_T_PER_H, SPEED_KM_PER_H, Trial};

fn run(trial: &Trial) -> Report {
    let document = Document::parse("trial.yaml", &trial.yaml()).expect("the trial is YAML");
    let mut registry = registry().expect("the kinds are distinct");
    dipward_report::register(&mut registry).expect("the kinds are distinct");
    let scenario = Scenario::read(&document, ".".as_ref(), &registry, None)
        .unwrap_or_else(|faults| panic!("{faults}"));
    plan(&scenario, &Control::default()).unwrap_or_else(|error| panic!("{error}"))
}

fn best(trial: &Trial) -> Approach {
    let report = run(trial);
    report.ranking.approaches.into_iter().next().unwrap_or_else(|| {
        panic!("no approach: {:?}", report.ranking.rejected);
    })
}

fn assert_within(found: f64, expected: f64, share: f64, what: &str) {
    let off = (found - expected).abs() / expected;
    assert!(off <= share, "{what}: {found} against {expected}, off by {:.3} %", 100.0 * off);
}

/// Distance by Karney's geodesic, time by the speed, fuel by the power law.
#[test]
fn open_water_follows_the_geodesic() {
    let trial = Trial {
        hemisphere: "south",
        port: (-50.0, 10.0),
        pole: (-65.0, 60.0),
        cell_km: 10.0,
        margin_km: 300.0,
        ..Trial::default()
    };
    let found = best(&trial);
    let geodesic_km = distance_km(position(-50.0, 10.0), position(-65.0, 60.0));
    assert!(found.distance_km >= geodesic_km * (1.0 - 1e-6), "shorter than the geodesic");
    assert_within(found.distance_km, geodesic_km, 0.003, "distance");
    let hours = geodesic_km / SPEED_KM_PER_H;
    assert_within(found.duration_h, hours, 0.003, "duration");
    assert_within(found.fuel_t.out, hours * BURN_T_PER_H, 0.003, "fuel out");
    assert_within(found.fuel_t.home, hours * BURN_T_PER_H, 0.003, "fuel home");
    let stay_h = (found.leave.as_millisecond() - found.arrive.as_millisecond()) as f64 / 3.6e6;
    assert_within(found.fuel_t.station, stay_h * HOLD_T_PER_H, 1e-6, "fuel on station");
    assert!((4.0..=8.0).contains(&stay_h), "{stay_h}");
    assert!(found.lower_bound_h <= hours * (1.0 + 1e-9), "the bound lies above the answer");
    assert_eq!(found.attainment.probability, 1.0, "a pole that does not move is attained");
}

/// Snell's law with speeds of 2 and 1 on either side of y = 0, from (0, 5) to (10, -5): the time is
/// 10.094108 (root of the quartic of the crossing, recomputed by bisection in the test).
#[test]
fn two_half_planes_refract_by_snell() {
    const UNIT_KM: f64 = 20.0;
    let time = |x: f64| x.hypot(5.0) / 2.0 + (10.0 - x).hypot(5.0);
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..200 {
        let third = (high - low) / 3.0;
        if time(low + third) < time(high - third) { high -= third } else { low += third }
    }
    assert!((time(low) - 10.094_108).abs() < 1e-6);
    let trial = Trial {
        port: Trial::near_pole(0.0, 5.0 * UNIT_KM),
        pole: Trial::near_pole(10.0 * UNIT_KM, -5.0 * UNIT_KM),
        cell_km: 1.0,
        layers: "    - kind: constant
      values: { speed_limit: 7.5 }
      inside: { box: { latitude_deg: [80, 90], longitude_deg: [-90, 90] } }
"
        .to_owned(),
        ..Trial::default()
    };
    let expected_h = time(low) * UNIT_KM / (SPEED_KM_PER_H / 2.0);
    assert_within(best(&trial).duration_h, expected_h, 0.003, "time by Snell's law");
}

/// A disc about the geographic pole between two points: tangent, arc, tangent.
#[test]
fn a_disc_is_passed_by_tangent_arc_tangent() {
    const DISC_KM: f64 = 40.0;
    const AWAY_KM: f64 = 100.0;
    let trial = Trial {
        port: Trial::near_pole(-AWAY_KM, 0.0),
        pole: Trial::near_pole(AWAY_KM, 0.0),
        cell_km: 0.5,
        layers: format!(
            "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ circle: {{ latitude_deg: 90, longitude_deg: 0, radius_km: {DISC_KM} }} }}
"
        ),
        ..Trial::default()
    };
    let tangent_km = (AWAY_KM * AWAY_KM - DISC_KM * DISC_KM).sqrt();
    let arc_km = DISC_KM * (std::f64::consts::PI - 2.0 * (DISC_KM / AWAY_KM).acos());
    assert_within(best(&trial).distance_km, 2.0 * tangent_km + arc_km, 0.005, "way round the disc");
}

/// A target at right angles: with d = 100, u = 1 and V = 5 the meeting is at 100 / sqrt(24).
#[test]
fn a_steady_target_is_met_by_the_intercept_triangle() {
    let pole_km_per_h = SPEED_KM_PER_H / 5.0;
    let start_km = 100.0 * pole_km_per_h;
    let trial = Trial {
        port: Trial::near_pole(-start_km / 2.0, 0.0),
        pole: Trial::near_pole(start_km / 2.0, 0.0),
        pole_km_per_h,
        // At 90 E, toward 180 E in the plane is due east.
        pole_bearing_deg: 90.0,
        cell_km: 5.0,
        margin_km: 250.0,
        ..Trial::default()
    };
    let grid_step_h = 5.0 / SPEED_KM_PER_H;
    let found = best(&trial).duration_h;
    assert!((found - 20.412_415).abs() <= grid_step_h, "{found}");
}

/// A wall with a gate that opens at an hour: waiting at the gate or going round its end, whichever is
/// earlier.
#[test]
fn a_closed_gate_is_waited_for_or_gone_round() {
    let (port, pole) = ((87.0, 0.0), (89.0, 0.0));
    let km =
        |a: (f64, f64), b: (f64, f64)| inverse(position(a.0, a.1), position(b.0, b.1)).distance_km;
    let round_km = km(port, (88.0, 30.0)) + km((88.0, 30.0), (88.1, 30.0)) + km((88.1, 30.0), pole);
    let round_h = round_km / SPEED_KM_PER_H;
    let behind_gate_h = km((88.0, 0.0), pole) / SPEED_KM_PER_H;
    let trial = |opens: &str| Trial {
        port,
        pole,
        cell_km: 1.0,
        margin_km: 200.0,
        layers: format!(
            "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [-30, -2] }} }}
    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [2, 30] }} }}
    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ box: {{ latitude_deg: [88, 88.1], longitude_deg: [-2, 2] }} }}
      until: {opens}
"
        ),
        ..Trial::default()
    };
    let waited = best(&trial("2027-01-01T06:00Z"));
    assert_within(waited.duration_h, 6.0 + behind_gate_h, 0.01, "waiting at the gate");
    let round = best(&trial("2027-01-01T09:00Z"));
    assert!(round_h < 9.0 + behind_gate_h);
    assert_within(round.duration_h, round_h, 0.01, "going round the end");
}

#[test]
fn fuel_for_one_way_alone_is_no_approach() {
    let geodesic_km = distance_km(position(88.0, 0.0), position(88.0, 180.0));
    let one_way_t = geodesic_km / SPEED_KM_PER_H * BURN_T_PER_H;
    let short = run(&Trial { capacity_t: one_way_t * 1.5, ..Trial::default() });
    assert!(short.ranking.approaches.is_empty());
    let reason = &short.ranking.rejected[0].reason;
    assert!(reason.contains("not for the shortest stay and the way home"), "{reason}");
    let none = run(&Trial { capacity_t: one_way_t * 0.5, ..Trial::default() });
    let reason = &none.ranking.rejected[0].reason;
    assert!(reason.contains("on the fuel allowed"), "{reason}");
    let enough = run(&Trial { capacity_t: one_way_t * 2.1, ..Trial::default() });
    assert_eq!(enough.ranking.approaches.len(), 1);
    assert!(enough.ranking.approaches[0].fuel_t.margin >= 0.0);
}
