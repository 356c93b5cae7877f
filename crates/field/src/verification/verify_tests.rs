use dipward_geodesy::position;
use dipward_plugin::{Assumption, DisturbanceRequest, ExternalField, Provenance};

use super::*;
use crate::{dip_pole, igrf14, kinds::house_disturbance, verification::disturbance_knowing};

/// An invented record: each third of a year one member of the model itself.
fn drawn_from(disturbance: &dyn Disturbance, hours: usize) -> StationRecord {
    let place = position(-66.665, 140.007);
    let start = "1990-11-01T00:00Z".parse().unwrap();
    let clock = Clock::new(start);
    let instants: Vec<f64> = (0..4 * hours).map(|at| (at as f64 + 0.5) / 4.0).collect();
    let mean_pole = vec![place; instants.len()];
    let request = DisturbanceRequest {
        clock,
        hours: &instants,
        mean_pole: &mean_pole,
        hemisphere: Hemisphere::South,
        seed: 99,
    };
    let mut field = vec![ExternalField::default(); instants.len()];
    let mut perturbation_nt = Vec::with_capacity(hours);
    for (member, share) in (0_u32..).zip((0..hours).collect::<Vec<_>>().chunks(2922)) {
        disturbance.member(&request, member, &Control::default(), &mut field).unwrap();
        perturbation_nt.extend(share.iter().map(|hour| {
            let four = &field[4 * hour..4 * hour + 4];
            let mean =
                |part: fn(&ExternalField) -> f64| (four.iter().map(part).sum::<f64>() / 4.0) as f32;
            // One hour in fifty is not recorded.
            if hour % 50 == 17 {
                [f32::NAN; 2]
            } else {
                [mean(|field| field.north_nt), mean(|field| field.east_nt)]
            }
        }));
    }
    StationRecord {
        name: "invented".into(),
        place,
        start,
        cadence_h: 1.0,
        perturbation_nt,
        remarks: vec!["invented".into()],
    }
}

fn south_pole() -> DipPole {
    dip_pole(&igrf14().unwrap(), Hemisphere::South, 2027.0, 0.0).unwrap()
}

fn known(knowing: Knowing) -> Box<dyn Disturbance> {
    disturbance_knowing(knowing, &house_disturbance().unwrap()).unwrap().unwrap()
}

#[test]
fn a_record_that_the_model_drew_itself_is_told_rightly() {
    let disturbance = known(Knowing::Kp);
    let record = drawn_from(&*disturbance, 3 * 2922);
    let settings = VerifySettings { knowing: Knowing::Kp, ..VerifySettings::default() };
    let told =
        verify(&record, &*disturbance, &south_pole(), &settings, &Control::default()).unwrap();
    // Of 8590 hours with a memory of some three: one sigma 0.004 of 95 %, 0.009 of 50 %.
    assert!((told.all.coverage_95 - 0.95).abs() < 0.013, "{:?}", told.all);
    assert!((told.all.coverage_50 - 0.50).abs() < 0.028, "{:?}", told.all);
    assert!((told.all.mean_nt / told.all.forecast_mean_nt - 1.0).abs() < 0.04, "{:?}", told.all);
    assert!(told.all.crps_nt < 0.8 * told.crps_climate_nt, "{told:?}");
    assert_eq!(told.intervals, record.recorded() as u64);
    let sums = [
        told.by_kp.iter().map(|row| row.scores.hours).sum::<u64>(),
        told.by_month.iter().map(|row| row.scores.hours).sum(),
        told.by_hour.iter().map(|row| row.scores.hours).sum(),
    ];
    assert_eq!(sums, [told.intervals; 3]);
    assert_eq!((told.by_month.len(), told.by_hour.len()), (12, 24));
    for event in &told.events {
        assert!(event.calibration_error < 0.03, "{event:?}");
        assert!((event.forecast - event.observed).abs() < 0.03, "{event:?}");
        assert!(event.skill.is_some_and(|skill| skill > 0.2), "{event:?}");
    }
    for lag in told.autocorrelation.iter().filter(|lag| lag.lag_h <= 3.0) {
        let differ = lag.record_north.unwrap() - lag.model_north.unwrap();
        // A few storms make much of a year's products.
        assert!(differ.abs() < 0.15, "{lag:?}");
    }
    assert!(told.sentence().starts_with("at invented, "), "{}", told.sentence());
}

