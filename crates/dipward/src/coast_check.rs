//! Ways held against the coast's own polygons, where cells are too coarse to show it.

use dipward_geodesy::{Grid, distance_km, points_along, position};
use dipward_plugin::{Approach, Quantity, Warning, Waypoint};
use geo::{
    BooleanOps, BoundingRect, Intersects, LineString, MultiLineString, MultiPolygon, Polygon,
};
use jiff::Timestamp;

use crate::world::World;

/// A geodesic is straight on the map within some metres over such a length.
const STRAIGHT_KM: f64 = 5.0;
/// Less than this is the coast's own want of detail.
const LEAST_KM: f64 = 0.1;

/// Land as the layers outline it, in the grid's metres.
pub(crate) struct Coast<'a> {
    grid: &'a Grid,
    land: Vec<MultiPolygon<f64>>,
}

impl<'a> Coast<'a> {
    pub(crate) fn of(world: &'a World<'_>) -> Self {
        let outlines = world.chart.outlines().into_iter();
        let land = outlines
            .filter(|(_, outline)| [Quantity::LAND, Quantity::SHELF].contains(&outline.quantity))
            .map(|(_, outline)| outline.areas)
            .collect();
        Self { grid: &world.table.grid, land }
    }

    /// A warning where the ways of an approach lead over land or a shelf as it is outlined: they cross
    /// cells that count as water for the greater part of them.
    pub(crate) fn warning(&self, approach: &Approach) -> Option<Warning> {
        let mut first: Option<(Waypoint, Timestamp)> = None;
        let mut crossed_km = 0.0;
        let leg = |way: &[Waypoint], first: &mut Option<(Waypoint, Timestamp)>| {
            let mut km = 0.0;
            for pair in way.windows(2) {
                let over_km = self.over_land_km(&pair[0], &pair[1]);
                if over_km >= LEAST_KM {
                    km += over_km;
                    first.get_or_insert((pair[0], pair[0].time));
                }
            }
            km
        };
        for way in [&approach.waypoints, &approach.home] {
            crossed_km += leg(way, &mut first);
        }
        first.map(|(at, time)| Warning {
            text: "the way crosses land or an ice shelf as the coast outlines it, in cells that count as \
                   water: take smaller cells, or a smaller land_share, and look at the official chart"
                .to_owned(),
            latitude_deg: at.latitude_deg,
            longitude_deg: at.longitude_deg,
            time,
            distance_km: crossed_km,
        })
    }

    fn over_land_km(&self, from: &Waypoint, to: &Waypoint) -> f64 {
        let place = |point: &Waypoint| position(point.latitude_deg, point.longitude_deg);
        let points = points_along(place(from), place(to), STRAIGHT_KM);
        let line: LineString<f64> = points.iter().map(|&at| self.grid.coord(at)).collect();
        let Some(around) = line.bounding_rect() else { return 0.0 };
        let whole_m: f64 = length_m(&line);
        if whole_m <= 0.0 {
            return 0.0;
        }
        let line_km: f64 = points.windows(2).map(|pair| distance_km(pair[0], pair[1])).sum();
        let lines = MultiLineString::new(vec![line]);
        let near = |area: &&Polygon<f64>| {
            area.bounding_rect().is_some_and(|bounds| bounds.intersects(&around))
        };
        let crossed_m: f64 = self
            .land
            .iter()
            .flatten()
            .filter(near)
            .flat_map(|area| area.clip(&lines, false).0)
            .map(|part| length_m(&part))
            .sum();
        line_km * crossed_m / whole_m
    }
}

fn length_m(line: &LineString<f64>) -> f64 {
    line.lines().map(|side| side.dx().hypot(side.dy())).sum()
}
