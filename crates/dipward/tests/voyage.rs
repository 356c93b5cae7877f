//! The whole voyage: its log, and the risk, the lying and the moving about that are read off it.

#![expect(
    clippy::panic,
    clippy::unwrap_used,
    reason = "tests state what must hold; a failed unwrap is the report"
)]

mod trials;

use dipward::plan;
use dipward_plugin::{Approach, Closure, Control, LogEntry, Phase, Report, Risk};
use dipward_tests::Trial;
use trials::scenario;

fn report(yaml: &str) -> Report {
    plan(&scenario(yaml), &Control::default()).unwrap()
}

fn first(report: &Report) -> (&Approach, &[LogEntry]) {
    let approach = report
        .ranking
        .approaches
        .first()
        .unwrap_or_else(|| panic!("{:?}", report.ranking.rejected));
    (approach, &report.voyages[&approach.id])
}

fn hours(from: jiff::Timestamp, to: jiff::Timestamp) -> f64 {
    (to.as_millisecond() - from.as_millisecond()) as f64 / 3.6e6
}

/// Ice of one stage in a ring about the geographic pole, or in a circle about the dip pole.
fn ice(inside: &str, stage: &str, concentration: f64) -> String {
    format!(
        "    - kind: constant\n      ice: {{ concentration: {concentration}, stage: {stage}, thickness_m: 0.5 }}\n      inside: {inside}\n"
    )
}

/// What every voyage's log must be: without a gap from port to port, and as long, as far and as dear as the
/// plan says.
fn check_whole(approach: &Approach, log: &[LogEntry]) {
    assert!((hours(approach.depart, log[0].begin)).abs() < 1e-6);
    assert!(hours(log[log.len() - 1].end, approach.back).abs() < 1e-3);
    for pair in log.windows(2) {
        assert!(hours(pair[0].end, pair[1].begin).abs() < 2e-6, "{pair:?}");
    }
    let total_h: f64 = log.iter().map(|entry| entry.hours).sum();
    assert!((total_h - hours(approach.depart, approach.back)).abs() < 1e-3);
    let fuel = &approach.fuel_t;
    let burnt_t: f64 = log.iter().map(|entry| entry.fuel_t).sum();
    assert!((burnt_t - fuel.out - fuel.station - fuel.home).abs() < 1e-3, "{burnt_t} {fuel:?}");
    let until_arrival = log.iter().take_while(|entry| entry.begin < approach.arrive);
    let out_km: f64 = until_arrival.map(|entry| entry.distance_km).sum();
    assert!((out_km / approach.distance_km - 1.0).abs() < 1e-3, "{out_km}");
    // A voyage cut anywhere has the risk of its two parts.
    let whole = Risk::of(log);
    assert_eq!(whole, approach.risk);
    for cut in [1, log.len() / 3, log.len() - 1] {
        let (early, late) = (Risk::of(&log[..cut]), Risk::of(&log[cut..]));
        assert!((early.hours_elevated + late.hours_elevated - whole.hours_elevated).abs() < 1e-9);
        let lowest = early.minimum_rio.into_iter().chain(late.minimum_rio).reduce(f64::min);
        assert_eq!(lowest, whole.minimum_rio);
    }
    let phases = whole.by_phase;
    let parts = [phases.under_way, phases.waiting, phases.on_station, phases.berth];
    assert!((parts.iter().map(|part| part.hours).sum::<f64>() - total_h).abs() < 1e-9);
}

/// A band of elevated risk four kilometres wide lies between samples ten kilometres apart; she sails
/// through it four times, out and home.
#[test]
fn a_narrow_band_of_elevated_risk_is_sailed_and_counted() {
    let band = "{ box: { latitude_deg: [88.9, 88.936], longitude_deg: [-180, 180] } }";
    let trial = Trial { layers: ice(band, "second_year", 0.9), cell_km: 1.0, ..Trial::default() };
    let report = report(&trial.yaml());
    let (approach, log) = first(&report);
    check_whole(approach, log);
    let through: Vec<_> = log.iter().filter(|entry| entry.elevated).collect();
    let km: f64 = through.iter().map(|entry| entry.distance_km).sum();
    assert!((10.0..24.0).contains(&km), "four times four kilometres: {km}");
    assert!(approach.risk.minimum_rio.unwrap() < 0.0, "{:?}", approach.risk);
    let sailed: f64 = through.iter().map(|entry| entry.hours).sum();
    assert!((approach.risk.hours_elevated - sailed).abs() < 1e-9 && sailed > 0.3);
    assert_eq!(approach.risk.by_phase.under_way.hours_elevated, approach.risk.hours_elevated);
}

