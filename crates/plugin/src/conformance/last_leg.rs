use super::{check_craft, promise, told};
use crate::{AirWeather, Aircraft, LandingGround, LastLeg, March, Means, OverIceParty, Stretch};

/// Holds a last leg to its contract: a landing rule that makes sense; in the air no flight in unknown
/// weather, sound stores and no wind that lengthens a way out and back; over the ice a craft that keeps
/// its own contract, and fuel that adds up and does not do for a march without end.
///
/// # Errors
///
/// A sentence that says which promise the last leg breaks.
pub fn check_last_leg(leg: &dyn LastLeg) -> Result<(), String> {
    told(&leg.provenance(), &leg.assumptions())?;
    promise(!leg.name().is_empty(), || "the last leg has no name".to_owned())?;
    let rule = leg.landing();
    let sound = rule.allowance_km >= 0.0
        && rule.allowance_km.is_finite()
        && !rule.shares.is_empty()
        && rule.shares.iter().all(|&share| share > 0.0 && share <= 1.0);
    promise(sound, || format!("landings by {rule:?} make no sense"))?;
    match leg.means() {
        Means::Air(aircraft) => check_aircraft(aircraft),
        Means::OverIce(party) => check_party(party),
    }
}

fn check_aircraft(aircraft: &dyn Aircraft) -> Result<(), String> {
    let stores = aircraft.stores();
    let numbers = [
        stores.aboard_kg,
        stores.held_kg,
        stores.on_scene_kg,
        stores.turnaround_h,
        stores.most_ground_h,
    ];
    let sound = stores.tank_kg > 0.0
        && stores.burn_kg_per_h > 0.0
        && numbers.iter().all(|number| number.is_finite() && *number >= 0.0);
    promise(sound, || format!("stores must be finite and not negative: {stores:?}"))?;
    let unknown = f64::NAN;
    let weather = AirWeather {
        visibility_km: unknown,
        sun_altitude_deg: unknown,
        wind_kn: unknown,
        wind_from_deg: unknown,
    };
    promise(aircraft.may_fly(&weather).is_err(), || "it flies in unknown weather".to_owned())?;
    promise(aircraft.may_land(&LandingGround::UNKNOWN).is_err(), || {
        "it lands on what is not known".to_owned()
    })?;
    let zone = LandingGround { land: 1.0, closed: 1.0, ..LandingGround::UNKNOWN };
    promise(aircraft.may_land(&zone).is_err(), || "it lands in a closed zone".to_owned())?;
    let still = AirWeather { wind_kn: 0.0, wind_from_deg: 0.0, ..weather };
    let pace = |weather: &AirWeather, course_deg: f64| {
        aircraft.ground_speed_km_h(weather, course_deg).map(f64::recip)
    };
    for wind_kn in [0.0, 5.0, 20.0, 60.0, 400.0] {
        for angle_deg in [0.0, 45.0, 90.0, 180.0, 271.0] {
            let weather = AirWeather { wind_kn, wind_from_deg: angle_deg, ..weather };
            let both = |weather| Some(pace(weather, 30.0)? + pace(weather, 210.0)?);
            let (calm, windy) = (both(&still), both(&weather));
            let shorter =
                matches!((calm, windy), (Some(calm), Some(windy)) if windy < calm * (1.0 - 1e-12));
            promise(!shorter && (calm.is_some() || windy.is_none()), || {
                format!("out and back is faster in {weather:?} than in still air")
            })?;
        }
    }
    Ok(())
}

fn check_party(party: &dyn OverIceParty) -> Result<(), String> {
    check_craft(party.craft())?;
    let depots = party.depots();
    let sound = depots.at_km.is_sorted()
        && depots.at_km.iter().all(|at_km| at_km.is_finite() && *at_km >= 0.0)
        && [depots.drift_km_per_h, depots.drift_toward_deg].iter().all(|one| one.is_finite())
        && depots.found_within_km >= 0.0;
    promise(sound, || format!("depots by {depots:?} make no sense"))?;
    let march = |distance_km| {
        let stretch = Stretch { distance_km, hours: distance_km / 4.0, waited_h: 0.0 };
        party.march(&March::there_and_back(stretch, 6.0, &party.depots()))
    };
    if let Ok(fuel) = march(1.0) {
        let left_t = fuel.capacity_t - fuel.out_t - fuel.stay_t - fuel.home_t;
        let depots_t: f64 = fuel.depots.iter().map(|depot| depot.drawn_t - depot.laid_t).sum();
        promise(left_t + depots_t >= fuel.reserve_t - 1e-9, || {
            format!("a march that does leaves less than its reserve: {fuel:?}")
        })?;
    }
    promise(march(1.0e7).is_err(), || "the fuel does for a march without end".to_owned())
}
