//! Where an approach leads through ice of land origin or past a charted berg.

use dipward_chart::Chart;
use dipward_geodesy::distance_km;
use dipward_plugin::{Approach, Clock, Error, Quantity, Warning};

use crate::{
    warnings::{looks, tell},
    world::World,
};

/// What is told of a cell.
struct Told {
    quantity: Quantity,
    /// Whether a value of the quantity is to be told.
    holds: fn(f32) -> bool,
    text: &'static str,
}

const TOLD: [Told; 2] = [
    Told {
        quantity: Quantity::LAND_ICE,
        holds: |concentration| concentration > 0.0,
        text: "ice of land origin (bergs, bergy bits or growlers) is charted here: not normal operation \
               by any risk index, and radar may not show growlers",
    },
    Told {
        quantity: Quantity::BERG_DISTANCE,
        // What lies further off is not a number.
        holds: |berths| !berths.is_nan(),
        text: "a charted berg lies near, within four times the berth of a good view: it may have drifted",
    },
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
    for Told { quantity, holds, text } in TOLD {
        if !chart.quantities().contains(&quantity) {
            continue;
        }
        for way in [&approach.waypoints, &approach.home] {
            let looks = looks(way, chart.grid().cell_km());
            let ahead = looks.iter().skip(1).map(Some).chain([None]);
            for ((place, time), next) in looks.iter().zip(ahead) {
                if !holds(chart.sample(clock.hour(*time), quantity, *place)?) {
                    continue;
                }
                let km = next.map_or(0.0, |(next, _)| distance_km(*place, *next));
                tell(&mut warnings, text.to_owned(), (*place, *time), km);
            }
        }
    }
    Ok(warnings)
}