/// Half of another disturbance.
#[derive(Debug)]
struct Weak(Box<dyn Disturbance>);

impl Disturbance for Weak {
    fn provenance(&self) -> Provenance {
        self.0.provenance()
    }

    fn member(
        &self,
        request: &DisturbanceRequest<'_>,
        member: u32,
        control: &Control,
        out: &mut [ExternalField],
    ) -> Result<(), Error> {
        self.0.member(request, member, control, out)?;
        for field in out {
            (field.north_nt, field.east_nt) = (0.5 * field.north_nt, 0.5 * field.east_nt);
        }
        Ok(())
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.0.assumptions()
    }
}

#[test]
fn a_model_twice_too_weak_is_found_out() {
    let record = drawn_from(&*known(Knowing::Kp), 2922);
    let weak = Weak(known(Knowing::Kp));
    let settings = VerifySettings { knowing: Knowing::Kp, ..VerifySettings::default() };
    let told = verify(&record, &weak, &south_pole(), &settings, &Control::default()).unwrap();
    assert!(told.all.coverage_95 < 0.75 && told.all.coverage_50 < 0.35, "{:?}", told.all);
    let event = &told.events[2];
    assert!(event.forecast > event.observed + 0.1 && event.calibration_error > 0.1, "{event:?}");
}

#[test]
fn threads_do_not_matter_and_json_has_the_keys_that_are_documented() {
    let disturbance = known(Knowing::Climate);
    let record = drawn_from(&*disturbance, 600);
    let settings =
        VerifySettings { members: 39, knowing: Knowing::Climate, ..VerifySettings::default() };
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let told = pool.install(|| {
            verify(&record, &*disturbance, &south_pole(), &settings, &Control::default())
        });
        serde_json::to_value(told.unwrap()).unwrap()
    };
    let told = run(1);
    assert_eq!(told, run(3));
    for key in ["hours", "coverage_95", "coverage_50", "crps_nt", "crps_climate_nt", "by_kp"] {
        assert!(!told[key].is_null(), "{key}");
    }
    assert_eq!(told["by_month"][0]["month"], 11);
    assert_eq!(told["by_hour"][23]["hour"], 23);
    assert_eq!(told["events"][2]["within_km"], 10.0);
    assert_eq!(told["events"][2]["bins"].as_array().map(Vec::len), Some(7));
    assert_eq!(told["knowing"], "climate");
}

#[test]
fn what_cannot_be_scored_is_refused_with_its_reason() {
    let disturbance = known(Knowing::Kp);
    let record = drawn_from(&*disturbance, 48);
    let pole = south_pole();
    let refused = |record: &StationRecord, settings: &VerifySettings| {
        verify(record, &*disturbance, &pole, settings, &Control::default()).unwrap_err().to_string()
    };
    let usual = VerifySettings { knowing: Knowing::Kp, ..VerifySettings::default() };
    let with = |change: &dyn Fn(&mut VerifySettings)| {
        let mut settings = usual.clone();
        change(&mut settings);
        refused(&record, &settings)
    };
    assert!(with(&|own| own.for_h = vec![1.5]).contains("whole number"));
    assert!(with(&|own| own.for_h = vec![f64::NAN]).contains("NaN h"));
    assert!(with(&|own| own.within_km = vec![0.0]).contains("0 km"));
    assert!(with(&|own| own.members = 10).contains("too few"));
    assert!(with(&|own| own.selection.months = vec![13]).contains("13 is no month"));
    assert!(with(&|own| own.selection.months = vec![6]).contains("is selected"));
    let north = StationRecord { place: position(74.7, -94.9), ..record.clone() };
    assert!(refused(&north, &usual).contains("hemisphere"));
    let empty = StationRecord { perturbation_nt: Vec::new(), ..record.clone() };
    assert!(refused(&empty, &usual).contains("no value"));
    let late = StationRecord { start: "2031-01-01T00:00Z".parse().unwrap(), ..record };
    assert!(refused(&late, &usual).contains("Kp is known"));
}
