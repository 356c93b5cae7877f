//! What the report shows of the world: the pole's wanderings, the map, the layers.

use dipward_geodesy::Position;
use dipward_plugin::{
    Closure, Control, Error, LayerRecord, MapPicture, PoleEllipse, PolePicture, Quantity,
};

use crate::{
    scenario::Scenario,
    station::{Measure, chance_by_day},
    world::{World, layer_names},
};

/// Points drawn of the cloud of instantaneous poles.
const CLOUD_POINTS: usize = 600;
/// Hours with a Kp below this are quiet.
const QUIET_BELOW_KP: f64 = 2.0;

pub(crate) fn pole_picture(world: &World<'_>) -> PolePicture {
    let clock = world.scenario.clock;
    let mean = world.tracks.mean_track();
    let middle = mean.len() / 2;
    let mean_track = mean
        .iter()
        .enumerate()
        .step_by(24)
        .map(|(hour, position)| (clock.instant(hour as f64), *position))
        .collect();
    let keys = &world.scenario.keys.station;
    let measure = Measure { within_km: keys.within_km, for_h: keys.for_h };
    let ellipse = |probability: f64| {
        let found = world.tracks.ellipse_over_all_hours(probability)?;
        Some(PoleEllipse {
            centre: world.tracks.place(middle, found.centre_km)?,
            semi_major_km: found.ellipse.semi_major_km,
            semi_minor_km: found.ellipse.semi_minor_km,
            bearing_deg: found.ellipse.bearing_deg,
            probability: found.share,
        })
    };
    PolePicture {
        mean_track,
        daily_oval: world.tracks.oval_at(&world.tracks.daily_oval(), middle),
        quiet_oval: world.tracks.oval_at(&world.tracks.quiet_oval(QUIET_BELOW_KP), middle),
        quiet_below_kp: QUIET_BELOW_KP,
        ellipse_50: ellipse(0.5),
        ellipse_95: ellipse(0.95),
        cloud: cloud(world, middle),
        chance_by_day: chance_by_day(&world.tracks, measure)
            .into_iter()
            .map(|(hour, chance)| (clock.instant(hour), chance))
            .collect(),
        within_km: keys.within_km,
    }
}

/// Positions of all members in turn, at hours around the middle of the window.
fn cloud(world: &World<'_>, middle: usize) -> Vec<Position> {
    let members = world.tracks.members();
    let hours = world.tracks.mean_track().len();
    (0..CLOUD_POINTS)
        .filter_map(|index| {
            // A step of 7 hours meets every hour of the day.
            let hour = (middle + 7 * (index / members.max(1))) % hours.max(1);
            world.tracks.member_position(index % members.max(1), hour)
        })
        .collect()
}

pub(crate) fn map_picture(
    world: &World<'_>,
    at_hour: f64,
    control: &Control,
) -> Result<MapPicture, Error> {
    let grid = world.chart.grid().clone();
    let frame = world.chart.frame_at(at_hour);
    let has_ice = world.chart.quantities().contains(&Quantity::ICE_CONCENTRATION);
    let ice_concentration = if has_ice {
        world.chart.values(frame, Quantity::ICE_CONCENTRATION, control)?
    } else {
        Vec::new()
    };
    let risk_frame = world.frame_at(at_hour);
    let cells = grid.len() as u32;
    let samples: Vec<_> = (0..cells).map(|cell| world.risk.at(risk_frame, cell)).collect();
    let closed = samples.iter().map(|sample| {
        sample.is_some_and(|sample| {
            matches!(
                sample.closure,
                Closure::Zone | Closure::Depth | Closure::LandIce | Closure::Unknown
            )
        })
    });
    let elevated = samples.iter().map(|sample| sample.is_some_and(|sample| sample.elevated));
    Ok(MapPicture {
        at: world.scenario.clock.instant(at_hour),
        outlines: world.chart.outlines().into_iter().map(|(_, outline)| outline).collect(),
        ice_concentration,
        closed: closed.collect(),
        elevated: elevated.collect(),
        places: world
            .scenario
            .keys
            .voyage
            .ports
            .iter()
            .map(|port| (port.name.clone(), Scenario::port_position(port)))
            .collect(),
        grid,
    })
}

pub(crate) fn layer_records(
    world: &World<'_>,
    control: &Control,
) -> Result<Vec<LayerRecord>, Error> {
    let clock = world.scenario.clock;
    let coverage = world.chart.coverage(control)?;
    let names = layer_names(world.scenario);
    let instants = world.chart.instants();
    let layers = names.into_iter().zip(&world.scenario.layers).zip(instants);
    let records = layers.map(|((name, built), instants)| {
        let own = || coverage.iter().filter(|one| one.layer == name);
        LayerRecord {
            kind: built.kind.clone(),
            provenance: built.object.provenance(),
            coverage: own().map(|one| one.covered[0]).fold(0.0, f64::max),
            instants: instants.map(|(first, last)| (clock.instant(first), clock.instant(last))),
            age_at_end_h: own().find_map(|one| one.age_h[1]),
            name,
        }
    });
    Ok(records.collect())
}