/// Ice that subjects her to elevated risk lies about the pole alone: all hours on station count.
#[test]
fn hours_on_station_count() {
    let about = "{ circle: { latitude_deg: 88, longitude_deg: 180, radius_km: 15 } }";
    let trial = Trial { layers: ice(about, "second_year", 0.9), ..Trial::default() };
    let report = report(&trial.yaml());
    let (approach, log) = first(&report);
    check_whole(approach, log);
    let on_station = approach.risk.by_phase.on_station;
    let stay_h = hours(approach.arrive, approach.leave);
    assert!((on_station.hours - stay_h).abs() < 1e-3 && stay_h >= 4.0);
    assert!((on_station.hours_elevated - stay_h).abs() < 1e-3, "{on_station:?}");
    assert!(approach.risk.hours_elevated > stay_h);
    assert_eq!(approach.risk.minimum_rio, on_station.minimum_rio);
}

/// A zone over the pole, closed for ten hours of the stay.
fn closed_trial(when_closed: &str, radius_km: f64) -> String {
    let layers = format!(
        "    - kind: constant
      values: {{ closed: 1 }}
      inside: {{ circle: {{ latitude_deg: 88, longitude_deg: 180, radius_km: {radius_km} }} }}
      from: 2027-01-02T06:00Z
      until: 2027-01-02T16:00Z
"
    );
    Trial { layers, ..Trial::default() }.yaml().replace(
        "station: { within_km: 5, for_h: 1, at_least_h: 4, at_most_h: 8, leave_every_h: 4 }",
        &format!(
            "station: {{ within_km: 5, for_h: 1, at_least_h: 4, at_most_h: 40, leave_every_h: 4{when_closed} }}"
        ),
    )
}

#[test]
fn she_moves_off_a_place_that_closes_over_her_and_comes_back() {
    let report = report(&closed_trial("", 7.0));
    let (approach, log) = first(&report);
    check_whole(approach, log);
    assert!(hours(approach.arrive, approach.leave) > 36.0, "{approach:?}");
    assert!(log.iter().all(|entry| entry.closure == Closure::Open));
    let closed = |entry: &&LogEntry| {
        let text = entry.begin.to_string();
        ("2027-01-02T06".."2027-01-02T15:59").contains(&text.as_str())
    };
    let off: Vec<_> = log.iter().filter(closed).collect();
    let pole = dipward_geodesy::position(88.0, 180.0);
    for entry in &off {
        assert_eq!(entry.phase, Phase::OnStation);
        let at = dipward_geodesy::position(entry.latitude_deg, entry.longitude_deg);
        let away_km = dipward_geodesy::distance_km(at, pole);
        assert!((6.0..12.0).contains(&away_km), "{away_km}");
    }
    assert!(!off.is_empty());
}

#[test]
fn she_leaves_before_where_she_is_to_or_nowhere_is_open_near() {
    // An hour's way at 15 knots is 28 km.
    for (when_closed, radius_km) in [(", when_closed: leave", 7.0), ("", 60.0)] {
        let report = report(&closed_trial(when_closed, radius_km));
        let (approach, log) = first(&report);
        check_whole(approach, log);
        assert!(
            approach.leave.to_string().as_str() <= "2027-01-02T06:00:00Z",
            "{}",
            approach.leave
        );
        for entry in log {
            assert_eq!(entry.closure, Closure::Open, "{when_closed} {entry:?}");
        }
    }
}

#[test]
fn a_place_that_closes_may_be_no_approach_with_its_reason() {
    let report = report(&closed_trial(", when_closed: refuse", 7.0));
    assert!(report.ranking.approaches.is_empty());
    let reason = &report.ranking.rejected[0].reason;
    assert!(reason.contains("closes over her at 2027-01-02T06"), "{reason}");
}

