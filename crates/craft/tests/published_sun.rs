//! Published and recomputed values for the sun; the words as in `published_ice.rs`.
#![expect(clippy::expect_used, reason = "a failed expect in a test is the report")]

use dipward_craft::{
    ApparentSun, Crossing, Daylight, julian_day, refraction_deg, sidereal_time_deg, sun_in_sky,
};
use jiff::Timestamp;
use proptest::prelude::*;

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want} within {tolerance}");
}

fn at(text: &str) -> Timestamp {
    text.parse().expect("an instant")
}

/// Meeus, Astronomical Algorithms, example 25.a: 1992 October 13.0 TD; seen in many test suites.
#[test]
fn published_meeus_25a() {
    let sun = ApparentSun::at(2_448_908.5);
    near(sun.centuries, -0.072_183_436, 1e-9);
    near(sun.mean_longitude_deg, 201.807_20, 1e-5);
    near(sun.mean_anomaly_deg, 278.993_97, 1e-5);
    near(sun.eccentricity, 0.016_711_668, 1e-9);
    near(sun.equation_of_centre_deg, -1.897_32, 1e-5);
    near(sun.longitude_deg, 199.908_95, 2e-5);
    near(sun.mean_obliquity_deg, 23.440_23, 1e-5);
    near(sun.obliquity_deg, 23.439_99, 1e-5);
    near(sun.right_ascension_deg, 198.380_83, 2e-5);
    near(sun.declination_deg, -7.785_07, 1e-5);
    near(sun.distance_au, 0.997_66, 1e-5);
}

/// Meeus example 12.a: mean sidereal time at 0 h UT on 1987 April 10 is 13 h 10 min 46.3668 s;
/// seen.
#[test]
fn published_meeus_12a() {
    let day = julian_day(at("1987-04-10T00:00Z"));
    near(day, 2_446_895.5, 1e-9);
    near(sidereal_time_deg(day) / 15.0, 13.0 + 10.0 / 60.0 + 46.3668 / 3600.0, 1e-7);
}

/// NREL's SPA example (Reda and Andreas 2008), outputs as seen in an open implementation's page:
/// 2003 October 17, 12:30:30 at UTC-7, zenith 50.111622, azimuth 194.340241, rise 06:12:43, set
/// 17:20:19. This formula is one of low accuracy: 0.01 degrees.
#[test]
fn published_nrel_example() {
    let instant = at("2003-10-17T19:30:30Z");
    near(julian_day(instant), 2_452_930.312_847, 1e-6);
    let (latitude, longitude) = (39.742_476, -105.1786);
    let sun = sun_in_sky(instant, latitude, longitude);
    let refraction = refraction_deg(sun.altitude_deg, 820.0, 11.0);
    near(refraction, 0.0164, 1e-4);
    near(90.0 - sun.altitude_deg - refraction, 50.111_622, 0.01);
    near(sun.azimuth_deg, 194.340_241, 0.01);
    // The example's set is that of the universal day, before the rise: the evening of the 16th
    // there.
    let day = at("2003-10-17T00:00Z");
    let Daylight::Crosses(crossings) =
        Daylight::of_day(day, latitude, longitude, Daylight::SUNRISE_DEG)
    else {
        panic!("the sun rises there");
    };
    let [set, rise] = crossings[..] else { panic!("{crossings:?}") };
    assert!(rise.rising && !set.rising);
    for (crossing, want) in [(set, "2003-10-17T00:20:19Z"), (rise, "2003-10-17T13:12:43Z")] {
        let apart_s = (crossing.instant.as_second() - at(want).as_second()).abs();
        assert!(apart_s <= 15, "{} is {apart_s} s from {want}", crossing.instant);
    }
}

/// Polar places, recomputed.
#[test]
fn published_polar_suns_recomputed() {
    let sun = sun_in_sky(at("2026-06-21T12:00Z"), 85.0, 135.0);
    near(sun.altitude_deg, 19.886, 0.002);
    near(sun.azimuth_deg, 315.94, 0.01);
    near(sun_in_sky(at("2026-12-21T12:00Z"), 85.0, 135.0).altitude_deg, -26.952, 0.002);
    let sun = sun_in_sky(at("2026-01-15T03:00Z"), -64.0, 136.0);
    near(sun.altitude_deg, 47.128, 0.002);
    near(sun.azimuth_deg, 1.81, 0.01);
}

