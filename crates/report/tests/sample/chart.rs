//! The invented surroundings: the pole's wander, coast, ice and layers.

use dipward_geodesy::{
    Ellipsoid, Grid, Hemisphere, PolarStereographic, Position, direct, distance_km, position,
};
use dipward_plugin::*;
use geo::{Coord, LineString, MultiPolygon, Polygon};

use super::{POLE, at, later};

pub(super) fn pole() -> PolePicture {
    let start = at("2027-01-07T00:00Z");
    let mean = |hour: f64| direct(position(POLE.0, POLE.1), 312.0, (hour - 360.0) / 8766.0 * 9.4);
    let centre = position(POLE.0, POLE.1);
    let ellipse = |factor: f64, probability: f64| PoleEllipse {
        centre,
        semi_major_km: 22.0 * factor,
        semi_minor_km: 13.0 * factor,
        bearing_deg: 70.0,
        probability,
    };
    let cloud = (0..300)
        .map(|index| {
            // A sunflower, squeezed: as even as a random cloud is not, but the same each time.
            let index = f64::from(index);
            let radius_km = 36.0 * (-(1.0 - (index + 0.5) / 300.0).ln()).sqrt() * 0.7;
            let turn = index * 2.399_963;
            let (along, across) = (radius_km * turn.cos(), radius_km * 0.6 * turn.sin());
            direct(centre, 70.0 + across.atan2(along).to_degrees(), along.hypot(across)).position
        })
        .collect();
    let oval = |size: f64| {
        let at = |hour: i32| {
            let (sine, cosine) = (f64::from(hour) * 15.0).to_radians().sin_cos();
            let (along, across) = (9.0 * size * cosine, 5.0 * size * sine);
            direct(centre, 20.0 + across.atan2(along).to_degrees(), along.hypot(across)).position
        };
        (0..=24).map(at).collect()
    };
    PolePicture {
        mean_track: (0..=30)
            .map(|step| {
                (later(start, f64::from(step) * 24.0), mean(f64::from(step) * 24.0).position)
            })
            .collect(),
        daily_oval: oval(1.0),
        quiet_oval: oval(0.6),
        quiet_below_kp: 2.0,
        ellipse_50: Some(ellipse(1.177, 0.5)),
        ellipse_95: Some(ellipse(2.448, 0.95)),
        cloud,
        chance_by_day: (0..30)
            .map(|day| {
                let day = f64::from(day);
                (later(start, day * 24.0), 0.55 + 0.25 * (day / 27.0 * std::f64::consts::TAU).sin())
            })
            .collect(),
        within_km: 10.0,
    }
}

fn wiggle(longitude_deg: f64) -> f64 {
    let l = longitude_deg.to_radians();
    0.9 * (7.0 * l).sin() + 0.5 * (19.0 * l + 1.0).sin() + 0.25 * (53.0 * l).cos()
}

pub(super) fn map(places: Vec<(String, Position)>) -> MapPicture {
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84).unwrap();
    let corners = [
        position(-40.5, 147.0),
        position(-44.0, 170.0),
        position(-70.0, 120.0),
        position(-55.0, 120.0),
    ];
    let grid = Grid::covering(polar, &corners, 15.0, 150.0).unwrap();
    let coast = |longitude: f64| -66.3 + wiggle(longitude);
    let cells = grid.len();
    let mut ice = vec![f32::NAN; cells];
    let mut closed = vec![false; cells];
    let mut elevated = vec![false; cells];
    for cell in 0..cells {
        let place = grid.centre(cell as u32).unwrap();
        let (latitude, longitude) = (place.y(), place.x());
        let unknown = (150.0..156.0).contains(&longitude) && latitude < -63.0;
        if latitude < coast(longitude) || unknown {
            continue;
        }
        let edge = -61.5 + 1.4 * (longitude / 9.0).sin() + 0.5 * (longitude / 2.3).cos();
        let polynya = distance_km(place, position(-65.2, 141.0)) / 150.0;
        let depth = (edge - latitude) / 3.2;
        let value = (depth.clamp(0.0, 1.0) * 0.98 * polynya.min(1.0)) as f32;
        ice[cell] = value;
        elevated[cell] = value > 0.88;
        closed[cell] = distance_km(place, position(-58.0, 152.0)) < 110.0;
    }
    let ring = |points: Vec<Position>| {
        let coords: Vec<Coord<f64>> = points.into_iter().map(|point| grid.coord(point)).collect();
        Polygon::new(LineString::new(coords), Vec::new())
    };
    let span = |from: f64, to: f64, steps: u32| {
        (0..=steps).map(move |step| from + (to - from) * f64::from(step) / f64::from(steps))
    };
    let antarctica = ring(
        span(100.0, 190.0, 900)
            .map(|longitude| position(coast(longitude), longitude))
            .chain(span(190.0, 100.0, 60).map(|longitude| position(-75.0, longitude)))
            .collect(),
    );
    let island = |latitude: f64, longitude: f64, radius_km: f64| {
        ring(
            (0..120)
                .map(|step| {
                    let turn = f64::from(step) * 3.0;
                    let size = radius_km * (1.0 + 0.15 * wiggle(turn));
                    direct(position(latitude, longitude), turn, size).position
                })
                .collect(),
        )
    };
    let shelf = ring(
        span(155.0, 164.0, 60)
            .map(|longitude| position(coast(longitude) + 0.9, longitude))
            .chain(
                span(164.0, 155.0, 60).map(|longitude| position(coast(longitude) - 0.2, longitude)),
            )
            .collect(),
    );
    let outline = |quantity, areas| Outline { quantity, areas: MultiPolygon::new(areas) };
    MapPicture {
        outlines: vec![
            outline(
                Quantity::LAND,
                vec![antarctica, island(-42.0, 146.5, 150.0), island(-45.4, 168.8, 200.0)],
            ),
            outline(Quantity::SHELF, vec![shelf]),
        ],
        grid,
        at: at("2027-01-22T00:00Z"),
        ice_concentration: ice,
        closed,
        elevated,
        places,
    }
}

pub(super) fn layers() -> Vec<LayerRecord> {
    let record = |name: &str, kind: &str, source: &str, coverage, instants, age| LayerRecord {
        name: name.to_owned(),
        kind: kind.to_owned(),
        provenance: Provenance {
            name: name.to_owned(),
            source: source.to_owned(),
            licence: Some("public domain".to_owned()),
        },
        coverage,
        instants,
        age_at_end_h: age,
    };
    let instants = Some((at("2027-01-03T00:00Z"), at("2027-01-20T00:00Z")));
    vec![
        record("ice", "ice_polygons", "invented", 0.93, instants, Some(408.0)),
        record("coast", "coast", "Natural Earth 10 m, poleward of 40°", 1.0, None, None),
        record("depth", "depth", "ETOPO1, thinned", 1.0, None, None),
    ]
}
