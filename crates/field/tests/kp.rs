//! The Kp history and what is drawn from it.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use dipward_field::{
    Kp, KpHistory, SLOTS_A_DAY,
    kinds::{HistorySpec, KpForecastSpec, KpHistorySpec, KpYearSpec, SolarCycle},
};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{
    BuildContext, Clock, Control, Disturbance, DisturbanceRequest, ExternalField, Spec,
};
use jiff::civil::date;

/// Kp of October 1957 to 20 July 2025, computed from the GFZ series for this project with another
/// program; not published.
#[test]
fn statistics_of_the_history() {
    let history = KpHistory::embedded();
    let to_2025 = history.index_of(date(2025, 7, 20)).unwrap() + 1;
    assert_eq!(to_2025 * SLOTS_A_DAY, 198_120);
    let all = &history.values()[..to_2025 * SLOTS_A_DAY];
    let count = all.len() as f64;
    let percent =
        |class| 100.0 * all.iter().filter(|kp| kp.class() == class).count() as f64 / count;
    for (class, wanted, within) in [
        (0, 11.50, 0.008),
        (1, 27.06, 0.008),
        (2, 25.41, 0.006),
        (3, 19.30, 0.006),
        (4, 10.36, 0.006),
        (5, 4.22, 0.006),
        (6, 1.41, 0.006),
        (7, 0.498, 6e-4),
        (8, 0.199, 6e-4),
        (9, 0.044, 6e-4),
    ] {
        assert!((percent(class) - wanted).abs() < within, "{class}: {}", percent(class));
    }
    let mean = |of: &dyn Fn(&Kp) -> f64| all.iter().map(of).sum::<f64>() / count;
    assert!((mean(&|kp| kp.value()) - 2.13).abs() < 0.006);
    assert!((mean(&|kp| kp.ap()) - 12.8).abs() < 0.06);
    let values: Vec<f64> = all.iter().map(|kp| kp.value()).collect();
    for (hours, wanted) in [
        (3, 0.80),
        (6, 0.68),
        (12, 0.55),
        (24, 0.40),
        (48, 0.25),
        (72, 0.18),
        (120, 0.13),
        (648, 0.27),
    ] {
        let own = autocorrelation(std::slice::from_ref(&values), hours / 3);
        assert!((own - wanted).abs() < 0.006, "{hours} h: {own}");
    }
    for (month, wanted) in [(4, 8.7), (9, 8.2), (12, 3.9), (1, 3.9), (7, 5.0)] {
        let of_month = (0..to_2025).filter(|&day| history.day(day).unwrap().month() == month);
        let (active, total) = of_month
            .flat_map(|day| &all[day * SLOTS_A_DAY..(day + 1) * SLOTS_A_DAY])
            .fold((0, 0), |(active, total), kp| (active + i32::from(kp.class() >= 5), total + 1));
        let own = 100.0 * f64::from(active) / f64::from(total);
        assert!((own - wanted).abs() < 0.06, "{month}: {own}");
    }
}

/// Of values at equal spacing, over several series of one mean.
fn autocorrelation(series: &[Vec<f64>], lag: usize) -> f64 {
    let all = series.iter().flatten();
    let count = all.clone().count() as f64;
    let mean = all.clone().sum::<f64>() / count;
    let variance = all.map(|x| (x - mean).powi(2)).sum::<f64>() / count;
    let pairs = series.iter().flat_map(|one| one.iter().zip(&one[lag..]));
    let (sum, number) =
        pairs.fold((0.0, 0.0), |(sum, n), (a, b)| (sum + (a - mean) * (b - mean), n + 1.0));
    sum / number / variance
}

fn members(disturbance: &dyn Disturbance, start: &str, hours: &[f64], count: u32) -> Vec<Vec<f64>> {
    let clock = Clock::new(start.parse().unwrap());
    let mean_pole = vec![position(85.0, 130.0); hours.len()];
    let request = DisturbanceRequest {
        clock,
        hours,
        mean_pole: &mean_pole,
        hemisphere: Hemisphere::North,
        seed: 3,
    };
    (0..count)
        .map(|member| {
            let mut out = vec![ExternalField::default(); hours.len()];
            disturbance.member(&request, member, &Control::default(), &mut out).unwrap();
            out.iter().map(|field| f64::from(field.kp_thirds.unwrap()) / 3.0).collect()
        })
        .collect()
}

fn build<S: Spec<Point = dipward_plugin::DisturbancePoint>>(spec: S) -> Box<dyn Disturbance> {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    spec.build(&BuildContext::new(".", Hemisphere::North, clock, 1000.0)).unwrap()
}

fn mean(all: &[Vec<f64>]) -> f64 {
    all.iter().flatten().sum::<f64>() / all.iter().map(Vec::len).sum::<usize>() as f64
}

#[test]
fn drawn_activity_keeps_the_correlations_of_the_history() {
    let slots: Vec<f64> = (0..70 * 8).map(|slot| 3.0 * f64::from(slot)).collect();
    let drawn = members(&*build(KpHistorySpec::default()), "2027-03-01T01:00Z", &slots, 600);
    for (hours, wanted, within) in
        [(3, 0.80, 0.02), (24, 0.40, 0.03), (72, 0.18, 0.03), (120, 0.13, 0.03), (648, 0.27, 0.07)]
    {
        let own = autocorrelation(&drawn, hours / 3);
        println!("{hours} h: {own:.3}");
        assert!((own - wanted).abs() < within, "{hours} h: {own}");
    }
}