/// Days of 2026 on which the sun never sets or never rises, recomputed by the declination at noon,
/// to a day at each end.
#[test]
fn published_polar_days_recomputed() {
    let new_year = at("2026-01-01T00:00Z").as_second();
    for (latitude, up, down) in
        [(75.0, 109, 91), (80.0, 138, 121), (85.0, 165, 149), (-66.5, 28, 0), (-70.0, 67, 55)]
    {
        let (mut always_up, mut always_down) = (0_i32, 0_i32);
        for day in 0..365 {
            let start = Timestamp::from_second(new_year + 86_400 * day).expect("in range");
            match Daylight::of_day(start, latitude, 0.0, Daylight::SUNRISE_DEG) {
                Daylight::AlwaysUp => always_up += 1,
                Daylight::AlwaysDown => always_down += 1,
                Daylight::Crosses(_) => {}
            }
        }
        assert!((always_up - up).abs() <= 2, "{latitude}: {always_up} days up, not {up}");
        assert!((always_down - down).abs() <= 2, "{latitude}: {always_down} days down, not {down}");
    }
}

/// Latitudes beyond which each kind of night can fail to come or to end, by obliquity; recomputed.
#[test]
fn published_limits_of_twilight_recomputed() {
    let december = at("2026-12-21T00:00Z");
    let june = at("2026-06-21T00:00Z");
    for (start, latitude, threshold, daylight) in [
        (june, 65.73, Daylight::SUNRISE_DEG, Daylight::AlwaysUp),
        (december, 67.39, Daylight::SUNRISE_DEG, Daylight::AlwaysDown),
        (december, 72.56, Daylight::CIVIL_DEG, Daylight::AlwaysDown),
        (december, 78.56, Daylight::NAUTICAL_DEG, Daylight::AlwaysDown),
        (december, 84.56, Daylight::ASTRONOMICAL_DEG, Daylight::AlwaysDown),
    ] {
        assert_eq!(Daylight::of_day(start, latitude + 0.03, 0.0, threshold), daylight);
        let short = Daylight::of_day(start, latitude - 0.03, 0.0, threshold);
        assert!(matches!(short, Daylight::Crosses(_)), "{latitude}: {short:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2000, failure_persistence: None, ..ProptestConfig::default()
    })]

    /// The three-way answer against a sun looked at every minute.
    #[test]
    fn the_answer_agrees_with_a_watch_kept_all_day(
        day in 0_i64..3650, latitude in -90.0..=90.0, longitude in -180.0..180.0,
        threshold in prop::sample::select(vec![-0.833, -6.0, -12.0, -18.0]),
    ) {
        let start = Timestamp::from_second(1_767_225_600 + 86_400 * day).expect("in range");
        let up: Vec<bool> = (0..=1440)
            .map(|minute| start.as_second() + 60 * minute)
            .map(|second| Timestamp::from_second(second).expect("in range"))
            .map(|instant| sun_in_sky(instant, latitude, longitude).altitude_deg >= threshold)
            .collect();
        match Daylight::of_day(start, latitude, longitude, threshold) {
            Daylight::AlwaysUp => prop_assert!(up.iter().all(|&up| up)),
            Daylight::AlwaysDown => prop_assert!(up.iter().all(|&up| !up)),
            Daylight::Crosses(crossings) => {
                let seen = up.windows(2).filter(|pair| pair[0] != pair[1]).count();
                // A sun that shows itself for less than the watch's minute is missed by the watch.
                prop_assert!(crossings.len() >= seen && crossings.len() <= seen + 2);
                prop_assert!(crossings.windows(2).all(|pair| pair[0].instant <= pair[1].instant));
                for Crossing { instant, .. } in crossings {
                    let altitude = sun_in_sky(instant, latitude, longitude).altitude_deg;
                    prop_assert!((altitude - threshold).abs() < 0.001);
                }
            }
        }
    }

    #[test]
    fn the_sun_is_somewhere(
        second in -60_000_000_000_i64..60_000_000_000, latitude in -90.0..=90.0,
        longitude in -720.0..720.0,
    ) {
        let instant = Timestamp::from_second(second).expect("in range");
        let sun = sun_in_sky(instant, latitude, longitude);
        prop_assert!((-90.0..=90.0).contains(&sun.altitude_deg));
        prop_assert!((0.0..360.0).contains(&sun.azimuth_deg));
        prop_assert!(refraction_deg(sun.altitude_deg, 1010.0, 10.0) < 1.0);
    }
}
