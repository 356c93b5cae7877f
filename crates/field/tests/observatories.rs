//! The learnt response against recorded hours, which the folder that `DIPWARD_OBSERVATORIES` names holds:
//! hourly means of the World Data Centre for Geomagnetism, Edinburgh, as `CODE_even_years.csv.gz`. They
//! are no part of the repository, and without the folder nothing is tried here.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is the report")]
#![expect(clippy::print_stdout, reason = "a skip is told")]

use std::{fs, path::PathBuf};

use dipward_field::{
    dip_pole, igrf14,
    kinds::{LearntSpec, house_disturbance},
    learnt::Refit,
    observatory::read_station_files,
    verification::{Knowing, Selection, Verification, VerifySettings, disturbance_knowing, verify},
};
use dipward_geodesy::{Hemisphere, position};
use dipward_plugin::{BuildContext, Clock, Control, DisturbanceByKp, Spec};

/// Of no consequence here: the law has no window.
const START: &str = "2027-01-01T00:00Z";

const STATIONS: [(&str, f64, f64); 5] = [
    ("drv", -66.665, 140.007),
    ("sba", -77.85, 166.763),
    ("vos", -78.45, 106.867),
    ("res", 74.69, -94.895),
    ("ale", 82.5, -62.35),
];

/// A station's verification over 1980 to 1988, which all five recorded; `None` without the folder.
fn verified(
    code: &str,
    knowing: Knowing,
    season: Option<&str>,
    fitted: Refit,
) -> Option<Verification> {
    let Some(folder) = std::env::var_os("DIPWARD_OBSERVATORIES").map(PathBuf::from) else {
        println!("skipped: DIPWARD_OBSERVATORIES names no folder with recorded hours");
        return None;
    };
    let &(_, latitude, longitude) = STATIONS.iter().find(|one| one.0 == code).unwrap();
    let name = format!("{code}_even_years.csv.gz");
    let bytes = fs::read(folder.join(&name)).unwrap();
    let place = position(latitude, longitude);
    let record = read_station_files(&[(name, bytes)], Some(place)).unwrap();
    let hemisphere = if latitude < 0.0 { Hemisphere::South } else { Hemisphere::North };
    let pole = dip_pole(&igrf14().unwrap(), hemisphere, 2027.0, 0.0).unwrap();
    let context = BuildContext::new(".", hemisphere, Clock::new(START.parse().unwrap()), 48.0);
    let response = LearntSpec { fitted }.build(&context).unwrap().into();
    let house = DisturbanceByKp { response, ..house_disturbance().unwrap() };
    let disturbance = disturbance_knowing(knowing, &house).unwrap().unwrap();
    let settings = VerifySettings {
        members: 119,
        knowing,
        within_km: vec![10.0],
        for_h: vec![2.0],
        selection: Selection {
            season: season.map(|season| season.parse().unwrap()),
            from: Some("1980-01-01T00:00Z".parse().unwrap()),
            until: Some("1989-01-01T00:00Z".parse().unwrap()),
            ..Selection::default()
        },
        ..VerifySettings::default()
    };
    Some(verify(&record, &*disturbance, &pole, &settings, &Control::default()).unwrap())
}

/// Regions hold what they say at every station, and lengths are told better than by a table of month and
/// hour.
#[test]
fn regions_hold_recorded_hours() {
    for (code, ..) in STATIONS {
        let Some(told) = verified(code, Knowing::Kp, None, Refit::All) else { return };
        println!("{}", told.sentence());
        let all = told.all;
        assert!((0.91..0.98).contains(&all.coverage_95), "{code} {all:?}");
        assert!((0.42..0.57).contains(&all.coverage_50), "{code} {all:?}");
        assert!(all.crps_nt < 0.75 * told.crps_climate_nt, "{code} {all:?}");
        for row in told.by_kp.iter().filter(|row| row.kp <= 6) {
            assert!((0.86..0.99).contains(&row.scores.coverage_95), "{code} {row:?}");
        }
    }
}

/// At a station that the law was not fitted to, each left out in turn, the regions hold less surely what
/// they say.
#[test]
fn regions_hold_hours_of_a_station_left_out() {
    for ((code, ..), &fitted) in STATIONS.iter().zip(Refit::without_a_station()) {
        let Some(told) = verified(code, Knowing::Kp, None, fitted) else { return };
        println!("{fitted:?}: {}", told.sentence());
        assert!((0.87..0.99).contains(&told.all.coverage_95), "{code} {:?}", told.all);
        assert!((0.35..0.63).contains(&told.all.coverage_50), "{code} {:?}", told.all);
    }
}

/// In the southern summer at Dumont d'Urville, with Kp known and with its climate alone.
#[test]
fn chances_keep_their_word() {
    for (knowing, skill, error) in [(Knowing::Kp, 0.40, 0.05), (Knowing::Climate, 0.13, 0.07)] {
        let Some(told) = verified("drv", knowing, Some("01-05..03-15"), Refit::All) else { return };
        let event = &told.events[0];
        println!("{knowing:?} {event:?}");
        assert!(event.skill.unwrap() > skill, "{event:?}");
        assert!(event.calibration_error < error, "{event:?}");
    }
}