/// With all closed but a pond about the pole she cannot go after it.
#[test]
fn in_a_pond_she_goes_no_farther_than_its_shore() {
    let chance = |layers: &str, policy: &str| {
        let yaml = Trial { layers: layers.to_owned(), ..Trial::default() }
            .yaml()
            .replace("disturbance: { kind: quiet }", "disturbance: { kind: kp_history }")
            .replace("members: 3", "members: 100")
            .replace(
                "at_least_h: 4, at_most_h: 8, leave_every_h: 4 }",
                &format!(
                    "at_least_h: 24, at_most_h: 24, leave_every_h: 24, policy: {policy}, reading_range_km: 500, chase_fuel_t: 500 }}"
                ),
            )
            .replace("within_km: 5, for_h: 1", "within_km: 1.5, for_h: 0");
        let report = report(&yaml);
        let (approach, log) = first(&report);
        check_whole(approach, log);
        (approach.attainment.probability, approach.attainment.if_holding)
    };
    let layer = |closed: u8, radius_km: f64| {
        format!(
            "    - kind: constant
      values: {{ closed: {closed} }}
      inside: {{ circle: {{ latitude_deg: 88, longitude_deg: 180, radius_km: {radius_km} }} }}
      from: 2027-01-01T20:00Z
      until: 2027-01-02T20:00Z
"
        )
    };
    let pond = layer(0, 3.0) + &layer(1, 100.0);
    let follow = "{ kind: pursue, leash_km: 60, break_off_kp: 9 }";
    let (open, held) = chance("", follow);
    let (ponded, held_in_pond) = chance(&pond, follow);
    assert!(open > held + 0.1, "{open} {held}");
    assert_eq!(held, held_in_pond);
    assert!((held - 0.05..f64::midpoint(held, open)).contains(&ponded), "{ponded} {held} {open}");
}

/// Ice that shuts the port until ten hours after the departure is waited for in port.
#[test]
fn in_port_she_waits_for_the_ice_to_open() {
    let layers = "    - kind: constant
      values: { closed: 1 }
      inside: { circle: { latitude_deg: 88, longitude_deg: 0, radius_km: 45 } }
      until: 2027-01-01T10:00Z
";
    let trial = Trial { layers: layers.to_owned(), ..Trial::default() };
    let yaml = trial.yaml().replace("  routes: 1", "  routes: 1\n  harbour_km: 5");
    let report = report(&yaml);
    let (approach, log) = first(&report);
    check_whole(approach, log);
    assert_eq!(log[0].phase, Phase::Waiting);
    assert!(approach.duration_h > 10.0 + 445.0 / dipward_tests::SPEED_KM_PER_H - 0.5);
}

fn weather(values: &str) -> String {
    format!("    - kind: constant\n      values: {{ {values} }}\n")
}

/// Regression: from Hobart to the pole in a constant wind of 0, 15, 22, 26 and 36 m/s took 82, 96, 144, 100
/// and 82 hours, and routes sought the strongest wind.
#[test]
fn the_harder_it_blows_the_later_she_arrives() {
    let hours_in = |wind_m_s: f64| {
        let trial = Trial {
            port: (89.2, 0.0),
            pole: (89.2, 180.0),
            cell_km: 4.0,
            layers: weather(&format!("wind_grid_east: {wind_m_s}, wind_grid_north: 0")),
            ..Trial::default()
        };
        let loss = "weather: { loss: { block_coefficient: 0.6 }, heavy_weather: steerage_way }";
        let report = report(&trial.yaml().replace("weather: { sea_margin: 0 }", loss));
        let (approach, _) = first(&report);
        hours(approach.depart, approach.arrive)
    };
    let taken = [0.0, 15.0, 22.0, 26.0, 36.0].map(hours_in);
    assert!(taken.windows(2).all(|pair| pair[0] <= pair[1] + 1e-6), "{taken:?}");
    assert!(taken[1] > 1.02 * taken[0] && taken[2] > 1.5 * taken[1], "{taken:?}");
}

