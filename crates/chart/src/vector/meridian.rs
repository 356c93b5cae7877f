//! Rings in longitude and latitude that cross the 180th meridian or go round a pole.
//!
//! A ring is straight in longitude and latitude from corner to corner (RFC 7946, 3.1.1), and should be cut
//! at the 180th meridian (3.1.9). Many are not cut: then an edge jumps from one side to the other, and to
//! draw it the long way round the Earth would put ice where there is none.
//!
//! ```text
//!   cut          -180 ------ 180        as told: the edge goes all round, or lies at the pole
//!                 |           |
//!                -180 ------ 180
//!
//!   not cut       170 ---> 180 ---> -170      the short way: 170, 180, 190
//!   round a pole  0 -> 90 -> 180 -> -90 -> 0  the short way ends a turn off: closed over that pole
//! ```

use super::Ring;

/// How a ring is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// As it is told.
    AsTold,
    /// Each edge the short way, across the 180th meridian.
    Short,
    /// Each edge the short way, round a pole, which it holds.
    RoundPole,
}

/// An edge longer than half the Earth and shorter than this may be meant either way.
const SURELY_SHORT_DEG: f64 = 270.0;

/// Takes a closed ring by what it means on the Earth.
///
/// # Returns
///
/// A ring whose edges are straight in longitude and latitude; longitudes may go beyond 180.
///
/// # Errors
///
/// For a ring that may be meant in two ways, and for one that is not closed.
pub(super) fn settle(ring: Ring) -> Result<(Ring, Way), String> {
    let (Some(&first), Some(&last)) = (ring.first(), ring.last()) else {
        return Err("has a ring without positions".to_owned());
    };
    let turned = (last[0] - first[0]).abs() == 360.0 && last[1] == first[1];
    if first != last && !turned {
        return Err(format!(
            "has a ring that is not closed: it begins at {} {} and ends at {} {}",
            first[0], first[1], last[0], last[1]
        ));
    }
    if ring.len() < 4 {
        return Err(format!("has a ring of {} positions, and four close a triangle", ring.len()));
    }
    let edges = || ring.windows(2).map(|edge| (edge[0], edge[1]));
    let run = |(from, to): ([f64; 2], [f64; 2])| (to[0] - from[0]).abs();
    let polar = |at: [f64; 2]| at[1].abs() == 90.0;
    // Along a pole, or along a parallel all the way round: these are meant as they are told.
    let meant = |edge: ([f64; 2], [f64; 2])| {
        polar(edge.0) && polar(edge.1) || run(edge) == 360.0 && edge.0[1] == edge.1[1]
    };
    let long = || edges().filter(|edge| run(*edge) > 180.0);
    let doubt = |(from, to): ([f64; 2], [f64; 2])| {
        format!(
            "has an edge from longitude {} to {}, more than half round the Earth, which may be meant either \
             way: cut polygons at the antimeridian (RFC 7946, 3.1.9), or put positions between",
            from[0], to[0]
        )
    };
    let has_pole = ring.iter().any(|at| polar(*at));
    if !turned && (long().next().is_none() || long().all(meant) && has_area(&ring)) {
        // An edge all round that none leads back: what lies between it and the rest, or the whole cap.
        let round = |edge: &([f64; 2], [f64; 2])| !polar(edge.0);
        let net: f64 = long().filter(round).map(|(from, to)| to[0] - from[0]).sum();
        return match long().find(round) {
            Some(edge) if net != 0.0 && !has_pole => Err(doubt(edge)),
            _ => Ok((ring, Way::AsTold)),
        };
    }
    let on_cut = |at: [f64; 2]| at[0].abs() == 180.0;
    // Corners on the cut one after another are how a ring looks that was cut there.
    let was_cut = edges().any(|(a, b)| on_cut(a) && a[0] == b[0] && a[1] != b[1]);
    for edge in long().filter(|edge| !meant(*edge)) {
        if was_cut || has_pole || run(edge) < SURELY_SHORT_DEG {
            return Err(doubt(edge));
        }
    }
    let mut short: Ring = vec![first];
    let mut longitude_deg = first[0];
    for (from, to) in edges() {
        let step = to[0] - from[0];
        let step = step - 360.0 * (step / 360.0).round();
        if step.abs() == 180.0 {
            return Err(doubt((from, to)));
        }
        longitude_deg += step;
        short.push([longitude_deg, to[1]]);
    }
    let whole_turns = ((longitude_deg - first[0]) / 360.0).round();
    if whole_turns == 0.0 {
        let (west, east) = short
            .iter()
            .fold((f64::MAX, f64::MIN), |(west, east), at| (west.min(at[0]), east.max(at[0])));
        if east - west > 180.0 {
            return Err(
                "has a ring that crosses the antimeridian uncut and is more than half round the \
                        Earth: cut polygons at the antimeridian (RFC 7946, 3.1.9)"
                    .to_owned(),
            );
        }
        // To the last bit closed: the sum of the steps may not be.
        if let Some(end) = short.last_mut() {
            *end = first;
        }
        return Ok((short, Way::Short));
    }
    let south = short.iter().all(|at| at[1] < 0.0);
    if whole_turns.abs() != 1.0 || !south && !short.iter().all(|at| at[1] > 0.0) {
        return Err("has a ring that goes round the Earth on no one side of the equator, and which side of \
                    it is meant is not told: cut it at the antimeridian (RFC 7946, 3.1.9)"
            .to_owned());
    }
    let pole_deg = if south { -90.0 } else { 90.0 };
    let end_deg = first[0] + 360.0 * whole_turns;
    if let Some(end) = short.last_mut() {
        *end = [end_deg, first[1]];
    }
    short.extend([[end_deg, pole_deg], [first[0], pole_deg], first]);
    Ok((short, Way::RoundPole))
}

