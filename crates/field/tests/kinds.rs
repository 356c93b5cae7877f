//! Every kind keeps its contract, and says what is wrong with its keys.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use std::io::Write;

use dipward_field::{
    amps::AmpsResponseSpec,
    kinds::{
        AmpsSpec, CoefficientsSpec, ForecastSpec, HistorySpec, Igrf14Spec, KpForecastSpec,
        KpHistorySpec, KpOutlookSpec, KpYearSpec, LearntSpec, NoResponseSpec, ObservedSpec,
        OutlookSpec, QuietSpec, RecordedSpec, StatedSpec, SurveyedSpec, Wmm2025Spec, YearSpec,
    },
};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, Clock, DisturbancePoint, Document, FieldSample, MainField, MainFieldPoint, Point,
    Registry, Site, Spec,
    conformance::{
        check_activity, check_disturbance, check_example, check_main_field, check_response,
    },
};
use flate2::{Compression, write::GzEncoder};
use jiff::ToSpan;

fn context(folder: &str, hemisphere: Hemisphere) -> BuildContext {
    let clock = Clock::new("2027-01-15T00:00Z".parse().unwrap());
    BuildContext::new(folder, hemisphere, clock, 1680.0)
}

#[test]
fn all_kinds_keep_their_contracts() {
    let south = context(".", Hemisphere::South);
    for model in [
        check_example::<Igrf14Spec>(&south).unwrap(),
        check_example::<Wmm2025Spec>(&south).unwrap(),
        check_example::<SurveyedSpec>(&south).unwrap(),
    ] {
        check_main_field(model.object.as_ref()).unwrap();
    }
    for disturbance in [
        check_example::<QuietSpec>(&south).unwrap(),
        check_example::<KpHistorySpec>(&south).unwrap(),
        check_example::<KpForecastSpec>(&south).unwrap(),
        check_example::<KpOutlookSpec>(&south).unwrap(),
        check_example::<KpYearSpec>(&south).unwrap(),
        check_example::<AmpsSpec>(&south).unwrap(),
    ] {
        check_disturbance(disturbance.object.as_ref(), &south).unwrap();
        // Short forms are written out as the pair that they stand for.
        assert!(disturbance.resolved["activity"]["kind"].is_string(), "{}", disturbance.resolved);
        assert!(disturbance.resolved["response"]["kind"].is_string(), "{}", disturbance.resolved);
    }
    for activity in [
        check_example::<HistorySpec>(&south).unwrap(),
        check_example::<YearSpec>(&south).unwrap(),
        check_example::<ForecastSpec>(&south).unwrap(),
        check_example::<OutlookSpec>(&south).unwrap(),
        check_example::<StatedSpec>(&south).unwrap(),
    ] {
        check_activity(activity.object.as_ref(), &south).unwrap();
    }
    let start = "2003-10-01T00:00Z".parse().unwrap();
    let past = BuildContext::new(".", Hemisphere::South, Clock::new(start), 1680.0);
    check_activity(check_example::<ObservedSpec>(&past).unwrap().object.as_ref(), &past).unwrap();
    for response in [
        check_example::<LearntSpec>(&south).unwrap(),
        check_example::<AmpsResponseSpec>(&south).unwrap(),
        check_example::<NoResponseSpec>(&south).unwrap(),
    ] {
        check_response(response.object.as_ref(), &south).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let file = include_bytes!("../data/IGRF14.shc");
    std::fs::write(folder.path().join("my-model.shc"), file).unwrap();
    let there = context(&folder.path().to_string_lossy(), Hemisphere::South);
    // Two invented years of hours.
    let day = |day: i64| "2001-01-01".parse::<jiff::civil::Date>().unwrap() + day.days();
    let rows =
        (0..730).flat_map(|at| (0..24).map(move |hour| format!("{}T{hour:02},{at},-1\n", day(at))));
    let table: String =
        std::iter::once("time_utc,north_nt,east_nt\n".to_owned()).chain(rows).collect();
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(table.as_bytes()).unwrap();
    std::fs::write(folder.path().join("my-station.csv.gz"), packed.finish().unwrap()).unwrap();
    let recorded = check_example::<RecordedSpec>(&there).unwrap();
    check_disturbance(recorded.object.as_ref(), &there).unwrap();
    let built = check_example::<CoefficientsSpec>(&there).unwrap();
    check_main_field(built.object.as_ref()).unwrap();
    assert_eq!(
        built.object.sigma(2027.0, Hemisphere::South),
        dipward_field::igrf14().unwrap().sigma(2027.0, Hemisphere::South)
    );
    assert_eq!(built.object.years(), 1900.0..=2030.0);
    let mut out = [FieldSample::default()];
    let site = Site { latitude_deg: 80.0, longitude_deg: 100.0, height_km: 0.0 };
    built.object.sample(2027.0, &[site], &mut out).unwrap();
    assert!(out[0].vector.down_nt > 50_000.0);
}

/// What the host tells of a mapping.
fn told<S: Spec>(context: &BuildContext, yaml: &str) -> String {
    let mut registry = Registry::default();
    registry.register::<S>().unwrap();
    let document = Document::parse("test", yaml).map_err(|failed| failed.1).unwrap();
    match registry.build::<S::Point>("", document.value(), context) {
        Ok(_) => "built".into(),
        Err(faults) => faults.to_string(),
    }
}

#[test]
fn what_is_wrong_is_told() {
    let south = context(".", Hemisphere::South);
    let base = "kind: surveyed, latitude_deg: -64, longitude_deg: 136, surveyed: 2026-12-01T00:00Z";
    let surveyed = |rest: &str| told::<SurveyedSpec>(&south, &format!("{{{base}{rest}}}"));
    assert_eq!(surveyed(""), "built");
    assert!(surveyed(", vertical_nt: 100").contains("Z at a south dip pole is negative"));
    assert!(surveyed(", jacobian_nt_per_km: [[-3, 0], [0, -3]]").contains("outward"));
    assert!(surveyed(", jacobian_nt_per_km: [[7, 1], [2, 7]]").contains("symmetric"));
    assert!(
        surveyed(", jacobian_nt_per_km: [[7, 1], [1, 7]], gradient_nt_per_km: 7").contains("twice")
    );
    assert!(surveyed(", drift_km_per_year: -3").contains("drift_km_per_year"));
    assert!(surveyed(", drift: 3").contains("drift"));

    let forecast = |yaml: &str| told::<KpForecastSpec>(&south, yaml);
    let table =
        "{kind: kp_forecast, issued: 2027-01-14T00:00Z, table: [{time: 2027-01-15T00:00Z, kp: 3}";
    assert_eq!(forecast(&format!("{table}]}}")), "built");
    assert!(
        forecast(&format!("{table}, {{time: 2027-01-14T00:00Z, kp: 3}}]}}"))
            .contains("table.1.time")
    );
    assert!(forecast(&format!("{table}, {{time: 2027-01-16T00:00Z, kp: 10}}]}}")).contains("kp"));
    assert!(
        forecast(
            "{kind: kp_forecast, issued: yesterday, table: [{time: 2027-01-15T00:00Z, kp: 3}]}"
        )
        .contains("issued: failed to parse")
    );

    let coefficients = |yaml: &str| told::<CoefficientsSpec>(&south, yaml);
    assert!(coefficients("{kind: coefficients, file: nowhere.shc}").contains("cannot be read"));
    assert!(
        coefficients("{kind: coefficients, file: model.txt}").contains("neither .shc nor .COF")
    );
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("cut.shc"), "1 13 27 2 1\n1900").unwrap();
    let there = context(&folder.path().to_string_lossy(), Hemisphere::South);
    let cut = told::<CoefficientsSpec>(&there, "{kind: coefficients, file: cut.shc}");
    assert!(cut.contains("cut.shc: line 2: 1 epochs stand where 27 are wanted"), "{cut}");
    assert_eq!(<MainFieldPoint as Point>::SLOT, "pole.model");
}

