//! Every kind keeps its contract, and says what is wrong with its keys.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]

use dipward_field::kinds::{
    CoefficientsSpec, Igrf14Spec, KpForecastSpec, KpHistorySpec, KpOutlookSpec, KpYearSpec,
    QuietSpec, SurveyedSpec, Wmm2025Spec,
};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, Clock, Document, FieldSample, MainField, MainFieldPoint, Point, Registry, Site,
    Spec,
    conformance::{check_disturbance, check_example, check_main_field},
};

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
    ] {
        check_disturbance(disturbance.object.as_ref(), &south).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let file = include_bytes!("../data/IGRF14.shc");
    std::fs::write(folder.path().join("my-model.shc"), file).unwrap();
    let there = context(&folder.path().to_string_lossy(), Hemisphere::South);
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