#[test]
fn drawn_activity_keeps_the_season_and_the_phase_of_the_cycle() {
    let slots: Vec<f64> = (0..20 * 8).map(|slot| 3.0 * f64::from(slot)).collect();
    let active = |spec: HistorySpec, start| {
        let drawn = members(&*build(KpHistorySpec(spec)), start, &slots, 800);
        let flags: Vec<Vec<f64>> = drawn
            .iter()
            .map(|one| one.iter().map(|&kp| if kp >= 5.0 { 100.0 } else { 0.0 }).collect())
            .collect();
        (mean(&flags), mean(&drawn))
    };
    let narrow = HistorySpec { season_window_days: 10, ..HistorySpec::default() };
    let (april, _) = active(narrow.clone(), "2027-04-05T00:00Z");
    let (december, _) = active(narrow.clone(), "2027-12-05T00:00Z");
    assert!(april > 1.5 * december, "{april} {december}");
    let phase = HistorySpec { solar_cycle: SolarCycle::SamePhase, ..narrow };
    let (_, minimum) = active(phase.clone(), "2031-01-05T00:00Z");
    let (_, declining) = active(phase, "2026-12-05T00:00Z");
    assert!(declining > minimum + 0.3, "{declining} {minimum}");
}

/// In the storms of 29 and 30 October 2003 Kp reached 9 (GFZ, doi 10.5880/Kp.0001), in every member; the
/// same days of another year are another matter.
#[test]
fn the_kp_of_one_year_is_that_of_the_same_days() {
    let slots: Vec<f64> = (0..5 * 8).map(|slot| 3.0 * f64::from(slot) + 1.0).collect();
    let of_year = |year| {
        let spec: KpYearSpec = serde_json::from_str(&format!("{{\"year\": {year}}}")).unwrap();
        members(&*build(spec), "2027-10-28T00:30Z", &slots, 3)
    };
    let observed = |first| {
        let history = KpHistory::embedded();
        let from = history.index_of(first).unwrap();
        (from..from + 5)
            .flat_map(|day| history.on(history.day(day).unwrap()).unwrap())
            .map(|kp| kp.value())
            .collect::<Vec<f64>>()
    };
    let storm = of_year(2003);
    assert_eq!(storm, vec![observed(date(2003, 10, 28)); 3]);
    for day in [1, 2] {
        assert!(storm[0][8 * day..8 * (day + 1)].contains(&9.0), "{:?}", storm[0]);
    }
    assert_eq!(of_year(2004)[0], observed(date(2004, 10, 28)));
}

#[test]
fn a_year_that_does_not_hold_the_window_is_told() {
    // 1000 h from 29 February, which few years have.
    let clock = Clock::new("2028-02-29T00:00Z".parse().unwrap());
    let context = BuildContext::new(".", Hemisphere::North, clock, 1000.0);
    let built = |year| {
        let spec: KpYearSpec = serde_json::from_str(&format!("{{\"year\": {year}}}")).unwrap();
        spec.build(&context).map(|_| ()).map_err(|faults| faults.to_string())
    };
    for year in [1958, 2003, 2026] {
        assert_eq!(built(year), Ok(()));
    }
    for year in [1957, 2027] {
        let told = built(year).unwrap_err();
        assert!(told.contains("Kp is known from 1957-10-01 to 2026-06-30"), "{told}");
    }
}

#[test]
fn a_forecast_holds_in_its_time_and_the_history_outside() {
    let spec = |error: &str| -> KpForecastSpec {
        serde_json::from_str(&format!(
            r#"{{"issued": "2027-01-01T00:00Z", "interval_h": 24, {error}
                "table": [{{"time": "2027-01-01T12:00Z", "kp": 6.333}},
                          {{"time": "2027-01-02T00:00Z", "kp": 1.0}}]}}"#
        ))
        .unwrap()
    };
    let hours: Vec<f64> = (0..80).map(f64::from).collect();
    let exact = r#""error": [{"lead_h": 0, "sigma_kp": 0}],"#;
    let all = members(&*build(spec(exact)), "2027-01-01T00:00Z", &hours, 300);
    for member in &all {
        assert!(member[12..24].iter().all(|kp| (kp - 19.0 / 3.0).abs() < 1e-9));
        assert!(member[24..48].iter().all(|kp| (kp - 1.0).abs() < 1e-9));
    }
    let climate: Vec<Vec<f64>> = all.iter().map(|member| member[48..].to_vec()).collect();
    assert!((mean(&climate) - 2.1).abs() < 0.4, "{}", mean(&climate));

    let doubtful = members(&*build(spec("")), "2027-01-01T00:00Z", &hours, 2000);
    let first: Vec<f64> = doubtful.iter().map(|member| member[14]).collect();
    let centre = first.iter().sum::<f64>() / 2000.0;
    let sigma = (first.iter().map(|kp| (kp - centre).powi(2)).sum::<f64>() / 2000.0).sqrt();
    // 13.5 hours after the issue, between 0.85 at 3 h and 1.31 at 24 h.
    assert!((sigma - 1.08).abs() < 0.07, "{sigma}");
    assert!((centre - 6.333).abs() < 0.1, "{centre}");
}
