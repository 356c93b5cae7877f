//! Which approaches the map and the plots show, and with which line.

use dipward_geodesy::{Grid, geodesic, position};
use dipward_plugin::{Approach, Ranking, Waypoint};
use geo::Coord;

use crate::paint::{LINES, LineStyle};

/// Two ways that stay within this distance of each other are drawn as one.
const SAME_WAY_KM: f64 = 25.0;
/// Spacing of the points at which a way is drawn and compared.
const SPACING_KM: f64 = 20.0;

/// An approach that is shown.
#[derive(Debug, Clone)]
pub(crate) struct Shown<'a> {
    pub(crate) approach: &'a Approach,
    pub(crate) line: LineStyle,
    /// The way out on the grid's plane, metres.
    pub(crate) out: Vec<Coord<f64>>,
    /// The rank of the better approach that goes the same way and is drawn in its stead.
    pub(crate) same_way_as: Option<u32>,
}

/// The best approach, then the best by other ways, then what comes next by rank; at most `most` and as
/// many as there are lines, in the order of their ranks.
pub(crate) fn shown<'a>(ranking: &'a Ranking, grid: &Grid, most: usize) -> Vec<Shown<'a>> {
    let most = most.min(LINES.len());
    let mut distinct: Vec<(usize, Vec<Coord<f64>>)> = Vec::new();
    let mut repeats: Vec<(usize, Vec<Coord<f64>>, u32)> = Vec::new();
    for (index, approach) in ranking.approaches.iter().enumerate() {
        let out = way(&approach.waypoints, grid);
        let twin = distinct.iter().find(|(_, other)| same_way(&out, other));
        match twin.and_then(|(first, _)| ranking.approaches.get(*first)) {
            Some(first) => repeats.push((index, out, first.rank)),
            None if distinct.len() < most => distinct.push((index, out)),
            None => {}
        }
        if distinct.len() >= most {
            break;
        }
    }
    let mut chosen: Vec<(usize, Vec<Coord<f64>>, Option<u32>)> =
        distinct.into_iter().map(|(index, out)| (index, out, None)).collect();
    let room = most - chosen.len().min(most);
    chosen
        .extend(repeats.into_iter().take(room).map(|(index, out, rank)| (index, out, Some(rank))));
    chosen.sort_by_key(|(index, ..)| *index);
    chosen
        .into_iter()
        .zip(LINES)
        .filter_map(|((index, out, same_way_as), line)| {
            let approach = ranking.approaches.get(index)?;
            Some(Shown { approach, line, out, same_way_as })
        })
        .collect()
}

/// A way on the grid's plane, along the geodesics between its waypoints. Places that the plane cannot
/// hold are left out.
pub(crate) fn way(waypoints: &[Waypoint], grid: &Grid) -> Vec<Coord<f64>> {
    let places: Vec<_> = waypoints
        .iter()
        .map(|waypoint| position(waypoint.latitude_deg, waypoint.longitude_deg))
        .collect();
    let mut along: Vec<_> = places.first().copied().into_iter().collect();
    for leg in places.windows(2) {
        if let &[from, to] = leg {
            along.extend(geodesic::points_along(from, to, SPACING_KM).into_iter().skip(1));
        }
    }
    along
        .into_iter()
        .map(|place| grid.coord(place))
        .filter(|coord| coord.x.is_finite() && coord.y.is_finite())
        .collect()
}

fn same_way(a: &[Coord<f64>], b: &[Coord<f64>]) -> bool {
    let stays_near = |a: &[Coord<f64>], b: &[Coord<f64>]| {
        a.iter().all(|p| b.iter().any(|q| (p.x - q.x).hypot(p.y - q.y) <= SAME_WAY_KM * 1000.0))
    };
    stays_near(a, b) && stays_near(b, a)
}
