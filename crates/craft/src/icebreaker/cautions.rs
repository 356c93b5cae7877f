//! What a ship's people must heed at a place and an hour: fuel, wind, sea and icing.

use dipward_plugin::Look;
use jiff::tz::Offset;

use super::{
    IcebreakerSpec,
    cells::{Columns, value},
    weather::{WindAndSea, unit_vector},
};
use crate::{HeavyFuelBan, IcingClass, Seaway, SprayWeather, high_sea, strong_wind};

/// The freezing point of the sea that spray is reckoned with (Overland 1990).
const FREEZING_C: f64 = -1.8;
/// Ice that lets no sea rise and no spray fly, as met.no takes it for spray.
const CALM_CONCENTRATION: f64 = 0.4;

pub(super) fn cautions(spec: &IcebreakerSpec, look: &Look<'_>) -> Vec<String> {
    let day = Offset::UTC.to_datetime(look.time).date();
    let fuel = &spec.fuel;
    let ban = fuel.oil().filter(|oil| oil.is_heavy()).and_then(|_| {
        HeavyFuelBan::at(look.latitude_deg, look.longitude_deg, day, fuel.protected_tanks)
    });
    let mut texts: Vec<String> = ban.map(|ban| ban.to_string()).into_iter().collect();
    let columns = Columns::of(look.cell);
    // What is unknown is not above it.
    if f64::from(value(columns.concentration, 0)) >= CALM_CONCENTRATION {
        return texts;
    }
    let weather = WindAndSea::read(&columns, 0);
    texts.extend(strong_wind(weather.wind_m_s).map(str::to_owned));
    texts.extend(high_sea(weather.wave_m).map(str::to_owned));
    if weather.heavy(&spec.weather) {
        texts.push(format!("heavy weather: {}", spec.weather.heavy_words()));
    }
    texts.extend(of_waves(spec, look, &columns, &weather));
    texts.extend(of_icing(&columns, &weather));
    texts
}

/// The dangers of MSC.1/Circ.1228.
fn of_waves(
    spec: &IcebreakerSpec,
    look: &Look<'_>,
    columns: &Columns<'_>,
    weather: &WindAndSea,
) -> Vec<String> {
    let seaway = Seaway {
        ship_length_m: spec.hull.length_m,
        roll_period_s: spec.weather.roll_period_s.unwrap_or(f64::NAN),
        speed_kn: look.speed_kn,
        encounter_deg: weather.sea_off_bow_deg(unit_vector(look.grid_course_deg)),
        wave_period_s: f64::from(value(columns.wave_period, 0)),
        wave_height_m: weather.wave_m,
    };
    let told = seaway.cautions().into_iter();
    told.map(|caution| {
        format!("danger of {caution} at the planned speed and course (MSC.1/Circ.1228)")
    })
    .collect()
}

/// Freezing spray. A sea whose temperature the chart does not tell is taken to be at its freezing
/// point, where icing is worst.
fn of_icing(columns: &Columns<'_>, weather: &WindAndSea) -> Option<String> {
    let told_c = f64::from(value(columns.sea_temperature, 0));
    let spray = SprayWeather {
        wind_m_s: weather.wind_m_s,
        air_c: f64::from(value(columns.air_temperature, 0)),
        water_c: if told_c.is_nan() { FREEZING_C } else { told_c },
        freezing_c: FREEZING_C,
        ice_concentration: f64::from(value(columns.concentration, 0)).max(0.0),
    };
    let class = spray.class();
    (class != IcingClass::None).then(|| {
        format!(
            "{class} (Overland 1990, for ships of 20 to 75 m that steam into the wind; larger ones \
             ice less){}",
            if told_c.is_nan() {
                "; the sea counts as freezing, for the chart tells no \
                `sea_temperature`"
            } else {
                ""
            }
        )
    })
}