/// Any activity goes with any response, by a mapping without a kind; what is left out is the house's.
#[test]
fn a_pair_is_put_together_from_its_parts() {
    let mut registry = Registry::default();
    registry
        .register::<HistorySpec>()
        .and_then(|registry| registry.register::<YearSpec>())
        .and_then(|registry| registry.register::<LearntSpec>())
        .and_then(|registry| registry.register::<NoResponseSpec>())
        .and_then(|registry| registry.register::<QuietSpec>())
        .unwrap();
    let south = context(".", Hemisphere::South);
    let build = |yaml: &str| {
        let document = Document::parse("test", yaml).map_err(|failed| failed.1).unwrap();
        registry
            .build::<DisturbancePoint>("/pole/disturbance", document.value(), &south)
            .map(|built| built.resolved)
            .map_err(|faults| faults.to_string())
    };
    let pair = build("{activity: {kind: year, year: 2003}, response: {kind: none}}").unwrap();
    assert_eq!(build(&pair.to_string()).unwrap(), pair);
    let house = build("{activity: {kind: history}}").unwrap();
    assert_eq!(house["response"]["kind"], "learnt");
    for (yaml, wanted) in [
        ("{activity: {kind: histry}}", "history"),
        ("{activity: {kind: year}}", "year"),
        ("{response: {kind: learnt, fited: all}}", "fitted"),
        ("{activity: {kind: history}, respnse: {kind: none}}", "respnse"),
        ("{kind: quiet, activity: {kind: history}}", "activity"),
        ("{}", "kind"),
    ] {
        let told = build(yaml).unwrap_err();
        assert!(told.contains(wanted), "{yaml}: {told}");
    }
}
