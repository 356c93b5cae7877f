use dipward_field::{PoleTracks, TrackRequest, pole_tracks};
use dipward_geodesy::Hemisphere;
use dipward_plugin::{
    BuildContext, Clock, Control, DisturbancePoint, LandingGround, MainFieldPoint, Registry,
};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::station::Measure;

const HOURS: usize = 120;

/// A pole that is thrown about with Kp.
fn tracks() -> PoleTracks {
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(".", Hemisphere::South, clock, HOURS as f64);
    let mut registry = Registry::default();
    registry.register::<dipward_field::kinds::Igrf14Spec>().unwrap();
    registry.register::<dipward_field::kinds::KpHistorySpec>().unwrap();
    let slot = |kind: &str| -> Value { json!({ "kind": kind }) };
    let model = registry.build::<MainFieldPoint>("", &slot("igrf14"), &context).unwrap();
    let stirred = registry.build::<DisturbancePoint>("", &slot("kp_history"), &context).unwrap();
    let hours: Vec<f64> = (0..=HOURS).map(|hour| hour as f64).collect();
    let request = TrackRequest {
        clock,
        hours: &hours,
        hemisphere: Hemisphere::South,
        height_km: 0.0,
        members: 40,
        seed: 7,
        looks: 1,
    };
    let (model, stirred) = (model.object.as_ref(), stirred.object.as_ref());
    pole_tracks(model, stirred, &request, &Control::default()).unwrap()
}

/// Flies at 200 km/h less the wind, whatever the course; burns 200 kg/h.
#[derive(Debug)]
struct Plain {
    stores: AirStores,
}

impl Aircraft for Plain {
    fn may_fly(&self, weather: &AirWeather) -> Result<(), &'static str> {
        if weather.visibility_km >= 5.0 { Ok(()) } else { Err("fog") }
    }

    fn may_land(&self, _: &LandingGround) -> Result<(), &'static str> {
        Ok(())
    }

    fn ground_speed_km_h(&self, weather: &AirWeather, _: f64) -> Option<f64> {
        Some(200.0 - weather.wind_kn).filter(|speed| *speed > 0.0)
    }

    fn stores(&self) -> AirStores {
        self.stores
    }
}

const STORES: AirStores = AirStores {
    tank_kg: 600.0,
    aboard_kg: 3000.0,
    burn_kg_per_h: 200.0,
    held_kg: 100.0,
    on_scene_kg: 50.0,
    turnaround_h: 1.0,
    most_ground_h: 6.0,
};

fn skies(open: impl Fn(usize) -> bool, wind: impl Fn(usize) -> f64, ship_km: OffsetKm) -> Vec<Sky> {
    (0..=HOURS)
        .map(|hour| {
            let weather = AirWeather {
                visibility_km: if open(hour) { 20.0 } else { 1.0 },
                sun_altitude_deg: 10.0,
                wind_kn: wind(hour),
                wind_from_deg: 0.0,
            };
            Sky { open: open(hour), weather: vec![weather; 2], ship_km, turn_deg: 0.0 }
        })
        .collect()
}