/// Whether a ring holds an area on the plane of longitude and latitude.
fn has_area(ring: &Ring) -> bool {
    let twice: f64 =
        ring.windows(2).map(|edge| edge[0][0] * edge[1][1] - edge[1][0] * edge[0][1]).sum();
    twice.abs() > 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;

    fn way(ring: &[[f64; 2]]) -> Result<Way, String> {
        settle(ring.to_vec()).map(|(_, way)| way)
    }

    #[test]
    fn rings_are_taken_as_they_are_meant() {
        let square = |a: f64, b: f64| [[a, -60.0], [b, -60.0], [b, -65.0], [a, -65.0], [a, -60.0]];
        assert_eq!(way(&square(170.0, 180.0)), Ok(Way::AsTold));
        assert_eq!(way(&square(170.0, 190.0)), Ok(Way::AsTold));
        assert_eq!(way(&square(-180.0, 180.0)), Ok(Way::AsTold));
        assert_eq!(way(&square(170.0, -170.0)), Ok(Way::Short));
        assert_eq!(way(&square(350.0, 10.0)), Ok(Way::Short));
        // A corner on the meridian itself.
        let corner =
            [[170.0, -60.0], [180.0, -58.0], [-170.0, -60.0], [180.0, -65.0], [170.0, -60.0]];
        let (ring, way_taken) = settle(corner.to_vec()).unwrap();
        assert_eq!((way_taken, ring[2], ring[3]), (Way::Short, [190.0, -60.0], [180.0, -65.0]));
        // A cap, cut and closed at the pole.
        let cap = [
            [-180.0, -70.0],
            [0.0, -70.0],
            [180.0, -70.0],
            [180.0, -90.0],
            [-180.0, -90.0],
            [-180.0, -70.0],
        ];
        assert_eq!(way(&cap), Ok(Way::AsTold));
    }

    #[test]
    fn a_ring_round_a_pole_holds_it() {
        let round = [[0.0, 70.0], [90.0, 71.0], [180.0, 72.0], [-90.0, 71.0], [0.0, 70.0]];
        let (ring, way) = settle(round.to_vec()).unwrap();
        assert_eq!(way, Way::RoundPole);
        assert_eq!(ring[4..], [[360.0, 70.0], [360.0, 90.0], [0.0, 90.0], [0.0, 70.0]]);
        // The same told from cut to cut: there it is closed, and a line along a parallel has no area.
        let cut = [[-180.0, -70.0], [-60.0, -71.0], [60.0, -71.0], [180.0, -70.0]];
        assert_eq!(settle(cut.to_vec()).unwrap().1, Way::RoundPole);
        let flat =
            [[-180.0, -70.0], [-60.0, -70.0], [60.0, -70.0], [180.0, -70.0], [-180.0, -70.0]];
        assert_eq!(settle(flat.to_vec()).unwrap().1, Way::RoundPole);
    }

    #[test]
    fn what_may_be_meant_either_way_is_refused() {
        let square = |a: f64, b: f64| [[a, -60.0], [b, -60.0], [b, -65.0], [a, -65.0], [a, -60.0]];
        for ring in [
            // 190 and 170 degrees wide, or cut at the meridian, or with the pole.
            &square(-100.0, 100.0)[..],
            &square(-180.0, 170.0),
            &[[-179.0, -70.0], [179.0, -70.0], [179.0, -90.0], [-179.0, -90.0], [-179.0, -70.0]],
            &[[0.0, -10.0], [120.0, 10.0], [-120.0, 10.0], [0.0, -10.0]],
            // The cap, or what lies between 70 and 71 degrees.
            &[[-180.0, -70.0], [-60.0, -71.0], [60.0, -71.0], [180.0, -70.0], [-180.0, -70.0]],
        ] {
            let message = way(ring).unwrap_err();
            assert!(message.contains("RFC 7946"), "{message}");
        }
        assert!(way(&[[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]]).is_err());
    }
}