/// Regression: wind, sea and icing became no warnings.
#[test]
fn wind_and_sea_are_warned_of_at_their_place_and_hour() {
    let circle =
        "      inside: { circle: { latitude_deg: 90, longitude_deg: 0, radius_km: 60 } }\n";
    let values = "wind_grid_east: 18, wind_grid_north: 0, wave_height: 5";
    let trial = Trial { layers: weather(values) + circle, cell_km: 4.0, ..Trial::default() };
    let report = report(&trial.yaml());
    let (approach, _) = first(&report);
    for word in ["gale", "very rough sea"] {
        let warning = approach
            .warnings
            .iter()
            .find(|warning| warning.text.contains(word))
            .unwrap_or_else(|| panic!("{word}: {:?}", approach.warnings));
        // 120 km out and as much home, through the circle about the geographic pole.
        assert!(warning.latitude_deg > 89.4, "{warning:?}");
        assert!((warning.distance_km - 240.0).abs() < 40.0, "{warning:?}");
        let after_h = hours(approach.depart, warning.time);
        assert!(after_h > 3.0 && warning.time < approach.arrive, "{after_h} {warning:?}");
    }
    assert!(!approach.warnings.iter().any(|warning| warning.text.contains("permit")));
}

/// Regression: nothing told a party to ask for what the Antarctic Treaty wants.
#[test]
fn permits_are_named_where_the_antarctic_treaty_holds() {
    let trial = Trial {
        hemisphere: "south",
        port: (-75.0, 170.0),
        pole: (-75.0, 175.0),
        cell_km: 4.0,
        ..Trial::default()
    };
    let report = report(&trial.yaml());
    let (approach, _) = first(&report);
    let permit = approach.warnings.iter().find(|warning| warning.text.contains("Article 8"));
    assert!(permit.is_some_and(|warning| warning.distance_km > 200.0), "{:?}", approach.warnings);
}

/// Ice all about the dip pole that drifts along the map.
fn drifting(m_s: f64, limit_kn: f64, station: &str) -> String {
    let about_pole = "{ circle: { latitude_deg: 88, longitude_deg: 180, radius_km: 120 } }";
    let layers = format!(
        "{}    - kind: constant
      values: {{ ice_drift_grid_east: {m_s}, ice_drift_grid_north: 0, speed_limit: {limit_kn} }}
      inside: {about_pole}
",
        ice(about_pole, "medium_first_year", 0.5)
    );
    Trial { layers, ..Trial::default() }.yaml().replace("leave_every_h: 4", station)
}

/// To keep her place she makes good what the ice carries her: that share of each hour she is under way, at the
/// pace and the burn of her last mile to the pole.
#[test]
fn keeping_up_with_the_pole_burns_what_the_drift_takes() {
    let still = report(&drifting(0.0, 12.0, "leave_every_h: 4"));
    let moving = report(&drifting(0.2, 12.0, "leave_every_h: 4"));
    let [(still, log), (moving, moving_log)] = [first(&still), first(&moving)];
    check_whole(moving, moving_log);
    let stay_h = hours(still.arrive, still.leave);
    assert!((hours(moving.arrive, moving.leave) - stay_h).abs() < 1e-6);
    let last =
        log.iter().rfind(|entry| entry.end <= still.arrive && entry.distance_km > 0.1).unwrap();
    let h_per_km = last.hours / last.distance_km;
    let beyond_t_per_h = last.fuel_t / last.hours - dipward_tests::HOLD_T_PER_H;
    let expected_t = stay_h * 0.72 * h_per_km * beyond_t_per_h;
    let found_t = moving.fuel_t.station - still.fuel_t.station;
    assert!(
        expected_t > 0.05 && (found_t / expected_t - 1.0).abs() < 0.03,
        "{found_t} {expected_t}"
    );
    // Still or drifting, the chance of one who keeps her place is the same.
    assert_eq!(moving.attainment, still.attainment);
}

#[test]
fn ice_that_outruns_her_is_no_place_to_lie() {
    // 18 km an hour, where she may go 9.3.
    let report = report(&drifting(5.0, 5.0, "leave_every_h: 4"));
    assert!(report.ranking.approaches.is_empty());
    assert!(format!("{:?}", report.ranking.rejected).contains("drift of the ice outruns her"));
}

#[test]
fn who_drifts_across_the_pole_is_told_to() {
    let yaml = drifting(
        0.5,
        12.0,
        "leave_every_h: 4, policy: { kind: drift_across, lead_km: 4 }, chase_fuel_t: 20",
    );
    let report = report(&yaml);
    let (approach, log) = first(&report);
    check_whole(approach, log);
    assert!(approach.on_station.contains("drifts with the ice across the pole"));
    assert!(report.ranking.assumptions.iter().any(|one| one.text.contains("43.2 km a day")));
    // The pole of the trial stands still: she crosses it, and goes back.
    assert!(approach.attainment.probability > 0.9, "{:?}", approach.attainment);
}