fn with_flights<R>(
    tracks: &PoleTracks,
    stores: AirStores,
    skies: Vec<Sky>,
    measure: Measure,
    visit: impl FnOnce(&Flights<'_>) -> R,
) -> R {
    let still = vec![0.0; HOURS + 1];
    let station = Station {
        tracks,
        measure,
        policy: &Hold,
        reach_km: &still,
        chase_t_per_h: &still,
        chase_fuel_t: 0.0,
        reading_range_km: 0.0,
        oval_km: [[0.0; 2]; 24],
        haunt_km: [0.0; 2],
        chart: None,
        pack: None,
    };
    visit(&Flights::new(&station, &Plain { stores }, (0, skies), &|_, _| true))
}

/// Oracle: a party that always flies to the mean pole, in constant weather. From hour to hour by hand:
/// out for an hour, on the ice until it has attained or six hours are over, home for an hour, an hour on
/// deck.
#[test]
fn sorties_to_the_mean_pole_are_those_of_a_timetable() {
    let tracks = tracks();
    let measure = Measure { within_km: 12.0, for_h: 2.0 };
    let all = skies(|_| true, |_| 0.0, [200.0, 0.0]);
    with_flights(&tracks, AirStores { aboard_kg: 1e9, ..STORES }, all, measure, |flights| {
        for member in 0..tracks.members() {
            let near = |hour: usize| {
                tracks.offset_km(member, hour).is_some_and(|[n, e]| n.hypot(e) <= 12.0)
            };
            let (mut attained, mut sorties, mut hour) = (None, 0, 0);
            while attained.is_none() && hour + 4 <= HOURS {
                let last = (hour + 1 + 6).min(HOURS - 1);
                attained = (hour + 3..=last).find(|&at| (at - 2..=at).all(near));
                sorties += 1;
                hour = attained.unwrap_or(last) + 2;
            }
            let (outcome, flown) = flights.follow(member, &Hold);
            assert_eq!((outcome.attained_at, flown.sorties), (attained, sorties), "{member}");
            let fuel_kg = f64::from(sorties) * (2.0 * 200.0 + 50.0);
            assert!((flown.fuel_kg - fuel_kg).abs() < 1e-9);
        }
    });
}

#[test]
fn beyond_the_point_of_no_return_nothing_flies() {
    let tracks = tracks();
    let measure = Measure { within_km: 500.0, for_h: 0.0 };
    // (600 - 100 - 50) / 200 hours at 200 km/h, half of it out: 225 km.
    for (away_km, flies) in [(224.9, true), (225.1, false)] {
        let sky = skies(|_| true, |_| 0.0, [0.0, away_km]);
        with_flights(&tracks, STORES, sky, measure, |flights| {
            let (stay, flown) = flights.stay();
            assert_eq!(stay.attainment.probability, if flies { 1.0 } else { 0.0 });
            assert_eq!(flown.mean_sorties > 0.0, flies);
        });
    }
    // A gale that is there for the way home alone keeps it on deck.
    let gale = |hour: usize| if hour.is_multiple_of(4) { 0.0 } else { 120.0 };
    let sky = skies(|_| true, gale, [0.0, 200.0]);
    with_flights(&tracks, STORES, sky, measure, |flights| {
        assert_eq!(flights.stay().1.mean_sorties, 0.0);
    });
    // Windows of light too short for out, stay and home.
    let sky = skies(|hour| !hour.is_multiple_of(3), |_| 0.0, [0.0, 200.0]);
    with_flights(&tracks, STORES, sky, measure, |flights| {
        assert_eq!(flights.stay().1.mean_sorties, 0.0);
    });
}

/// Makes for anything, wherever it is.
#[derive(Debug)]
struct Rover(Vec<OffsetKm>);

impl Policy for Rover {
    fn describe(&self) -> String {
        "roves".to_owned()
    }

    fn act(&self, known: &Knowledge) -> Action {
        let index = known.hour as usize % self.0.len();
        Action::MakeFor(known.reading_km.unwrap_or(self.0[index]))
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever the policy wants and the weather does: no sortie burns into its reserve, all of them
    /// keep to what is aboard, and no party attains what one that knew the track could not.
    #[test]
    fn no_sortie_burns_its_reserve(
        aims in prop::collection::vec([-260.0..260.0_f64, -260.0..260.0], 1..9),
        fog in 2_usize..20, blow in 0.0..80.0_f64,
        away in 0.0..230.0_f64, aboard in 0.0..2000.0_f64, for_h in 0.0..4.0_f64,
    ) {
        static TRACKS: std::sync::LazyLock<PoleTracks> = std::sync::LazyLock::new(tracks);
        let measure = Measure { within_km: 12.0, for_h };
        let stores = AirStores { aboard_kg: aboard, ..STORES };
        let sky = skies(|hour| !hour.is_multiple_of(fog), |hour| blow * (hour % 5) as f64 / 5.0, [away, 0.0]);
        let rover = Rover(aims);
        with_flights(&TRACKS, stores, sky, measure, |flights| {
            for member in 0..TRACKS.members() {
                let (outcome, flown) = flights.follow(member, &rover);
                let most_kg = STORES.tank_kg.min(aboard) - STORES.held_kg;
                prop_assert!(flown.fuel_kg <= f64::from(flown.sorties) * most_kg.max(0.0) + 1e-9);
                prop_assert!(flown.fuel_kg <= aboard.max(0.0));
                if outcome.attained_at.is_some() {
                    prop_assert!(flights.could_attain(member));
                }
            }
            Ok(())
        })?;
    }
}
