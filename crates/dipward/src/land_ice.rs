//! Where an approach leads through ice of land origin or past a charted berg.

use dipward_chart::Chart;
use dipward_geodesy::distance_km;
use dipward_plugin::{Approach, Clock, Error, Quantity, Warning};

use crate::{warnings::looks, world::World};

/// What is told of a cell, by the quantity that tells it and what it must be.
const TOLD: [(Quantity, fn(f32) -> bool, &str); 2] = [
    (
        Quantity::LAND_ICE,
        |concentration| concentration > 0.0,
        "ice of land origin (bergs, bergy bits or growlers) is charted here: not normal operation by any \
         risk index, and radar may not show growlers",
    ),
    // What lies further off is not a number.
    (
        Quantity::BERG_DISTANCE,
        |berths| !berths.is_nan(),
        "a charted berg lies near, within four times the berth of a good view: it may have drifted",
    ),
];

/// The warnings of ice of land origin along an approach, out and home.
///
/// # Errors
///
/// What the chart's layers say.
pub(crate) fn land_ice_warnings(
    world: &World<'_>,
    approach: &Approach,
) -> Result<Vec<Warning>, Error> {
    of_chart(&world.chart, world.scenario.clock, approach)
}

fn of_chart(chart: &Chart, clock: Clock, approach: &Approach) -> Result<Vec<Warning>, Error> {
    let mut warnings: Vec<Warning> = Vec::new();
    // The chart has the quantities that the craft reads and a layer gives.
    for (quantity, holds, text) in TOLD {
        if !chart.quantities().contains(&quantity) {
            continue;
        }
        let mut warning: Option<Warning> = None;
        for way in [&approach.waypoints, &approach.home] {
            let looks = looks(way, chart.grid().cell_km());
            let ahead = looks.iter().skip(1).map(Some).chain([None]);
            for ((place, time), next) in looks.iter().zip(ahead) {
                if !holds(chart.sample(clock.hour(*time), quantity, *place)?) {
                    continue;
                }
                let km = next.map_or(0.0, |(next, _)| distance_km(*place, *next));
                let told = warning.get_or_insert_with(|| Warning {
                    text: text.to_owned(),
                    latitude_deg: place.y(),
                    longitude_deg: place.x(),
                    time: *time,
                    distance_km: 0.0,
                });
                told.distance_km += km;
            }
        }
        warnings.extend(warning);
    }
    Ok(warnings)
}
